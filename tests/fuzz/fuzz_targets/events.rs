//! Any numbers as a contact trace: events, heights, bounds.
#![no_main]

use libfuzzer_sys::arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use underfoot::jump::{ClockUncertainty, Conditions, Gravity, HeightResult, find_jumps};
use underfoot::units::{FrameIndex, Span};
use underfoot::video::{ContactTrace, FootEvent, Leap, PathPoint};

fn event(from: &mut Unstructured) -> Result<FootEvent> {
    Ok(FootEvent {
        t_s: from.arbitrary()?,
        spread_s: from.arbitrary()?,
        weight: from.arbitrary()?,
        paths: from.arbitrary()?,
        share: from.arbitrary()?,
        votes: from.arbitrary()?,
        speed_px_s: from.arbitrary()?,
        run_up_s: from.arbitrary()?,
        rms_px: from.arbitrary()?,
        floor_px: from.arbitrary()?,
    })
}

fn path(from: &mut Unstructured) -> Result<Vec<PathPoint>> {
    let mut path = Vec::new();
    for frame in 0..from.int_in_range(0..=4)? {
        path.push(PathPoint {
            frame,
            t: from.arbitrary()?,
            y: from.arbitrary()?,
            x: from.arbitrary()?,
            likeness: from.arbitrary()?,
        });
    }
    Ok(path)
}

fn leap(from: &mut Unstructured) -> Result<Leap> {
    Ok(Leap {
        takeoff: event(from)?,
        landing: event(from)?,
        px_per_m: from.arbitrary()?,
        evidence: from.arbitrary()?,
        takeoff_paths: vec![path(from)?],
        landing_paths: vec![path(from)?],
        backed: from.arbitrary()?,
        body: None,
        touchdown: match from.arbitrary()? {
            true => Some(event(from)?),
            false => None,
        },
        feet: None,
        sight: Default::default(),
    })
}

fn trace(from: &mut Unstructured) -> Result<ContactTrace> {
    let frames = from.int_in_range(0..=40)?;
    let mut times_s = Vec::new();
    for _ in 0..frames {
        times_s.push(from.arbitrary()?);
    }
    let mut leaps = Vec::new();
    for _ in 0..from.int_in_range(0..=3)? {
        leaps.push(leap(from)?);
    }
    Ok(ContactTrace {
        indices: (0..frames).map(FrameIndex).collect(),
        motion: vec![0.0; frames],
        times_s,
        leaps,
        body_flights: Vec::new(),
        spacing_s: from.arbitrary()?,
        patch_height_px: from.arbitrary()?,
        px: from.arbitrary()?,
    })
}

fuzz_target!(|bytes: &[u8]| {
    let Ok(trace) = trace(&mut Unstructured::new(bytes)) else {
        return;
    };
    // Moments out of order are an error, never a panic and never a height.
    let Ok(jumps) = find_jumps(&trace) else {
        return;
    };
    let clock = ClockUncertainty::new(1e-4, Span::default()).expect("a clock");
    for jump in jumps {
        let result = HeightResult::of(&jump.flight, &Conditions::new(clock, Gravity::standard()));
        assert!(
            result.flight_time_bounds.contains(result.flight_time),
            "{result:?}"
        );
        assert!(result.bounds.contains(result.height), "{result:?}");
    }
});
