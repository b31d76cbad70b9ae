//! Flags: what makes a trial doubtful, and what to do about it.
//!
//! A doubtful trial is still data. A flag goes with it, with a code that
//! programs can rely on and advice that a coach can act on.

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

use super::flight::Flight;
use super::height::PostureAllowance;
use crate::units::{Metres, Span};

/// Below this many frames per second [`Flag::FewFrames`] is raised: at 50 the
/// standard uncertainty from frame spacing alone passes 1 cm at half a second
/// of flight (g T/4 divided by f √6), as much as many training effects.
pub const FEW_FRAMES_PER_SECOND: f64 = 50.0;

/// Above this height [`Flag::ImprobableHeight`] is raised. Common practice, no
/// standard: adult team players commonly jump 0.2 to 0.6 m by flight time, and
/// more than 0.8 m usually means a slow-motion clip played at the wrong speed,
/// drawn-up legs, or a landing on lower ground (from memory).
pub const IMPROBABLE_HEIGHT: Metres = Metres::from_metres(0.8);

/// More than this between the feet raises [`Flag::FeetApart`]: at 2.5 m/s, the speed at
/// the floor of a 32 cm jump, the later foot is then 4 cm from the floor.
pub const FEET_TOGETHER: Span = Span::from_millis(15.0);

/// How much a flag matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// The figures hold; they could be sharper.
    Note,
    /// The figures hold if the remark does not apply.
    Caution,
    /// The height should not be used before somebody has looked.
    Doubtful,
}

/// A remark on a trial.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Flag {
    /// No fit below one frame; the events lie anywhere between two frames.
    WholeFramesOnly,
    /// Fewer than [`FEW_FRAMES_PER_SECOND`].
    FewFrames,
    /// A frame is missing next to take-off or landing.
    DroppedNearEvent,
    /// A frame next to take-off or landing shows the one before it again.
    RepeatedNearEvent,
    /// The capture rate is not certain.
    ClockInDoubt,
    /// The body was likely lower at landing, with an estimate where there is one.
    PostureAtLanding(Option<PostureAllowance>),
    /// The feet left or met the floor one after the other.
    FeetApart,
    /// Motion blur hides the feet's edge.
    Blur,
    /// Feet and floor look alike.
    WeakContrast,
    /// The floor patch was proposed by the program and not confirmed.
    PatchSuggested,
    /// Something else covers part of the floor patch.
    PatchPartlyCovered,
    /// Some frames could not be decoded in full.
    CorruptFrames,
    /// Some frames are absent from the file.
    LostFrames,
    /// The camera moved; its movement was taken out.
    Shake,
    /// The camera moved so much that the feet may have been mistaken.
    ShakenHard,
    /// What stands still beside the feet could not be followed.
    SurroundingsLost,
    /// A part of a shoe seems to stand on the floor while the flight lasts.
    PartStood,
    /// Feet and body imply scales that do not go together.
    FeetAgainstBody,
    /// The light pulses.
    Flicker,
    /// The landing was beside the floor patch.
    LandingBeside,
    /// The landing was read some way from the take-off.
    LandingElsewhere,
    /// Higher than [`IMPROBABLE_HEIGHT`].
    ImprobableHeight,
    /// The athlete landed on lower ground than at take-off.
    DropLanding,
    /// Jumped with an extra load.
    Loaded,
    /// A person moved take-off or landing.
    HandSet,
}

impl Flag {
    /// The flag that a frame rate calls for, in frames per second.
    pub fn for_frame_rate(frames_per_second: f64) -> Option<Self> {
        (frames_per_second < FEW_FRAMES_PER_SECOND).then_some(Self::FewFrames)
    }

    /// The flag that a height calls for.
    pub fn for_height(height: Metres) -> Option<Self> {
        (height > IMPROBABLE_HEIGHT).then_some(Self::ImprobableHeight)
    }

    /// The flag that the flights of two feet call for.
    pub fn for_feet([a, b]: &[Flight; 2]) -> Option<Self> {
        let takeoff = a.takeoff().best() - b.takeoff().best();
        let landing = a.landing().best() - b.landing().best();
        let apart = takeoff.seconds().abs().max(landing.seconds().abs());
        (apart > FEET_TOGETHER.seconds()).then_some(Self::FeetApart)
    }

    /// The flag's stable name.
    pub fn code(&self) -> &'static str {
        match self {
            Self::WholeFramesOnly => "whole_frames_only",
            Self::FewFrames => "few_frames",
            Self::DroppedNearEvent => "dropped_near_event",
            Self::RepeatedNearEvent => "repeated_near_event",
            Self::ClockInDoubt => "clock_in_doubt",
            Self::PostureAtLanding(_) => "posture_at_landing",
            Self::FeetApart => "feet_apart",
            Self::Blur => "blur",
            Self::WeakContrast => "weak_contrast",
            Self::PatchSuggested => "patch_suggested",
            Self::PatchPartlyCovered => "patch_partly_covered",
            Self::CorruptFrames => "corrupt_frames",
            Self::LostFrames => "lost_frames",
            Self::Shake => "shake",
            Self::ShakenHard => "shaken_hard",
            Self::SurroundingsLost => "surroundings_lost",
            Self::PartStood => "part_stood",
            Self::FeetAgainstBody => "feet_against_body",
            Self::Flicker => "flicker",
            Self::LandingBeside => "landing_beside",
            Self::LandingElsewhere => "landing_elsewhere",
            Self::ImprobableHeight => "improbable_height",
            Self::DropLanding => "drop_landing",
            Self::Loaded => "loaded",
            Self::HandSet => "hand_set",
        }
    }

    /// How much it matters.
    pub fn severity(&self) -> Severity {
        match self {
            Self::WholeFramesOnly
            | Self::FewFrames
            | Self::PatchSuggested
            | Self::Loaded
            | Self::HandSet => Severity::Note,
            Self::DroppedNearEvent
            | Self::RepeatedNearEvent
            | Self::PostureAtLanding(_)
            | Self::FeetApart
            | Self::LandingElsewhere
            | Self::Blur
            | Self::WeakContrast
            | Self::PatchPartlyCovered
            | Self::CorruptFrames
            | Self::LostFrames
            | Self::Shake
            | Self::Flicker => Severity::Caution,
            Self::ClockInDoubt
            | Self::ShakenHard
            | Self::SurroundingsLost
            | Self::PartStood
            | Self::FeetAgainstBody
            | Self::LandingBeside
            | Self::ImprobableHeight
            | Self::DropLanding => Severity::Doubtful,
        }
    }

    /// Whether the height should not be used before somebody has looked.
    pub fn makes_doubtful(&self) -> bool {
        self.severity() == Severity::Doubtful
    }

    /// What it means and what to do, in a sentence or two.
    pub fn advice(&self) -> String {
        let text = match self {
            Self::PostureAtLanding(Some(allowance)) => return posture_advice(allowance),
            Self::WholeFramesOnly => {
                "Events are known to whole frames only. Film with more frames per second or \
                 mark the floor patch more closely."
            }
            Self::FewFrames => {
                "Few frames per second make the height coarse. Film at 120 or 240 if the phone can."
            }
            Self::DroppedNearEvent => {
                "A frame is missing next to take-off or landing; the bounds are wider for it. \
                 Free the phone's memory and film again if that is too wide."
            }
            Self::RepeatedNearEvent => {
                "A repeated frame stands next to take-off or landing and was left out. \
                 Film in better light or at a fixed frame rate."
            }
            Self::ClockInDoubt => {
                "The clip's true capture rate is not certain. State it by hand, and use the \
                 original file rather than a shared copy."
            }
            Self::PostureAtLanding(None) => {
                "The body may have been lower at landing than at take-off, which reads too high. \
                 Ask for straight legs and pointed feet at first touch."
            }
            Self::FeetApart => {
                "The feet did not leave or land together. The last to leave and the first to \
                 land count; repeat the jump if they were far apart."
            }
            Self::Blur => "The feet are blurred. Film in better light with a short exposure.",
            Self::WeakContrast => {
                "Shoes and floor look alike. Film against a floor of another brightness or lay \
                 a mat or tape."
            }
            Self::PatchSuggested => {
                "The floor patch was proposed, not marked. Check it and confirm."
            }
            Self::PatchPartlyCovered => {
                "Something else moved over the floor patch while the feet were in the air. Clear the \
                 view to the feet."
            }
            Self::CorruptFrames => {
                "Some frames are damaged. Copy the clip from the phone again without converting it."
            }
            Self::LostFrames => {
                "Some frames are absent from the file. Copy it again from the phone, or film \
                 with less running on it."
            }
            Self::Shake => "The camera moved. Put the phone on a stand or lean it on something.",
            Self::ShakenHard => {
                "The camera moved too much to be sure of the feet. Put the phone on a stand and \
                 film again."
            }
            Self::SurroundingsLost => {
                "What stands still beside the feet could not be followed: the camera moved much, \
                 or something passed in front. Put the phone on a stand, clear the view and film \
                 again."
            }
            Self::PartStood => {
                "A part of a shoe looks as if it stood on the floor during the flight: a heel may \
                 have been taken for a toe. Look at the pictures and set the event by hand."
            }
            Self::FeetAgainstBody => {
                "The flight read at the feet does not go with the fall of head and trunk: a heel \
                 may have been taken for a toe, or the landing was on higher ground. Look at the \
                 pictures and set the event by hand."
            }
            Self::Flicker => {
                "The light pulses. Film in daylight, or with an exposure that is a multiple of \
                 1/100 s (1/120 s where mains are 60 Hz)."
            }
            Self::LandingBeside => {
                "The athlete landed beside the marked floor. Mark a wider patch or repeat the jump."
            }
            Self::LandingElsewhere => {
                "The landing was read more than 10 cm from the take-off: the athlete travelled, or \
                 a heel was taken for a toe. Look at the pictures."
            }
            Self::ImprobableHeight => {
                "Higher than nearly anybody jumps. Check the capture rate, drawn-up legs and the \
                 ground at landing."
            }
            Self::DropLanding => {
                "The feet landed lower in the picture than they left: on lower ground, where flight \
                 time does not give the height, or nearer to the camera. Land where you took off."
            }
            Self::Loaded => {
                "Jumped with a load. Compare only with jumps under the same load, and make sure \
                 it was held still against the body."
            }
            Self::HandSet => {
                "An event was set by hand. Its bounds are the frames next to it, and hold if \
                 contact was judged rightly there."
            }
        };
        text.to_owned()
    }
}

fn posture_advice(allowance: &PostureAllowance) -> String {
    format!(
        "The body was likely lower at landing than at take-off; the height likely reads \
         {:.1} cm too high (standard uncertainty {:.1} cm). Ask for straight legs and pointed \
         feet at first touch.",
        allowance.likely_overstatement.centimetres(),
        allowance.u.0.centimetres()
    )
}

/// Written as `{code, advice}`.
impl Serialize for Flag {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut fields = serializer.serialize_struct("Flag", 2)?;
        fields.serialize_field("code", self.code())?;
        fields.serialize_field("advice", &self.advice())?;
        fields.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::StandardUncertainty;

    #[test]
    fn few_frames_threshold_is_where_frame_spacing_passes_a_centimetre() {
        let u_h = |fps: f64| 9.80665 * 0.5 / 4.0 / (fps * 6f64.sqrt());
        assert!((u_h(FEW_FRAMES_PER_SECOND) - 0.01).abs() < 1e-4);
        assert_eq!(Flag::for_frame_rate(49.9), Some(Flag::FewFrames));
        assert_eq!(Flag::for_frame_rate(50.0), None);
    }

    #[test]
    fn a_slow_motion_clip_at_player_speed_is_doubtful() {
        // 240 frames per second played at 30 stretch time by 8, height by 64.
        let flag = Flag::for_height(Metres::from_metres(0.3 * 64.0)).unwrap();
        assert!(flag.makes_doubtful());
        assert_eq!(Flag::for_height(Metres::from_metres(0.6)), None);
    }

    #[test]
    fn a_flag_is_written_as_code_and_advice() {
        let allowance = PostureAllowance {
            likely_overstatement: Metres::from_metres(0.0213),
            u: StandardUncertainty(Metres::from_metres(0.012)),
        };
        let json = serde_json::to_value(Flag::PostureAtLanding(Some(allowance))).unwrap();
        assert_eq!(json["code"], "posture_at_landing");
        let advice = json["advice"].as_str().unwrap();
        assert!(advice.contains("2.1 cm") && advice.contains("1.2 cm"));
        assert_eq!(json.as_object().unwrap().len(), 2);
    }
}
