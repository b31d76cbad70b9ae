//! The file that holds a clip, opened, and its stream with the moving picture.

use std::fs::File;
use std::io::{ErrorKind, Read, Seek};
use std::path::Path;

use ffmpeg_next as ff;

use super::fault::ClipError;
use super::ffmpeg;

/// Streams in one file that are believed.
const MAX_STREAMS: u32 = 64;

/// An open file.
pub(super) struct Container {
    pub input: ff::format::context::Input,
    /// Position of the stream with the moving picture.
    pub stream: usize,
    /// Whether somebody has read from it, so that it is not at its beginning.
    pub was_read: bool,
}

impl Container {
    /// Opens the container and finds the stream with the moving picture.
    pub fn open(path: &Path) -> Result<Self, ClipError> {
        let (file, head) = open_file(path)?;
        let mut input = ffmpeg::open(file).map_err(|error| refusal(error, &head))?;
        if input.nb_streams() > MAX_STREAMS {
            return Err(ClipError::TooManyStreams(input.nb_streams()));
        }
        let stream = picture_stream(&input).ok_or(ClipError::NoVideoStream)?;
        ffmpeg::read_only_stream(&mut input, stream);
        Ok(Self {
            input,
            stream,
            was_read: false,
        })
    }

    /// Whether going to a place leads to the same packets wherever it was read before:
    /// where all of the index is known from the beginning.
    pub fn goes_anywhere(&self) -> bool {
        self.input.format().name().starts_with("mov")
    }

    /// Goes to the last key picture at or before a moment, in ticks.
    pub fn go_to(&mut self, ticks: i64) -> Result<(), ff::Error> {
        self.was_read = true;
        ffmpeg::seek(&mut self.input, self.stream, ticks)
    }
}

impl std::fmt::Debug for Container {
    fn fmt(&self, out: &mut std::fmt::Formatter) -> std::fmt::Result {
        out.write_str("Container")
    }
}

/// Opens the file itself and returns its first bytes with it.
fn open_file(path: &Path) -> Result<(File, Vec<u8>), ClipError> {
    let refused = |error: std::io::Error| match error.kind() {
        ErrorKind::NotFound => ClipError::NotFound,
        ErrorKind::IsADirectory => ClipError::IsFolder,
        _ => ClipError::Unreadable(error),
    };
    // Asked before opening: a pipe or a device would wait or never end.
    let kind = std::fs::metadata(path).map_err(refused)?;
    if kind.is_dir() {
        return Err(ClipError::IsFolder);
    }
    if !kind.is_file() {
        return Err(ClipError::NotAVideo);
    }
    let mut file = File::open(path).map_err(refused)?;
    let mut head = Vec::with_capacity(16);
    (&mut file)
        .take(16)
        .read_to_end(&mut head)
        .map_err(refused)?;
    if head.is_empty() {
        return Err(ClipError::Empty);
    }
    file.rewind().map_err(refused)?;
    Ok((file, head))
}

/// What it means that the library would not open a file that begins so.
fn refusal(error: ff::Error, head: &[u8]) -> ClipError {
    let boxed = [
        b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot",
    ];
    let is_boxed = head
        .get(4..8)
        .is_some_and(|name| boxed.iter().any(|known| *known == name));
    let is_matroska = head.starts_with(&[0x1a, 0x45, 0xdf, 0xa3]);
    let is_avi = head.starts_with(b"RIFF") && head.get(8..12) == Some(b"AVI ");
    match error {
        ff::Error::InvalidData if is_boxed => ClipError::IndexMissing,
        error if is_boxed || is_matroska || is_avi => ClipError::Damaged(error.to_string()),
        _ => ClipError::NotAVideo,
    }
}

/// The best video stream that is not a cover picture.
fn picture_stream(input: &ff::format::context::Input) -> Option<usize> {
    let moving = |stream: &ff::format::stream::Stream| {
        stream.parameters().medium() == ff::media::Type::Video
            && !stream
                .disposition()
                .contains(ff::format::stream::Disposition::ATTACHED_PIC)
    };
    let best = input.streams().best(ff::media::Type::Video).filter(moving);
    best.or_else(|| input.streams().find(moving))
        .map(|stream| stream.index())
}
