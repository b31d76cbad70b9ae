//! What goes between the two processes: pieces, each with kind, length and bytes.
//!
//! Whoever reads trusts nothing: neither a length nor what stands behind it.

use std::io::{self, Read, Write};
use std::path::Path;

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::report::model::{Jump, SCHEMA};
use crate::workflow::{Basis, Found, Motion, Stage};

/// Longest piece that is believed, in bytes: a large still comes to some 50 million.
const LONGEST_PIECE: u32 = 256 << 20;
/// Longest text inside an answer, in characters; the longest of ours has 300.
const LONGEST_TEXT: usize = 4096;
/// More jumps than anybody makes in one clip.
const MOST_JUMPS: usize = 10_000;
/// What is said of a sender that stops in the middle.
pub(super) const BREAKS_OFF: &str = "it breaks off";
/// One moment and its change in bytes.
const SAMPLE: usize = 8 + 4;

/// One piece of what a child sends.
#[derive(Debug, PartialEq)]
pub(super) enum Piece {
    /// So many of so many frames are done.
    Progress(Stage, usize, usize),
    /// What moved in the patch.
    Motion(Motion),
    /// A picture as PNG bytes.
    Picture(Vec<u8>),
    /// A frame of the clip as JPEG bytes.
    Frame(usize, Vec<u8>),
    /// Why there are no pictures, as JSON.
    NoPictures(Vec<u8>),
    /// What was asked for, as JSON; the last piece.
    Answer(Vec<u8>),
    /// Why it cannot be had, as JSON; the last piece.
    Failure(Vec<u8>),
}

impl Piece {
    /// Writes the piece.
    pub(super) fn send(&self, out: &mut impl Write) -> io::Result<()> {
        match self {
            Self::Progress(stage, done, of) => {
                let mut bytes = vec![code(*stage)];
                for count in [done, of] {
                    bytes.extend((*count as u64).to_le_bytes());
                }
                piece(out, b'p', &bytes)
            }
            Self::Motion(motion) => {
                let mut bytes = Vec::with_capacity(SAMPLE * motion.times_s.len());
                for (time_s, change) in motion.times_s.iter().zip(&motion.change) {
                    bytes.extend(time_s.to_le_bytes());
                    bytes.extend(change.to_le_bytes());
                }
                piece(out, b'm', &bytes)
            }
            Self::Picture(bytes) => piece(out, b'i', bytes),
            Self::Frame(frame, jpeg) => {
                let mut bytes = (*frame as u64).to_le_bytes().to_vec();
                bytes.extend(jpeg);
                piece(out, b'j', &bytes)
            }
            Self::NoPictures(bytes) => piece(out, b'n', bytes),
            Self::Answer(bytes) => piece(out, b'a', bytes),
            Self::Failure(bytes) => piece(out, b'f', bytes),
        }
    }

    /// Reads a piece; an error where there is none that makes sense.
    pub(super) fn receive(from: &mut impl Read) -> Result<Self, String> {
        let mut head = [0; 5];
        from.read_exact(&mut head).map_err(broken)?;
        let [kind, length @ ..] = head;
        let bytes = body(from, u32::from_le_bytes(length))?;
        match kind {
            b'p' => progress(&bytes).ok_or_else(|| "a count that is none".to_owned()),
            b'm' => Ok(Self::Motion(motion(&bytes)?)),
            b'i' if bytes.starts_with(b"\x89PNG\r\n\x1a\n") => Ok(Self::Picture(bytes)),
            b'i' => Err("a picture that is none".to_owned()),
            b'j' => frame(&bytes).ok_or_else(|| "a frame that is none".to_owned()),
            b'n' => Ok(Self::NoPictures(bytes)),
            b'a' => Ok(Self::Answer(bytes)),
            b'f' => Ok(Self::Failure(bytes)),
            other => Err(format!("a piece of the unknown kind {other}")),
        }
    }
}

/// Writes a request: its length, then JSON.
pub(super) fn send_request(out: &mut impl Write, request: &impl Serialize) -> io::Result<()> {
    let bytes = serde_json::to_vec(request)?;
    let length = u32::try_from(bytes.len()).map_err(io::Error::other)?;
    out.write_all(&length.to_le_bytes())?;
    out.write_all(&bytes)?;
    out.flush()
}

/// Reads a request.
pub(super) fn receive_request<T: DeserializeOwned>(from: &mut impl Read) -> Result<T, String> {
    let mut length = [0; 4];
    from.read_exact(&mut length).map_err(broken)?;
    let bytes = body(from, u32::from_le_bytes(length))?;
    serde_json::from_slice(&bytes).map_err(|error| error.to_string())
}

/// What JSON from a child says; texts in it are made harmless.
pub(super) fn parse<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, String> {
    let mut value: Value = serde_json::from_slice(bytes).map_err(|error| error.to_string())?;
    make_harmless(&mut value);
    serde_json::from_value(value).map_err(|error| error.to_string())
}

/// Cuts long texts, and takes out characters that would steer a terminal.
fn make_harmless(value: &mut Value) {
    match value {
        Value::String(text) => {
            let plain = |c: char| if c.is_control() { '\u{fffd}' } else { c };
            *text = text.chars().take(LONGEST_TEXT).map(plain).collect();
        }
        Value::Array(values) => values.iter_mut().for_each(make_harmless),
        Value::Object(values) => values.values_mut().for_each(make_harmless),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

/// Sees whether a measurement can be one, and gives it the clip's name as this
/// process knows it.
pub(super) fn check(found: &mut Found, path: &Path) -> Result<(), String> {
    let document = &mut found.document;
    document.clip = path.display().to_string();
    let jumps = &document.jumps;
    let pictures = match found.evidence.as_ref().and_then(|e| e.strips.as_ref()) {
        Some(Ok(strips)) => strips.len(),
        _ => jumps.len(),
    };
    let sound = document.schema == SCHEMA
        && jumps.len() <= MOST_JUMPS
        && found.trials.len() == jumps.len()
        && pictures == jumps.len()
        && (document.error.is_none() || jumps.is_empty())
        && (found.evidence.is_some() || jumps.is_empty())
        && found
            .evidence
            .as_ref()
            .is_none_or(|e| is_basis_of(e.basis.as_ref(), jumps))
        && (1..).zip(jumps).all(|(number, jump)| jump.number == number)
        && jumps.iter().all(holds_together);
    if !sound {
        return Err("its parts contradict one another".to_owned());
    }
    let mut trials = found.trials.iter();
    trials.try_for_each(|trial| trial.check().map_err(|error| error.to_string()))
}

/// Whether what events are set by hand on is there for every jump, and of that jump.
fn is_basis_of(basis: Option<&Basis>, jumps: &[Jump]) -> bool {
    basis.is_none_or(|basis| {
        basis.jumps.len() == jumps.len()
            && basis.jumps.iter().zip(jumps).all(|(found, jump)| {
                found.flight.takeoff().best() == jump.takeoff_s
                    && found.flight.landing().best() == jump.landing_s
            })
    })
}

/// Whether a jump's estimates lie in their bounds.
fn holds_together(jump: &Jump) -> bool {
    jump.takeoff_bounds_s.contains(jump.takeoff_s)
        && jump.landing_bounds_s.contains(jump.landing_s)
        && jump.flight_time_bounds_s.contains(jump.flight_time_s)
        && jump.height_bounds_m.contains(jump.height_m)
}

fn piece(out: &mut impl Write, kind: u8, bytes: &[u8]) -> io::Result<()> {
    let length = u32::try_from(bytes.len()).map_err(io::Error::other)?;
    out.write_all(&[kind])?;
    out.write_all(&length.to_le_bytes())?;
    out.write_all(bytes)?;
    out.flush()
}

/// Reads so many bytes; memory grows only with what really comes.
fn body(from: &mut impl Read, length: u32) -> Result<Vec<u8>, String> {
    if length > LONGEST_PIECE {
        return Err(format!("a piece of {length} bytes"));
    }
    let mut bytes = Vec::new();
    let read = from.take(length.into()).read_to_end(&mut bytes);
    match read.map_err(broken)? {
        read if read == length as usize => Ok(bytes),
        _ => Err(BREAKS_OFF.to_owned()),
    }
}

fn broken(error: io::Error) -> String {
    match error.kind() {
        io::ErrorKind::UnexpectedEof => BREAKS_OFF.to_owned(),
        _ => error.to_string(),
    }
}

fn code(stage: Stage) -> u8 {
    match stage {
        Stage::Suggesting => 0,
        Stage::Watching => 1,
        Stage::TryingSlowMotion => 2,
        Stage::Filming => 3,
    }
}

fn progress(bytes: &[u8]) -> Option<Piece> {
    let (stage, counts) = bytes.split_first()?;
    let stage = match stage {
        0 => Stage::Suggesting,
        1 => Stage::Watching,
        2 => Stage::TryingSlowMotion,
        3 => Stage::Filming,
        _ => return None,
    };
    let (done, of) = counts.split_at_checked(8)?;
    let count = |bytes: &[u8]| usize::try_from(u64::from_le_bytes(bytes.try_into().ok()?)).ok();
    Some(Piece::Progress(stage, count(done)?, count(of)?))
}

fn frame(bytes: &[u8]) -> Option<Piece> {
    let (frame, jpeg) = bytes.split_at_checked(8)?;
    let frame = usize::try_from(u64::from_le_bytes(frame.try_into().ok()?)).ok()?;
    let is_jpeg = jpeg.starts_with(b"\xff\xd8\xff");
    is_jpeg.then(|| Piece::Frame(frame, jpeg.to_vec()))
}

fn motion(bytes: &[u8]) -> Result<Motion, String> {
    let (samples, []) = bytes.as_chunks::<SAMPLE>() else {
        return Err("a motion that breaks off".to_owned());
    };
    let mut motion = Motion::default();
    for sample in samples {
        let [a, b, c, d, e, f, g, h, change @ ..] = *sample;
        let time_s = f64::from_le_bytes([a, b, c, d, e, f, g, h]);
        if !time_s.is_finite() {
            return Err("a moment that is none".to_owned());
        }
        motion.times_s.push(time_s);
        motion.change.push(f32::from_le_bytes(change));
    }
    Ok(motion)
}

#[cfg(test)]
#[path = "wire_tests.rs"]
mod tests;
