//! The parent: starts the child, waits for it with patience but not for ever, and
//! says in plain words what became of it.

use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::Duration;

use serde::de::DeserializeOwned;

use super::cage::Limits;
use super::wire::{self, Piece};
use super::{ARGUMENT, Request};
use crate::report::model::Failure;
use crate::workflow::{Motion, Progress};

/// Silence is counted in pieces of this length, so that a program that was itself
/// put to sleep for an hour has waited for one such piece.
const PATIENCE: Duration = Duration::from_secs(1);
/// So much of what a child says on standard error is looked at, in bytes.
const LAST_WORDS: u64 = 4096;
/// Pieces that may wait to be looked at.
const WAITING: usize = 16;
/// Pictures and motion that are taken from one child, in bytes altogether.
const MOST_BYTES: usize = 1 << 30;
/// What Rust says when memory is refused; there is no way to ask it.
const OUT_OF_MEMORY: &str = "memory allocation of";
/// What FFmpeg says then.
const NO_MEMORY: &str = "Cannot allocate memory";

/// The program that children are started of.
#[derive(Debug)]
pub(super) struct Helper {
    program: PathBuf,
    arguments: Vec<String>,
    pub(super) verbose: bool,
}

/// Why there is no answer.
#[derive(Debug)]
pub(super) enum Refusal {
    /// No child could be started.
    NotStarted(std::io::Error),
    /// It said that it cannot be done, or broke down.
    Failed(Failure),
}

/// What a child sent.
#[derive(Debug, Default)]
pub(super) struct Received {
    pub(super) motion: Motion,
    pub(super) pictures: Vec<Vec<u8>>,
    pub(super) refused_pictures: Option<Failure>,
    answer: Vec<u8>,
}

impl Received {
    /// The answer, made harmless.
    pub(super) fn answer<T: DeserializeOwned>(&self) -> Result<T, String> {
        wire::parse(&self.answer)
    }
}

/// How a child came to its end without an answer.
pub(super) enum End {
    Silent,
    Senseless(String),
    Ended,
}

impl End {
    /// What a person is told of it. Waits for the child, which has ended or been ended.
    pub(super) fn why(self, child: &mut Child, limits: &Limits) -> Failure {
        let last_words = last_words(child);
        let status = match child.wait() {
            Ok(status) => status,
            Err(error) => return senseless(&error.to_string()),
        };
        match self {
            Self::Silent => silent(limits),
            // What it was sending when it ended by itself breaks off, of course.
            Self::Senseless(reason) if reason != wire::BREAKS_OFF || status.success() => {
                senseless(&reason)
            }
            Self::Senseless(_) | Self::Ended => broken_down(status, &last_words, limits),
        }
    }
}

impl Helper {
    /// The program that is running.
    pub(super) fn this_program(verbose: bool) -> Self {
        // On Linux this names the very file that runs, even if its name now belongs
        // to a newer one.
        let own = Path::new("/proc/self/exe");
        let program = match cfg!(target_os = "linux") && own.exists() {
            true => own.to_owned(),
            false => std::env::current_exe().unwrap_or_default(),
        };
        Self {
            program,
            arguments: vec![ARGUMENT.to_owned()],
            verbose,
        }
    }

    /// Has a child do what is asked.
    pub(super) fn ask(
        &self,
        path: &Path,
        request: &Request,
        progress: &mut dyn Progress,
    ) -> Result<Received, Refusal> {
        let mut child = self.start(path).map_err(Refusal::NotStarted)?;
        if let Some(mut stdin) = child.stdin.take() {
            // One that ended before it read will be found out below.
            let _ = wire::send_request(&mut stdin, request);
        }
        let end = match child.stdout.take() {
            Some(stdout) => listen(stdout, &mut child, request.limits.silence_s, progress),
            None => Err(End::Ended),
        };
        match end {
            Ok(answer) => {
                child.wait().map_err(Refusal::NotStarted)?;
                let with_memory = |failure| with_memory(failure, &request.limits);
                answer.map_err(|failure| Refusal::Failed(with_memory(failure)))
            }
            Err(end) => Err(Refusal::Failed(end.why(&mut child, &request.limits))),
        }
    }

    pub(super) fn start(&self, path: &Path) -> std::io::Result<Child> {
        let mut command = Command::new(&self.program);
        #[cfg(unix)]
        std::os::unix::process::CommandExt::arg0(&mut command, "underfoot");
        let errors = match self.verbose {
            true => Stdio::inherit(),
            false => Stdio::piped(),
        };
        command
            .args(&self.arguments)
            .arg(path)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(errors)
            .spawn()
    }
}

type Heard = Result<Result<Received, Failure>, End>;

/// Takes in what the child sends, until its last piece; ends it where that does not
/// come.
fn listen(
    stdout: impl Read + Send,
    child: &mut Child,
    silence_s: u64,
    progress: &mut dyn Progress,
) -> Heard {
    std::thread::scope(|scope| {
        let (sender, receiver) = mpsc::sync_channel(WAITING);
        scope.spawn(move || {
            let mut from = BufReader::new(stdout);
            loop {
                let piece = Piece::receive(&mut from);
                let last = !matches!(
                    piece,
                    Ok(Piece::Progress(..)
                        | Piece::Motion(_)
                        | Piece::Picture(_)
                        | Piece::NoPictures(_))
                );
                if sender.send(piece).is_err() || last {
                    return;
                }
            }
        });
        let heard = gather(&receiver, silence_s, progress);
        if heard.is_err() {
            // It may have ended already; then there is nothing to end.
            let _ = child.kill();
        }
        // The reader stops once nobody takes what it reads.
        drop(receiver);
        heard
    })
}

/// The next piece, as soon as it is there; waits for it with patience.
pub(super) fn next_piece(
    receiver: &mpsc::Receiver<Result<Piece, String>>,
    silence_s: u64,
) -> Result<Piece, End> {
    let mut silent = 0;
    loop {
        match receiver.recv_timeout(PATIENCE) {
            Ok(piece) => return piece.map_err(End::Senseless),
            Err(RecvTimeoutError::Disconnected) => return Err(End::Ended),
            Err(RecvTimeoutError::Timeout) => {
                silent += PATIENCE.as_secs();
                if silent >= silence_s {
                    return Err(End::Silent);
                }
            }
        }
    }
}

/// Puts the pieces together.
fn gather(
    receiver: &mpsc::Receiver<Result<Piece, String>>,
    silence_s: u64,
    progress: &mut dyn Progress,
) -> Heard {
    let mut received = Received::default();
    let mut bytes = 0;
    loop {
        match next_piece(receiver, silence_s)? {
            Piece::Progress(stage, done, of) => progress.frames(stage, done, of),
            Piece::Motion(motion) => {
                bytes += 12 * motion.times_s.len();
                received.motion = motion;
            }
            Piece::Picture(picture) => {
                bytes += picture.len();
                received.pictures.push(picture);
            }
            Piece::Frame(..) => {
                return Err(End::Senseless("a frame that nobody asked for".to_owned()));
            }
            Piece::NoPictures(why) => {
                received.refused_pictures = Some(wire::parse(&why).map_err(End::Senseless)?);
            }
            Piece::Answer(answer) => {
                received.answer = answer;
                return Ok(Ok(received));
            }
            Piece::Failure(why) => {
                return Ok(Err(wire::parse(&why).map_err(End::Senseless)?));
            }
        }
        if bytes > MOST_BYTES {
            return Err(End::Senseless("more pictures than can be".to_owned()));
        }
    }
}

/// What the child said on standard error before it ended.
fn last_words(child: &mut Child) -> String {
    let mut words = Vec::new();
    if let Some(stderr) = child.stderr.take() {
        // Words that cannot be read are as good as none.
        let _ = stderr.take(LAST_WORDS).read_to_end(&mut words);
    }
    String::from_utf8_lossy(&words).into_owned()
}

const TRUST: &str = "copy it from the phone again; if you trust the clip, read it without limits: \
                     --in-process";

fn silent(limits: &Limits) -> Failure {
    Failure {
        message: format!(
            "nothing came from the decoder for {} s; it was stopped",
            limits.silence_s
        ),
        hint: TRUST.to_owned(),
    }
}

/// An answer that cannot be one.
pub(super) fn senseless(reason: &str) -> Failure {
    let plain = |c: char| if c.is_control() { '\u{fffd}' } else { c };
    let reason: String = reason.chars().take(200).map(plain).collect();
    Failure {
        message: format!("what the decoder answered makes no sense ({reason})"),
        hint: "copy the clip from the phone again, and do not trust this copy".to_owned(),
    }
}

fn too_much_memory(limits: &Limits) -> Failure {
    Failure {
        message: format!(
            "the clip asks for more memory than the {} MiB that one clip is given",
            limits.memory_mib
        ),
        hint: TRUST.to_owned(),
    }
}

/// The library says it in its own words when memory is refused to it.
pub(super) fn with_memory(failure: Failure, limits: &Limits) -> Failure {
    if failure.message.contains(NO_MEMORY) {
        return too_much_memory(limits);
    }
    failure
}

fn broken_down(status: ExitStatus, last_words: &str, limits: &Limits) -> Failure {
    if last_words.contains(OUT_OF_MEMORY) {
        return too_much_memory(limits);
    }
    let how = match signal(status) {
        Some(24) => {
            return Failure {
                message: format!(
                    "the clip takes more than {} s of computing, far more than its size \
                     explains; it was stopped",
                    limits.cpu_s
                ),
                hint: TRUST.to_owned(),
            };
        }
        Some(9) => "it was ended from outside, perhaps for want of memory".to_owned(),
        Some(number) => format!("signal {number}"),
        None => match status.code() {
            Some(code) => format!("it ended with {code}"),
            None => status.to_string(),
        },
    };
    Failure {
        message: format!("the decoder broke down over this clip ({how}); nothing else is harmed"),
        hint: "copy it from the phone again; if it plays elsewhere, please report it".to_owned(),
    }
}

/// The signal that ended a process. 24 is SIGXCPU on Linux and macOS.
fn signal(status: ExitStatus) -> Option<i32> {
    #[cfg(unix)]
    return std::os::unix::process::ExitStatusExt::signal(&status);
    #[cfg(not(unix))]
    return None;
}

#[cfg(all(test, unix))]
#[path = "parent_tests.rs"]
mod tests;
