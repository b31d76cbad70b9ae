//! Take-off, landing, and the flight between them.

use serde::{Deserialize, Serialize};

use super::error::JumpError;
use super::shape::Component;
use crate::units::{Bounds, CaptureTime, Span, StandardUncertainty};

/// A take-off or a landing: between which moments it must lie, and where best.
///
/// For a take-off, `earliest` is the last frame in contact and `latest` the
/// first frame in the air; for a landing, the last frame in the air and the
/// first in contact; each at that frame's own time. So a dropped frame widens
/// the bounds by itself.
///
/// What is read from outside is checked as what is made here.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "WrittenEvent")]
pub struct Event {
    #[serde(rename = "earliest_s")]
    earliest: CaptureTime,
    #[serde(rename = "best_s")]
    best: CaptureTime,
    #[serde(rename = "latest_s")]
    latest: CaptureTime,
    #[serde(rename = "fit_u_s")]
    fit: Option<StandardUncertainty<Span>>,
}

/// An [`Event`] as it was written, not yet looked at.
#[derive(Deserialize)]
struct WrittenEvent {
    earliest_s: CaptureTime,
    best_s: CaptureTime,
    latest_s: CaptureTime,
    fit_u_s: Option<StandardUncertainty<Span>>,
}

impl TryFrom<WrittenEvent> for Event {
    type Error = JumpError;

    fn try_from(written: WrittenEvent) -> Result<Self, JumpError> {
        let WrittenEvent {
            earliest_s,
            best_s,
            latest_s,
            fit_u_s,
        } = written;
        match fit_u_s {
            Some(u) => Self::fitted(earliest_s, best_s, latest_s, u),
            None => Self::checked(earliest_s, best_s, latest_s, None),
        }
    }
}

impl Event {
    /// An event known only to lie between two frames: any moment between them
    /// is equally likely, and the midpoint is the best estimate.
    ///
    /// # Errors
    /// [`JumpError::EventOutOfOrder`] unless both are numbers in order.
    pub fn between_frames(earliest: CaptureTime, latest: CaptureTime) -> Result<Self, JumpError> {
        let best = earliest.midpoint(latest);
        Self::checked(earliest, best, latest, None)
    }

    /// An event placed below one frame by a fit with the standard uncertainty
    /// `u`, yet bounded by its frames.
    ///
    /// # Errors
    /// [`JumpError::EventOutOfOrder`] unless earliest ≤ best ≤ latest, and
    /// [`JumpError::BadFit`] unless `u` is above 0.
    pub fn fitted(
        earliest: CaptureTime,
        best: CaptureTime,
        latest: CaptureTime,
        u: StandardUncertainty<Span>,
    ) -> Result<Self, JumpError> {
        let u_s = u.0.seconds();
        if !(u_s > 0.0 && u_s.is_finite()) {
            return Err(JumpError::BadFit { at: best, u_s });
        }
        Self::checked(earliest, best, latest, Some(u))
    }

    fn checked(
        earliest: CaptureTime,
        best: CaptureTime,
        latest: CaptureTime,
        fit: Option<StandardUncertainty<Span>>,
    ) -> Result<Self, JumpError> {
        let finite = earliest.seconds().is_finite() && latest.seconds().is_finite();
        if !(finite && earliest <= best && best <= latest) {
            return Err(JumpError::EventOutOfOrder {
                earliest,
                best,
                latest,
            });
        }
        Ok(Self {
            earliest,
            best,
            latest,
            fit,
        })
    }

    /// The last frame before the event.
    pub fn earliest(&self) -> CaptureTime {
        self.earliest
    }

    /// The best estimate.
    pub fn best(&self) -> CaptureTime {
        self.best
    }

    /// The first frame after the event.
    pub fn latest(&self) -> CaptureTime {
        self.latest
    }

    /// Standard uncertainty of the fit; none when only whole frames are known.
    pub fn fit(&self) -> Option<StandardUncertainty<Span>> {
        self.fit
    }

    /// Standard uncertainty of the moment, given the fit or the frames alone.
    pub fn u(&self) -> StandardUncertainty<Span> {
        StandardUncertainty(Span::from_seconds(self.component().u()))
    }

    /// How the event's error is distributed, in seconds.
    pub(super) fn component(&self) -> Component {
        match self.fit {
            None => Component::Uniform {
                half_width: (self.latest - self.earliest).seconds() / 2.0,
            },
            Some(u) => Component::TruncatedNormal {
                u: u.0.seconds(),
                lo: (self.earliest - self.best).seconds(),
                hi: (self.latest - self.best).seconds(),
            },
        }
    }
}

/// A flight: a take-off and the landing that ends it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "WrittenFlight")]
pub struct Flight {
    takeoff: Event,
    landing: Event,
}

/// A [`Flight`] as it was written, not yet looked at.
#[derive(Deserialize)]
struct WrittenFlight {
    takeoff: Event,
    landing: Event,
}

impl TryFrom<WrittenFlight> for Flight {
    type Error = JumpError;

    fn try_from(written: WrittenFlight) -> Result<Self, JumpError> {
        Self::new(written.takeoff, written.landing)
    }
}

impl Flight {
    /// The flight from `takeoff` to `landing`.
    ///
    /// # Errors
    /// [`JumpError::LandingNotAfterTakeoff`] unless the best estimate of the
    /// landing is the later one.
    pub fn new(takeoff: Event, landing: Event) -> Result<Self, JumpError> {
        if landing.best <= takeoff.best {
            return Err(JumpError::LandingNotAfterTakeoff {
                takeoff: takeoff.best,
                landing: landing.best,
            });
        }
        Ok(Self { takeoff, landing })
    }

    /// The take-off.
    pub fn takeoff(&self) -> &Event {
        &self.takeoff
    }

    /// The landing.
    pub fn landing(&self) -> &Event {
        &self.landing
    }

    /// Best estimate of the time in the air.
    pub fn flight_time(&self) -> Span {
        self.landing.best - self.takeoff.best
    }

    /// Shortest and longest time in the air that the frames allow: from the
    /// first to the last frame in the air, and from the last frame in contact
    /// before to the first in contact after. Never below 0.
    pub fn flight_time_bounds(&self) -> Bounds<Span> {
        let shortest = (self.landing.earliest - self.takeoff.latest).seconds();
        let longest = self.landing.latest - self.takeoff.earliest;
        Bounds::between(Span::from_seconds(shortest.max(0.0)), longest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: f64) -> CaptureTime {
        CaptureTime::from_seconds(seconds)
    }

    #[test]
    fn a_bracket_puts_the_event_in_its_middle() {
        let event = Event::between_frames(at(1.0), at(1.5)).unwrap();
        assert_eq!((event.best(), event.fit()), (at(1.25), None));
    }

    #[test]
    fn disorder_is_refused() {
        let u = StandardUncertainty(Span::from_millis(1.0));
        assert!(Event::between_frames(at(1.0), at(0.9)).is_err());
        assert!(Event::between_frames(at(f64::NEG_INFINITY), at(0.9)).is_err());
        assert!(Event::fitted(at(1.0), at(1.2), at(1.1), u).is_err());
        assert!(Event::fitted(at(1.0), at(f64::NAN), at(1.1), u).is_err());
        let none = StandardUncertainty(Span::from_millis(0.0));
        assert!(matches!(
            Event::fitted(at(1.0), at(1.0), at(1.1), none),
            Err(JumpError::BadFit { .. })
        ));
        let takeoff = Event::between_frames(at(2.0), at(2.1)).unwrap();
        let landing = Event::between_frames(at(1.0), at(1.1)).unwrap();
        assert!(matches!(
            Flight::new(takeoff, landing),
            Err(JumpError::LandingNotAfterTakeoff { .. })
        ));
    }

    #[test]
    fn a_hop_shorter_than_its_brackets_may_have_taken_no_time() {
        let takeoff = Event::between_frames(at(0.0), at(0.2)).unwrap();
        let landing = Event::between_frames(at(0.1), at(0.3)).unwrap();
        let bounds = Flight::new(takeoff, landing).unwrap().flight_time_bounds();
        assert_eq!(bounds.lo(), Span::default());
        assert_eq!(bounds.hi(), Span::from_seconds(0.3));
    }
}
