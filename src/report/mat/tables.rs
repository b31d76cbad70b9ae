//! The figures of a comparison within 80 columns.

use super::super::terminal::TextOptions;
use super::super::terminal::wrap::{elided, wrapped};
use crate::trials::mat::agree::{Agreement, Estimate};
use crate::trials::mat::crosscheck::Proportionality;
use crate::trials::mat::explain::Weighed;
use crate::trials::mat::lines::{Coefficient, Line};
use crate::trials::mat::{Crosscheck, Explanation};
use crate::units::{Metres, Span};

pub(super) use super::super::terminal::numbers::fixed;

/// Width of the first column.
const NAME: usize = 36;

/// A signed number; nought has no sign.
fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    let is_nought = text.chars().all(|c| matches!(c, '0' | '.'));
    if value > 0.0 && !is_nought {
        format!("+{text}")
    } else {
        text
    }
}

fn line(name: &str, value: &str, interval: &str) -> String {
    format!("  {name:<NAME$}{value:>12}  {interval}")
        .trim_end()
        .to_owned()
        + "\n"
}

fn estimate(name: &str, estimate: Estimate<f64>, decimals: usize, unit: &str) -> String {
    let show = |value| signed(value, decimals);
    line(
        name,
        &format!("{} {unit}", show(estimate.value)),
        &format!(
            "{} to {}",
            show(estimate.interval95.lo),
            show(estimate.interval95.hi)
        ),
    )
}

/// Mean and limits, in time and in height.
pub(super) fn agreement(result: &Crosscheck, options: TextOptions) -> String {
    let heading = |what: &str| {
        let columns = format!("{:>w$}  95 % interval", "", w = NAME + 14 - what.len());
        options.bold(what) + &columns + "\n"
    };
    let time = &result.flight_time;
    let mut text = heading("Flight time, mat minus film");
    text += &block(time, Span::millis, 1, "ms");
    text += &scatter(time);
    let units = options.units;
    text += &heading("Height, mat minus film");
    text += &block(&result.height, |m: Metres| units.of(m), 1, units.symbol());
    text
}

fn block<T: Copy>(
    all: &Agreement<T>,
    number: impl Fn(T) -> f64 + Copy,
    decimals: usize,
    unit: &str,
) -> String {
    let row = |name, value: Estimate<T>| estimate(name, value.map(number), decimals, unit);
    let sd = format!("{} {unit}", fixed(number(all.sd), decimals));
    row("mean difference", all.mean_difference)
        + &row("lower 95 % limit of agreement", all.lower_limit)
        + &row("upper 95 % limit of agreement", all.upper_limit)
        + &line("standard deviation", &sd, "")
}

/// What the scatter is made of.
fn scatter(all: &Agreement<Span>) -> String {
    let mut text = String::new();
    let ms = |span: Span| format!("{:.1} ms", span.millis());
    if let Some(parts) = &all.components {
        text += &line("  within one athlete", &ms(parts.within_sd), "");
        text += &line("  between athletes", &ms(parts.between_sd), "");
    }
    if let Some(alone) = &all.mat_alone {
        text += &line("  the film's own error", &ms(alone.film_u), "");
        let interval = alone.sd.interval95;
        let ends = format!("{:.1} to {:.1}", interval.lo.millis(), interval.hi.millis());
        text += &line("  the mat alone", &ms(alone.sd.value), &ends);
    }
    text
}

/// Three lines that show whether the difference grows with the jump.
pub(super) fn proportionality(result: &Crosscheck) -> String {
    let Some(Proportionality {
        difference_on_mean,
        deming,
        deming_ratio_known,
        passing_bablok,
        ..
    }) = &result.proportionality
    else {
        return wrapped(
            "",
            "Whether the difference grows with the jump cannot be told from these jumps.",
        );
    };
    let mut text = format!(
        "Does it grow with the jump?\n  {:<32}{:>8} {:^19}{:>18}\n",
        "", "slope", "95 % interval", "at 0 ms"
    );
    text += &row("difference on mean (ordinary)", &difference_on_mean.line);
    let assumed = if *deming_ratio_known { "" } else { ", 1:1" };
    text += &row(&format!("mat on film (Deming{assumed})"), deming);
    text += &row("mat on film (Passing-Bablok)", passing_bablok);
    let holds = |line: &Line, none: f64| line.slope.holds(none);
    let against = [
        holds(&difference_on_mean.line, 0.0),
        holds(deming, 1.0),
        holds(passing_bablok, 1.0),
    ];
    text + &wrapped(
        "  ",
        match against.iter().filter(|held| !**held).count() {
            0 => "No line shows a growth beyond chance (slope 0, or 1 of mat on film).",
            3 => {
                "All three lines show a growth beyond chance. The limits above take all jumps \
                 together: they are too wide for most, and off for the lowest and highest."
            }
            _ => "The lines disagree whether it grows; take it for open.",
        },
    )
}

fn row(name: &str, line: &Line) -> String {
    let ends = |c: &Coefficient| {
        let open = |value: f64| {
            if value.is_finite() {
                fixed(value, 3)
            } else {
                "open".to_owned()
            }
        };
        format!("{} to {}", open(c.lo), open(c.hi))
    };
    let at_nought = format!("{} ms", signed(1000.0 * line.intercept.value, 1));
    format!(
        "  {name:<32}{:>8} {:^19}{at_nought:>18}\n",
        fixed(line.slope.value, 3),
        ends(&line.slope)
    )
}

/// The explanations with their support.
pub(super) fn explanations(result: &Crosscheck, options: TextOptions) -> String {
    let Some(weighing) = &result.weighing else {
        return String::new();
    };
    let gravity = result.options.gravity.metres_per_second_squared();
    let mut text = format!("What explains it?{:>55}\n", "share of support");
    for weighed in &weighing.explanations {
        let share = if weighed.weight >= 0.995 {
            "over 99 %".to_owned()
        } else if weighed.weight < 0.005 {
            "under 1 %".to_owned()
        } else {
            format!("{:.0} %", 100.0 * weighed.weight)
        };
        let fitted = fitted(weighed, gravity, options);
        text += &format!("  {:<30}{fitted:<24}{share:>16}\n", name(weighed));
    }
    text
}

fn name(weighed: &Weighed) -> &'static str {
    match weighed.curve.explanation {
        Explanation::NoDifference => "no difference",
        Explanation::ConstantDelay => "constant delay",
        Explanation::Proportional => "proportional error",
        Explanation::AddedHeight => "height formula adds",
        Explanation::DelayAndRate => "delay and proportional error",
    }
}

/// The number that was fitted.
fn fitted(weighed: &Weighed, gravity: f64, options: TextOptions) -> String {
    let curve = &weighed.curve;
    let delay = || format!("{} ms", signed(1000.0 * curve.delay_s, 1));
    let rate = || format!("{} %", signed(100.0 * (curve.factor - 1.0), 1));
    match curve.explanation {
        Explanation::NoDifference => String::new(),
        Explanation::ConstantDelay => delay(),
        Explanation::Proportional => format!("{} of time", rate()),
        Explanation::AddedHeight => {
            let added = Metres::from_metres(curve.added_height_m(gravity));
            let units = options.units;
            format!("{} {}", signed(units.of(added), 1), units.symbol())
        }
        Explanation::DelayAndRate => format!("{}, {} of time", delay(), rate()),
    }
}

/// How many jumps the wished width takes.
pub(super) fn needed(result: &Crosscheck) -> String {
    let Some(needed) = &result.jumps_needed else {
        return String::new();
    };
    let wanted = result.options.wanted_half_width.millis();
    wrapped(
        "",
        &format!(
            "For intervals of ± {wanted:.1} ms (--width-ms): {} independent jumps for the mean, \
             {} for each limit; {} are here.",
            needed.for_mean, needed.for_limits, result.flight_time.jumps
        ),
    )
}

/// Jump by jump.
pub(super) fn jumps(result: &Crosscheck, options: TextOptions) -> String {
    let mut text = format!(
        "{:>4}  {:<20}{:>11}{:>11}{:>12}  {}\n",
        "Jump", "athlete", "film", "mat", "difference", "mat may show"
    );
    for jump in &result.jumps {
        let ms = |span: Span| format!("{:.1} ms", span.millis());
        let allowed = format!(
            "{:.1} to {:.1}",
            jump.allowed.lo().millis(),
            jump.allowed.hi().millis()
        );
        let row = format!(
            "{:>4}  {:<20}{:>11}{:>11}{:>12}  {allowed:<14}",
            jump.order,
            elided(&jump.athlete, 19),
            ms(jump.film_time),
            ms(jump.mat_time),
            format!("{} ms", signed(jump.difference.millis(), 1)),
        );
        let mark = if jump.inside {
            String::new()
        } else {
            options.alert(" !")
        };
        text += &(row.trim_end().to_owned() + &mark + "\n");
    }
    if result.outside > 0 {
        let what = "! outside what the frames and the mat's own step allow";
        text += &format!("      {what}\n");
    }
    text
}
