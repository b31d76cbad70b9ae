//! How well a flight explains what moved in a band of columns.
//!
//! A flight of `T` seconds from the floor row `f` holds the sole at row
//! `f - g s u (T - u) / 2` at time `u`, `s` being the scale in rows per metre.
//! Where feet fly, something moves just above that curve, nothing between it and
//! the floor, nothing below the floor row before, during and after, and the
//! legs and hips a metre higher move along.

use super::slices::Slice;
use crate::video::FREE_FALL;

const G: f32 = FREE_FALL as f32;
/// Motion below this many grey levels is not told from stillness.
const FLOOR_GREY: f32 = 0.3;
/// Most that one sample may say, as a natural logarithm.
const STRONGEST: f32 = 2.5;
/// Height of a shoe above its sole, in metres: where motion is looked for.
pub(super) const SHOE_M: f32 = 0.08;

/// A flight: when, how high in the picture, from which row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Flight {
    pub(super) takeoff_s: f64,
    pub(super) flight_s: f32,
    pub(super) rows_per_m: f32,
    pub(super) floor_row: f32,
}

impl Flight {
    /// Row of the sole at `after_s` after take-off.
    pub(super) fn sole(&self, after_s: f32) -> f32 {
        let rise = 0.5 * G * self.rows_per_m * after_s * (self.flight_s - after_s);
        self.floor_row - rise
    }

    pub(super) fn landing_s(&self) -> f64 {
        self.takeoff_s + f64::from(self.flight_s)
    }
}

/// Finds the nearest frame difference to a time in one step.
pub(super) struct Timeline {
    first_s: f64,
    last_s: f64,
    step_s: f64,
    nearest: Vec<u32>,
}

impl Timeline {
    const PER_S: f64 = 240.0;

    pub(super) fn new(times: &[f64]) -> Option<Self> {
        let (&first_s, &last_s) = (times.first()?, times.last()?);
        let count = ((last_s - first_s) * Self::PER_S) as usize + 1;
        let mut k = 0;
        let nearest = (0..count)
            .map(|i| {
                let at = first_s + i as f64 / Self::PER_S;
                while k + 1 < times.len() && (times[k + 1] - at).abs() <= (times[k] - at).abs() {
                    k += 1;
                }
                k as u32
            })
            .collect();
        Some(Self {
            first_s,
            last_s,
            step_s: (last_s - first_s) / times.len() as f64,
            nearest,
        })
    }

    pub(super) fn first_s(&self) -> f64 {
        self.first_s
    }

    pub(super) fn last_s(&self) -> f64 {
        self.last_s
    }

    /// Mean step from one difference to the next.
    pub(super) fn step_s(&self) -> f64 {
        self.step_s
    }

    /// Index of the difference nearest to `time_s`, held to the stretch.
    pub(super) fn at(&self, time_s: f64) -> usize {
        let i = ((time_s - self.first_s) * Self::PER_S + 0.5).max(0.0) as usize;
        let i = i.min(self.nearest.len() - 1);
        self.nearest[i] as usize
    }
}

/// What speaks for a flight, each as the logarithm of a ratio of motions.
#[derive(Clone, Copy, Debug)]
pub(super) struct Evidence {
    /// Motion above the curve to motion below it, on the worse half.
    pub(super) curve: f32,
    /// Motion of the foot to motion under the floor row, take-off to landing and
    /// round both; `None` where the picture ends.
    pub(super) floor: Option<f32>,
    /// Motion of legs and hips to motion of the foot; `None` where the picture ends.
    pub(super) body: Option<f32>,
    /// Motion of the foot just inside the flight to that just outside, both ends:
    /// it stands before and after. Negative for a contact between two flights.
    pub(super) rims: f32,
    /// Motion of the foot in grey levels.
    pub(super) foot: f32,
}

impl Evidence {
    /// Whether little moves under the floor row: feet are the lowest part of a jumper.
    pub(super) fn stands_lowest(&self) -> bool {
        const LEAST: f32 = 1.5;
        self.floor.is_none_or(|ratio| ratio >= LEAST)
    }

    /// Takes into account what moved under the floor row beside the band.
    pub(super) fn beside(mut self, motion: Option<f32>) -> Self {
        let ratio = motion.map(|m| ((self.foot + FLOOR_GREY) / (m + FLOOR_GREY)).ln());
        self.floor = match (self.floor, ratio) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        self
    }

    /// One number: above 0 it looks like a jump.
    pub(super) fn score(&self, flight_s: f32) -> f32 {
        const TYPICAL: f32 = 0.4;
        let floor = self.floor.unwrap_or(1.5).clamp(-1.0, 2.0) - 1.5;
        let body = self.body.unwrap_or(-1.0).clamp(-3.0, -1.0) + 1.0;
        let foot = (self.foot + FLOOR_GREY).ln().clamp(0.0, 3.5) - 2.0;
        let sum =
            self.curve - TYPICAL + 0.6 * floor + 0.4 * body + 0.2 * foot + 0.35 * (self.rims - 1.0);
        let flight_s = flight_s.min(0.6);
        sum * flight_s / (flight_s + 0.2)
    }
}

/// A band of the motion with its times.
pub(super) struct View<'a> {
    pub(super) slice: &'a Slice,
    pub(super) line: &'a Timeline,
}

impl View<'_> {
    /// Motion just above the curve and below it, at one moment.
    fn sides(&self, flight: &Flight, after_s: f32) -> (f32, f32) {
        let s = flight.rows_per_m;
        let k = self.line.at(flight.takeoff_s + f64::from(after_s));
        let sole = flight.sole(after_s);
        let clear = flight.floor_row - sole;
        let above = self.slice.mean(k, sole - SHOE_M * s, sole);
        let under = sole + (0.03 * s).max(0.75).min(0.5 * clear);
        let below = self.slice.mean(k, under, flight.floor_row + 0.02 * s);
        (above, below)
    }

    /// A quick look at the moments when the foot is fast and well off the floor.
    pub(super) fn worth_a_look(&self, flight: &Flight) -> bool {
        const LEAST_GREY: f32 = 0.5;
        const LEAST_RATIO: f32 = 1.4;
        [0.2, 0.8].iter().all(|part| {
            let (above, below) = self.sides(flight, part * flight.flight_s);
            above > LEAST_GREY && above > LEAST_RATIO * below
        })
    }

    /// All evidence for a flight, unless its score cannot exceed `limit`: what
    /// takes longest is looked at last.
    pub(super) fn evidence_above(&self, flight: &Flight, limit: f32) -> Option<Evidence> {
        let hopeful = Evidence {
            floor: Some(f32::INFINITY),
            ..self.curve_evidence(flight)
        };
        (hopeful.score(flight.flight_s) > limit).then(|| {
            Evidence {
                floor: None,
                ..hopeful
            }
            .beside(self.floor_motion(flight))
        })
    }

    /// Evidence above the floor row only.
    pub(super) fn curve_evidence(&self, flight: &Flight) -> Evidence {
        let count = (flight.flight_s * 60.0).clamp(6.0, 20.0) as usize;
        let mut ratios = Vec::with_capacity(count);
        let (mut foot, mut body, mut body_rows) = (0.0, 0.0, 0.0f32);
        for i in 0..count {
            let after_s = (i as f32 + 0.5) / count as f32 * flight.flight_s;
            let (above, below) = self.sides(flight, after_s);
            let ratio = (above + FLOOR_GREY).ln() - (below + FLOOR_GREY).ln();
            ratios.push(ratio.clamp(-STRONGEST, STRONGEST));
            foot += above / count as f32;
            let (top, bottom) = self.body_rows(flight, after_s);
            body_rows = body_rows.max(bottom - top);
            let k = self.line.at(flight.takeoff_s + f64::from(after_s));
            body += self.slice.mean(k, top, bottom) / count as f32;
        }
        let second = ratios.split_off(count / 2);
        let curve = half_evidence(ratios).min(half_evidence(second));
        let against = |motion: f32| ((motion + FLOOR_GREY) / (foot + FLOOR_GREY)).ln();
        let body = (body_rows > 0.25 * flight.rows_per_m).then(|| against(body));
        Evidence {
            curve,
            floor: None,
            body,
            rims: self.rims(flight),
            foot,
        }
    }

    /// Log ratio of motion just inside to just outside the flight, both ends summed.
    fn rims(&self, flight: &Flight) -> f32 {
        const WINDOW_S: [f64; 3] = [0.02, 0.05, 0.08];
        const MOST: f32 = 1.5;
        let top = flight.floor_row - 1.5 * SHOE_M * flight.rows_per_m;
        let at = |t: f64| self.slice.mean(self.line.at(t), top, flight.floor_row);
        let mean = |event: f64, sign: f64| {
            let sum: f32 = WINDOW_S.iter().map(|w| at(event + sign * w)).sum();
            sum / WINDOW_S.len() as f32 + FLOOR_GREY
        };
        let ratio = |event: f64, inward: f64| {
            let ratio = (mean(event, inward) / mean(event, -inward)).ln();
            ratio.clamp(-MOST, MOST)
        };
        ratio(flight.takeoff_s, 1.0) + ratio(flight.landing_s(), -1.0)
    }

    /// Rows from the calves to the hips, as far as the picture holds them.
    fn body_rows(&self, flight: &Flight, after_s: f32) -> (f32, f32) {
        let sole = flight.sole(after_s);
        let at = |height_m: f32| (sole - height_m * flight.rows_per_m).max(0.0);
        (at(1.0), at(0.35))
    }

    /// Largest motion of any strip of floor below the floor row, from before
    /// take-off to after landing: under a hip or a hem the legs move.
    pub(super) fn floor_motion(&self, flight: &Flight) -> Option<f32> {
        const ROUND_S: f64 = 0.25;
        const SAMPLES: usize = 24;
        const STRIP_M: f32 = 0.15;
        let strip = STRIP_M * flight.rows_per_m;
        let end = self.slice.rows() as f32;
        let from = (flight.takeoff_s - ROUND_S).max(self.line.first_s());
        let to = (flight.landing_s() + ROUND_S).min(self.line.last_s());
        let mut top = flight.floor_row + (0.04 * flight.rows_per_m).max(1.0);
        let mut most: Option<f32> = None;
        while end - top >= 1.0 {
            let total: f32 = (0..SAMPLES)
                .map(|i| from + (to - from) * (i as f64 + 0.5) / SAMPLES as f64)
                .map(|t| {
                    self.slice
                        .mean(self.line.at(t), top, (top + strip).min(end))
                })
                .sum();
            most = Some(most.unwrap_or(0.0).max(total / SAMPLES as f32));
            top += strip;
        }
        most
    }
}

/// Mean log ratio, drawn down by its worst third: one burst of motion under the
/// sole means a foot on the floor.
fn half_evidence(mut ratios: Vec<f32>) -> f32 {
    ratios.sort_by(f32::total_cmp);
    let third = ratios.len().div_ceil(3);
    let mean = |part: &[f32]| part.iter().sum::<f32>() / part.len().max(1) as f32;
    0.5 * (mean(&ratios) + mean(&ratios[..third]))
}
