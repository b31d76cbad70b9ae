//! What the body above the feet tells of a jump: posture at landing, scale, clock.
//!
//! The trace holds the trunk's path through the flight in pixels. Its height at
//! landing against take-off says how the posture changed; its fall, with the length of
//! the body, says whether the clip's clock can be right.

use serde::{Deserialize, Serialize};

use super::height::PostureAllowance;
use crate::trace::{BodyPath, FREE_FALL, Leap};
use crate::units::{Metres, StandardUncertainty};

/// Share of the trunk's lowering by which the centre of mass lowers while the toes
/// stay where they are. Head, trunk and arms, 60 % of the mass, move with the trunk;
/// the legs, 40 %, hang between hip and toes with their centre of mass some two
/// fifths down: 0.60 + 0.40 × 0.60 (masses: de Leva 1996, "Adjustments to
/// Zatsiorsky-Seluyanov's segment inertia parameters", J Biomech 29:1223, from
/// memory; rounded between women and men).
const OF_TRUNK: f64 = 0.84;
/// Standard uncertainty of that share: arms and bent legs differ.
const OF_TRUNK_U: f64 = 0.12;
/// What following the trunk leaves open, in metres: on 20 rendered jumps with equal
/// postures the trunk landed up to 1.2 cm higher or lower, 0.4 cm on average.
const FOLLOWING_U_M: f64 = 0.01;
/// A rolling shutter shows the trunk some milliseconds before the feet, and the
/// trunk rises at take-off and falls at landing: standard uncertainty of that delay.
const READOUT_U_S: f64 = 0.002;

/// How much lower the centre of mass was at landing than at take-off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lowering {
    /// The lowering; negative where the body landed straighter than it left.
    #[serde(rename = "by_m")]
    pub by: Metres,
    /// Its standard uncertainty.
    #[serde(rename = "u_m")]
    pub u: StandardUncertainty<Metres>,
}

impl Lowering {
    /// The lowering that the trunk's path shows; `None` where it is no free flight.
    pub fn of(leap: &Leap) -> Option<Self> {
        let path = leap.body.as_ref().filter(|path| falls_freely(path, leap))?;
        let metres = |px: f64| px / leap.px_per_m;
        let trunk_m = -metres(path.landing_px);
        let delay_m = 2.0 * READOUT_U_S * takeoff_speed_m_s(leap);
        let u = [
            OF_TRUNK * metres(path.landing_spread_px),
            OF_TRUNK_U * trunk_m,
            FOLLOWING_U_M,
            OF_TRUNK * delay_m,
        ];
        let sum: f64 = u.iter().map(|u| u * u).sum();
        Some(Self {
            by: Metres::from_metres(OF_TRUNK * trunk_m),
            u: StandardUncertainty(Metres::from_metres(sum.sqrt())),
        })
    }

    /// By how much the lowering makes a height from flight time read too high.
    pub fn overstatement(&self, read: Metres) -> Option<PostureAllowance> {
        PostureAllowance::from_lowering(read, self.by, self.u).ok()
    }

    /// Whether an overstatement is worth a remark: more than chance and more than
    /// a centimetre and a half.
    pub fn is_telling(overstatement: &PostureAllowance) -> bool {
        const LEAST_M: f64 = 0.015;
        const SURE: f64 = 2.0;
        let (by, u) = (
            overstatement.likely_overstatement.metres(),
            overstatement.u.0.metres(),
        );
        by >= LEAST_M && by >= SURE * u
    }
}

fn takeoff_speed_m_s(leap: &Leap) -> f64 {
    0.5 * FREE_FALL * leap.flight_s()
}

/// How far the trunk had come down from its highest place when the feet touched.
pub(super) fn fall_to(leap: &Leap, touch_s: f64) -> Option<Metres> {
    let path = leap.body.as_ref()?;
    let touch = path.times_s.partition_point(|&t| t < touch_s);
    let at = *path.rise_px.get(touch)?;
    let highest = path.rise_px[..touch].iter().copied().reduce(f64::max)?;
    Some(Metres::from_metres((highest - at) / leap.px_per_m))
}

/// Whether the trunk fell as a body in flight does, on the feet's scale.
fn falls_freely(path: &BodyPath, leap: &Leap) -> bool {
    let free = path.fall_px_s2 / leap.px_per_m / FREE_FALL;
    (0.7..=1.3).contains(&free)
}

/// From the toes to the top of the head at take-off, as free fall measures it.
///
/// In flight the trunk accelerates downwards at g. That ties pixels to metres through
/// the clip's own clock: a clip that runs N times too slow shows a body N² times too
/// long.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct BodyLength {
    /// The length.
    #[serde(rename = "length_m")]
    pub length: Metres,
    /// Its standard uncertainty.
    #[serde(rename = "u_m")]
    pub u: StandardUncertainty<Metres>,
    /// Pixels per metre at the trunk, in pixels of the upright picture.
    pub px_per_m: f64,
}

/// Toes to head at take-off over stature, and its standard uncertainty: the heel is
/// up by some 0.1 m, a camera near the floor sees the head farther away, and trunk
/// and centre of mass do not fall alike. Measured on 36 rendered and drawn jumps
/// (rigid bodies and our own figures): mean 1.07, standard deviation 0.042.
const OVER_STATURE: (f64, f64) = (1.07, 0.06);

impl BodyLength {
    /// The length that the trunk's fall implies; `None` where the head is out of view.
    /// `px` is how many pixels of the upright picture one pixel of the trace covers.
    pub fn of(leap: &Leap, px: f64) -> Option<Self> {
        let path = leap.body.as_ref().filter(|path| path.fall_px_s2 > 0.0)?;
        let px_per_m = path.fall_px_s2 / FREE_FALL;
        let length = Metres::from_metres(path.reach_px? / px_per_m);
        let u_rel = OVER_STATURE.1 / OVER_STATURE.0;
        Some(Self {
            length,
            u: StandardUncertainty(length * u_rel),
            px_per_m: px_per_m * px,
        })
    }

    /// What the length says of the clip's clock, given the athlete's stature.
    pub fn clock_check(&self, stature: Metres, capture_fps: f64) -> ClockCheck {
        let expected = OVER_STATURE.0 * stature.metres();
        // Played n times too slow, the body looks n² times too long.
        let ratio = (self.length.metres() / expected).sqrt();
        let u_rel = 0.5 * OVER_STATURE.1 / OVER_STATURE.0;
        ClockCheck {
            implied_fps: capture_fps * ratio,
            u_fps: capture_fps * ratio * u_rel,
            agrees: (ratio - 1.0).abs() <= SURE * u_rel * ratio,
        }
    }

    /// Whether anybody is so long; if not, the clip's clock is wrong.
    pub fn is_human(&self) -> bool {
        HUMAN_M.0 <= self.length.metres() && self.length.metres() <= HUMAN_M.1
    }
}

/// How many standard uncertainties make a contradiction.
const SURE: f64 = 3.0;
/// Shortest and longest body from toes to head in the air, in metres, with the slack of
/// the estimate: a small child to a very tall adult.
const HUMAN_M: (f64, f64) = (0.85, 2.9);

/// Whether free fall agrees with the clip's clock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ClockCheck {
    /// Capture rate at which the body would fall at g, in frames per second.
    pub implied_fps: f64,
    /// Its standard uncertainty.
    pub u_fps: f64,
    /// Whether the clip's own rate lies within three of them.
    pub agrees: bool,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jump::test_leap;

    fn path(landing_m: f64, fall: f64) -> BodyPath {
        BodyPath {
            times_s: Vec::new(),
            rise_px: Vec::new(),
            landing_px: 300.0 * landing_m,
            landing_spread_px: 1.0,
            fall_px_s2: 300.0 * fall,
            reach_px: Some(300.0 * 1.9),
        }
    }

    fn leap(body: BodyPath) -> Leap {
        Leap {
            px_per_m: 300.0,
            body: Some(body),
            ..test_leap(1.0, 1.5)
        }
    }

    /// Yamashita and others 2020 (Appl Sci 10:776): a centre of mass 5.3 cm lower at
    /// landing makes the height read 2.5 cm too high.
    #[test]
    fn a_published_lowering_overstates_by_the_published_amount() {
        let trunk_m = 0.053 / OF_TRUNK;
        let lowering = Lowering::of(&leap(path(-trunk_m, 9.8))).expect("free flight");
        let allowance = lowering
            .overstatement(Metres::from_metres(0.36))
            .expect("possible");
        let by_cm = allowance.likely_overstatement.centimetres();
        assert!((by_cm - 2.5).abs() < 0.15, "{by_cm}");
        assert!(Lowering::is_telling(&allowance));
    }

    #[test]
    fn equal_postures_are_not_remarked_on() {
        let lowering = Lowering::of(&leap(path(-0.008, 9.0))).expect("free flight");
        let allowance = lowering
            .overstatement(Metres::from_metres(0.36))
            .expect("possible");
        assert!(!Lowering::is_telling(&allowance));
    }

    #[test]
    fn what_does_not_fall_freely_tells_nothing() {
        assert_eq!(Lowering::of(&leap(path(-0.1, 4.0))), None);
    }

    /// A clip slowed N times shows a body N² times too long.
    #[test]
    fn free_fall_gives_the_capture_rate() {
        let slowed = |n: f64| {
            let length = BodyLength::of(&leap(path(0.0, 9.807 / (n * n))), 1.0).expect("in view");
            length.clock_check(Metres::from_metres(1.9 / OVER_STATURE.0), 30.0)
        };
        let right = slowed(1.0);
        assert!(right.agrees && (right.implied_fps - 30.0).abs() < 1e-6);
        let eight = slowed(8.0);
        assert!(
            !eight.agrees && (eight.implied_fps - 240.0).abs() < 1e-6,
            "{eight:?}"
        );
        assert!(!slowed(1.25).agrees);
    }
}
