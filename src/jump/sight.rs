//! From how well a leap could be seen to the flags that it calls for.

use super::body::Lowering;
use super::quality::Flag;
use crate::trace::{Leap, Sight};

/// Edges of the shoes weaker than this share of their strength at rest are blurred: half
/// the strength is gone at a blur of three pixels, four fifths at thirteen (rendered
/// clips, exposures of 1/1000 to 1/60 s).
const LEAST_SHARPNESS: f64 = 0.3;
/// Shoes that change the picture by less than this, in levels of 255, are like the floor:
/// ten times the noise of a phone's picture in a lit room.
const LEAST_CONTRAST: f64 = 15.0;
/// A picture that swings by more than this at the feet moves with the hand, in metres.
const SHAKEN_M: f64 = 0.004;
/// More than this, and a heel can pass for a toe: on drawn clips that swing by a
/// centimetre and more, some were read 70 ms too long, others not found.
const SHAKEN_HARD_M: f64 = 0.008;
/// Light that swings by more than this share from frame to frame pulses.
const PULSING: f64 = 0.012;
/// What changes on the floor by this many levels, and by this share of what the shoes
/// change, while the feet are in the air is something else.
const STRANGER: (f64, f64) = (25.0, 0.35);
/// Parts that land this far from where the last ones left, in metres, with no body seen to
/// fly at the same time, may be a heel after a toe.
const MOVED_M: f64 = 0.1;
/// A landing this much lower in the picture, in metres, is on lower ground or nearer.
const LOWER_M: f64 = 0.06;

/// Scale of the feet over that of the body: 0.84 to 1.22 on 240 rendered and drawn jumps
/// that were read well, below 0.7 where a heel was taken for a toe.
const SCALES: (f64, f64) = (0.77, 1.35);

/// Middle of the flight after the top of the body's fall, in seconds: -0.012 to +0.035 on
/// 310 rendered and drawn jumps that were read well, the latest of them landed with bent
/// legs; a tuck of 30 cm comes to 0.06. A shutter that takes 15 ms to go down the picture
/// shows the feet 7 ms after the body.
const AFTER_TOP_S: (f64, f64) = (-0.02, 0.07);
/// Nobody lands higher than at full stretch. Where the body seems to by more than so many
/// metres and twice what is uncertain of that, the feet were told to leave too early, or
/// landed on higher ground. By the same reckoning jumps that were read well came to 0.027.
const HIGHER_M: f64 = 0.04;

/// The flags that the pictures round a leap call for; `px` is how many pixels of the
/// upright picture one of the trace's covers.
pub(super) fn flags(leap: &Leap, px: f64) -> Vec<Flag> {
    let sight = &leap.sight;
    let shake_m = shake_m(leap, px);
    let shaken = shake_m.is_some_and(|m| m > SHAKEN_M);
    let pulsing = sight.flicker > PULSING;
    let contrast = sight.contrast.unwrap_or(f64::INFINITY);
    let strange = sight.stranger > STRANGER.0 && sight.stranger > STRANGER.1 * contrast;
    let lower_m = (leap.landing.floor_px - leap.takeoff.floor_px) / leap.px_per_m;
    let off = |&(_, landing): &(f64, f64)| !(0.0..=1.0).contains(&landing);
    let moved = sight.moved_m.is_some_and(|m| m.abs() > MOVED_M) && !leap.backed;
    let beside = sight.places.as_ref().is_some_and(off);
    let agrees = |scale: f64| (SCALES.0..=SCALES.1).contains(&scale);
    let apart = sight.scale_by_body.is_some_and(|scale| !agrees(scale))
        || turns_elsewhere(sight)
        || Lowering::of(leap).is_some_and(is_higher);
    let shaken_hard = is_shaken_hard(leap, px);
    [
        (
            sight.sharpness.is_some_and(|s| s < LEAST_SHARPNESS),
            Flag::Blur,
        ),
        (contrast < LEAST_CONTRAST, Flag::WeakContrast),
        (strange && !shaken, Flag::PatchPartlyCovered),
        (shaken && !shaken_hard, Flag::Shake),
        (shaken_hard, Flag::ShakenHard),
        (sight.surroundings_lost, Flag::SurroundingsLost),
        (sight.part_stood, Flag::PartStood),
        (apart, Flag::FeetAgainstBody),
        (pulsing, Flag::Flicker),
        (beside, Flag::LandingBeside),
        (moved && !beside, Flag::LandingElsewhere),
        (lower_m > LOWER_M, Flag::DropLanding),
    ]
    .into_iter()
    .filter_map(|(holds, flag)| holds.then_some(flag))
    .collect()
}

/// Whether the body turned from rising to falling at another time than the feet.
fn turns_elsewhere(sight: &Sight) -> bool {
    let possible = AFTER_TOP_S.0..=AFTER_TOP_S.1;
    sight.after_top_s.is_some_and(|s| !possible.contains(&s))
}

/// Whether the body landed higher than anybody can.
fn is_higher(lowering: Lowering) -> bool {
    -lowering.by.metres() - 2.0 * lowering.u.0.metres() > HIGHER_M
}

/// How far the picture swings at the feet, in metres.
fn shake_m(leap: &Leap, px: f64) -> Option<f64> {
    let shake_px = leap.sight.shake_px?;
    Some(shake_px / (px * leap.px_per_m))
}

/// Whether the picture swings so much that the feet may be mistaken.
pub(super) fn is_shaken_hard(leap: &Leap, px: f64) -> bool {
    shake_m(leap, px).is_some_and(|m| m > SHAKEN_HARD_M)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jump::test_leap;
    use crate::units::{Metres, StandardUncertainty};

    /// A leap of 300 px/m seen as stated.
    fn flagged(sight: Sight) -> Vec<&'static str> {
        let leap = Leap {
            sight,
            ..test_leap(1.0, 1.5)
        };
        flags(&leap, 1.0).iter().map(Flag::code).collect()
    }

    const GOOD: Sight = Sight {
        contrast: Some(60.0),
        sharpness: Some(0.9),
        shake_px: Some(0.1),
        surroundings_lost: false,
        part_stood: false,
        scale_by_body: Some(1.05),
        after_top_s: Some(0.03),
        flicker: 0.001,
        stranger: 4.0,
        places: Some((0.7, 0.6)),
        moved_m: Some(0.03),
    };

    #[test]
    fn a_good_picture_calls_for_no_flag() {
        assert!(flagged(GOOD).is_empty());
        assert!(flagged(Sight::default()).is_empty());
    }

    #[test]
    fn each_fault_has_its_flag() {
        let of = |change: &dyn Fn(&mut Sight)| {
            let mut sight = GOOD;
            change(&mut sight);
            flagged(sight)
        };
        assert_eq!(of(&|s| s.contrast = Some(9.0)), ["weak_contrast"]);
        assert_eq!(of(&|s| s.sharpness = Some(0.2)), ["blur"]);
        assert_eq!(of(&|s| s.shake_px = Some(2.0)), ["shake"]);
        assert_eq!(of(&|s| s.shake_px = Some(4.0)), ["shaken_hard"]);
        assert_eq!(of(&|s| s.surroundings_lost = true), ["surroundings_lost"]);
        assert_eq!(of(&|s| s.part_stood = true), ["part_stood"]);
        assert_eq!(of(&|s| s.scale_by_body = Some(0.68)), ["feet_against_body"]);
        let late = |by_s: f64| of(&|s| s.after_top_s = Some(by_s));
        assert_eq!(late(-0.025), ["feet_against_body"]);
        assert_eq!(late(0.08), ["feet_against_body"]);
        assert_eq!(of(&|s| s.flicker = 0.03), ["flicker"]);
        assert_eq!(of(&|s| s.stranger = 40.0), ["patch_partly_covered"]);
        assert_eq!(of(&|s| s.places = Some((0.7, 1.1))), ["landing_beside"]);
        assert_eq!(of(&|s| s.moved_m = Some(-0.15)), ["landing_elsewhere"]);
    }

    #[test]
    fn a_body_seen_to_fly_vouches_for_a_landing_somewhat_aside() {
        let mut leap = test_leap(1.0, 1.5);
        leap.backed = true;
        leap.sight = Sight {
            moved_m: Some(-0.15),
            ..GOOD
        };
        assert!(flags(&leap, 1.0).is_empty());
    }

    #[test]
    fn nobody_lands_higher_than_at_full_stretch() {
        let landed = |by_m: f64, u_m: f64| {
            is_higher(Lowering {
                by: Metres::from_metres(by_m),
                u: StandardUncertainty(Metres::from_metres(u_m)),
            })
        };
        assert!(landed(-0.09, 0.011));
        assert!(!landed(-0.09, 0.03));
        assert!(!landed(-0.043, 0.008));
        assert!(!landed(0.12, 0.011));
    }

    #[test]
    fn a_landing_on_lower_ground_is_told() {
        let mut leap = test_leap(1.0, 1.5);
        leap.sight = GOOD;
        leap.landing.floor_px += 0.08 * leap.px_per_m;
        assert_eq!(flags(&leap, 1.0), [Flag::DropLanding]);
    }
}
