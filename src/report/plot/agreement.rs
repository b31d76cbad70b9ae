//! Differences of mat and film against their mean, with limits of agreement.

use std::collections::BTreeMap;

use super::ValueAxis;
use super::scatter::{Form, Layer, Mark, Scatter, Shape, Tone};
use crate::trials::mat::agree::Estimate;
use crate::trials::mat::pair::JumpComparison;
use crate::trials::mat::{Crosscheck, Explanation, Verdict};
use crate::units::Span;

/// Athletes who get a mark of their own; more would not be told apart.
const MOST_NAMED: usize = 6;

/// Flight times in milliseconds: mat minus film upwards, their mean across.
///
/// Each jump carries a bar that its difference cannot leave, given the film's
/// frames; where the bar misses nought, mat and film cannot both be right and the
/// mark is hollow.
pub fn agreement_chart(result: &Crosscheck, title: &str) -> Scatter {
    let time = &result.flight_time;
    let mut layers = vec![Layer {
        name: String::new(),
        tone: Tone::Grey,
        shape: Shape::Level {
            at: 0.0,
            ends: None,
            label: String::new(),
            dashed: false,
        },
    }];
    layers.push(level("upper limit", &time.upper_limit, Tone::Orange, true));
    layers.push(level("mean", &time.mean_difference, Tone::Blue, false));
    layers.push(level("lower limit", &time.lower_limit, Tone::Orange, true));
    layers.extend(slope(result));
    layers.extend(jumps(result));
    layers.extend(hollow(result));
    Scatter {
        title: title.to_owned(),
        across: axis("mean of mat and film, flight time"),
        up: axis("mat minus film"),
        layers,
        include: Vec::new(),
    }
}

fn axis(name: &str) -> ValueAxis {
    ValueAxis {
        name: name.to_owned(),
        unit: "ms".to_owned(),
    }
}

fn level(name: &str, estimate: &Estimate<Span>, tone: Tone, dashed: bool) -> Layer {
    let legend = match name {
        "mean" => "mean with 95 % interval",
        "upper limit" => "95 % limits of agreement with intervals",
        _ => "",
    };
    let sign = if estimate.value < Span::default() {
        '\u{2212}'
    } else {
        '+'
    };
    Layer {
        name: legend.to_owned(),
        tone,
        shape: Shape::Level {
            at: estimate.value.millis(),
            ends: Some((
                estimate.interval95.lo.millis(),
                estimate.interval95.hi.millis(),
            )),
            label: format!("{name} {sign}{:.1} ms", estimate.value.millis().abs()),
            dashed,
        },
    }
}

fn middle(jump: &JumpComparison) -> f64 {
    0.5 * (jump.mat_time.millis() + jump.film_time.millis())
}

/// The regression of difference on mean, where its slope is told apart from
/// none and no constant error stands out.
fn slope(result: &Crosscheck) -> Option<Layer> {
    let line = result.proportionality.as_ref()?.difference_on_mean.line;
    let constant = Verdict::Told(Explanation::ConstantDelay);
    let told = result.weighing.as_ref().map(|w| &w.verdict) == Some(&constant);
    if line.slope.holds(0.0) || told {
        return None;
    }
    let at = |x: f64| (x, 1000.0 * line.intercept.value + line.slope.value * x);
    let (lo, hi) = result
        .jumps
        .iter()
        .map(middle)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), x| {
            (lo.min(x), hi.max(x))
        });
    Some(Layer {
        name: "regression of difference on mean".to_owned(),
        tone: Tone::Teal,
        shape: Shape::Line {
            points: vec![at(lo), at(hi)],
            dashed: true,
        },
    })
}

/// A layer for each athlete, or one for all where they are many.
fn jumps(result: &Crosscheck) -> Vec<Layer> {
    let mut by_athlete: BTreeMap<&str, Vec<&JumpComparison>> = BTreeMap::new();
    for jump in &result.jumps {
        by_athlete
            .entry(jump.athlete.as_str())
            .or_default()
            .push(jump);
    }
    let groups: Vec<(String, Vec<&JumpComparison>)> = if by_athlete.len() > MOST_NAMED {
        let name = format!("jumps of {} athletes", by_athlete.len());
        vec![(name, result.jumps.iter().collect())]
    } else {
        by_athlete
            .into_iter()
            .map(|(name, jumps)| (name.to_owned(), jumps))
            .collect()
    };
    groups
        .into_iter()
        .enumerate()
        .map(|(position, (name, jumps))| Layer {
            name: if name.is_empty() {
                "jumps".to_owned()
            } else {
                name
            },
            tone: if position < 4 {
                Tone::Ink
            } else {
                Tone::Violet
            },
            shape: Shape::Marks(Form::nth(position), jumps.into_iter().map(mark).collect()),
        })
        .collect()
}

/// The legend's word on hollow marks, where there are some.
fn hollow(result: &Crosscheck) -> Option<Layer> {
    (result.outside > 0).then(|| Layer {
        name: "hollow: bar misses 0, mat and film cannot both be right".to_owned(),
        tone: Tone::Grey,
        shape: Shape::Marks(Form::Disc, Vec::new()),
    })
}

fn mark(jump: &JumpComparison) -> Mark {
    let against = |film: Span| (jump.mat_time - film).millis();
    Mark {
        x: middle(jump),
        y: jump.difference.millis(),
        across: None,
        up: Some((against(jump.allowed.hi()), against(jump.allowed.lo()))),
        hollow: !jump.inside,
    }
}
