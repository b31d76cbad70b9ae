//! The contact that ends with take-off, in drop jumps and rebounds.

use serde::{Deserialize, Serialize};

use super::flight::Event;
use crate::units::{Bounds, Metres, Span, StandardUncertainty};

/// A contact with the floor: from the first touch to take-off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GroundContact {
    /// First touch: the landing of the jump before, or the end of the fall from a box.
    pub touch: Event,
    /// Take-off, which the flight shares: one error of it lengthens the contact and
    /// shortens the flight.
    pub takeoff: Event,
    /// How far the trunk came down before the touch; only after a box.
    #[serde(rename = "fall_m")]
    pub fall: Option<Metres>,
}

impl GroundContact {
    /// Best estimate of the contact time.
    pub fn time(&self) -> Span {
        self.takeoff.best() - self.touch.best()
    }

    /// Shortest and longest contact time that the frames allow. Never below 0.
    pub fn time_bounds(&self) -> Bounds<Span> {
        let shortest = (self.takeoff.earliest() - self.touch.latest()).seconds();
        let longest = self.takeoff.latest() - self.touch.earliest();
        Bounds::between(Span::from_seconds(shortest.max(0.0)), longest)
    }

    /// Standard uncertainty of the contact time.
    pub fn time_u(&self) -> StandardUncertainty<Span> {
        let u = self
            .takeoff
            .u()
            .0
            .seconds()
            .hypot(self.touch.u().0.seconds());
        StandardUncertainty(Span::from_seconds(u))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::CaptureTime;

    #[test]
    fn contact_time_carries_the_frames_of_both_its_ends() {
        let at = CaptureTime::from_seconds;
        let u = |ms: f64| StandardUncertainty(Span::from_millis(ms));
        let contact = GroundContact {
            touch: Event::fitted(at(0.95), at(1.003), at(1.05), u(3.0)).expect("in order"),
            takeoff: Event::fitted(at(1.15), at(1.206), at(1.25), u(4.0)).expect("in order"),
            fall: None,
        };
        assert!((contact.time().seconds() - 0.203).abs() < 1e-12);
        assert!((contact.time_u().0.millis() - 5.0).abs() < 0.3);
        let bounds = contact.time_bounds();
        assert!((bounds.lo().seconds() - 0.10).abs() < 1e-12);
        assert!((bounds.hi().seconds() - 0.30).abs() < 1e-12);
    }
}
