//! From frames to the contact trace: where the foot may have left the floor,
//! and how parts of the shoe moved round each take-off and landing.
//!
//! No pixel leaves this module: the trace holds times, rows and speeds.

use super::arc::{ArcFrame, find_arcs};
use super::body::{BodyFilm, BodyView};
use super::film::Film;
use super::grey::Grey;
use super::motion::MotionBuilder;
use super::plane::UprightRect;
use super::sight::{Patch, Sight, Unsteady};
use super::spacing::median_spacing;
use super::tracker::Tracker;
use super::zone::{Zone, shrink};
use crate::trace::BodyFlight;
pub use crate::trace::{ContactTrace, FootFlight, Leap};
use crate::units::FrameIndex;

/// Pictures are held for this long at the most, in seconds of capture time, ...
const HELD_S: f64 = 10.0;
/// ... and up to this many bytes, but never for less than [`LEAST_HELD_S`].
const HELD_BYTES: usize = 64 << 20;
/// Long enough for a flight and the stand on either side.
const LEAST_HELD_S: f64 = 4.0;
/// What is kept when the rest has been looked at, so that no flight is cut in two.
const KEPT_S: f64 = 2.5;

/// Collects the watched part of each frame, and looks for flights whenever enough
/// has come together: memory stays flat however long the clip is.
pub(in crate::video) struct Watch {
    zone: Zone,
    indices: Vec<FrameIndex>,
    times: Vec<f64>,
    curve: Vec<f32>,
    film: Film,
    motion: MotionBuilder,
    leaps: Vec<Leap>,
    body: Option<BodyFilm>,
    body_flights: Vec<BodyFlight>,
    /// Whether something is held that was not looked at as it is now.
    unseen: bool,
    /// Whether frames were let go of.
    forgot: bool,
}

impl Watch {
    /// Watches a zone, and the body above it where that is in view and wanted.
    pub(in crate::video) fn new(zone: Zone, body: Option<BodyView>) -> Self {
        Self {
            body: body.map(BodyFilm::new),
            zone,
            indices: Vec::new(),
            times: Vec::new(),
            curve: Vec::new(),
            film: Film::default(),
            motion: MotionBuilder::default(),
            leaps: Vec::new(),
            body_flights: Vec::new(),
            unseen: true,
            forgot: false,
        }
    }

    /// What was watched `earlier`, up to the frame before the first of this one's, and
    /// this as one; `None` where either has let go of frames already.
    pub(in crate::video) fn after(self, earlier: Self) -> Option<Self> {
        if self.forgot || earlier.forgot {
            return None;
        }
        let mut whole = earlier;
        whole.indices.extend(self.indices);
        whole.times.extend(self.times);
        whole.film.append(self.film);
        let (time_s, first) = self.motion.first()?;
        whole.motion.push(time_s, first.clone());
        whole.curve.push(whole.newest_motion());
        whole.motion.append(self.motion);
        whole.curve.extend(self.curve.into_iter().skip(1));
        if let (Some(body), Some(later)) = (&mut whole.body, self.body) {
            body.append(later);
        }
        whole.leaps.clear();
        whole.body_flights.clear();
        whole.unseen = true;
        Some(whole)
    }

    pub(in crate::video) fn zone(&self) -> &Zone {
        &self.zone
    }

    /// The column of the body that a frame of this time should bring, if any.
    pub(in crate::video) fn wanted_body(&self, time_s: f64) -> Option<UprightRect> {
        let body = self.body.as_ref().filter(|body| body.wants(time_s));
        body.map(|body| body.view().rect())
    }

    /// Takes the raw luma of the body's column; before [`Watch::push`] of its frame.
    pub(in crate::video) fn push_body(&mut self, time_s: f64, luma: &[u16], depth: u32) {
        if let Some(body) = &mut self.body {
            body.push(time_s, luma, depth);
        }
    }

    /// Takes the zone's raw luma of the next frame.
    pub(in crate::video) fn push(
        &mut self,
        index: FrameIndex,
        time_s: f64,
        luma: &[u16],
        depth: u32,
    ) {
        let (w, h) = (self.zone.w as usize, self.zone.h as usize);
        let fine = shrink(luma, w, h, depth, self.zone.fine);
        let coarse = shrink(luma, w, h, depth, self.zone.coarse);
        let (Some(fine), Some(coarse)) = (fine, coarse) else {
            return;
        };
        self.indices.push(index);
        self.times.push(time_s);
        self.film.push(time_s, fine);
        self.motion.push(time_s, coarse);
        self.curve.push(self.newest_motion());
        self.unseen = true;
        let held_s = time_s - self.film.times().first().copied().unwrap_or(time_s);
        let bytes = self.film.bytes() + self.body.as_ref().map_or(0, BodyFilm::bytes);
        let full = bytes >= HELD_BYTES && held_s >= LEAST_HELD_S;
        if full || held_s >= HELD_S {
            self.look();
            self.film.forget_before(time_s - KEPT_S);
            self.motion.forget_before(time_s - KEPT_S);
            if let Some(body) = &mut self.body {
                body.forget_before(time_s - KEPT_S);
            }
            (self.unseen, self.forgot) = (true, true);
        }
    }

    /// Positions in the clip of the frames seen so far.
    pub(in crate::video) fn indices(&self) -> &[FrameIndex] {
        &self.indices
    }

    /// The flights seen so far.
    pub(in crate::video) fn leaps(&mut self) -> &[Leap] {
        if std::mem::take(&mut self.unseen) {
            self.look();
        }
        &self.leaps
    }

    /// The newest coarse picture from row `first` on.
    pub(in crate::video) fn newest_rows(&self, first: usize) -> Option<Grey> {
        self.motion.newest_picture()?.below(first)
    }

    /// Motion of the patch's rows between the last two frames.
    fn newest_motion(&self) -> f32 {
        let (top, height) = self.zone.patch_rows(self.zone.coarse);
        let rows = (top as usize, (top + height).ceil() as usize);
        self.motion.slice().newest(rows.0, rows.1)
    }

    /// Looks for flights in what is held, and keeps the surer of two tellings.
    fn look(&mut self) {
        let (patch_top, patch_height) = self.zone.patch_rows(self.zone.coarse);
        let frame = ArcFrame {
            patch_top,
            patch_height,
        };
        let body = self.body.as_ref();
        let tracker = Tracker {
            body: body.map_or_else(Vec::new, |body| body.flights(&self.zone)),
            film: &self.film,
            spacing_s: median_spacing(self.film.times()),
            patch: Patch::of(&self.zone),
            timed_by_body: true,
            steady: Err(Unsteady::NothingToFollow),
            fine_per_coarse: f64::from(self.zone.coarse) / f64::from(self.zone.fine),
        };
        for flight in &tracker.body {
            if !self.body_flights.iter().any(|known| known.overlaps(flight)) {
                self.body_flights.push(*flight);
            }
        }
        for mut leap in tracker.leaps(&find_arcs(self.motion.slice(), &frame)) {
            let beaten =
                |other: &Leap| other.overlaps(&leap) && other.certainty() >= leap.certainty();
            if !self.leaps.iter().any(beaten) {
                self.leaps.retain(|other| !other.overlaps(&leap));
                leap.body = body.and_then(|body| body.path(&leap, &self.zone));
                leap.touchdown = fall_before(&leap)
                    .and_then(|(about_s, fall_m)| tracker.touchdown(&leap, about_s, fall_m));
                leap.sight = Sight::of(&self.film, &leap, &self.zone, tracker.spacing_s);
                self.leaps.push(leap);
            }
        }
    }

    /// Looks at the rest and hands over all that was found.
    pub(in crate::video) fn finish(mut self) -> ContactTrace {
        self.leaps();
        self.leaps
            .sort_by(|a, b| a.takeoff.t_s.total_cmp(&b.takeoff.t_s));
        ContactTrace {
            motion: self.curve,
            body_flights: self.body_flights,
            leaps: self.leaps,
            spacing_s: median_spacing(&self.times),
            patch_height_px: self.zone.patch_rows(self.zone.fine).1,
            px: f64::from(self.zone.fine),
            times_s: self.times,
            indices: self.indices,
        }
    }
}

/// A fall of the trunk that ends shortly before take-off: when the trunk passed the
/// height of take-off, and how far it had fallen by then, in metres.
fn fall_before(leap: &Leap) -> Option<(f64, f64)> {
    const LEAST_M: f64 = 0.08;
    const LATEST_S: f64 = 0.1;
    const LONGEST_S: f64 = 1.2;
    let trunk = leap.trunk_before();
    let touch = trunk
        .iter()
        .rposition(|&(t, rise_m)| -t > LATEST_S && rise_m >= 0.0)?;
    let before_s = -trunk[touch].0;
    let highest_m = trunk[..touch].iter().map(|p| p.1).fold(0.0, f64::max);
    let about_s = leap.takeoff.t_s - before_s;
    (before_s <= LONGEST_S && highest_m >= LEAST_M).then_some((about_s, highest_m))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::video::FloorPatch;

    #[test]
    fn memory_stays_flat_however_long_the_clip() {
        let patch = FloorPatch {
            x: 40,
            y: 90,
            w: 40,
            h: 20,
        };
        let zone = Zone::new(patch, (120, 120));
        let luma = vec![90; (zone.w * zone.h) as usize];
        let mut watch = Watch::new(zone, None);
        let most = (HELD_S * 30.0) as usize + 2;
        for k in 0..1500 {
            watch.push(FrameIndex(k), k as f64 / 30.0, &luma, 8);
            assert!(watch.film.times().len() <= most, "frame {k}");
        }
        let trace = watch.finish();
        assert_eq!(trace.times_s.len(), 1500);
        assert_eq!(trace.motion.len(), 1500);
        assert!(trace.leaps.is_empty());
    }
}
