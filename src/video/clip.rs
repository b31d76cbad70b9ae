//! Opens a clip and says what is in it; errors carry their remedy.

use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, OnceLock, PoisonError};

use ffmpeg_next as ff;

use super::container::Container;
use super::fault::{ClipError, ClipWarning};
use super::ffmpeg::{self, CodedPicture, Layout};
use super::orient::{Orientation, OrientationDoubt};
use super::packets::{PacketTable, read_table};
use super::tags;

/// Longest side of a picture, in pixels, that is believed.
const MAX_SIDE_PX: u32 = 16_384;

/// Pixels of a picture that are believed: a third more than the largest cameras
/// film in (12K, 80 million). Decoders keep some twenty pictures at a time.
const MAX_PIXELS: u64 = 108_000_000;

/// What a clip says of itself. Rates and lengths are the file's claims: only
/// the frames' own times count, see [`crate::video::clock`].
#[derive(Clone, Debug)]
pub struct ClipFacts {
    /// Container, in words.
    pub container: String,
    /// Codec as people call it, such as "H.264".
    pub codec: String,
    /// FFmpeg's name for the pixel layout.
    pub pixel_format: String,
    /// Bits per luma sample.
    pub bit_depth: u32,
    /// Width and height as stored, in pixels.
    pub stored_size: (u32, u32),
    /// Width and height of the upright picture, in pixels.
    pub size: (u32, u32),
    /// Degrees clockwise from stored to upright: 0, 90, 180 or 270.
    pub rotation: u16,
    /// Whether left and right change places after that turn.
    pub mirrored: bool,
    /// Claimed length of the video stream on the file's own clock.
    pub duration_s: Option<f64>,
    /// The rate that the container calls real.
    pub nominal_fps: Option<f64>,
    /// Claimed frames over claimed length.
    pub average_fps: Option<f64>,
    /// One tick of the stream's clock is numerator / denominator seconds.
    pub time_base: (u32, u32),
    /// How many pictures the file says it holds, counting ones it hides.
    pub frames_claimed: Option<u64>,
    /// Whether luma uses all code values.
    pub full_range: bool,
    /// Transfer characteristic, in words.
    pub transfer: Option<&'static str>,
    /// Tags that bear on time.
    pub tags: Vec<(String, String)>,
    /// What a person should know.
    pub warnings: Vec<ClipWarning>,
}

impl ClipFacts {
    /// Length of one tick in seconds.
    pub fn tick_s(&self) -> f64 {
        f64::from(self.time_base.0) / f64::from(self.time_base.1)
    }
}

/// A clip that was opened once and can be read as often as needed.
#[derive(Debug)]
pub struct Clip {
    path: PathBuf,
    facts: ClipFacts,
    orientation: Orientation,
    table: OnceLock<PacketTable>,
    /// A container that nobody reads: opening one decodes some pictures.
    spare: Mutex<Option<Container>>,
}

impl Clip {
    /// Opens the clip at `path` and reads its header; no frame is kept.
    pub fn open(path: &Path) -> Result<Self, ClipError> {
        let container = Container::open(path)?;
        let (input, index) = (&container.input, container.stream);
        let stream = input.stream(index).ok_or(ClipError::NoVideoStream)?;
        let coded = ffmpeg::coded_picture(&stream);
        let stored_size = believable_size(&coded)?;
        let codec = human_codec(stream.parameters().id());
        if ff::codec::decoder::find(stream.parameters().id()).is_none() {
            return Err(ClipError::NoDecoder(codec));
        }
        let Some(layout) = ffmpeg::layout(coded.pixel_format) else {
            return Err(ClipError::Undecodable {
                codec,
                reason: "no picture at its beginning".to_owned(),
            });
        };
        if !layout.plain_luma {
            return Err(ClipError::UnsupportedPixels(layout.name));
        }
        let (orientation, mut warnings) = orientation(&stream);
        warnings.extend(picture_warnings(&stream, &coded));
        let facts = ClipFacts {
            container: input.format().description().to_owned(),
            codec,
            bit_depth: layout.components.first().map_or(8, |luma| luma.depth),
            stored_size,
            size: orientation.upright_size(stored_size),
            rotation: orientation.clockwise_deg(),
            mirrored: orientation.is_mirrored(),
            duration_s: claimed_duration_s(input, &stream),
            nominal_fps: rate(stream.rate()),
            average_fps: rate(stream.avg_frame_rate()),
            time_base: believable_time_base(stream.time_base())?,
            frames_claimed: claimed_frames(input, &stream),
            full_range: is_full_range(&coded, &layout),
            pixel_format: layout.name,
            transfer: transfer_name(coded.transfer),
            tags: time_tags(input, index),
            warnings,
        };
        Ok(Self {
            path: path.to_owned(),
            facts,
            orientation,
            table: OnceLock::new(),
            spare: Mutex::new(Some(container)),
        })
    }

    /// What the clip says of itself.
    pub fn facts(&self) -> &ClipFacts {
        &self.facts
    }

    /// The file that was opened.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Times and sizes of all packets, read without decoding; kept once read.
    pub fn packets(&self) -> Result<&PacketTable, ClipError> {
        if let Some(table) = self.table.get() {
            return Ok(table);
        }
        let mut container = self.at_its_beginning()?;
        let table = read_table(&mut container)?;
        if table.read_errors == 0 {
            self.give_back(container);
        }
        Ok(self.table.get_or_init(|| table))
    }

    /// The container, to be read from its beginning.
    pub(super) fn at_its_beginning(&self) -> Result<Container, ClipError> {
        match self.spare().take_if(|spare| !spare.was_read) {
            Some(fresh) => Ok(fresh),
            None => Container::open(&self.path),
        }
    }

    /// The container, for those who go to their own place in it.
    pub(super) fn anywhere(&self) -> Result<Container, ClipError> {
        let spare = self.spare().take();
        spare.map_or_else(|| Container::open(&self.path), Ok)
    }

    /// Keeps a container that was read without faults for the next who reads.
    pub(super) fn give_back(&self, container: Container) {
        if container.goes_anywhere() {
            *self.spare() = Some(container);
        }
    }

    fn spare(&self) -> MutexGuard<'_, Option<Container>> {
        self.spare.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(in crate::video) fn orientation(&self) -> Orientation {
        self.orientation
    }
}

fn believable_size(coded: &CodedPicture) -> Result<(u32, u32), ClipError> {
    match (u32::try_from(coded.width), u32::try_from(coded.height)) {
        (Ok(w), Ok(h)) if w > 0 && h > 0 => {
            let pixels = u64::from(w) * u64::from(h);
            if w > MAX_SIDE_PX || h > MAX_SIDE_PX || pixels > MAX_PIXELS {
                return Err(ClipError::TooLarge(coded.width, coded.height));
            }
            Ok((w, h))
        }
        _ => Err(ClipError::ZeroSize(coded.width, coded.height)),
    }
}

fn believable_time_base(base: ff::Rational) -> Result<(u32, u32), ClipError> {
    match (
        u32::try_from(base.numerator()),
        u32::try_from(base.denominator()),
    ) {
        (Ok(num), Ok(den)) if num > 0 && den > 0 => Ok((num, den)),
        _ => Err(ClipError::NoTimeBase),
    }
}

fn rate(rate: ff::Rational) -> Option<f64> {
    (rate.numerator() > 0 && rate.denominator() > 0)
        .then(|| f64::from(rate.numerator()) / f64::from(rate.denominator()))
}

/// The stream's claimed length, or the container's where it has no other
/// stream that the length could belong to.
fn claimed_duration_s(
    input: &ff::format::context::Input,
    stream: &ff::format::stream::Stream,
) -> Option<f64> {
    let base = stream.time_base();
    let own = (stream.duration() > 0 && base.denominator() > 0).then(|| {
        stream.duration() as f64 * f64::from(base.numerator()) / f64::from(base.denominator())
    });
    let whole = (input.nb_streams() == 1 && input.duration() > 0)
        .then(|| input.duration() as f64 / f64::from(ff::ffi::AV_TIME_BASE));
    own.or(whole).filter(|seconds| seconds.is_finite())
}

/// An MP4's index is complete once its header is read, and already leaves out
/// what an edit list cuts off; the plain frame count does not.
fn claimed_frames(
    input: &ff::format::context::Input,
    stream: &ff::format::stream::Stream,
) -> Option<u64> {
    let counted = u64::try_from(stream.frames())
        .ok()
        .filter(|&count| count > 0)?;
    let indexed = ffmpeg::index_entries(stream);
    if input.format().name().starts_with("mov") && indexed > 0 {
        return Some(indexed);
    }
    Some(counted)
}

fn is_full_range(coded: &CodedPicture, layout: &Layout) -> bool {
    coded.range == 2 || layout.name.starts_with("yuvj")
}

fn orientation(stream: &ff::format::stream::Stream) -> (Orientation, Vec<ClipWarning>) {
    let Some(matrix) = ffmpeg::display_matrix(stream) else {
        return (Orientation::default(), Vec::new());
    };
    let (orientation, doubt) = Orientation::from_matrix(&matrix);
    let mut warnings = Vec::new();
    match doubt {
        Some(OrientationDoubt::NotAQuarterTurn(asked_deg)) => {
            warnings.push(ClipWarning::OddRotation {
                asked_deg,
                used_deg: orientation.clockwise_deg(),
            });
        }
        Some(OrientationDoubt::NotARotation) => warnings.push(ClipWarning::NotARotation),
        None => {}
    }
    if orientation.is_mirrored() {
        warnings.push(ClipWarning::Mirrored);
    }
    (orientation, warnings)
}

fn picture_warnings(stream: &ff::format::stream::Stream, coded: &CodedPicture) -> Vec<ClipWarning> {
    let mut warnings = Vec::new();
    if coded.interlaced {
        warnings.push(ClipWarning::Interlaced);
    }
    if let Some((w, h)) = ffmpeg::pixel_aspect(stream).filter(|(w, h)| w != h) {
        warnings.push(ClipWarning::NonSquarePixels(w, h));
    }
    warnings
}

/// Tags of the container first, then of the stream.
fn time_tags(input: &ff::format::context::Input, stream: usize) -> Vec<(String, String)> {
    let mut all = ffmpeg::tags(input, None);
    all.extend(ffmpeg::tags(input, Some(stream)));
    tags::about_time(&all)
}

/// Names of transfer characteristics (ISO/IEC 23091-2, table 3).
fn transfer_name(code: i32) -> Option<&'static str> {
    Some(match code {
        1 => "BT.709",
        4 => "gamma 2.2",
        5 => "gamma 2.8",
        6 => "BT.601",
        8 => "linear",
        13 => "sRGB",
        14 | 15 => "BT.2020",
        16 => "PQ (BT.2100)",
        18 => "HLG (BT.2100)",
        _ => return None,
    })
}

/// What people call a codec; FFmpeg's own name where there is no other.
fn human_codec(id: ff::codec::Id) -> String {
    let name = ffmpeg::codec_name(id);
    match name.as_str() {
        "h264" => "H.264",
        "hevc" => "HEVC (H.265)",
        "vp8" => "VP8",
        "vp9" => "VP9",
        "av1" => "AV1",
        "mpeg4" => "MPEG-4 Visual",
        "mpeg2video" => "MPEG-2",
        "prores" => "ProRes",
        "mjpeg" => "Motion JPEG",
        "dnxhd" => "DNxHD",
        _ => return name,
    }
    .to_owned()
}
