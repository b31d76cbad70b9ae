//! The text that a person reads in the terminal: plain words within 80 columns.

pub(super) mod body;
pub(super) mod numbers;
pub(super) mod wrap;

use super::figures::{JumpFigures, budget};
use super::model::{Body, Clock, Document, Failure, Inspection, Jump};
use crate::units::Metres;
use numbers::{decimals, fixed};
pub use wrap::harmless;
use wrap::{COLUMNS, elided, hanging, wrapped};

/// Unit of lengths in the text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Units {
    /// Centimetres.
    #[default]
    Metric,
    /// Inches.
    Imperial,
}

impl Units {
    /// Length of one inch (25.4 mm by the international agreement of 1959).
    const INCH_M: f64 = 0.0254;

    pub(super) fn of(self, length: Metres) -> f64 {
        match self {
            Units::Metric => length.centimetres(),
            Units::Imperial => length.metres() / Self::INCH_M,
        }
    }

    pub(super) const fn symbol(self) -> &'static str {
        match self {
            Units::Metric => "cm",
            Units::Imperial => "in",
        }
    }

    /// A pound in kilograms (the same agreement).
    const POUND_KG: f64 = 0.453_592_37;

    /// A mass in the unit that goes with it: kilograms or pounds.
    pub(super) fn of_mass(self, mass_kg: f64) -> f64 {
        match self {
            Units::Metric => mass_kg,
            Units::Imperial => mass_kg / Self::POUND_KG,
        }
    }

    /// The symbol of that unit.
    pub(super) const fn mass_symbol(self) -> &'static str {
        match self {
            Units::Metric => "kg",
            Units::Imperial => "lb",
        }
    }
}

/// What the reader asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct TextOptions {
    /// Unit of lengths.
    pub units: Units,
    /// Whether to take the uncertainty apart.
    pub details: bool,
    /// Whether to use colour (ANSI escapes).
    pub colour: bool,
}

impl TextOptions {
    pub(super) fn bold(&self, text: &str) -> String {
        self.painted("1", text)
    }

    pub(super) fn alert(&self, text: &str) -> String {
        self.painted("33", text)
    }

    fn painted(&self, code: &str, text: &str) -> String {
        if self.colour {
            format!("\u{1b}[{code}m{text}\u{1b}[0m")
        } else {
            text.to_owned()
        }
    }
}

/// The result of one clip for standard output; each line ends with a line feed.
///
/// Warnings are not in it: see [`warnings_text`].
pub fn clip_text(document: &Document, options: TextOptions) -> String {
    let mut text = options.bold(&elided(&document.clip, COLUMNS)) + "\n";
    if let Some(failure) = &document.error {
        text += &failure_text(failure, options);
        return text;
    }
    if document.jumps.is_empty() {
        text += &wrapped(
            "  ",
            "No jump found: no feet were seen to leave the marked floor and come back to it.",
        );
        return text;
    }
    let capture_fps = document.clock.as_ref().map(|clock| clock.capture_fps);
    for jump in &document.jumps {
        text += &jump_text(jump, capture_fps, options);
    }
    let mut definitions: Vec<&str> = Vec::new();
    for jump in &document.jumps {
        if !definitions.contains(&jump.definition.as_str()) {
            definitions.push(&jump.definition);
        }
    }
    for definition in definitions {
        text += &wrapped("Height means: ", definition);
    }
    text
}

/// The warnings on one clip for standard error; empty if there are none.
pub fn warnings_text(document: &Document, options: TextOptions) -> String {
    warning_lines(&document.clip, &document.warnings, options)
}

/// Warnings on the clip of this name, as [`warnings_text`] writes them.
pub fn warning_lines(clip: &str, warnings: &[String], options: TextOptions) -> String {
    let mut text = String::new();
    for warning in warnings {
        let lines = format!("{}: {warning}", harmless(clip));
        text += &options.alert("warning: ");
        text += &hanging(9, &lines);
    }
    text
}

/// Why a clip could not be measured, with the remedy.
fn failure_text(failure: &Failure, options: TextOptions) -> String {
    format!(
        "  {}{}  hint:  {}",
        options.alert("error: "),
        hanging(9, &failure.message),
        hanging(9, &failure.hint)
    )
}

fn jump_text(jump: &Jump, capture_fps: Option<f64>, options: TextOptions) -> String {
    let mut text = height_text(jump, options) + &times_text(jump);
    text += &body::contact(jump, options.units);
    text += &body::kind(jump);
    text += &body::feet(jump);
    if let Some(posture) = jump.posture.as_ref().filter(|_| is_telling(jump, options)) {
        text += &body::posture(posture, options);
    }
    let checked = |body: &&Body| options.details || body.clock_agrees.is_some();
    if let Some(seen) = jump.body.as_ref().filter(checked) {
        text += &body::body(seen, capture_fps, options);
    }
    if options.details {
        text += &details_text(jump, options);
    }
    for flag in &jump.flags {
        text += &format!("  {} {}", options.alert("!"), hanging(4, &flag.advice));
    }
    text
}

/// Whether posture at landing is worth a line: where it was flagged, or the reader wants
/// all of it.
fn is_telling(jump: &Jump, options: TextOptions) -> bool {
    options.details
        || jump
            .flags
            .iter()
            .any(|flag| flag.code == "posture_at_landing")
}

/// The headline: height, 95 % interval, bounds.
fn height_text(jump: &Jump, options: TextOptions) -> String {
    let figures = JumpFigures::of(jump, options.units);
    let height = figures.height;
    let sure = format!("(95 %: {};", figures.height_interval95);
    // What was taken for an event may be none: then no bound holds.
    let possible = match jump.flags.iter().any(|flag| flag.doubtful) {
        true => format!("not outside {}, if read rightly)", figures.height_bounds),
        false => format!("cannot be outside {})", figures.height_bounds),
    };
    let lead = format!("Jump {}  ", jump.number);
    let start = lead.len() + height.len() + 2;
    let one_line = start + sure.len() + 1 + possible.len() <= COLUMNS;
    let joint = if one_line {
        " ".to_owned()
    } else {
        format!("\n{}", " ".repeat(start + 1))
    };
    format!("{lead}{}  {sure}{joint}{possible}\n", options.bold(&height))
}

/// Time in the air and both events.
fn times_text(jump: &Jump) -> String {
    let figures = JumpFigures::of(jump, Units::default());
    format!(
        "  Flight time  {}  (95 %: {})\n  Take-off at {}, landing at {}\n",
        figures.flight_time, figures.flight_time_interval95, figures.takeoff, figures.landing
    )
}

/// The budget line by line, take-off velocity and gravity.
fn details_text(jump: &Jump, options: TextOptions) -> String {
    const SOURCE_COLUMNS: usize = 48;
    let mut text = format!(
        "  {:<SOURCE_COLUMNS$}  standard uncertainty\n",
        "Where the uncertainty of the height comes from"
    );
    for (source, share) in budget(jump, options.units) {
        let source = elided(&source, SOURCE_COLUMNS - 2);
        text += &format!("    {source:<46}  {share:>12}\n");
    }
    text += &format!(
        "  Take-off velocity {} m/s\n",
        fixed(jump.takeoff_velocity_m_s, 2)
    );
    let gravity = format!(
        "Gravity {} m/s² ({})",
        jump.gravity_m_s2, jump.gravity_source
    );
    text + &wrapped("  ", &gravity)
}

/// What a clip is and how well a jump in it can be measured.
pub fn inspection_text(clip: &Inspection, options: TextOptions) -> String {
    let mut text = options.bold(&elided(&clip.clip, COLUMNS)) + "\n";
    let mut line = |name: &str, value: &str| {
        text += &wrapped(&format!("  {name:<15}"), value);
    };
    let turned = match clip.rotation_deg {
        0 => "stored upright".to_owned(),
        turn => format!("stored turned, shown after {turn}° clockwise"),
    };
    line("Codec", &clip.codec);
    line(
        "Picture",
        &format!("{} x {} px, {turned}", clip.width_px, clip.height_px),
    );
    for (name, value) in clock_lines(clip) {
        line(name, &value);
    }
    for (name, value) in &clip.tags {
        line("Tag", &format!("{name} = {value}"));
    }
    let units = options.units;
    let places = decimals(units.of(clip.reference_u_m.0), 1, 2);
    let precision = format!(
        "A {} {unit} jump filmed like this: height within ±{} {unit} for certain, standard \
         uncertainty {} {unit}.",
        fixed(units.of(clip.reference_height_m), 0),
        fixed(units.of(clip.reference_bound_m), places),
        fixed(units.of(clip.reference_u_m.0), places),
        unit = units.symbol(),
    );
    text + &wrapped("  ", &precision)
}

/// The part of an inspection that says how the clip keeps time.
fn clock_lines(clip: &Inspection) -> Vec<(&'static str, String)> {
    let Clock {
        nominal_fps,
        capture_fps,
        source,
        dropped,
        repeated,
    } = &clip.clock;
    let fps = |rate: f64| format!("{} frames per second", fixed(rate, 2));
    let nominal = nominal_fps.map_or("not stated".to_owned(), fps);
    let played = format!("{} by its time stamps", fps(clip.measured_fps));
    vec![
        ("Nominal rate", nominal),
        ("Measured rate", played),
        (
            "Capture rate",
            format!("{} (from {source})", fps(*capture_fps)),
        ),
        (
            "Jitter",
            format!(
                "{} ms from frame to frame",
                fixed(clip.jitter_s.millis(), 2)
            ),
        ),
        ("Dropped", frames(*dropped)),
        ("Repeated", frames(*repeated)),
    ]
}

fn frames(count: usize) -> String {
    match count {
        0 => "no frames".to_owned(),
        1 => "1 frame".to_owned(),
        _ => format!("{count} frames"),
    }
}
