//! What all pieces of a clip told together.

use super::{Piece, Viewer, convinces, times_s};
use crate::units::FrameIndex;
use crate::video::contact::{ContactTrace, Leap};
use crate::video::decode::DecodeSummary;
use crate::video::fault::ClipError;
use crate::video::repeats::RepeatReport;
use crate::video::watch::Watched;

/// A larger share of repeated pictures, of those that could be judged, means that
/// the clip was converted: then all of it is looked at.
const REPEATS: f64 = 0.02;

/// Whether so many pictures repeat the one before.
pub(in crate::video) fn is_converted(repeats: &RepeatReport) -> bool {
    repeats.share() > REPEATS
}

/// What one piece told; its pictures are gone.
struct Told {
    trace: ContactTrace,
    repeats: RepeatReport,
    /// Largest change of the soles against the piece's first picture.
    change: f32,
}

/// All that the pieces told.
pub(super) struct Gathered {
    pieces: Vec<Told>,
    decoded: usize,
}

impl Gathered {
    /// Begins with what was decoded for the coarse look.
    pub(super) fn new(looked_at: usize) -> Self {
        Self {
            pieces: Vec::new(),
            decoded: looked_at,
        }
    }

    pub(super) fn add(&mut self, piece: Piece) {
        self.decoded += piece.decoded;
        self.pieces.push(Told {
            change: piece.feet.change,
            repeats: piece.repeats,
            trace: piece.watch.finish(),
        });
    }

    /// Whether some jump showed clearly, and nothing speaks of a clip that was
    /// converted or cut.
    fn convinces(&self, clear: f32) -> bool {
        let clearly =
            |piece: &Told| piece.change >= clear && piece.trace.leaps.iter().any(convinces);
        self.pieces.iter().any(clearly) && !self.pieces.iter().any(|p| is_converted(&p.repeats))
    }

    /// One trace over the whole clip; motion is no number where nothing was decoded.
    pub(super) fn into_watched(self, viewer: &Viewer) -> Result<Option<Watched>, ClipError> {
        if !self.convinces(viewer.coarse.likeness.clear()) {
            return Ok(None);
        }
        let times_s = times_s(viewer.clip, viewer.clock)?;
        let mut trace = ContactTrace {
            motion: vec![f32::NAN; times_s.len()],
            indices: (0..times_s.len()).map(FrameIndex).collect(),
            spacing_s: viewer.spacing_s,
            patch_height_px: viewer.zone.patch_rows(viewer.zone.fine).1,
            px: f64::from(viewer.zone.fine),
            leaps: Vec::new(),
            body_flights: Vec::new(),
            times_s,
        };
        let mut repeats = RepeatReport::default();
        for piece in self.pieces {
            repeats.judged += piece.repeats.judged;
            repeats.repeated.extend(piece.repeats.repeated);
            for (index, motion) in piece.trace.indices.iter().zip(&piece.trace.motion) {
                if let Some(place) = trace.motion.get_mut(index.0) {
                    *place = *motion;
                }
            }
            trace.body_flights.extend(piece.trace.body_flights);
            add_leaps(&mut trace.leaps, piece.trace.leaps);
        }
        let summary = DecodeSummary {
            frames: self.decoded,
            ..DecodeSummary::default()
        };
        Ok(Some(Watched {
            trace,
            summary,
            repeats,
        }))
    }
}

/// Adds the leaps that overlap none of those already there, in order of time.
pub(in crate::video) fn add_leaps(leaps: &mut Vec<Leap>, more: Vec<Leap>) {
    for leap in more {
        if !leaps.iter().any(|other| other.overlaps(&leap)) {
            leaps.push(leap);
        }
    }
    leaps.sort_by(|a, b| a.takeoff.t_s.total_cmp(&b.takeoff.t_s));
}
