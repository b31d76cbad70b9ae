//! The child: is told what is wanted, locks itself in, does it, sends it.

use std::io::{self, Read, Write};
use std::ops::ControlFlow;
use std::path::Path;
use std::time::{Duration, Instant};

use serde::Serialize;

use super::viewer::{GO_ON, Wanted};
use super::wire::{self, Piece};
use super::{Request, Task, cage};
use crate::report::model::Failure;
use crate::video::kept::kept_path;
use crate::workflow::frames::Here;
use crate::workflow::{Found, Progress, Stage, find, inspect, mark};

/// Progress is told no oftener than this.
const BETWEEN_WORDS: Duration = Duration::from_millis(50);

/// Answers one request, from standard input to standard output, about the clip at
/// `path`. Not for people.
///
/// # Errors
/// What was wrong with the request, or with sending the answer.
pub fn serve(path: &Path) -> Result<(), String> {
    let request: Request = wire::receive_request(&mut io::stdin().lock())?;
    if let Task::Suggest { .. } = request.task {
        cage::let_others_go_first();
    }
    let remarks = cage::lock_in(&request.limits, &[path, &kept_path(path)]);
    if request.verbose {
        for remark in remarks {
            // Where even that cannot be written, the clip still can be read.
            let _ = writeln!(io::stderr(), "note: {remark}");
        }
    }
    crate::video::decoder_messages(request.verbose);
    let (mut from, mut out) = (io::stdin().lock(), io::stdout().lock());
    answer(path, &request.task, &mut from, &mut out).map_err(|error| error.to_string())
}

/// Opens the clip to be looked at, and shows frames of it for as long as somebody asks.
fn show(
    path: &Path,
    capture_fps: Option<f64>,
    from: &mut impl Read,
    out: &mut impl Write,
) -> io::Result<()> {
    let opened = Here::open(path, capture_fps).and_then(|film| Ok((film.facts()?, film)));
    let film = match opened {
        Err(failure) => return finish(Err::<(), _>(failure), out),
        Ok((facts, film)) => {
            finish(Ok(facts), out)?;
            film
        }
    };
    // Whoever asked has had enough when nothing more comes.
    while let Ok(wanted) = wire::receive_request::<Wanted>(from) {
        let mut broken = None;
        let Wanted {
            range: (first, last),
            area,
            threads,
        } = wanted;
        let shown = film.pictures(first..=last, area, threads, &mut |picture| {
            let sent = Piece::Frame(picture.index.0, picture.jpeg).send(out);
            let mut word = [0];
            match sent.and_then(|()| from.read_exact(&mut word)) {
                Ok(()) if word == [GO_ON] => ControlFlow::Continue(()),
                Ok(()) => ControlFlow::Break(()),
                Err(error) => {
                    broken = Some(error);
                    ControlFlow::Break(())
                }
            }
        });
        if let Some(error) = broken {
            return Err(error);
        }
        finish(shown, out)?;
    }
    Ok(())
}

fn answer(path: &Path, task: &Task, from: &mut impl Read, out: &mut impl Write) -> io::Result<()> {
    match task {
        Task::Measure(options) => {
            let found = find(path, options, &mut Teller::new(out));
            measurement(&found, out)
        }
        Task::Inspect {
            capture_fps,
            threads,
        } => finish(inspect::look(path, *capture_fps, *threads), out),
        Task::Suggest {
            capture_fps,
            threads,
        } => {
            let film = Here::open(path, *capture_fps);
            let found = film.and_then(|film| film.suggested(*threads, &mut Teller::new(out)));
            finish(found, out)
        }
        Task::Look { capture_fps } => show(path, *capture_fps, from, out),
        Task::Mark(options) => {
            let marked = mark::draw(path, options, &mut Teller::new(out));
            if let Ok(marked) = &marked {
                Piece::Picture(marked.png.clone()).send(out)?;
            }
            finish(marked, out)
        }
    }
}

fn measurement(found: &Found, out: &mut impl Write) -> io::Result<()> {
    if let Some(evidence) = &found.evidence {
        Piece::Motion(evidence.motion.clone()).send(out)?;
        match &evidence.strips {
            Some(Ok(strips)) => {
                for strip in strips {
                    Piece::Picture(strip.clone()).send(out)?;
                }
            }
            Some(Err(failure)) => Piece::NoPictures(serde_json::to_vec(failure)?).send(out)?,
            None => {}
        }
    }
    Piece::Answer(serde_json::to_vec(found)?).send(out)
}

fn finish(answer: Result<impl Serialize, Failure>, out: &mut impl Write) -> io::Result<()> {
    match answer {
        Ok(answer) => Piece::Answer(serde_json::to_vec(&answer)?).send(out),
        Err(failure) => Piece::Failure(serde_json::to_vec(&failure)?).send(out),
    }
}

/// Passes progress on, not with every frame.
struct Teller<'a, W> {
    out: &'a mut W,
    last: Option<(Stage, Instant)>,
}

impl<'a, W: Write> Teller<'a, W> {
    fn new(out: &'a mut W) -> Self {
        Self { out, last: None }
    }
}

impl<W: Write> Progress for Teller<'_, W> {
    fn frames(&mut self, stage: Stage, done: usize, of: usize) {
        let now = Instant::now();
        let soon = |(told, at): (Stage, Instant)| told == stage && now - at < BETWEEN_WORDS;
        if self.last.is_some_and(soon) {
            return;
        }
        self.last = Some((stage, now));
        // A parent that has gone needs no progress; the answer will find that out.
        let _ = Piece::Progress(stage, done, of).send(self.out);
    }
}
