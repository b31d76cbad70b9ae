//! Finding flights: the parabola that a foot draws into the motion slice.
//!
//! In flight the sole leaves the floor row `y_f`, rises and falls freely and
//! comes back: its row is `y_f - g s u (T - u) / 2` at time `u` after take-off,
//! with `s` pixels per metre. Just above that curve something moves (the foot);
//! between it and the floor nothing does, but for the shadow. A walker, a ball,
//! a heel rise or a change of light draws no such curve on both its halves.
//! Every curve that a person can fly is tried and scored by the logarithm of
//! motion above it to motion below it, on its worse half.

use rayon::prelude::*;

use super::FREE_FALL;
use super::motion::{Band, MotionSlice, RunningSums};
use super::spacing::median_spacing;

/// Motion below this many grey levels is not told from stillness.
const FLOOR_GREY: f32 = 0.25;

/// Where the patch lies in the slice, and what a user's patch looks like.
#[derive(Clone, Copy, Debug)]
pub(in crate::video) struct ArcFrame {
    /// Row of the patch's upper edge.
    pub(in crate::video) patch_top: f64,
    /// Height of the patch in rows.
    pub(in crate::video) patch_height: f64,
}

/// A flight as the motion slice shows it, good to a few hundredths of a second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::video) struct Arc {
    pub(in crate::video) takeoff_s: f64,
    pub(in crate::video) flight_s: f64,
    /// Scale in rows per metre.
    pub(in crate::video) rows_per_m: f64,
    /// Row of the floor under the sole.
    pub(in crate::video) floor_row: f64,
    /// Strength of the evidence; above about 1 it is worth a closer look.
    pub(in crate::video) evidence: f64,
}

impl Arc {
    /// Whether two readings tell different stories.
    fn differs(&self, other: &Arc) -> bool {
        let ratio = (other.flight_s / self.flight_s).ln().abs();
        let middle = |a: &Arc| a.takeoff_s + 0.5 * a.flight_s;
        ratio > 0.22 || (middle(other) - middle(self)).abs() > 0.3 * self.flight_s
    }
}

/// Heights of a marked patch in metres that the search allows for.
const PATCH_HEIGHTS_M: [f64; 6] = [0.05, 0.07, 0.10, 0.14, 0.18, 0.24];
/// Places of the floor row in the patch, from its top (0) to its bottom (1).
const FLOOR_PLACES: [f64; 5] = [0.40, 0.55, 0.70, 0.85, 1.00];
/// Flight times searched, in seconds: 2.5 cm to 1.1 m.
const FLIGHTS_S: (f64, f64) = (0.14, 0.95);
/// Mean log ratio that motion without a flight comes to.
const TYPICAL: f64 = 0.3;
/// Weakest evidence that is passed on.
const WEAKEST: f64 = 0.6;

/// Finds possible flights, strongest first. Readings of the same motion at
/// other scales or with other flight times are kept beside each other: which of
/// them is right is told by following the foot.
pub(in crate::video) fn find_arcs(slice: &MotionSlice, frame: &ArcFrame) -> Vec<Arc> {
    let times = slice.times();
    const FEWEST: usize = 4;
    if times.len() < FEWEST {
        return Vec::new();
    }
    let spacing = median_spacing(times);
    let sums = slice.running_sums();
    let lively: Vec<f32> = (0..times.len()).map(|k| sums.liveliest(k)).collect();
    // Told by the flight time alone, whatever the scale and the floor.
    let flight_times: Vec<f64> = flight_times(spacing).collect();
    let places = flight_times
        .par_iter()
        .map(|flight_s| Places::of(*flight_s, times, spacing, &lively));
    let flights: Vec<Places> = places.collect();
    let of_height = |height_m: f64| {
        let mut all = Vec::new();
        for place in FLOOR_PLACES {
            let rows_per_m = frame.patch_height / height_m;
            let floor_row = frame.patch_top + place * frame.patch_height;
            for places in &flights {
                let curve = Curve {
                    frame,
                    rows_per_m,
                    floor_row,
                    places,
                };
                curve.scan(times, &sums, &mut all);
            }
        }
        distinct(all)
    };
    // In parallel, yet in the order of the heights.
    let of_heights = PATCH_HEIGHTS_M.into_par_iter().map(of_height);
    let mut kept: Vec<Arc> = of_heights.flatten_iter().collect();
    kept.sort_by(|a, b| b.evidence.total_cmp(&a.evidence));
    kept.truncate(most_readings(times));
    kept
}

/// Flight times to try, in seconds, for frames so far apart.
fn flight_times(spacing: f64) -> impl Iterator<Item = f64> {
    let next = move |flight_s: &f64| Some(flight_s + spacing.max(1.0 / 60.0));
    std::iter::successors(Some(FLIGHTS_S.0), next).take_while(|flight_s| *flight_s < FLIGHTS_S.1)
}

/// What evidence is worth: a short curve fits into many motions.
fn premium(flight_s: f64) -> f64 {
    3.0 * flight_s.powf(0.7)
}

/// Mean log ratio that makes so much evidence.
fn least_ratio(evidence: f64, flight_s: f64) -> f64 {
    evidence / premium(flight_s) + TYPICAL
}

/// Readings worth following: some at least, more in a longer clip.
fn most_readings(times: &[f64]) -> usize {
    const LEAST: usize = 12;
    const PER_SECOND: f64 = 6.0;
    let length = times.last().zip(times.first()).map_or(0.0, |(l, f)| l - f);
    LEAST + (PER_SECOND * length) as usize
}

/// The strongest of readings that tell the same story, strongest first.
fn distinct(mut all: Vec<Arc>) -> Vec<Arc> {
    all.sort_by(|a, b| b.evidence.total_cmp(&a.evidence));
    let mut kept: Vec<Arc> = Vec::new();
    for arc in all {
        if kept.iter().all(|other| other.differs(&arc)) {
            kept.push(arc);
        }
    }
    kept
}

/// Where curves of one flight time can be laid along the slice.
struct Places {
    flight_s: f64,
    /// Times after take-off that are looked at, up to [`MOST_SAMPLES`], in both halves.
    after_s: Vec<f64>,
    first_half: usize,
    /// Take-offs round which enough stirs, and for each the frame nearest to each of the
    /// times after it.
    starts_s: Vec<f64>,
    frames: Vec<usize>,
}

impl Places {
    fn of(flight_s: f64, times: &[f64], spacing: f64, lively: &[f32]) -> Self {
        let count = (flight_s / spacing).floor().clamp(2.0, MOST_SAMPLES as f64);
        let after_s: Vec<f64> = (0..count as usize)
            .map(|i| (i as f64 + 0.5) / count * flight_s)
            .collect();
        let last_s = times.last().copied().unwrap_or_default();
        let stirs = Stirs::of(lively, least_ratio(WEAKEST, flight_s));
        let stride = (1.0 / 120.0 / spacing).round().max(1.0) as usize;
        let half_s = 0.5 * flight_s;
        let starts_s: Vec<f64> = times
            .iter()
            .step_by(stride)
            .copied()
            .take_while(|start_s| start_s + flight_s <= last_s)
            .filter(|&start_s| {
                !stirs.nothing_in(times, start_s, half_s)
                    && !stirs.nothing_in(times, start_s + half_s, half_s)
            })
            .collect();
        let mut frames = Vec::with_capacity(starts_s.len() * after_s.len());
        for start_s in &starts_s {
            let mut k = times.partition_point(|t| t < start_s);
            frames.extend(after_s.iter().map(|after_s| {
                let at = start_s + after_s;
                while k + 1 < times.len() && (times[k + 1] - at).abs() <= (times[k] - at).abs() {
                    k += 1;
                }
                k
            }));
        }
        Self {
            first_half: after_s.partition_point(|&after_s| after_s < half_s),
            flight_s,
            after_s,
            starts_s,
            frames,
        }
    }
}

/// One parabola, ready to be laid anywhere along the slice.
struct Curve<'a> {
    frame: &'a ArcFrame,
    rows_per_m: f64,
    floor_row: f64,
    places: &'a Places,
}

/// A point of the curve: bands above and below the sole; none above where the sole has
/// left the watched part.
struct Sample {
    above: Option<Band>,
    below: Band,
}

impl Curve<'_> {
    /// The points of the curve; high above the watched part, only stillness counts.
    fn samples(&self, sums: &RunningSums) -> Vec<Sample> {
        let patch = self.frame.patch_height;
        let flight_s = self.places.flight_s;
        let sample = |&after_s: &f64| {
            let rise = 0.5 * FREE_FALL * self.rows_per_m * after_s * (flight_s - after_s);
            let sole = self.floor_row - rise;
            let under = (sole + 0.06 * patch).max(self.floor_row - patch);
            let below = (under as f32, (self.floor_row + 0.1 * patch) as f32);
            let above = || sums.band((sole - 0.35 * patch) as f32, sole as f32);
            Sample {
                above: (sole > 2.0).then(above),
                below: sums.band(below.0.max(0.0), below.1.max(below.0 + 0.5)),
            }
        };
        self.places.after_s.iter().map(sample).collect()
    }

    /// Lays the curve at every start and keeps the best few.
    fn scan(&self, times: &[f64], sums: &RunningSums, out: &mut Vec<Arc>) {
        const KEPT: usize = 3;
        let Some(last) = times.last() else { return };
        let samples = self.samples(sums);
        let mut found: Vec<Arc> = Vec::new();
        let frames = self.places.frames.chunks_exact(samples.len());
        for (start_s, frames) in self.places.starts_s.iter().zip(frames) {
            let weakest = found.last().filter(|_| found.len() >= KEPT);
            let needed = weakest.map_or(WEAKEST, |weakest| weakest.evidence.max(WEAKEST));
            let Some(evidence) = self.evidence(&samples, frames, sums, needed) else {
                continue;
            };
            found.push(Arc {
                takeoff_s: *start_s,
                flight_s: self.places.flight_s,
                rows_per_m: self.rows_per_m,
                floor_row: self.floor_row,
                evidence,
            });
            found.sort_by(|a, b| b.evidence.total_cmp(&a.evidence));
            found.truncate(KEPT * (1 + (last / 3.0) as usize));
        }
        out.append(&mut found);
    }

    /// Log ratio of motion above to below, on the worse half of the curve,
    /// with a premium on long flights: a short curve fits into many motions. `None` for
    /// no more than what is needed, which most places are: they are left soon.
    fn evidence(
        &self,
        samples: &[Sample],
        frames: &[usize],
        sums: &RunningSums,
        needed: f64,
    ) -> Option<f64> {
        let flight_s = self.places.flight_s;
        let least = least_ratio(needed, flight_s);
        let of_half = |samples: &[Sample], frames: &[usize]| {
            let mut half = Half::new();
            for (sample, &k) in samples.iter().zip(frames) {
                let above = sample.above.as_ref().map(|band| sums.mean(k, band));
                half.add(above, sums.mean(k, &sample.below));
            }
            half.evidence(least)
        };
        let (samples, frames) = (
            samples.split_at(self.places.first_half),
            frames.split_at(self.places.first_half),
        );
        let first = of_half(samples.0, frames.0)?;
        let worse = first.min(of_half(samples.1, frames.1)?);
        let evidence = premium(flight_s) * (worse - TYPICAL);
        (evidence > needed).then_some(evidence)
    }
}

/// Times at which some row moves enough for a curve: most of a clip has none.
struct Stirs {
    /// How many there are before each time.
    before: Vec<u32>,
}

impl Stirs {
    /// Of the motion of the liveliest row at each time; stillness below would make it a
    /// log ratio of `least`.
    fn of(lively: &[f32], least: f64) -> Self {
        let enough = FLOOR_GREY * (least.exp() as f32 - 1.0);
        let mut count = 0;
        let mut before = vec![0];
        before.extend(lively.iter().map(|&motion| {
            count += u32::from(motion >= enough);
            count
        }));
        Self { before }
    }

    /// Whether there are none within a span of time and one step round it.
    fn nothing_in(&self, times: &[f64], from_s: f64, long_s: f64) -> bool {
        let first = times.partition_point(|&t| t < from_s).saturating_sub(1);
        let after = times.partition_point(|&t| t <= from_s + long_s) + 1;
        let count = |at: usize| self.before.get(at).or(self.before.last());
        count(first) == count(after)
    }
}

/// Most points of a curve.
const MOST_SAMPLES: usize = 24;

/// Evidence of one half of the curve; on the stack, for it is worked out at every
/// place of every curve.
struct Half {
    /// Ratios of motion above to below where the sole is in the watched part.
    ratios: [f32; MOST_SAMPLES],
    seen: usize,
    /// Motion above the sole, summed over the same samples.
    above: f32,
    /// Motion below where the sole is out of it.
    below: [f32; MOST_SAMPLES],
    unseen: usize,
}

/// One strong sample must not outvote several that do not fit.
const STRONGEST: f32 = 2.5;

impl Half {
    fn new() -> Self {
        Self {
            ratios: [0.0; MOST_SAMPLES],
            seen: 0,
            above: 0.0,
            below: [0.0; MOST_SAMPLES],
            unseen: 0,
        }
    }

    fn add(&mut self, above: Option<f32>, below: f32) {
        let below = below + FLOOR_GREY;
        match above {
            Some(above) => {
                self.ratios[self.seen] = (above + FLOOR_GREY) / below;
                self.seen += 1;
                self.above += above;
            }
            None => {
                self.below[self.unseen] = below;
                self.unseen += 1;
            }
        }
    }

    /// Mean log ratio, drawn down by its worst third: one burst of motion under
    /// the sole means a foot on the floor. Out of sight, motion is compared with
    /// what the foot showed in sight. `None` for no more than `least`.
    fn evidence(mut self, least: f64) -> Option<f64> {
        if self.seen == 0 {
            return None;
        }
        // Stillness out of sight is weak evidence: little of it is kept.
        let usual = self.above / self.seen as f32 + FLOOR_GREY;
        let mut count = self.seen;
        for below in self.below[..self.unseen].iter().step_by(3) {
            self.ratios[count] = usual / below;
            count += 1;
        }
        let ratios = &mut self.ratios[..count];
        for ratio in ratios.iter_mut() {
            *ratio = ratio.ln().clamp(-STRONGEST, STRONGEST);
        }
        let mean = |part: &[f32]| part.iter().sum::<f32>() / part.len() as f32;
        let all = mean(ratios);
        if f64::from(all) <= least {
            // The worst third is no better than all.
            return None;
        }
        let third = count.div_ceil(3);
        ratios.select_nth_unstable_by(third - 1, f32::total_cmp);
        let evidence = f64::from(0.5 * (all + mean(&ratios[..third])));
        (evidence > least).then_some(evidence)
    }
}
