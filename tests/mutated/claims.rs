//! Files that claim what cannot be: each is refused or read, in moments.

use std::time::Duration;

use super::bench::{Bench, Ran, floor, ran};
use super::mutate::parts;
use super::support;

/// Runs `measure` and `inspect` on the clip, both of which must end soon and decently.
#[track_caller]
fn decently(bench: &Bench, clip: &str) -> [Ran; 2] {
    let program = assert_cmd::cargo::cargo_bin!("underfoot");
    let patch = floor("cmj_60");
    let calls = [
        format!("measure --no-keep --floor {patch} {clip}"),
        format!("inspect {clip}"),
    ];
    let both = calls.map(|call| {
        // Seconds of computing: those of the wall depend on who else is at work.
        let line = format!("ulimit -S -t 10; exec {} {call}", program.display());
        let mut shell = assert_cmd::Command::new("sh");
        shell.current_dir(bench.path()).args(["-c", &line]);
        ran(shell.timeout(Duration::from_secs(300)))
    });
    for ran in &both {
        for word in ["panicked", "broke down", "makes no sense", "of computing"] {
            assert!(!ran.err.contains(word), "{clip}: {}", ran.err);
        }
        if ran.code == 2 {
            ran.refused("");
        }
        let steers = |c: char| c.is_control() && c != '\n';
        assert!(
            !ran.out.contains(steers) && !ran.err.contains(steers),
            "{}{}",
            ran.out,
            ran.err
        );
    }
    both
}

/// The sample and where boxes of this name begin in it.
fn sample(bench: &Bench, name: &[u8; 4]) -> (Vec<u8>, usize, usize) {
    let whole = std::fs::read(bench.sample_as("cmj_60", "whole.mp4")).unwrap();
    let part = parts(&whole)
        .into_iter()
        .find(|part| &whole[part.at + 4..part.at + 8] == name)
        .unwrap_or_else(|| panic!("no box {}", String::from_utf8_lossy(name)));
    (whole, part.at, part.length)
}

fn put(bytes: &mut [u8], at: usize, number: u32) {
    bytes[at..at + 4].copy_from_slice(&number.to_be_bytes());
}

#[test]
fn ten_thousand_streams() {
    let bench = Bench::new();
    let (whole, at, length) = sample(&bench, b"trak");
    let (_, moov, moov_length) = sample(&bench, b"moov");
    for (count, refused) in [(10_000, true), (200, true), (3, false)] {
        let track = &whole[at..at + length];
        let mut bytes = whole[..at].to_vec();
        bytes.extend(track.repeat(count));
        bytes.extend(&whole[at + length..]);
        let longer = moov_length + length * (count - 1);
        put(&mut bytes, moov, u32::try_from(longer).unwrap());
        bench.write("streams.mp4", &bytes);
        for ran in decently(&bench, "streams.mp4") {
            assert_eq!(ran.code == 2, refused, "{count}: {}", ran.err);
        }
    }
}

#[test]
fn matrices_that_turn_nothing() {
    let bench = Bench::new();
    let (whole, at, _) = sample(&bench, b"tkhd");
    for [a, b, c, d] in [
        [0, 0, 0, 0],
        [i32::MIN; 4],
        [i32::MAX, i32::MIN, i32::MAX, i32::MIN],
        [1, 0, 0, 1],
        [0x10000, 0x8000, 0, 0x10000],
        [46341, 46341, -46341, 46341],
    ] {
        let mut bytes = whole.clone();
        for (place, value) in [(0, a), (4, b), (12, c), (16, d)] {
            // Header, version, times, track, duration, layer, volume: 48 bytes.
            put(&mut bytes, at + 48 + place, value.cast_unsigned());
        }
        bench.write("turned.mp4", &bytes);
        let [measured, inspected] = decently(&bench, "turned.mp4");
        assert_eq!(inspected.code, 0, "{}", inspected.err);
        // Whatever is shown, the pixels are there.
        assert!(
            measured.code < 2 || measured.err.contains("patch"),
            "{}",
            measured.err
        );
    }
}

#[test]
fn times_that_run_backwards_jump_or_overflow() {
    let bench = Bench::new();
    let (whole, at, _) = sample(&bench, b"stts");
    let (_, header, _) = sample(&bench, b"mdhd");
    // One entry: so many frames, so many ticks each.
    for ticks in [0, 1, 0x7fff_ffff, 0x8000_0000, u32::MAX] {
        let mut bytes = whole.clone();
        put(&mut bytes, at + 20, ticks);
        bench.write("ticks.mp4", &bytes);
        decently(&bench, "ticks.mp4");
    }
    // The unit of the clock: ticks a second.
    for unit in [0, 1, 0x7fff_ffff, u32::MAX] {
        let mut bytes = whole.clone();
        put(&mut bytes, header + 20, unit);
        bench.write("unit.mp4", &bytes);
        decently(&bench, "unit.mp4");
    }
    for times in [
        "setts=ts=if(mod(N\\,9)\\,TS\\,TS-90000)",
        "setts=ts=-TS",
        "setts=ts=if(gt(N\\,70)\\,TS+4611686018427387904\\,TS)",
        "setts=ts=7",
        "setts=ts=N*N*N*N*N",
    ] {
        let made = format!("-c copy -bsf:v {times}");
        let whole = bench.path().join("whole.mp4");
        for name in ["times.mkv", "times.ts", "times.mp4"] {
            if made_with(&whole, name, &made) {
                decently(&bench, name);
            }
        }
    }
}

/// Whether `ffmpeg` writes such a file; not every container takes such times.
fn made_with(input: &std::path::Path, name: &str, arguments: &str) -> bool {
    let mut all = vec!["-v", "quiet", "-y", "-i", input.to_str().unwrap()];
    all.extend(arguments.split_whitespace());
    let out = input.with_file_name(name);
    all.push(out.to_str().unwrap());
    let made = std::process::Command::new("ffmpeg")
        .args(all)
        .stdin(std::process::Stdio::null())
        .status();
    made.is_ok_and(|status| status.success()) && out.exists()
}

#[test]
fn tags_of_any_size_and_bytes() {
    let bench = Bench::new();
    let clip = bench.sample_as("cmj_60", "whole.mp4");
    let tagged =
        "-c copy -movflags use_metadata_tags -metadata com.android.capture.fps=TAGTAGTAGTAG";
    let tagged = support::remake(&clip, "tagged.mp4", "", tagged);
    let bytes = std::fs::read(tagged).unwrap();
    let at = support::find(&bytes, b"TAGTAGTAGTAG");
    for value in [
        &b"\x1b]0;owned\x07\xff\xfe"[..12],
        b"240.0\0\0\0\0\0\0\0",
        b"1e308       ",
        b"\n\n\r\x08\x08\x08\x80\x81\x82\x83\x84\x85",
    ] {
        let mut bytes = bytes.clone();
        bytes[at..at + 12].copy_from_slice(value);
        bench.write("odd.mp4", &bytes);
        decently(&bench, "odd.mp4");
    }
    // A tag of eight megabytes, and its length lied about.
    let (whole, moov, length) = sample(&bench, b"moov");
    let long = 8 << 20;
    let mut tag = Vec::new();
    tag.extend(u32::to_be_bytes(long + 16 + 8));
    tag.extend(b"udta");
    tag.extend(u32::to_be_bytes(long + 16));
    tag.extend(b"\xa9too\xff\xff\x55\xc4");
    tag.resize(long as usize + 24, b'x');
    let mut bytes = [&whole[..moov + length], &tag, &whole[moov + length..]].concat();
    put(&mut bytes, moov, u32::try_from(length + tag.len()).unwrap());
    bench.write("long.mp4", &bytes);
    let [measured, _] = decently(&bench, "long.mp4");
    assert_eq!(measured.code, 0, "{}", measured.err);
}

/// Found by fuzzing: 250 million keys of tags in a file of 59 kB, for which the library
/// took two gigabytes before it refused.
#[test]
fn a_list_of_keys_that_would_fill_the_memory() {
    let bench = Bench::new();
    let (whole, ..) = sample(&bench, b"moov");
    let keys = support::find(&whole, b"keys\0\0\0\0\0\0\0\0");
    let mut bytes = whole;
    put(&mut bytes, keys + 8, 0x0eff_ffff);
    bytes[keys + 12..keys + 16].fill(0xff);
    bench.write("keys.mp4", &bytes);
    for ran in decently(&bench, "keys.mp4") {
        assert!(ran.err.contains("asks for more memory"), "{}", ran.err);
    }
}

#[test]
fn pictures_that_no_camera_takes() {
    let bench = Bench::new();
    let source = "size=96x64:rate=30:duration=0.2";
    let clip = support::clip(
        bench.path(),
        "raw.avi",
        source,
        "-pix_fmt yuv420p -c:v rawvideo",
    );
    let bytes = std::fs::read(clip).unwrap();
    // BITMAPINFOHEADER in the stream format: size 40, width, height.
    let header = support::find(&bytes, b"strf") + 8;
    for (w, h) in [
        (12_000, 12_000),
        (16_384, 16_384),
        (-5, 64),
        (i32::MAX, i32::MAX),
    ] {
        let mut bytes = bytes.clone();
        bytes[header + 4..header + 8].copy_from_slice(&i32::to_le_bytes(w));
        bytes[header + 8..header + 12].copy_from_slice(&i32::to_le_bytes(h));
        bench.write("sized.avi", &bytes);
        for ran in decently(&bench, "sized.avi") {
            assert_eq!(ran.code, 2, "{w} by {h}: {}", ran.err);
        }
    }
}
