//! The athlete's body above the feet, followed through a flight and the push
//! before it: what tells posture, scale and kind of jump.
//!
//! The feet tell when; the trunk tells how the body stood when they left and
//! when they touched. A column above the floor patch is kept at some ten pixels
//! to the patch's height and sixty pictures a second, which is plenty for a
//! movement of tenths of seconds.

mod flow;
mod follow;
mod reach;
mod view;

use super::contact::Leap;
use super::film::Film;
use super::zone::Zone;
pub use crate::trace::{BodyFlight, BodyPath};
pub(in crate::video) use view::BodyView;

/// Collects the column of each picture that is kept.
pub(in crate::video) struct BodyFilm {
    view: BodyView,
    film: Film,
    newest_s: f64,
}

/// How long before take-off and after landing the trunk is followed, in seconds: the
/// push and the stand before it, and the first touch.
const PUSH_S: (f64, f64) = (1.8, 0.05);

/// Pictures closer than this in seconds are passed over.
const SPACING_S: f64 = 1.0 / 62.0;

impl BodyFilm {
    pub(in crate::video) fn new(view: BodyView) -> Self {
        Self {
            view,
            film: Film::default(),
            newest_s: f64::NEG_INFINITY,
        }
    }

    /// The column in the upright picture.
    pub(in crate::video) fn view(&self) -> &BodyView {
        &self.view
    }

    /// Whether a picture of this time would be kept.
    pub(in crate::video) fn wants(&self, time_s: f64) -> bool {
        time_s - self.newest_s >= SPACING_S
    }

    /// Takes the column's raw luma.
    pub(in crate::video) fn push(&mut self, time_s: f64, luma: &[u16], depth: u32) {
        if let Some(picture) = self.view.shrink(luma, depth) {
            self.newest_s = time_s;
            self.film.push(time_s, picture);
        }
    }

    /// Goes on with the pictures of a later film.
    pub(in crate::video) fn append(&mut self, later: Self) {
        self.film.append(later.film);
        self.newest_s = later.newest_s;
    }

    /// Lets go of all pictures before a time.
    pub(in crate::video) fn forget_before(&mut self, time_s: f64) {
        self.film.forget_before(time_s);
    }

    /// Bytes of the pictures held.
    pub(in crate::video) fn bytes(&self) -> usize {
        self.film.bytes()
    }

    /// Stretches of the film in which the body falls freely, surest first.
    pub(in crate::video) fn flights(&self, zone: &Zone) -> Vec<BodyFlight> {
        let fine = self.view.fine_per_px(zone);
        let rough = flow::flights(&flow::flow(&self.film));
        let closer = rough
            .into_iter()
            .map(|rough| self.closer(&rough).unwrap_or(rough));
        let scaled = closer.map(|flight| BodyFlight {
            px_per_m: flight.px_per_m * fine,
            ..flight
        });
        scaled.collect()
    }

    /// A flight by the trunk's path instead of steps from picture to picture.
    fn closer(&self, rough: &BodyFlight) -> Option<BodyFlight> {
        const AROUND_S: (f64, f64) = (0.3, 0.3);
        let leap = self.view.leap(rough);
        let path = follow::trunk(&self.film, &leap, AROUND_S)?;
        let steps = flow::steps(&path.times_s, &path.rise_px);
        let middle_s = 0.5 * (rough.rising_s + rough.falling_s);
        flow::flights(&steps)
            .into_iter()
            .find(|flight| flight.rising_s < middle_s && middle_s < flight.falling_s)
            .map(|flight| BodyFlight {
                px_per_m: flight.px_per_m / leap.fine_per_px,
                ..flight
            })
    }

    /// The trunk's path round a leap found in `zone`; `None` where too little of
    /// the body is in view or can be followed.
    pub(in crate::video) fn path(&self, leap: &Leap, zone: &Zone) -> Option<BodyPath> {
        follow::trunk(&self.film, &self.view.flight(leap, zone), PUSH_S)
    }
}
