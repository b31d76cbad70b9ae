//! A child that has a clip open for as long as somebody steps through it.
//!
//! Starting one for every picture would take longer than decoding it. So it stays, is
//! asked for stretches of frames, and waits for a word after each whether to go on.

use std::fmt;
use std::io::{self, BufReader, Write};
use std::ops::{ControlFlow, RangeInclusive};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin};
use std::sync::mpsc::{self, Receiver};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};

use serde::{Deserialize, Serialize};

use super::cage::Limits;
use super::parent::{End, next_piece, with_memory};
use super::wire::{self, Piece};
use super::{Asked, HELPER, Request, Task, not_apart};
use crate::report::model::Failure;
use crate::units::FrameIndex;
use crate::workflow::frames::{FilmFacts, FramePicture, PictureArea};

/// The word after a frame that asks for the next.
pub(super) const GO_ON: u8 = b'+';
/// The word that has had enough.
const ENOUGH: u8 = b'.';
/// Clips that are held open at the same time. The others are opened again when somebody
/// comes back to them.
const MOST_OPEN: usize = 3;
/// How long a frame is waited for, in seconds; nobody looks at a still page for longer.
const SILENCE_S: u64 = 20;
/// Frames that may wait to be taken; the child sends no second one unasked.
const WAITING: usize = 4;

/// A stretch of frames that is asked for.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Wanted {
    /// First and last frame.
    pub(super) range: (usize, usize),
    pub(super) area: PictureArea,
    pub(super) threads: usize,
}

/// A clip that a child has open.
pub(in crate::workflow) struct Viewer {
    path: PathBuf,
    capture_fps: Option<f64>,
    seat: Arc<Seat>,
}

/// Where a child may sit. It goes when another clip needs its place, and another comes.
type Seat = Mutex<Option<Session>>;

impl fmt::Debug for Viewer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Viewer")
            .field("path", &self.path)
            .finish_non_exhaustive()
    }
}

impl Viewer {
    /// Has a child open the clip.
    pub(in crate::workflow) fn open(
        path: &Path,
        capture_fps: Option<f64>,
    ) -> Asked<(Self, FilmFacts)> {
        if HELPER.get().is_none() {
            return Asked::Here(None);
        }
        let viewer = Self {
            path: path.to_owned(),
            capture_fps,
            seat: Arc::default(),
        };
        match Session::start(path, capture_fps) {
            Err(error) => Asked::Here(Some(not_apart(&error))),
            Ok(Err(failure)) => Asked::Failed(failure),
            Ok(Ok((session, facts))) => {
                *lock(&viewer.seat) = Some(session);
                make_room_for(&viewer.seat);
                Asked::Answer(Box::new((viewer, facts)))
            }
        }
    }

    /// Hands pictures of a range of frames on, in order, until `receive` has enough.
    ///
    /// A child that sat here for long may have used up its computing time, so one that
    /// ends before it has shown anything is replaced, once.
    pub(in crate::workflow) fn pictures(
        &self,
        range: RangeInclusive<usize>,
        area: PictureArea,
        threads: usize,
        receive: &mut dyn FnMut(FramePicture) -> ControlFlow<()>,
    ) -> Result<(), Failure> {
        let wanted = Wanted {
            range: range.into_inner(),
            area,
            threads,
        };
        let mut seat = lock(&self.seat);
        let mut is_new = false;
        loop {
            let mut session = match seat.take() {
                Some(session) => session,
                None => {
                    is_new = true;
                    make_room_for(&self.seat);
                    self.start()?
                }
            };
            let mut shown = 0;
            let done = session.show(&wanted, &mut |picture| {
                shown += 1;
                receive(picture)
            });
            match done {
                Ok(done) => {
                    let done = done.map_err(|failure| with_memory(failure, &session.limits));
                    *seat = Some(session);
                    return done;
                }
                Err(end) if is_new || shown > 0 => return Err(session.why(end)),
                Err(_) => {}
            }
        }
    }

    fn start(&self) -> Result<Session, Failure> {
        match Session::start(&self.path, self.capture_fps) {
            Ok(started) => started.map(|(session, _)| session),
            Err(error) => Err(Failure {
                message: format!("the clip could not be opened again ({error})"),
                hint: "close other programs and try again".to_owned(),
            }),
        }
    }
}

/// Sends the child away that has sat the longest, where there are too many. One that
/// is at work is left to it.
fn make_room_for(seat: &Arc<Seat>) {
    static TAKEN: Mutex<Vec<Weak<Seat>>> = Mutex::new(Vec::new());
    let mut taken = lock(&TAKEN);
    let own = Arc::downgrade(seat);
    taken.retain(|other| other.strong_count() > 0 && !other.ptr_eq(&own));
    taken.push(own);
    let mut too_many = taken.len().saturating_sub(MOST_OPEN);
    taken.retain(|other| {
        let Some(other) = other.upgrade().filter(|_| too_many > 0) else {
            return true;
        };
        let Ok(mut other) = other.try_lock() else {
            return true;
        };
        *other = None;
        too_many -= 1;
        false
    });
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A child at work.
struct Session {
    child: Child,
    stdin: ChildStdin,
    pieces: Receiver<Result<Piece, String>>,
    limits: Limits,
}

impl Session {
    /// Starts a child and has it open the clip. An error where none can be started, a
    /// failure where the clip cannot be opened.
    fn start(
        path: &Path,
        capture_fps: Option<f64>,
    ) -> io::Result<Result<(Self, FilmFacts), Failure>> {
        let task = Task::Look { capture_fps };
        let limits = Limits {
            silence_s: SILENCE_S,
            ..Limits::of(path, task.threads())
        };
        let (mut child, pieces) = seated(path)?;
        let Some(stdin) = child.stdin.take() else {
            return Err(io::ErrorKind::BrokenPipe.into());
        };
        let mut session = Self {
            child,
            stdin,
            pieces,
            limits,
        };
        let request = Request {
            task,
            limits,
            verbose: HELPER.get().is_some_and(|helper| helper.verbose),
        };
        let opened = match wire::send_request(&mut session.stdin, &request) {
            Ok(()) => session.answer(&mut |_| Err(End::Senseless("a frame too soon".to_owned()))),
            Err(_) => Err(End::Ended),
        };
        let facts = opened.and_then(|answer| match answer {
            Err(failure) => Ok(Err(with_memory(failure, &session.limits))),
            Ok(bytes) => {
                let facts: FilmFacts = wire::parse(&bytes).map_err(End::Senseless)?;
                facts.check().map_err(End::Senseless)?;
                Ok(Ok(facts))
            }
        });
        Ok(match facts {
            Ok(facts) => facts.map(|facts| (session, facts)),
            Err(end) => Err(session.why(end)),
        })
    }

    /// Asks for frames, and hands them on.
    fn show(
        &mut self,
        wanted: &Wanted,
        receive: &mut dyn FnMut(FramePicture) -> ControlFlow<()>,
    ) -> Result<Result<(), Failure>, End> {
        wire::send_request(&mut self.stdin, wanted).map_err(|_| End::Ended)?;
        let (first, last) = wanted.range;
        let answer = self.answer(&mut |picture| {
            if !(first..=last).contains(&picture.index.0) {
                return Err(End::Senseless("a frame that nobody asked for".to_owned()));
            }
            Ok(receive(picture))
        })?;
        Ok(answer.map(|_| ()))
    }

    /// Takes in what the child sends until it has done what was asked.
    fn answer(
        &mut self,
        receive: &mut dyn FnMut(FramePicture) -> Result<ControlFlow<()>, End>,
    ) -> Result<Result<Vec<u8>, Failure>, End> {
        loop {
            match next_piece(&self.pieces, self.limits.silence_s)? {
                Piece::Frame(index, jpeg) => {
                    let index = FrameIndex(index);
                    let word = match receive(FramePicture { index, jpeg })? {
                        ControlFlow::Continue(()) => GO_ON,
                        ControlFlow::Break(()) => ENOUGH,
                    };
                    let told = self.stdin.write_all(&[word]);
                    told.and_then(|()| self.stdin.flush())
                        .map_err(|_| End::Ended)?;
                }
                Piece::Answer(answer) => return Ok(Ok(answer)),
                Piece::Failure(why) => return Ok(Err(wire::parse(&why).map_err(End::Senseless)?)),
                _ => return Err(End::Senseless("a piece out of place".to_owned())),
            }
        }
    }

    /// Ends the child, and says why there is nothing to see.
    fn why(mut self, end: End) -> Failure {
        // It may have ended already; then there is nothing to end.
        if !matches!(end, End::Ended) {
            let _ = self.child.kill();
        }
        end.why(&mut self.child, &self.limits)
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A child, and what it sends, taken in by a thread of its own. That thread starts it:
/// on Linux a child ends with the thread that started it, and this one stays as long as
/// there is something to be read.
fn seated(path: &Path) -> io::Result<(Child, Receiver<Result<Piece, String>>)> {
    let (sender, pieces) = mpsc::sync_channel(WAITING);
    let (started, child) = mpsc::sync_channel(1);
    let path = path.to_owned();
    let reading = std::thread::Builder::new().name("looking".to_owned());
    reading.spawn(move || {
        let Some(helper) = HELPER.get() else {
            return;
        };
        let mut child = match helper.start(&path) {
            Ok(child) => child,
            Err(error) => return drop(started.send(Err(error))),
        };
        let stdout = child.stdout.take();
        if started.send(Ok(child)).is_err() {
            return;
        }
        let Some(mut stdout) = stdout.map(BufReader::new) else {
            return;
        };
        loop {
            let piece = Piece::receive(&mut stdout);
            let last = piece.is_err();
            if sender.send(piece).is_err() || last {
                return;
            }
        }
    })?;
    let child = child.recv().map_err(io::Error::other)??;
    Ok((child, pieces))
}
