//! All that bears on a height besides its two events: clock, gravity, shutter.

use serde::Serialize;

use super::budget::BudgetSource;
use super::error::JumpError;
use super::gravity::Gravity;
use super::shape::Component;
use crate::units::Span;

/// What is known of the capture clock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ClockUncertainty {
    relative: f64,
    #[serde(rename = "tick_s")]
    tick: Span,
}

impl ClockUncertainty {
    /// A clock whose rate has the relative standard uncertainty `relative`
    /// (seconds per second) and whose time stamps are rounded to `tick`, 0 for
    /// stamps that are not rounded.
    ///
    /// # Errors
    /// [`JumpError::BadClock`] unless 0 ≤ `relative` < 0.5 and `tick` ≥ 0: a
    /// clock half wrong cannot time a jump.
    pub fn new(relative: f64, tick: Span) -> Result<Self, JumpError> {
        let tick_s = tick.seconds();
        if !((0.0..0.5).contains(&relative) && tick_s >= 0.0 && tick_s.is_finite()) {
            return Err(JumpError::BadClock { relative, tick_s });
        }
        Ok(Self { relative, tick })
    }

    /// Relative standard uncertainty of the rate.
    pub fn relative(&self) -> f64 {
        self.relative
    }

    /// The tick to which stamps are rounded.
    pub fn tick(&self) -> Span {
        self.tick
    }
}

/// All that bears on the height besides the two events.
#[derive(Clone, Debug, PartialEq)]
pub struct Conditions {
    pub(super) clock: ClockUncertainty,
    pub(super) gravity: Gravity,
    pub(super) fit_correlation: f64,
    pub(super) further: Vec<Term>,
}

impl Conditions {
    /// A clock and a gravity; the events' fits independent of one another.
    pub fn new(clock: ClockUncertainty, gravity: Gravity) -> Self {
        Self {
            clock,
            gravity,
            fit_correlation: 0.0,
            further: Vec::new(),
        }
    }

    /// States that the two events' fit errors are correlated: positive when one
    /// cause shifts take-off and landing the same way, which then cancels.
    /// Without effect unless both events are fitted.
    ///
    /// # Errors
    /// [`JumpError::BadCorrelation`] outside −1 to 1.
    pub fn with_fit_correlation(mut self, value: f64) -> Result<Self, JumpError> {
        if !(-1.0..=1.0).contains(&value) {
            return Err(JumpError::BadCorrelation { value });
        }
        self.fit_correlation = value;
        Ok(self)
    }

    /// Adds a further error of the flight time, in seconds; for instance a
    /// rolling shutter that catches the two events in different image rows.
    ///
    /// # Errors
    /// [`JumpError::BadTimeSource`] unless its sizes are finite, it has a
    /// spread, and no error at all is possible.
    pub fn with_time_source(
        mut self,
        source: BudgetSource,
        error: Component,
    ) -> Result<Self, JumpError> {
        let u_s = error.u();
        if !(u_s > 0.0 && error.is_usable()) {
            return Err(JumpError::BadTimeSource { u_s });
        }
        self.further.push(Term { source, error });
        Ok(self)
    }

    /// The gravity.
    pub fn gravity(&self) -> &Gravity {
        &self.gravity
    }

    /// The clock.
    pub fn clock(&self) -> &ClockUncertainty {
        &self.clock
    }
}

/// One independent error of the flight time, in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Term {
    pub(super) source: BudgetSource,
    pub(super) error: Component,
}
