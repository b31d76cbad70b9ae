//! Pictures into an MP4 in memory, through FFmpeg's safe calls only.

use std::io::{self, Cursor, Seek, SeekFrom, Write};
use std::sync::{Arc, Mutex, PoisonError};

use ffmpeg_next as ffmpeg;
use ffmpeg_next::format::context::{Output, StreamIo};
use ffmpeg_next::{Dictionary, Packet, Rational, codec, color, encoder, format, frame};
use rayon::prelude::*;

use super::camera::{Camera, TICKS_PER_SECOND};
use super::mp4::stored_size;
use super::picture::Picture;
use super::scene::{Codec, Scene};
use super::{SynthError, truth};

/// The encoder in use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Chosen {
    X264,
    Mpeg4,
}

impl Chosen {
    /// The scene's choice, if this FFmpeg has it.
    pub(super) fn for_scene(scene: &Scene) -> Result<Self, SynthError> {
        ffmpeg::init().map_err(at("starting FFmpeg"))?;
        // Errors come back as values; the encoder's own chatter helps nobody.
        ffmpeg::log::set_level(ffmpeg::log::Level::Quiet);
        let has = |chosen: Self| encoder::find_by_name(chosen.encoder()).is_some();
        let wanted = match scene.encoding.codec {
            Codec::Auto if has(Self::X264) => Self::X264,
            Codec::Auto | Codec::Mpeg4 => Self::Mpeg4,
            Codec::H264 => Self::X264,
        };
        if has(wanted) {
            Ok(wanted)
        } else {
            Err(SynthError::NoEncoder {
                wanted: wanted.encoder(),
            })
        }
    }

    fn encoder(self) -> &'static str {
        match self {
            Self::X264 => "libx264",
            Self::Mpeg4 => "mpeg4",
        }
    }

    /// Name of the coding.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::X264 => "h264",
            Self::Mpeg4 => "mpeg4",
        }
    }
}

fn at(step: &'static str) -> impl Fn(ffmpeg::Error) -> SynthError {
    move |source| SynthError::Encode { step, source }
}

/// A file in memory that the muxer and we can both reach: a path given to
/// FFmpeg would have to be UTF-8 and must not look like an address.
#[derive(Clone, Default)]
struct Memory(Arc<Mutex<Cursor<Vec<u8>>>>);

impl Memory {
    fn with<T>(&self, act: impl FnOnce(&mut Cursor<Vec<u8>>) -> T) -> T {
        act(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Write for Memory {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.with(|file| file.write(bytes))
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Seek for Memory {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.with(|file| file.seek(to))
    }
}

/// Films every frame and returns the finished MP4.
pub(super) fn film(
    camera: &Camera,
    chosen: Chosen,
    progress: &mut dyn FnMut(usize, usize),
) -> Result<Vec<u8>, SynthError> {
    let memory = Memory::default();
    let mut writer = Writer::open(&camera.scene, chosen, memory.clone())?;
    let total = camera.frames().len();
    // A few frames at a time are drawn side by side, then encoded in order.
    let batch = 4 * rayon::current_num_threads();
    let numbers: Vec<usize> = (0..total).collect();
    for batch in numbers.chunks(batch) {
        let pictures: Vec<Picture> = batch
            .par_iter()
            .map(|&index| camera.expose(index))
            .collect();
        for (&index, picture) in batch.iter().zip(&pictures) {
            writer.add(picture, camera.frames()[index].ticks)?;
            progress(index + 1, total);
        }
    }
    writer.finish()?;
    Ok(memory.with(|file| std::mem::take(file.get_mut())))
}

struct Writer {
    output: Output,
    encoder: encoder::Video,
    stream_base: Rational,
    frame_ticks: i64,
}

/// The encoder's own clock.
fn clock() -> Rational {
    Rational(1, TICKS_PER_SECOND as i32)
}

impl Writer {
    fn open(scene: &Scene, chosen: Chosen, memory: Memory) -> Result<Self, SynthError> {
        let io = StreamIo::from_write_seek(memory).map_err(at("opening the output"))?;
        let mut output =
            format::output_to_stream(io, None, Some("mp4")).map_err(at("opening the output"))?;
        let encoder = open_encoder(scene, chosen)?;
        let fps = scene.capture_rate.fps() / f64::from(scene.playback_slowdown);
        let stream_base = {
            let mut stream = output
                .add_stream_with(&encoder)
                .map_err(at("adding the stream"))?;
            stream.set_time_base(clock());
            stream.set_avg_frame_rate(Rational::from(fps));
            stream.index()
        };
        let mut tags = Dictionary::new();
        for (key, value) in truth::container_tags(scene) {
            tags.set(&key, &value);
        }
        output.set_metadata(tags);
        let mut options = Dictionary::new();
        options.set("movflags", "+use_metadata_tags");
        options.set("video_track_timescale", &TICKS_PER_SECOND.to_string());
        options.set("fflags", "+bitexact");
        output
            .write_header_with(options)
            .map_err(at("writing the header"))?;
        let stream_base = output
            .stream(stream_base)
            .map_or(clock(), |stream| stream.time_base());
        Ok(Self {
            output,
            encoder,
            stream_base,
            frame_ticks: (f64::from(TICKS_PER_SECOND) / fps).round() as i64,
        })
    }

    fn add(&mut self, picture: &Picture, ticks: i64) -> Result<(), SynthError> {
        // A fresh frame each time: the encoder may still hold the last one.
        let mut frame = frame::Video::new(
            format::Pixel::YUV420P,
            picture.width as u32,
            picture.height as u32,
        );
        let planes = [
            (&picture.luma, picture.width),
            (&picture.chroma[0], picture.width / 2),
            (&picture.chroma[1], picture.width / 2),
        ];
        for (index, (bytes, width)) in planes.into_iter().enumerate() {
            let stride = frame.stride(index);
            for (to, from) in frame
                .data_mut(index)
                .chunks_mut(stride)
                .zip(bytes.chunks_exact(width))
            {
                to[..width].copy_from_slice(from);
            }
        }
        frame.set_pts(Some(ticks));
        self.encoder
            .send_frame(&frame)
            .map_err(at("encoding a frame"))?;
        self.drain()
    }

    fn drain(&mut self) -> Result<(), SynthError> {
        loop {
            let mut packet = Packet::empty();
            match self.encoder.receive_packet(&mut packet) {
                Ok(()) => {}
                Err(
                    ffmpeg::Error::Eof
                    | ffmpeg::Error::Other {
                        errno: ffmpeg::error::EAGAIN,
                    },
                ) => {
                    return Ok(());
                }
                Err(error) => return Err(at("encoding a frame")(error)),
            }
            packet.set_stream(0);
            packet.set_duration(self.frame_ticks);
            packet.rescale_ts(clock(), self.stream_base);
            packet
                .write_interleaved(&mut self.output)
                .map_err(at("writing a frame"))?;
        }
    }

    fn finish(mut self) -> Result<(), SynthError> {
        self.encoder.send_eof().map_err(at("finishing"))?;
        self.drain()?;
        self.output.write_trailer().map_err(at("finishing"))
    }
}

fn open_encoder(scene: &Scene, chosen: Chosen) -> Result<encoder::Video, SynthError> {
    let missing = SynthError::NoEncoder {
        wanted: chosen.encoder(),
    };
    let found = encoder::find_by_name(chosen.encoder()).ok_or(missing)?;
    let mut context = codec::Context::new_with_codec(found);
    // One thread: the same pictures give the same bytes.
    context.set_threading(codec::threading::Config::count(1));
    context.set_time_base(clock());
    let fps = scene.capture_rate.fps() / f64::from(scene.playback_slowdown);
    context.set_frame_rate(Some(Rational::from(fps)));
    let mut flags = codec::Flags::GLOBAL_HEADER | codec::Flags::BITEXACT;
    if chosen == Chosen::Mpeg4 {
        flags |= codec::Flags::QSCALE;
    }
    context.set_flags(flags);
    let mut video = context
        .encoder()
        .video()
        .map_err(at("opening the encoder"))?;
    let (width, height) = stored_size(scene);
    video.set_width(width);
    video.set_height(height);
    video.set_format(format::Pixel::YUV420P);
    let gop = scene.encoding.key_interval_s * scene.capture_rate.fps();
    video.set_gop(gop.round().clamp(1.0, 600.0) as u32);
    video.set_max_b_frames(scene.encoding.b_frames.min(8) as usize);
    video.set_colorspace(color::Space::BT709);
    video.set_color_range(color::Range::MPEG);
    video.set_color_primaries(color::Primaries::BT709);
    video.set_color_transfer_characteristic(color::TransferCharacteristic::BT709);
    let mut options = Dictionary::new();
    match chosen {
        Chosen::X264 => {
            options.set("crf", &scene.encoding.crf.min(51).to_string());
            options.set("preset", "medium");
        }
        Chosen::Mpeg4 => {
            let quantiser = (scene.encoding.crf / 6).clamp(1, 31) as i32;
            // FF_QP2LAMBDA, the scale of FFmpeg's quality numbers.
            video.set_global_quality(quantiser * 118);
        }
    }
    video
        .open_as_with(found, options)
        .map_err(at("opening the encoder"))
}
