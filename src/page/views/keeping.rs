//! The form by which jumps are kept, and the choice of a day.

use maud::{Markup, html};

use super::super::jumps::Standing;
use super::super::keep::day_of;
use super::super::shelf::Held;
use crate::log::JumpKind;
use crate::trials::load::cautions::CAUTIONS;

/// The form below the jumps of a clip.
pub(super) fn form(clip: &Held, jumps: &[Standing], athletes: &[String]) -> Markup {
    let kind = jumps
        .first()
        .map_or(JumpKind::default(), |one| one.record.kind);
    html! {
        form.keep #keep data-clip=(clip.id.0) {
            h3 { "Keep it" }
            @if let Some(kept) = &clip.kept {
                p.good { "Kept for " (kept.athlete) ", " (kept.date) ". Keeping it again replaces that." }
            }
            label { "Athlete"
                input #athlete name="athlete" list="athletes" required maxlength="80" autocomplete="off"
                    placeholder="Name or initials";
            }
            (names(athletes))
            div.pair {
                label { "Kind" (kinds("kind", kind)) }
                label { "Load, kg" input #load name="load_kg" type="number" min="0" max="500" step="0.5" value="0" inputmode="decimal"; }
            }
            (cautions())
            div.pair {
                label { "Day" input name="date" type="date" value=(day_of(clip)) required; }
                label { "Remark" input name="note" maxlength="200"; }
            }
            @if jumps.len() > 1 {
                fieldset.which {
                    legend { "Which jumps" }
                    @for one in jumps {
                        label.tick {
                            input type="checkbox" name="jumps" value=(one.jump.number) checked;
                            " jump " (one.jump.number)
                        }
                    }
                }
            } @else {
                @for one in jumps { input type="hidden" name="jumps" value=(one.jump.number); }
            }
            @if clip.ours {
                label.tick { input type="checkbox" name="throw_away"; " and throw the clip away" }
            }
            button.main type="submit" { "Keep" }
        }
    }
}

/// What has to be said before anybody jumps with a load; shown once a load is typed.
fn cautions() -> Markup {
    html! {
        div.cautions #cautions hidden {
            p { strong { "Jumping with a load can hurt." } }
            ul { @for caution in &CAUTIONS { li { (caution.text) } } }
        }
    }
}

fn names(athletes: &[String]) -> Markup {
    html! { datalist #athletes { @for name in athletes { option value=(name) {} } } }
}

fn kinds(name: &str, chosen: JumpKind) -> Markup {
    html! {
        select name=(name) {
            @for kind in JumpKind::ALL {
                option value=(kind.code()) selected[kind == chosen] { (kind.label()) }
            }
        }
    }
}

/// Whose day is to be seen.
pub(super) fn day_choice(athletes: &[String]) -> Markup {
    html! {
        form.day-choice #day-choice {
            label { "Athlete"
                select name="athlete" #day-athlete {
                    @if athletes.is_empty() { option value="" { "nobody yet" } }
                    @for name in athletes { option value=(name) { (name) } }
                }
            }
            label { "Kind" (kinds("kind", JumpKind::default())) }
            label { "Load, kg" input name="load_kg" type="number" min="0" max="500" step="0.5" value="0" inputmode="decimal"; }
            label { "Day" input name="date" type="date"; }
            button type="submit" { "Show" }
        }
    }
}
