//! Little clips made on the spot with the `ffmpeg` program, and what it and
//! `ffprobe` say of them: an answer from outside this crate.

// Every test program takes a part of this.
#![allow(dead_code)]

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Runs a program of the FFmpeg package and returns what it prints.
fn run(program: &str, arguments: &[&str]) -> Vec<u8> {
    let output = Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .unwrap_or_else(|error| {
            panic!("cannot run `{program}` ({error}): install the Debian package `ffmpeg`")
        });
    assert!(
        output.status.success(),
        "{program} {arguments:?} failed:\n{}",
        String::from_utf8_lossy(&output.stderr)
    );
    output.stdout
}

/// A path as an argument; all names made here are plain.
fn text(path: &Path) -> &str {
    path.to_str().expect("a plain name")
}

/// Makes `name` in `folder` from moving bars with these arguments after the
/// source, and returns its path.
pub fn clip(folder: &Path, name: &str, source: &str, arguments: &str) -> PathBuf {
    let path = folder.join(name);
    let source = format!("testsrc2={source}");
    let mut all = vec!["-v", "error", "-y", "-f", "lavfi", "-i", &source];
    all.extend(arguments.split_whitespace());
    all.push(text(&path));
    run("ffmpeg", &all);
    path
}

/// Makes `name` beside `input` with these arguments before and after it.
pub fn remake(input: &Path, name: &str, before: &str, after: &str) -> PathBuf {
    let path = input.with_file_name(name);
    let mut all = vec!["-v", "error", "-y"];
    all.extend(before.split_whitespace());
    all.extend(["-i", text(input)]);
    all.extend(after.split_whitespace());
    all.push(text(&path));
    run("ffmpeg", &all);
    path
}

/// Any call of `ffmpeg`, `{}` standing for a path in `folder`.
pub fn ffmpeg(folder: &Path, arguments: &str) {
    let all: Vec<String> = arguments
        .split_whitespace()
        .map(|word| word.replace("{}", text(folder)))
        .collect();
    let all: Vec<&str> = ["-v", "error", "-y"]
        .into_iter()
        .chain(all.iter().map(String::as_str))
        .collect();
    run("ffmpeg", &all);
}

/// Copies an MP4 or MOV with one track and gives it a display matrix (a, b, c,
/// d as in ISO/IEC 14496-12, track header), which no version of the program
/// then reads differently.
pub fn turn(input: &Path, name: &str, [a, b, c, d]: [f64; 4]) -> PathBuf {
    let mut bytes = std::fs::read(input).expect("the clip just made");
    let header = find(&bytes, b"tkhd") + 4;
    let times = if bytes[header] == 1 { 12 } else { 0 };
    let matrix = header + 40 + times;
    for (place, value) in [(0, a), (1, b), (3, c), (4, d)] {
        let fixed = (value * 65536.0).round() as i32;
        bytes[matrix + 4 * place..][..4].copy_from_slice(&fixed.to_be_bytes());
    }
    let path = input.with_file_name(name);
    std::fs::write(&path, bytes).expect("room for a little clip");
    path
}

/// Where `wanted` first stands in `bytes`.
pub fn find(bytes: &[u8], wanted: &[u8]) -> usize {
    bytes
        .windows(wanted.len())
        .position(|window| window == wanted)
        .expect("a box of this name")
}

/// Each frame's best time stamp in ticks, by `ffprobe`.
pub fn probed_ticks(path: &Path) -> Vec<i64> {
    let printed = run(
        "ffprobe",
        &[
            "-v",
            "error",
            "-select_streams",
            "v:0",
            "-show_entries",
            "frame=best_effort_timestamp",
            "-of",
            "csv=p=0",
            text(path),
        ],
    );
    String::from_utf8_lossy(&printed)
        .lines()
        .filter_map(|line| line.trim().trim_end_matches(',').parse().ok())
        .collect()
}

/// Luma codes of a rectangle (x, y, w, h) of every upright frame, by `ffmpeg`.
pub fn luma_by_ffmpeg(path: &Path, rect: (u32, u32, u32, u32), bits: u32) -> Vec<Vec<u16>> {
    let (x, y, w, h) = rect;
    let filter = format!("extractplanes=y,crop={w}:{h}:{x}:{y}:exact=1");
    let format = if bits == 8 {
        "gray".to_owned()
    } else {
        format!("gray{bits}le")
    };
    let bytes = run(
        "ffmpeg",
        &[
            "-v",
            "error",
            "-i",
            text(path),
            "-map",
            "0:v:0",
            "-vf",
            &filter,
            "-fps_mode",
            "passthrough",
            "-pix_fmt",
            &format,
            "-f",
            "rawvideo",
            "-",
        ],
    );
    let samples: Vec<u16> = if bits == 8 {
        bytes.into_iter().map(u16::from).collect()
    } else {
        bytes
            .chunks_exact(2)
            .map(|pair| u16::from_le_bytes([pair[0], pair[1]]))
            .collect()
    };
    samples
        .chunks_exact((w * h) as usize)
        .map(<[u16]>::to_vec)
        .collect()
}

/// Clips in the formats that phones and editors write: name, source, arguments.
pub const FORMATS: [(&str, &str, &str); 14] = [
    (
        "h264_b.mp4",
        "size=192x108:rate=60:duration=1",
        "-pix_fmt yuv420p -c:v libx264 -bf 3 -g 24 -preset fast",
    ),
    (
        "hevc10.mov",
        "size=192x108:rate=60:duration=0.5",
        "-pix_fmt yuv420p10le -c:v libx265 -tag:v hvc1 -x265-params log-level=error:bframes=3 \
         -color_trc arib-std-b67 -color_primaries bt2020 -colorspace bt2020nc",
    ),
    (
        "hevc8.mp4",
        "size=192x108:rate=120:duration=0.5",
        "-pix_fmt yuv420p -c:v libx265 -tag:v hvc1 -x265-params log-level=error -preset fast",
    ),
    (
        "vp9.webm",
        "size=192x108:rate=30:duration=1",
        "-pix_fmt yuv420p -c:v libvpx-vp9 -deadline realtime -cpu-used 8",
    ),
    (
        "h264.mkv",
        "size=192x108:rate=240:duration=0.5",
        "-pix_fmt yuv420p -c:v libx264 -preset fast",
    ),
    (
        "mjpeg.avi",
        "size=192x108:rate=30:duration=1",
        "-pix_fmt yuvj420p -c:v mjpeg -q:v 3",
    ),
    (
        "mpeg4.avi",
        "size=192x108:rate=25:duration=1",
        "-pix_fmt yuv420p -c:v mpeg4 -q:v 3",
    ),
    (
        "prores.mov",
        "size=192x108:rate=50:duration=0.4",
        "-pix_fmt yuv422p10le -c:v prores_ks -profile:v 0",
    ),
    (
        "av1.mp4",
        "size=192x108:rate=30:duration=0.3",
        "-pix_fmt yuv420p -c:v libaom-av1 -cpu-used 8 -usage realtime",
    ),
    (
        "h264_444.mp4",
        "size=190x106:rate=30:duration=0.5",
        "-pix_fmt yuv444p -c:v libx264 -preset fast",
    ),
    (
        "odd_size.mkv",
        "size=191x107:rate=30:duration=0.5",
        "-pix_fmt yuv444p -c:v ffv1",
    ),
    (
        "gray.mkv",
        "size=192x108:rate=30:duration=0.3",
        "-pix_fmt gray -c:v ffv1",
    ),
    (
        "ntsc.mp4",
        "size=192x108:rate=30000/1001:duration=1",
        "-pix_fmt yuv420p -c:v libx264 -preset fast -video_track_timescale 30000",
    ),
    (
        "twelve_bits.mkv",
        "size=192x108:rate=30:duration=0.3",
        "-pix_fmt yuv420p12le -c:v ffv1",
    ),
];

/// Bits per luma sample of a clip from [`FORMATS`].
pub fn bits_of(name: &str) -> u32 {
    match name {
        "hevc10.mov" | "prores.mov" => 10,
        "twelve_bits.mkv" => 12,
        _ => 8,
    }
}

/// Makes one of [`FORMATS`] by name.
pub fn format(folder: &Path, name: &str) -> PathBuf {
    let (name, source, arguments) = FORMATS
        .into_iter()
        .find(|(known, ..)| *known == name)
        .expect("a format of the list");
    clip(folder, name, source, arguments)
}
