//! The clips of this page and what is going on with each.

use std::collections::{BTreeMap, HashMap, VecDeque};
use std::path::PathBuf;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::SystemTime;

use jiff::civil::Date;
use tokio::sync::watch;

use super::jumps::{Correction, Findings};
use super::reply::{Refusal, Reply};
use crate::report::model::Failure;
use crate::video::FloorPatch;
use crate::workflow;
use crate::workflow::frames::Film;

/// A clip's number on this page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
pub(super) struct ClipId(pub(super) u64);

/// Work that waits for the measuring thread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Job {
    /// Find where the feet stand.
    Suggest,
    /// Measure the jumps.
    Measure,
}

/// How far a clip is.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Stage {
    /// Given at the start and not opened yet.
    Resting,
    /// On its way here.
    Arriving,
    /// Being opened.
    Opening,
    /// Waiting for its turn.
    Queued(Job),
    /// Having its turn.
    Working {
        job: Job,
        what: workflow::Stage,
        done: usize,
        of: usize,
    },
    /// To be marked.
    Marking,
    /// Measured, with or without jumps.
    Measured,
    /// It could not be opened or measured.
    Failed(Failure),
}

/// How a patch came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Origin {
    /// The person drew or confirmed it.
    Marked,
    /// Kept beside the clip by an earlier run.
    Kept,
    /// That of the last clip with a picture of this size.
    Remembered,
    /// The program's suggestion.
    Suggested,
}

/// Where the feet stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Mark {
    pub(super) patch: FloorPatch,
    pub(super) origin: Origin,
}

/// What a clip's jumps were kept as.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct KeptAs {
    pub(super) athlete: String,
    pub(super) date: Date,
    pub(super) jumps: usize,
}

/// A clip that arrives: what its sender said of it, and how much is here.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Arrival {
    pub(super) bytes: u64,
    pub(super) received: u64,
    /// Whether somebody is writing to it at the moment.
    pub(super) busy: bool,
}

/// A clip.
#[derive(Clone, Debug)]
pub(super) struct Held {
    pub(super) id: ClipId,
    /// As people call it; never part of a path.
    pub(super) name: String,
    pub(super) path: PathBuf,
    /// Whether it is ours to throw away.
    pub(super) ours: bool,
    pub(super) arrival: Arrival,
    /// When its file was last changed, as its sender says.
    pub(super) modified: Option<SystemTime>,
    /// The camera's setting, where a person stated it.
    pub(super) capture_fps: Option<f64>,
    pub(super) stage: Stage,
    pub(super) film: Option<Arc<Film>>,
    pub(super) mark: Option<Mark>,
    /// Whether a patch was looked for in vain.
    pub(super) no_suggestion: bool,
    pub(super) findings: Option<Arc<Findings>>,
    pub(super) corrections: BTreeMap<usize, Correction>,
    pub(super) kept: Option<KeptAs>,
    /// Rises whenever the clip has to be shown anew.
    pub(super) version: u64,
}

#[derive(Debug, Default)]
struct Inner {
    clips: BTreeMap<ClipId, Held>,
    last: u64,
    queue: VecDeque<ClipId>,
    /// Last patch that a person marked, by size of picture.
    remembered: HashMap<(u32, u32), FloorPatch>,
    closed: bool,
}

/// All clips, safe to share.
#[derive(Debug)]
pub(super) struct Shelf {
    inner: Mutex<Inner>,
    work: Condvar,
    changes: watch::Sender<u64>,
}

/// Everything needed to do a job.
#[derive(Debug)]
pub(super) struct Task {
    pub(super) id: ClipId,
    pub(super) job: Job,
    pub(super) clip: Held,
}

impl Shelf {
    pub(super) fn new() -> Self {
        Self {
            inner: Mutex::default(),
            work: Condvar::new(),
            changes: watch::Sender::new(1),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn changed(&self) {
        self.changes.send_modify(|count| *count += 1);
    }

    /// Tells of every change.
    pub(super) fn changes(&self) -> watch::Receiver<u64> {
        self.changes.subscribe()
    }

    /// Puts a clip on the shelf.
    pub(super) fn add(
        &self,
        name: &str,
        bytes: u64,
        modified: Option<SystemTime>,
        place: impl FnOnce(u64) -> (PathBuf, bool),
    ) -> ClipId {
        let mut inner = self.lock();
        inner.last += 1;
        let id = ClipId(inner.last);
        let (path, ours) = place(id.0);
        let held = Held {
            id,
            name: tidy_name(name),
            path,
            ours,
            arrival: Arrival {
                bytes,
                received: 0,
                busy: false,
            },
            modified,
            capture_fps: None,
            stage: if ours {
                Stage::Arriving
            } else {
                Stage::Resting
            },
            film: None,
            mark: None,
            no_suggestion: false,
            findings: None,
            corrections: BTreeMap::new(),
            kept: None,
            version: 1,
        };
        inner.clips.insert(id, held);
        drop(inner);
        self.changed();
        id
    }

    /// All clips, the newest first, as they are now.
    pub(super) fn all(&self) -> Vec<Held> {
        self.lock().clips.values().rev().cloned().collect()
    }

    /// A clip as it is now.
    pub(super) fn get(&self, id: ClipId) -> Reply<Held> {
        self.lock()
            .clips
            .get(&id)
            .cloned()
            .ok_or_else(Refusal::gone)
    }

    /// Clips and bytes that count towards the limits.
    pub(super) fn load(&self) -> (usize, u64) {
        let inner = self.lock();
        let ours = inner.clips.values().filter(|clip| clip.ours);
        ours.fold((0, 0), |(count, bytes), clip| {
            (count + 1, bytes + clip.arrival.bytes)
        })
    }

    /// Changes a clip; everybody who shows it hears of it.
    pub(super) fn change<T>(&self, id: ClipId, change: impl FnOnce(&mut Held) -> T) -> Reply<T> {
        let done = {
            let mut inner = self.lock();
            let clip = inner.clips.get_mut(&id).ok_or_else(Refusal::gone)?;
            clip.version += 1;
            change(clip)
        };
        self.changed();
        Ok(done)
    }

    /// Changes what is shown of progress and nothing else.
    pub(super) fn progress(&self, id: ClipId, change: impl FnOnce(&mut Held)) {
        if let Some(clip) = self.lock().clips.get_mut(&id) {
            change(clip);
        }
        self.changed();
    }

    /// Takes a clip off the shelf, and the queue.
    pub(super) fn remove(&self, id: ClipId) -> Reply<Held> {
        let removed = {
            let mut inner = self.lock();
            inner.queue.retain(|waiting| *waiting != id);
            inner.clips.remove(&id).ok_or_else(Refusal::gone)?
        };
        self.changed();
        Ok(removed)
    }

    /// Puts a clip into the queue; what it waited for before is forgotten.
    pub(super) fn queue(&self, id: ClipId, job: Job) -> Reply<()> {
        self.change(id, |clip| clip.stage = Stage::Queued(job))?;
        let mut inner = self.lock();
        inner.queue.retain(|waiting| *waiting != id);
        // A person waits for a measurement; a suggestion is only a help.
        let is_measure = |inner: &Inner, id: &ClipId| {
            let clip = inner.clips.get(id);
            clip.is_some_and(|clip| clip.stage == Stage::Queued(Job::Measure))
        };
        let at = match job {
            Job::Suggest => inner.queue.len(),
            Job::Measure => inner
                .queue
                .iter()
                .filter(|id| is_measure(&inner, id))
                .count(),
        };
        inner.queue.insert(at, id);
        drop(inner);
        self.work.notify_all();
        self.changed();
        Ok(())
    }

    /// How many are before a clip in the queue, the one being worked on among them.
    pub(super) fn before(&self, id: ClipId) -> Option<usize> {
        let inner = self.lock();
        let at = inner.queue.iter().position(|waiting| *waiting == id)?;
        let working = |clip: &&Held| matches!(clip.stage, Stage::Working { .. });
        Some(at + inner.clips.values().filter(working).count())
    }

    /// The next job; waits for one. `None` when the page closes.
    pub(super) fn next(&self) -> Option<Task> {
        let mut inner = self.lock();
        loop {
            if inner.closed {
                return None;
            }
            if let Some(id) = inner.queue.pop_front() {
                let what = workflow::Stage::Watching;
                if let Some(clip) = inner.clips.get_mut(&id)
                    && let Stage::Queued(job) = clip.stage
                {
                    clip.stage = Stage::Working {
                        job,
                        what,
                        done: 0,
                        of: 0,
                    };
                    clip.version += 1;
                    let clip = clip.clone();
                    drop(inner);
                    self.changed();
                    return Some(Task { id, job, clip });
                }
                continue;
            }
            inner = self
                .work
                .wait(inner)
                .unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// Lets whoever waits for work go home.
    pub(super) fn close(&self) {
        self.lock().closed = true;
        self.work.notify_all();
        self.changed();
    }

    pub(super) fn is_closed(&self) -> bool {
        self.lock().closed
    }

    /// The patch that was last marked in pictures of this size.
    pub(super) fn remembered(&self, size: (u32, u32)) -> Option<FloorPatch> {
        self.lock().remembered.get(&size).copied()
    }

    pub(super) fn remember(&self, size: (u32, u32), patch: FloorPatch) {
        self.lock().remembered.insert(size, patch);
    }
}

/// A name that can be shown: one line, of a length that fits.
fn tidy_name(name: &str) -> String {
    const LONGEST: usize = 120;
    // Some browsers give whole paths; only the last part is a name.
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let tidy: String = last
        .chars()
        .filter(|c| !c.is_control() && !is_direction(*c))
        .take(LONGEST)
        .collect();
    match tidy.trim() {
        "" => "clip".to_owned(),
        tidy => tidy.to_owned(),
    }
}

/// Letters that turn the direction of writing, and could make a name look like another.
fn is_direction(letter: char) -> bool {
    matches!(letter, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shelf_of(count: usize) -> (Shelf, Vec<ClipId>) {
        let shelf = Shelf::new();
        let add = |k: usize| {
            shelf.add(&format!("{k}.mp4"), 10, None, |number| {
                (PathBuf::from(format!("clip-{number}")), true)
            })
        };
        let ids = (0..count).map(add).collect();
        (shelf, ids)
    }

    #[test]
    fn who_measures_goes_before_who_only_gets_a_suggestion() {
        let (shelf, ids) = shelf_of(3);
        shelf.queue(ids[0], Job::Suggest).unwrap();
        shelf.queue(ids[1], Job::Measure).unwrap();
        shelf.queue(ids[2], Job::Measure).unwrap();
        let place = |at: usize| shelf.before(ids[at]);
        assert_eq!((place(0), place(1), place(2)), (Some(2), Some(0), Some(1)));
        let task = shelf.next().unwrap();
        assert_eq!((task.id, task.job), (ids[1], Job::Measure));
        assert_eq!((place(2), place(0)), (Some(1), Some(2)));
    }

    #[test]
    fn what_was_taken_away_is_not_worked_on() {
        let (shelf, ids) = shelf_of(2);
        shelf.queue(ids[0], Job::Suggest).unwrap();
        shelf.queue(ids[1], Job::Suggest).unwrap();
        shelf.remove(ids[0]).unwrap();
        assert_eq!(shelf.next().unwrap().id, ids[1]);
        shelf.close();
        assert!(shelf.next().is_none());
    }

    #[test]
    fn names_are_for_showing_only() {
        assert_eq!(tidy_name("../../etc/passwd"), "passwd");
        assert_eq!(tidy_name("C:\\clips\\jump.mov"), "jump.mov");
        assert_eq!(tidy_name("a\nb\u{202E}gpj.mp4"), "abgpj.mp4");
        assert_eq!(tidy_name(".."), "..");
        assert_eq!(tidy_name("\u{7}"), "clip");
        assert_eq!(tidy_name(&"x".repeat(500)).len(), 120);
    }
}
