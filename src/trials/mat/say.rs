//! The comparison in plain words.

use super::crosscheck::Crosscheck;
use super::explain::{Curve, Explanation, Verdict};
use crate::units::{Metres, Span};

/// The unit in which the words give heights.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeightUnit {
    /// How many of it make a metre.
    pub per_metre: f64,
    /// Its symbol.
    pub symbol: &'static str,
}

impl HeightUnit {
    /// Centimetres.
    pub const CENTIMETRES: Self = Self {
        per_metre: 100.0,
        symbol: "cm",
    };

    fn signed(self, height: Metres) -> String {
        format!("{:+.1}", self.per_metre * height.metres())
    }
}

/// One paragraph for a coach, heights in the unit asked for.
pub fn paragraph(result: &Crosscheck, unit: HeightUnit) -> String {
    let mut sentences = vec![
        difference(result, unit),
        limits(result, unit),
        outside(result),
    ];
    sentences.extend(film_share(result));
    sentences.push(pattern(result));
    sentences.push(correction(result, unit));
    sentences.extend(caveats(result));
    sentences.join(" ")
}

fn ms(time: Span) -> String {
    format!("{:+.1} ms", time.millis())
}

fn people(count: usize) -> String {
    match count {
        1 => "one athlete".to_owned(),
        n => format!("{n} athletes"),
    }
}

fn difference(result: &Crosscheck, unit: HeightUnit) -> String {
    let time = &result.flight_time;
    let mean = time.mean_difference;
    let height = result.height.mean_difference;
    let word = if mean.interval95.lo > Span::default() {
        "reads longer than the film"
    } else if mean.interval95.hi < Span::default() {
        "reads shorter than the film"
    } else {
        "does not differ from the film by more than chance"
    };
    format!(
        "Over {} jumps of {} the mat {word}: on average {} of flight time (95 % interval {} to \
         {}), which is {} {} of height.",
        time.jumps,
        people(time.athletes),
        ms(mean.value),
        ms(mean.interval95.lo),
        ms(mean.interval95.hi),
        unit.signed(height.value),
        unit.symbol,
    )
}

fn limits(result: &Crosscheck, unit: HeightUnit) -> String {
    let (time, height) = (&result.flight_time, &result.height);
    format!(
        "For a single jump expect the mat between {} and {} of the film (95 % limits of \
         agreement, mean ± {:.2} standard deviations; about {} to {} {}).",
        ms(time.lower_limit.value),
        ms(time.upper_limit.value),
        time.rule.multiplier.value(),
        unit.signed(height.lower_limit.value),
        unit.signed(height.upper_limit.value),
        unit.symbol,
    )
}

fn outside(result: &Crosscheck) -> String {
    match result.outside {
        0 => "No reading lies outside what the frames and the mat's own step allow.".to_owned(),
        n => format!(
            "{n} of {} readings lie outside what the frames and the mat's own step allow: there \
             mat and film cannot both be right.",
            result.jumps.len()
        ),
    }
}

fn film_share(result: &Crosscheck) -> Option<String> {
    let alone = result.flight_time.mat_alone?;
    Some(if alone.sd.value <= Span::default() {
        "The film's own error explains all of the scatter; the mat's cannot be seen behind it."
            .to_owned()
    } else {
        format!(
            "Without the film's own error ({:.1} ms) the mat scatters by {:.1} ms (95 % interval \
             {:.1} to {:.1}).",
            alone.film_u.millis(),
            alone.sd.value.millis(),
            alone.sd.interval95.lo.millis(),
            alone.sd.interval95.hi.millis(),
        )
    })
}

fn pattern(result: &Crosscheck) -> String {
    let Some(weighing) = &result.weighing else {
        return "The jumps are too few to say what lies behind the difference.".to_owned();
    };
    match &weighing.verdict {
        Verdict::NoPattern => {
            "Nothing systematic shows; an error smaller than the interval above could still hide."
                .to_owned()
        }
        Verdict::Told(one) => format!("The pattern is best explained by {}.", one.words()),
        Verdict::NotToldApart(several) => {
            let words: Vec<&str> = several.iter().map(|e| e.words()).collect();
            format!(
                "What lies behind it is not told apart: {} fit about equally well. Lower and \
                 higher jumps on the mat would help.",
                words.join("; ")
            )
        }
    }
}

fn correction(result: &Crosscheck, unit: HeightUnit) -> String {
    let Some(correction) = &result.correction else {
        return "The data carry no correction; leave the mat's readings as they are.".to_owned();
    };
    format!(
        "Within mat times of {:.0} to {:.0} ms a reading can be corrected: {}; a corrected time \
         is still uncertain by {:.1} ms (standard uncertainty).",
        correction.valid.lo().millis(),
        correction.valid.hi().millis(),
        recipe(
            &correction.curve,
            result.options.gravity.metres_per_second_squared(),
            unit
        ),
        correction.u.0.millis(),
    )
}

fn recipe(curve: &Curve, gravity_m_s2: f64, unit: HeightUnit) -> String {
    let delay_ms = 1000.0 * curve.delay_s;
    match curve.explanation {
        Explanation::NoDifference => "nothing to correct".to_owned(),
        Explanation::ConstantDelay => format!("take {delay_ms:+.1} ms off the flight time"),
        Explanation::Proportional => format!("divide the flight time by {:.4}", curve.factor),
        Explanation::AddedHeight => format!(
            "take {} {} off the height",
            unit.signed(Metres::from_metres(curve.added_height_m(gravity_m_s2))),
            unit.symbol
        ),
        Explanation::DelayAndRate => format!(
            "take {delay_ms:+.1} ms off the flight time and divide the rest by {:.4}",
            curve.factor
        ),
    }
}

fn caveats(result: &Crosscheck) -> Vec<String> {
    let mut all = Vec::new();
    if let Some(step) = result.clock_step {
        all.push(format!(
            "The mat's times cluster in steps of {:.1} ms, coarser than its display; no jump can \
             be read finer than that.",
            step.step.millis()
        ));
    }
    if result.flight_time.athletes == 1 {
        all.push("All this holds for this one athlete.".to_owned());
    }
    if let Some(needed) = result.jumps_needed {
        let wanted = result.options.wanted_half_width.millis();
        if needed.for_limits > result.jumps.len() {
            all.push(format!(
                "For intervals of ± {wanted:.1} ms, {} jumps are needed for the mean and {} for \
                 the limits.",
                needed.for_mean, needed.for_limits
            ));
        }
    }
    all
}
