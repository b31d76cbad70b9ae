//! What can be wrong with a clip, in words for the person who gave it.

use std::fmt;

use thiserror::Error;

use crate::units::FrameIndex;

/// Why a clip cannot be read, and what to do about it.
///
/// The file's path is not part of the text: the caller adds it last.
#[derive(Debug, Error)]
pub enum ClipError {
    /// Nothing is there.
    #[error("no such file — check the spelling, or drag the clip into the window")]
    NotFound,
    /// A folder was given.
    #[error("this is a folder, not a clip — give the name of one video file inside it")]
    IsFolder,
    /// The system refuses to hand out the bytes.
    #[error("the file cannot be read ({0}) — copy it to your own folder and try again")]
    Unreadable(std::io::Error),
    /// No bytes at all.
    #[error("the file is empty — copy it from the phone again")]
    Empty,
    /// Bytes, but no container that is known.
    #[error(
        "this is not a video file that can be read — give the clip as the phone saved it \
         (MP4, MOV, MKV, WebM or AVI)"
    )]
    NotAVideo,
    /// An MP4 or MOV whose index was never written.
    #[error(
        "the clip breaks off before its index — the recording or the copy was cut short: \
         copy it from the phone again"
    )]
    IndexMissing,
    /// A known container whose inside makes no sense.
    #[error("the clip is damaged ({0}) — copy it from the phone again")]
    Damaged(String),
    /// Sound, or nothing, but no pictures.
    #[error("the file holds no moving picture — give the clip, not its sound track")]
    NoVideoStream,
    /// More streams than any camera writes.
    #[error("the file claims {0} streams — export the clip again with one video stream")]
    TooManyStreams(u32),
    /// A picture without pixels.
    #[error("the clip claims a picture of {0} by {1} pixels — export it again")]
    ZeroSize(i32, i32),
    /// A picture larger than is believed.
    #[error(
        "the clip claims a picture of {0} by {1} pixels — export it with sides of at most \
         16384 and 108 million pixels in all"
    )]
    TooLarge(i32, i32),
    /// A time base of zero or less.
    #[error("the clip's clock has no usable unit — export it again, keeping every frame")]
    NoTimeBase,
    /// Pixels that are not luma and chroma in planes.
    #[error(
        "the clip's pixels are stored as {0}, which is not read — convert it with \
         `ffmpeg -i CLIP -pix_fmt yuv420p -fps_mode passthrough -crf 12 NEW.mp4`"
    )]
    UnsupportedPixels(String),
    /// The installed FFmpeg lacks the decoder.
    #[error(
        "no decoder for {0} is installed — install a full FFmpeg, or set the phone to its \
         most compatible format (H.264)"
    )]
    NoDecoder(String),
    /// The decoder refuses the stream.
    #[error("the {codec} stream cannot be decoded ({reason}) — copy it from the phone again")]
    Undecodable {
        /// Name of the codec.
        codec: String,
        /// What the decoder says.
        reason: String,
    },
    /// Memory was refused while decoding: frames that fail for that are not damaged.
    #[error(
        "the clip asks for more memory than there is (Cannot allocate memory) — close other \
         programs, or make it smaller"
    )]
    NoMemory,
    /// A stream from which no picture comes.
    #[error("not one frame of the clip can be decoded — copy it from the phone again")]
    NoFrames,
    /// The picture is not the same size throughout.
    #[error(
        "the picture changes from {} by {} to {} by {} pixels at frame {frame} — cut the clip \
         there and give one part", .from.0, .from.1, .to.0, .to.1
    )]
    SizeChanges {
        /// The first frame of another size.
        frame: FrameIndex,
        /// Stored size until then.
        from: (u32, u32),
        /// Stored size from then on.
        to: (u32, u32),
    },
    /// A rectangle that is empty or leaves the picture.
    #[error(
        "the rectangle does not lie inside the picture of {} by {} pixels — mark it again",
        .0.0, .0.1
    )]
    OutsidePicture((u32, u32)),
    /// More packets than any clip of a jump holds.
    #[error("the clip holds more than {0} frames — cut out the jumps first")]
    TooManyFrames(usize),
}

/// Something about a clip that a person should know, though it can be read.
#[derive(Clone, Debug, PartialEq)]
pub enum ClipWarning {
    /// The file asks to be turned by an angle that is not a quarter turn.
    OddRotation {
        /// What the file asks for, degrees clockwise.
        asked_deg: f64,
        /// What is done instead.
        used_deg: u16,
    },
    /// The file asks for its picture to be sheared or flattened.
    NotARotation,
    /// Left and right change places, as in some front cameras.
    Mirrored,
    /// Two half pictures of different moments in each frame.
    Interlaced,
    /// Pixels that are not square: width to height.
    NonSquarePixels(u32, u32),
}

impl fmt::Display for ClipWarning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OddRotation {
                asked_deg,
                used_deg,
            } => write!(
                f,
                "the file asks to be turned by {asked_deg:.1}°; it is shown turned by {used_deg}°"
            ),
            Self::NotARotation => f.write_str(
                "the file asks for its picture to be distorted; only the nearest turn is made",
            ),
            Self::Mirrored => f.write_str("the picture is mirrored: left and right are exchanged"),
            Self::Interlaced => f.write_str(
                "each frame holds two half pictures of different moments: record progressive video",
            ),
            Self::NonSquarePixels(w, h) => write!(
                f,
                "pixels are {w} to {h}, not square: lengths across and down differ"
            ),
        }
    }
}
