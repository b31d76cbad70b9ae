//! The frames round take-off and landing of each jump, for people to check by eye.

use crate::report::model::{Document, Failure, Jump};
use crate::units::{CaptureTime, FrameIndex};
use crate::video::clip::Clip;
use crate::video::still::{EventKind, EventView, jump_picture};
use crate::video::{CaptureClock, FloorPatch};

use super::failure;

/// A PNG for each jump of the document; the clip is `called` so in them.
pub(super) fn draw(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    document: &Document,
    called: &str,
    threads: usize,
) -> Result<Vec<Vec<u8>>, Failure> {
    let strip = |jump: &Jump| {
        let header = format!(
            "{called}, jump {}: {:.1} cm, {:.3} s in the air",
            jump.number,
            jump.height_m.centimetres(),
            jump.flight_time_s.seconds()
        );
        jump_picture(clip, clock, patch, &header, events(jump), threads).map_err(failure)
    };
    document.jumps.iter().map(strip).collect()
}

fn events(jump: &Jump) -> [EventView; 2] {
    let view = |kind, moment: CaptureTime, [before, after]: [usize; 2]| EventView {
        kind,
        moment,
        before: FrameIndex(before),
        after: FrameIndex(after),
    };
    [
        view(EventKind::TakeOff, jump.takeoff_s, jump.frames.takeoff),
        view(EventKind::Landing, jump.landing_s, jump.frames.landing),
    ]
}
