//! The contact trace of a measurement as a plot.

use super::Motion;
use crate::report::model::Jump;
use crate::report::plot::{EventKind, JumpLabel, Look, PlotEvent, Series, TracePlot, ValueAxis};
use crate::units::CaptureTime;

/// Motion in the patch over the whole clip, with the events and their bounds.
pub fn trace_plot(motion: &Motion, jumps: &[Jump], stem: &str) -> TracePlot {
    // Frames that were not decoded have no motion to show.
    let points = motion.times_s.iter().zip(&motion.change);
    let points = points.filter(|(_, change)| change.is_finite());
    let motion = Series {
        name: "floor patch".to_owned(),
        look: Look::Line,
        points: points
            .map(|(&t, &change)| (CaptureTime::from_seconds(t), f64::from(change)))
            .collect(),
    };
    TracePlot {
        title: format!("{stem}: motion in the floor patch"),
        values: ValueAxis {
            name: "change from frame to frame".to_owned(),
            unit: "grey levels".to_owned(),
        },
        series: vec![motion],
        events: jumps.iter().flat_map(events_of).collect(),
        jumps: jumps.iter().map(label).collect(),
    }
}

/// Both events of a jump of the document.
pub fn events_of(jump: &Jump) -> [PlotEvent; 2] {
    let event = |kind, best, bounds: crate::units::Bounds<CaptureTime>| PlotEvent {
        kind,
        earliest: bounds.lo(),
        best,
        latest: bounds.hi(),
    };
    [
        event(EventKind::TakeOff, jump.takeoff_s, jump.takeoff_bounds_s),
        event(EventKind::Landing, jump.landing_s, jump.landing_bounds_s),
    ]
}

/// What stands over a jump's flight.
pub fn label(jump: &Jump) -> JumpLabel {
    let centimetres = jump.height_m.centimetres();
    JumpLabel {
        text: format!("Jump {}: {centimetres:.1} cm", jump.number),
        takeoff: jump.takeoff_s,
        landing: jump.landing_s,
    }
}
