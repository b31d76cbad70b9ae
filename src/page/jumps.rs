//! What was found in a clip, and what a person set right in it.

use crate::jump::{FoundJump, Gravity, HandSet};
use crate::log::TrialRecord;
use crate::report::model::{Document, Failure, Jump};
use crate::report::plot::TracePlot;
use crate::units::CaptureTime;
use crate::video::{ClockReport, FloorPatch};
use crate::workflow::Measurement;
use crate::workflow::hand::{Measured, by_hand};
use crate::workflow::looking::{events_of, label, trace_plot};

/// The result of a clip.
#[derive(Clone, Debug)]
pub(super) struct Findings {
    pub(super) document: Document,
    pub(super) records: Vec<TrialRecord>,
    /// What the events rest on; `None` where nothing looks like a jump.
    pub(super) basis: Option<Basis>,
}

/// What looking and correcting need beside the document.
#[derive(Clone, Debug)]
pub(super) struct Basis {
    pub(super) trace: TracePlot,
    found: Vec<FoundJump>,
    clock: ClockReport,
    pub(super) patch: FloorPatch,
}

impl Findings {
    pub(super) fn of(measured: Measurement, name: &str) -> Self {
        let mut document = measured.document;
        document.clip = name.to_owned();
        let basis = measured.evidence.and_then(|evidence| {
            let trace = trace_plot(&evidence.motion, &document.jumps, name);
            let basis = evidence.basis?;
            Some(Basis {
                trace,
                clock: basis.clock,
                patch: evidence.patch,
                found: basis.jumps,
            })
        });
        Self {
            document,
            records: measured.trials,
            basis,
        }
    }

    fn measured(&self, number: usize) -> Option<Measured<'_>> {
        let at = number.checked_sub(1)?;
        Some(Measured {
            jump: self.document.jumps.get(at)?,
            record: self.records.get(at)?,
            found: self.basis.as_ref()?.found.get(at)?,
        })
    }

    /// The jump with events set by hand.
    pub(super) fn corrected(
        &self,
        number: usize,
        times: &[CaptureTime],
        hand: HandSet,
    ) -> Result<(Jump, TrialRecord), Failure> {
        let (Some(measured), Some(basis)) = (self.measured(number), &self.basis) else {
            return Err(Failure {
                message: format!("there is no jump {number} in this clip"),
                hint: "choose one of those listed".to_owned(),
            });
        };
        by_hand(measured, times, &basis.clock, Gravity::standard(), hand)
    }
}

/// A jump that a person set right.
#[derive(Clone, Debug)]
pub(super) struct Correction {
    /// What is set, with all that was set before, the newest last.
    pub(super) history: Vec<HandSet>,
    pub(super) jump: Jump,
    pub(super) record: TrialRecord,
}

impl Correction {
    pub(super) fn hand(&self) -> HandSet {
        self.history.last().copied().unwrap_or_default()
    }
}

/// A jump as it stands: what counts now, and what was found where that differs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Standing<'a> {
    pub(super) jump: &'a Jump,
    pub(super) record: &'a TrialRecord,
    pub(super) hand: HandSet,
    pub(super) found: &'a Jump,
    pub(super) can_undo: bool,
}

/// All jumps of a clip as they stand.
pub(super) fn standing(clip: &super::shelf::Held) -> Vec<Standing<'_>> {
    let Some(findings) = &clip.findings else {
        return Vec::new();
    };
    let pairs = findings.document.jumps.iter().zip(&findings.records);
    pairs
        .map(
            |(found, record)| match clip.corrections.get(&found.number) {
                Some(correction) if !correction.hand().is_empty() => Standing {
                    jump: &correction.jump,
                    record: &correction.record,
                    hand: correction.hand(),
                    found,
                    can_undo: true,
                },
                other => Standing {
                    jump: found,
                    record,
                    hand: HandSet::default(),
                    found,
                    can_undo: other.is_some_and(|c| !c.history.is_empty()),
                },
            },
        )
        .collect()
}

/// The trace with the events as they stand.
pub(super) fn trace(clip: &super::shelf::Held) -> Option<TracePlot> {
    let basis = clip.findings.as_ref()?.basis.as_ref()?;
    let standing = standing(clip);
    Some(TracePlot {
        events: standing.iter().flat_map(|s| events_of(s.jump)).collect(),
        jumps: standing.iter().map(|s| label(s.jump)).collect(),
        ..basis.trace.clone()
    })
}
