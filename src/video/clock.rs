//! From the container's ticks to moments of the world.
//!
//! A frame's own time stamp is what counts; the rates in the header mislead.
//! In a slow-motion file that plays stretched, the stamps are divided by the
//! stretch, which a tag or a person must tell: nothing in the stamps shows it.

use serde::{Deserialize, Serialize};

use super::clip::ClipFacts;
pub use super::doubt::{ClockDoubt, ClockError};
use super::spacing::Spacing;
use super::tags::{self, CaptureRate};
use crate::units::{CaptureTime, FrameIndex, Span};

/// A rate this close to the file's own is the same rate.
const SAME_RATE: f64 = 0.02;

/// A tagged rate must be this many times the file's own before the file counts
/// as stretched: in poor light a phone lowers its rate and leaves the tag.
const LEAST_STRETCH: f64 = 1.9;

/// A tagged rate below this share of the file's own means time lapse.
const TIME_LAPSE: f64 = 0.6;

/// Rates that cameras are set to, frames per second.
const ROUND_RATES: [f64; 17] = [
    24.0, 25.0, 30.0, 48.0, 50.0, 60.0, 90.0, 100.0, 120.0, 200.0, 240.0, 300.0, 400.0, 480.0,
    600.0, 960.0, 1000.0,
];

/// A rate this close to a round one is taken as that one: 29.97 and 239.76 are
/// 30 and 240 slowed by the same 1000/1001.
const ROUND_SLACK: f64 = 0.005;

/// Phone clocks are off by less than this, a bound taken as rectangular. Common
/// practice: crystals of this kind are sold to some tens of parts in a million.
const CLOCK_BOUND: f64 = 100e-6;

/// A rate told in words is off by up to this: "240" may mean 239.76.
const TOLD_RATE_BOUND: f64 = 1e-3;

/// The longest flight that is believed of a person, in seconds: 1.48 m high.
const LONGEST_FLIGHT_S: f64 = 1.1;

/// Flights that jumps of people have, in seconds.
const USUAL_FLIGHTS_S: std::ops::RangeInclusive<f64> = 0.15..=0.9;

/// Rates of slow motion that phones offer, frames per second.
const SLOW_MOTION_RATES: [f64; 5] = [60.0, 120.0, 240.0, 480.0, 960.0];

/// Where the speed of the capture clock comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ClockSource {
    /// The file's time stamps as they stand.
    FileTimes,
    /// A tag of this name, which says that the file is stretched.
    CaptureTag(String),
    /// A person.
    Stated,
}

/// Frames missing between two neighbours.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct DroppedFrames {
    /// The last frame before the gap.
    pub after: FrameIndex,
    /// Its moment.
    pub at: CaptureTime,
    /// Length of the gap, from that frame to the next.
    pub gap: Span,
    /// How many frames are missing.
    pub missing: u64,
}

/// What is known of a clip's clock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClockReport {
    /// Rate in the file's header, which may mislead.
    pub nominal_fps: Option<f64>,
    /// Rate of the file's own stamps, missing frames counted as there.
    pub measured_fps: f64,
    /// Rate at which the pictures were taken.
    pub capture_fps: f64,
    /// How many times slower the file plays than the world was; 1 normally.
    pub stretch: f64,
    /// Where that comes from.
    pub source: ClockSource,
    /// Unevenness of single frame spacings beyond tick rounding, one standard
    /// deviation on the capture clock.
    pub jitter_s: f64,
    /// One tick on the capture clock.
    pub tick_s: f64,
    /// Largest error of a single stamp where the ticks cannot hold the rate.
    pub rounding_s: Option<f64>,
    /// Frames that are missing, and where.
    pub dropped: Vec<DroppedFrames>,
    /// Frames whose stamp does not lie after the one before.
    pub repeated: Vec<FrameIndex>,
    /// Why the speed of the clock is in doubt.
    pub doubt: Option<ClockDoubt>,
    /// Relative standard uncertainty of the clock's rate.
    pub u_rel: f64,
}

impl ClockReport {
    /// How many frames are missing in all.
    pub fn dropped_count(&self) -> u64 {
        self.dropped
            .iter()
            .fold(0, |sum, gap| sum.saturating_add(gap.missing))
    }
}

/// Turns a clip's ticks into moments; 0 is the first frame.
#[derive(Clone, Debug, PartialEq)]
pub struct CaptureClock {
    first: i64,
    seconds_per_tick: f64,
    report: ClockReport,
}

impl CaptureClock {
    /// The clock of a clip whose frames have these ticks, in capture order.
    ///
    /// `stated_capture_fps` is the camera's setting as a person knows it; it
    /// wins over any tag.
    ///
    /// # Errors
    /// With fewer than two different times, for time lapse, and for a stated
    /// rate that cannot be.
    pub fn new(
        facts: &ClipFacts,
        ticks: &[i64],
        stated_capture_fps: Option<f64>,
    ) -> Result<Self, ClockError> {
        let &[first, _, ..] = ticks else {
            return Err(ClockError::TooFewFrames(ticks.len()));
        };
        let spacing = Spacing::measure(ticks).ok_or(ClockError::TimeStandsStill)?;
        let measured_fps = 1.0 / (spacing.period * facts.tick_s());
        let speed = Speed::find(facts, measured_fps, stated_capture_fps)?;
        let tick_s = facts.tick_s() / speed.stretch;
        let moment = |at: i64| CaptureTime::from_seconds(at.saturating_sub(first) as f64 * tick_s);
        let dropped = spacing.gaps.iter().filter_map(|gap| {
            let (at, next) = (ticks.get(gap.after)?, ticks.get(gap.after + 1)?);
            Some(DroppedFrames {
                after: FrameIndex(gap.after),
                at: moment(*at),
                gap: moment(*next) - moment(*at),
                missing: gap.missing,
            })
        });
        let report = ClockReport {
            nominal_fps: facts.nominal_fps,
            measured_fps,
            capture_fps: measured_fps * speed.stretch,
            stretch: speed.stretch,
            jitter_s: spacing.jitter * tick_s,
            tick_s,
            rounding_s: cannot_hold(&spacing, ticks.len()).then_some(0.5 * tick_s),
            dropped: dropped.collect(),
            repeated: spacing.repeated.iter().map(|&i| FrameIndex(i)).collect(),
            u_rel: speed.u_rel(),
            source: speed.source,
            doubt: speed.doubt,
        };
        Ok(Self {
            first,
            seconds_per_tick: tick_s,
            report,
        })
    }

    /// The moment of the frame with these ticks.
    pub fn time_of(&self, ticks: i64) -> CaptureTime {
        CaptureTime::from_seconds(ticks.saturating_sub(self.first) as f64 * self.seconds_per_tick)
    }

    /// What is known of the clock.
    pub fn report(&self) -> &ClockReport {
        &self.report
    }

    /// Whether a flight of this length means that the file plays slowly
    /// without saying so; if it does, which capture rates would explain it.
    pub fn doubt_from_flight(&self, flight: Span) -> Option<UntoldSlowMotion> {
        if flight.seconds() <= LONGEST_FLIGHT_S {
            return None;
        }
        let candidates = SLOW_MOTION_RATES
            .iter()
            .map(|&fps| SlowMotion {
                capture_fps: fps,
                factor: round(fps) / round(self.report.capture_fps),
            })
            .filter(|guess| guess.factor > LEAST_STRETCH)
            .filter(|guess| USUAL_FLIGHTS_S.contains(&(flight.seconds() / guess.factor)))
            .collect();
        Some(UntoldSlowMotion { flight, candidates })
    }
}

/// A flight too long for a person, and what capture rates would explain it.
#[derive(Clone, Debug, PartialEq)]
pub struct UntoldSlowMotion {
    /// The flight as it stands.
    pub flight: Span,
    /// Capture rates that would make it a usual one; may be empty.
    pub candidates: Vec<SlowMotion>,
}

/// A capture rate, and how much slower than the world the file would play.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlowMotion {
    /// Frames per second of the world.
    pub capture_fps: f64,
    /// The flight would be this many times shorter.
    pub factor: f64,
}

/// Whether whole ticks cannot hold the frame period, so that stamps are
/// rounded by an amount that matters beside it.
fn cannot_hold(spacing: &Spacing, frames: usize) -> bool {
    let off = (spacing.period - spacing.period.round()).abs();
    spacing.jitter == 0.0 && spacing.period < 100.0 && off * frames as f64 >= 1.0
}

/// The round rate next to `fps`, or `fps` itself if none is near.
fn round(fps: f64) -> f64 {
    ROUND_RATES
        .into_iter()
        .find(|rate| (fps / rate - 1.0).abs() < ROUND_SLACK)
        .unwrap_or(fps)
}

/// How much slower than the world the file plays.
struct Speed {
    stretch: f64,
    source: ClockSource,
    doubt: Option<ClockDoubt>,
}

impl Speed {
    fn find(facts: &ClipFacts, measured_fps: f64, stated: Option<f64>) -> Result<Self, ClockError> {
        let tagged = tags::capture_rate(&facts.tags);
        if let Some(stated_fps) = stated {
            return Self::stated(stated_fps, measured_fps, tagged);
        }
        match tagged {
            CaptureRate::Untold => Ok(Self::as_filed(None)),
            CaptureRate::Unreadable { key, value } => {
                Ok(Self::as_filed(Some(ClockDoubt::TagUnreadable {
                    tag: key,
                    value,
                })))
            }
            CaptureRate::Told { key, fps } => Self::tagged(key, fps, measured_fps),
        }
    }

    fn as_filed(doubt: Option<ClockDoubt>) -> Self {
        Self {
            stretch: 1.0,
            source: ClockSource::FileTimes,
            doubt,
        }
    }

    fn stated(stated_fps: f64, measured_fps: f64, tagged: CaptureRate) -> Result<Self, ClockError> {
        if !(1.0..=100_000.0).contains(&stated_fps) {
            return Err(ClockError::NoRate(stated_fps));
        }
        let doubt = match tagged {
            CaptureRate::Told { key, fps } if (fps / stated_fps - 1.0).abs() > SAME_RATE => {
                Some(ClockDoubt::StatedContradictsTag {
                    stated_fps,
                    tag: key,
                    tagged_fps: fps,
                })
            }
            _ => None,
        };
        let (stretch, _) = stretch(stated_fps, measured_fps);
        if stretch < 1.0 - SAME_RATE {
            return Err(ClockError::BelowPlayback {
                stated_fps,
                measured_fps,
            });
        }
        Ok(Self {
            stretch: if stretch < 1.0 + SAME_RATE {
                1.0
            } else {
                stretch
            },
            source: ClockSource::Stated,
            doubt,
        })
    }

    fn tagged(tag: String, tagged_fps: f64, measured_fps: f64) -> Result<Self, ClockError> {
        let (stretch, is_round) = stretch(tagged_fps, measured_fps);
        if stretch < TIME_LAPSE {
            return Err(ClockError::TimeLapse {
                tag,
                tagged_fps,
                measured_fps,
            });
        }
        if stretch < LEAST_STRETCH {
            let agrees = (stretch - 1.0).abs() <= SAME_RATE;
            return Ok(Self::as_filed((!agrees).then_some(
                ClockDoubt::TagDisagrees {
                    tag,
                    tagged_fps,
                    measured_fps,
                },
            )));
        }
        let doubt = if tagged_fps < 61.0 {
            Some(ClockDoubt::MayBePoorLight {
                tagged_fps,
                stretch,
            })
        } else {
            (!is_round).then_some(ClockDoubt::OddStretch { stretch })
        };
        Ok(Self {
            stretch,
            source: ClockSource::CaptureTag(tag),
            doubt,
        })
    }

    /// The file's own clock, and the told rate where the stretch rests on it.
    fn u_rel(&self) -> f64 {
        let told = if self.stretch == 1.0 {
            0.0
        } else {
            TOLD_RATE_BOUND
        };
        // A rectangular law of half-width a: a / sqrt 3 (JCGM 100:2008, 4.3.7).
        CLOCK_BOUND.hypot(told) / 3_f64.sqrt()
    }
}

/// Told rate over the file's own, and whether that is a clear factor.
///
/// A phone multiplies its stamps by a whole factor; if its sensor runs at
/// 239.76 the file shows 29.97, and the factor is still 8.
fn stretch(told_fps: f64, measured_fps: f64) -> (f64, bool) {
    let (told, measured) = (round(told_fps), round(measured_fps));
    let ratio = told / measured;
    let whole = ratio.round();
    if whole >= 1.0 && (ratio / whole - 1.0).abs() < ROUND_SLACK {
        return (whole, true);
    }
    let is_round = ROUND_RATES.contains(&told) && ROUND_RATES.contains(&measured);
    (ratio, is_round)
}

#[cfg(test)]
#[path = "clock_tests.rs"]
mod tests;
