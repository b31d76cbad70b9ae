//! Quantities with their meaning in the type.
//!
//! A moment on the capture clock and a length of time are different things, and
//! so are a bound (the value *cannot* lie outside, given the frames) and a
//! standard uncertainty (how far it typically lies off). The types keep them
//! apart; raw numbers leave this module only through methods that name the unit.

use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

/// A moment on the capture clock, in seconds; 0 is the clip's first frame.
///
/// The capture clock runs at the speed of the world, not of the player: in a
/// slow-motion file it is the file's own clock divided by the stretch. Two
/// moments cannot be added; their difference is a [`Span`].
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct CaptureTime(f64);

impl CaptureTime {
    /// The moment `seconds` after the first frame.
    pub const fn from_seconds(seconds: f64) -> Self {
        Self(seconds)
    }

    /// Seconds after the first frame.
    pub const fn seconds(self) -> f64 {
        self.0
    }

    /// The moment halfway between two moments.
    pub fn midpoint(self, other: Self) -> Self {
        Self(0.5 * (self.0 + other.0))
    }

    /// The earlier of two moments.
    pub fn earlier(self, other: Self) -> Self {
        Self(self.0.min(other.0))
    }

    /// The later of two moments.
    pub fn later(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }
}

impl Sub for CaptureTime {
    type Output = Span;
    fn sub(self, earlier: Self) -> Span {
        Span(self.0 - earlier.0)
    }
}

impl Add<Span> for CaptureTime {
    type Output = Self;
    fn add(self, span: Span) -> Self {
        Self(self.0 + span.0)
    }
}

impl Sub<Span> for CaptureTime {
    type Output = Self;
    fn sub(self, span: Span) -> Self {
        Self(self.0 - span.0)
    }
}

impl fmt::Display for CaptureTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.4} s", self.0)
    }
}

/// Implements the arithmetic that every plain quantity shares.
macro_rules! quantity {
    ($name:ident) => {
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        impl $name {
            /// The magnitude without its sign.
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }
    };
}

/// A length of time on the capture clock, in seconds.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Span(f64);
quantity!(Span);

impl Span {
    /// A span of so many seconds.
    pub const fn from_seconds(seconds: f64) -> Self {
        Self(seconds)
    }

    /// A span of so many milliseconds.
    pub const fn from_millis(millis: f64) -> Self {
        Self(millis / 1000.0)
    }

    /// Length in seconds.
    pub const fn seconds(self) -> f64 {
        self.0
    }

    /// Length in milliseconds.
    pub fn millis(self) -> f64 {
        self.0 * 1000.0
    }
}

/// A length, in metres.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Metres(f64);
quantity!(Metres);

impl Metres {
    /// A length of so many metres.
    pub const fn from_metres(metres: f64) -> Self {
        Self(metres)
    }

    /// Length in metres.
    pub const fn metres(self) -> f64 {
        self.0
    }

    /// Length in centimetres.
    pub fn centimetres(self) -> f64 {
        self.0 * 100.0
    }
}

/// An acceleration, in metres per second squared.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Acceleration(f64);
quantity!(Acceleration);

impl Acceleration {
    /// An acceleration of so many metres per second squared.
    pub const fn from_metres_per_second_squared(value: f64) -> Self {
        Self(value)
    }

    /// Size in metres per second squared.
    pub const fn metres_per_second_squared(self) -> f64 {
        self.0
    }
}

/// A speed, in metres per second.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Speed(f64);
quantity!(Speed);

impl Speed {
    /// A speed of so many metres per second.
    pub const fn from_metres_per_second(value: f64) -> Self {
        Self(value)
    }

    /// Size in metres per second.
    pub const fn metres_per_second(self) -> f64 {
        self.0
    }
}

/// Position of a frame in the clip, in capture order; the first frame is 0.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct FrameIndex(pub usize);

impl fmt::Display for FrameIndex {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// The lowest and the highest value that the evidence allows.
///
/// A bound is a statement of possibility: given the frames, the value cannot
/// lie outside. It says nothing of how likely any value inside is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bounds<T> {
    lo: T,
    hi: T,
}

impl<T: Copy + PartialOrd> Bounds<T> {
    /// Bounds from two values in either order.
    pub fn between(a: T, b: T) -> Self {
        if a <= b {
            Self { lo: a, hi: b }
        } else {
            Self { lo: b, hi: a }
        }
    }

    /// The lowest possible value.
    pub fn lo(&self) -> T {
        self.lo
    }

    /// The highest possible value.
    pub fn hi(&self) -> T {
        self.hi
    }

    /// Whether `value` is possible.
    pub fn contains(&self, value: T) -> bool {
        self.lo <= value && value <= self.hi
    }
}

impl<T: Copy + PartialOrd + Sub> Bounds<T> {
    /// Distance from the lowest to the highest value.
    pub fn width(&self) -> <T as Sub>::Output {
        self.hi - self.lo
    }
}

/// A standard uncertainty (JCGM 100:2008, 2.3.1): one standard deviation.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct StandardUncertainty<T>(pub T);

/// An interval that holds the true value in 95 of 100 such measurements.
///
/// Not a [`Bounds`]: five in a hundred true values lie outside.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Interval95<T> {
    /// Lower end.
    pub lo: T,
    /// Upper end.
    pub hi: T,
}

impl<T: Copy + PartialOrd> Interval95<T> {
    /// Whether `value` lies inside.
    pub fn contains(&self, value: T) -> bool {
        self.lo <= value && value <= self.hi
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn difference_of_moments_is_a_span() {
        let landing = CaptureTime::from_seconds(1.5);
        let takeoff = CaptureTime::from_seconds(1.0);
        assert_eq!(landing - takeoff, Span::from_seconds(0.5));
        assert_eq!(takeoff + Span::from_millis(500.0), landing);
    }

    #[test]
    fn bounds_order_themselves() {
        let bounds = Bounds::between(2.0, 1.0);
        assert_eq!((bounds.lo(), bounds.hi(), bounds.width()), (1.0, 2.0, 1.0));
        assert!(bounds.contains(1.0) && bounds.contains(2.0) && !bounds.contains(2.1));
    }
}
