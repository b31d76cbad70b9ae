//! The contact trace of a measurement as a plot.

use super::Evidence;
use crate::jump::{Event, FoundJump};
use crate::report::model::Jump;
use crate::report::plot::{EventKind, JumpLabel, Look, PlotEvent, Series, TracePlot, ValueAxis};
use crate::units::CaptureTime;

/// Motion in the patch over the whole clip, with the events and their bounds.
pub fn trace_plot(evidence: &Evidence, jumps: &[Jump], stem: &str) -> TracePlot {
    let trace = &evidence.trace;
    // Frames that were not decoded have no motion to show.
    let points = trace.times_s.iter().zip(&trace.motion);
    let points = points.filter(|(_, motion)| motion.is_finite());
    let motion = Series {
        name: "floor patch".to_owned(),
        look: Look::Line,
        points: points
            .map(|(&t, &motion)| (CaptureTime::from_seconds(t), f64::from(motion)))
            .collect(),
    };
    TracePlot {
        title: format!("{stem}: motion in the floor patch"),
        values: ValueAxis {
            name: "change from frame to frame".to_owned(),
            unit: "grey levels".to_owned(),
        },
        series: vec![motion],
        events: evidence.jumps.iter().flat_map(events_found).collect(),
        jumps: jumps.iter().map(label).collect(),
    }
}

fn events_found(found: &FoundJump) -> [PlotEvent; 2] {
    let event = |kind, event: &Event| PlotEvent {
        kind,
        earliest: event.earliest(),
        best: event.best(),
        latest: event.latest(),
    };
    [
        event(EventKind::TakeOff, found.flight.takeoff()),
        event(EventKind::Landing, found.flight.landing()),
    ]
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
