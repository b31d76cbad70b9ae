//! Files that are not what they should be: an error with a remedy, or a count
//! of what is wrong; never a panic.

mod support;

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use underfoot::video::decode::{DecodeOptions, DecodeSummary, FrameStamp, stamps};
use underfoot::video::{CaptureClock, Clip, ClipError, ClockError};

fn decode(path: &Path) -> Result<(Vec<FrameStamp>, DecodeSummary), ClipError> {
    let clip = Clip::open(path)?;
    let mut all = Vec::new();
    let summary = stamps(&clip, &DecodeOptions::default(), |stamp| {
        all.push(stamp);
        ControlFlow::Continue(())
    })?;
    Ok((all, summary))
}

/// The error of a file with these bytes.
fn error_of(folder: &Path, name: &str, bytes: &[u8]) -> ClipError {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    let error = Clip::open(&path).unwrap_err();
    has_remedy(&error);
    error
}

/// One line: what is wrong, a dash, what to do.
fn has_remedy(error: &ClipError) {
    let text = error.to_string();
    assert!(text.contains(" — ") && !text.contains('\n'), "{text}");
}

fn sound(folder: &Path) -> PathBuf {
    support::clip(
        folder,
        "sound.mp4",
        "size=192x108:rate=60:duration=2",
        "-pix_fmt yuv420p -c:v libx264 -g 30 -bf 2 -movflags +faststart",
    )
}

#[test]
fn what_is_no_video_is_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let error = Clip::open(&at("nothing.mp4")).unwrap_err();
    assert!(matches!(error, ClipError::NotFound), "{error}");
    has_remedy(&error);
    let error = Clip::open(folder.path()).unwrap_err();
    assert!(matches!(error, ClipError::IsFolder), "{error}");
    has_remedy(&error);
    let error = error_of(folder.path(), "empty.mp4", b"");
    assert!(matches!(error, ClipError::Empty), "{error}");
    let error = error_of(folder.path(), "text.mp4", &b"jumped 31 cm\n".repeat(500));
    assert!(matches!(error, ClipError::NotAVideo), "{error}");
    let error = error_of(folder.path(), "one_byte.mp4", b"x");
    assert!(matches!(error, ClipError::NotAVideo), "{error}");
    let list = b"#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\nfile:///etc/hostname\n";
    let error = error_of(folder.path(), "list.mp4", list);
    assert!(matches!(error, ClipError::NotAVideo), "{error}");
}

/// Something that is there but cannot be opened, whoever asks.
#[cfg(unix)]
#[test]
fn what_cannot_be_opened_is_an_error() {
    let folder = tempfile::tempdir().unwrap();
    let round = folder.path().join("round.mp4");
    std::os::unix::fs::symlink(&round, &round).unwrap();
    let error = Clip::open(&round).unwrap_err();
    assert!(matches!(error, ClipError::Unreadable(_)), "{error}");
    has_remedy(&error);
    let error = Clip::open(Path::new("/dev/null")).unwrap_err();
    assert!(matches!(error, ClipError::NotAVideo), "{error}");
}

#[test]
fn sound_alone_and_still_pictures_are_no_clips() {
    let folder = tempfile::tempdir().unwrap();
    support::ffmpeg(
        folder.path(),
        "-f lavfi -i sine=duration=1 -c:a aac {}/tone.m4a",
    );
    let error = Clip::open(&folder.path().join("tone.m4a")).unwrap_err();
    assert!(matches!(error, ClipError::NoVideoStream), "{error}");
    support::ffmpeg(
        folder.path(),
        "-f lavfi -i sine=duration=1 -f lavfi -i color=red:size=64x64:duration=1 -map 0 -map 1 \
         -frames:v 1 -c:a aac -c:v mjpeg -pix_fmt yuvj420p -disposition:v attached_pic \
         {}/cover.m4a",
    );
    let error = Clip::open(&folder.path().join("cover.m4a")).unwrap_err();
    assert!(matches!(error, ClipError::NoVideoStream), "{error}");
    support::ffmpeg(
        folder.path(),
        "-f lavfi -i color=red:size=64x64 -frames:v 1 {}/still.png",
    );
    let error = Clip::open(&folder.path().join("still.png")).unwrap_err();
    assert!(matches!(error, ClipError::NotAVideo), "{error}");
}

#[test]
fn a_recording_cut_before_its_index_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let path = support::format(folder.path(), "h264_b.mp4");
    let bytes = std::fs::read(&path).unwrap();
    for share in [0.1, 0.5, 0.8] {
        let part = &bytes[..(bytes.len() as f64 * share) as usize];
        let error = error_of(folder.path(), "part.mp4", part);
        assert!(matches!(error, ClipError::IndexMissing), "{share}: {error}");
    }
}

#[test]
fn a_clip_cut_after_its_index_counts_what_is_missing() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = std::fs::read(sound(folder.path())).unwrap();
    let path = folder.path().join("half.mp4");
    std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    let (all, summary) = decode(&path).unwrap();
    assert!((20..100).contains(&all.len()), "{}", all.len());
    let lost = summary.missing as usize;
    assert!(
        all.len() + lost >= 119 && all.len() + lost <= 121,
        "{summary:?}"
    );
    assert!(
        summary
            .ends_early_s
            .is_some_and(|s| (0.3..1.7).contains(&s)),
        "{summary:?}"
    );
    assert!(!summary.is_clean());
}

#[test]
fn a_matroska_cut_short_ends_early() {
    let folder = tempfile::tempdir().unwrap();
    let whole = support::remake(&sound(folder.path()), "whole.mkv", "", "-c copy");
    let bytes = std::fs::read(&whole).unwrap();
    let path = folder.path().join("half.mkv");
    std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    let (all, summary) = decode(&path).unwrap();
    assert!((20..100).contains(&all.len()), "{}", all.len());
    assert!(
        summary
            .ends_early_s
            .is_some_and(|s| (0.3..1.7).contains(&s)),
        "{summary:?}"
    );
}

/// Bytes overwritten in the middle: decoding goes on, the damage is counted,
/// and the frames that come keep their own times and places.
#[test]
fn damage_in_the_middle_is_stepped_over_and_counted() {
    let folder = tempfile::tempdir().unwrap();
    let path = sound(folder.path());
    let (good, summary) = decode(&path).unwrap();
    assert!(summary.is_clean() && good.len() == 120);
    let mut bytes = std::fs::read(&path).unwrap();
    let start = support::find(&bytes, b"mdat") + 4;
    let at = start + (bytes.len() - start) * 2 / 5;
    for (i, byte) in bytes[at..at + 3000].iter_mut().enumerate() {
        *byte = (i * 37 % 251) as u8;
    }
    let damaged = folder.path().join("damaged.mp4");
    std::fs::write(&damaged, bytes).unwrap();
    let (all, summary) = decode(&damaged).unwrap();
    assert!(!summary.is_clean(), "{summary:?}");
    assert!(
        summary.errors > 0 || !summary.corrupt.is_empty(),
        "{summary:?}"
    );
    assert!(all.len() > 60, "{}", all.len());
    assert_eq!(summary.missing as usize, 120 - all.len());
    for stamp in &all {
        assert_eq!(stamp.ticks, good[stamp.index.0].ticks);
    }
    assert!(all.iter().any(|stamp| stamp.corrupt) || all.len() < 120);
}

/// Matroska cannot say when a frame before zero is shown.
#[test]
fn frames_without_a_time_are_left_out_and_counted() {
    let folder = tempfile::tempdir().unwrap();
    let whole = support::format(folder.path(), "ntsc.mp4");
    let shifted = "-c copy -output_ts_offset -0.5 -avoid_negative_ts disabled";
    let path = support::remake(&whole, "early.mkv", "", shifted);
    let (all, summary) = decode(&path).unwrap();
    let ticks: Vec<i64> = all.iter().map(|stamp| stamp.ticks).collect();
    assert_eq!(ticks, support::probed_ticks(&path));
    assert_eq!(all.len() + summary.errors as usize, 30, "{summary:?}");
    assert!(!summary.is_clean());
}

/// Every length of a small file: an error or a count, never a panic.
#[test]
fn any_cut_and_any_flipped_byte_is_survived() {
    let folder = tempfile::tempdir().unwrap();
    let path = support::clip(
        folder.path(),
        "tiny.mp4",
        "size=32x32:rate=30:duration=0.3",
        "-pix_fmt yuv420p -c:v libx264 -movflags +faststart",
    );
    let bytes = std::fs::read(&path).unwrap();
    let trial = folder.path().join("trial.mp4");
    for cut in (0..bytes.len()).step_by(bytes.len() / 60) {
        std::fs::write(&trial, &bytes[..cut]).unwrap();
        if let Err(error) = decode(&trial) {
            has_remedy(&error);
        }
    }
    let mut state = 5_u64;
    for _ in 0..150 {
        let mut bytes = bytes.clone();
        for _ in 0..3 {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            let at = (state >> 33) as usize % bytes.len();
            bytes[at] ^= (state >> 20) as u8 | 1;
        }
        std::fs::write(&trial, &bytes).unwrap();
        match decode(&trial) {
            Err(error) => has_remedy(&error),
            Ok((all, _)) => {
                let ticks: Vec<i64> = all.iter().map(|stamp| stamp.ticks).collect();
                let clip = Clip::open(&trial).unwrap();
                let _ = CaptureClock::new(clip.facts(), &ticks, None);
            }
        }
    }
}

#[test]
fn one_frame_is_a_clip_without_a_clock() {
    let folder = tempfile::tempdir().unwrap();
    let path = support::clip(
        folder.path(),
        "one.mp4",
        "size=96x64:rate=30:duration=1",
        "-frames:v 1 -pix_fmt yuv420p -c:v libx264",
    );
    let (all, summary) = decode(&path).unwrap();
    assert_eq!((all.len(), summary.is_clean()), (1, true));
    let clip = Clip::open(&path).unwrap();
    let refused = CaptureClock::new(clip.facts(), &[all[0].ticks], None);
    assert_eq!(refused, Err(ClockError::TooFewFrames(1)));
}

/// A header that claims no pixels, or far too many.
#[test]
fn sizes_that_cannot_be_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = support::clip(
        folder.path(),
        "raw.avi",
        "size=96x64:rate=30:duration=0.2",
        "-pix_fmt yuv420p -c:v rawvideo",
    );
    let bytes = std::fs::read(&path).unwrap();
    // BITMAPINFOHEADER in the stream format: size 40, width, height.
    let header = support::find(&bytes, b"strf") + 8;
    let with = |w: i32, h: i32| {
        let mut bytes = bytes.clone();
        bytes[header + 4..header + 8].copy_from_slice(&w.to_le_bytes());
        bytes[header + 8..header + 12].copy_from_slice(&h.to_le_bytes());
        error_of(folder.path(), "sized.avi", &bytes)
    };
    assert!(
        matches!(with(0, 0), ClipError::ZeroSize(0, 0)),
        "{}",
        with(0, 0)
    );
    let error = with(20_000, 64);
    assert!(matches!(error, ClipError::TooLarge(20_000, 64)), "{error}");
}

#[test]
fn names_are_names_and_no_addresses() {
    let folder = tempfile::tempdir().unwrap();
    let path = support::format(folder.path(), "h264_b.mp4");
    for name in [
        "http:x.mp4",
        "concat:a|b.mp4",
        "-i.mp4",
        "%03d.mp4",
        "Kyykkyhyppy ä.mp4",
    ] {
        let named = folder.path().join(name);
        std::fs::copy(&path, &named).unwrap();
        assert_eq!(decode(&named).unwrap().0.len(), 60, "{name}");
    }
}

#[cfg(unix)]
#[test]
fn a_name_that_is_not_utf8_is_read_like_any_other() {
    use std::os::unix::ffi::OsStrExt;
    let folder = tempfile::tempdir().unwrap();
    let path = support::format(folder.path(), "h264_b.mp4");
    let named = folder
        .path()
        .join(std::ffi::OsStr::from_bytes(b"hypp\xe4ys.mp4"));
    std::fs::copy(&path, &named).unwrap();
    assert_eq!(decode(&named).unwrap().0.len(), 60);
}

#[test]
fn a_picture_that_changes_its_size_is_refused_with_its_place() {
    let folder = tempfile::tempdir().unwrap();
    for (name, size) in [("a.ts", "96x64"), ("b.ts", "128x64")] {
        let source = format!("size={size}:rate=30:duration=0.5");
        support::clip(
            folder.path(),
            name,
            &source,
            "-pix_fmt yuv420p -c:v libx264 -bf 0",
        );
    }
    let mut bytes = std::fs::read(folder.path().join("a.ts")).unwrap();
    bytes.extend(std::fs::read(folder.path().join("b.ts")).unwrap());
    let path = folder.path().join("both.ts");
    std::fs::write(&path, bytes).unwrap();
    let error = decode(&path).unwrap_err();
    has_remedy(&error);
    assert!(
        matches!(
            error,
            ClipError::SizeChanges {
                from: (96, 64),
                to: (128, 64),
                ..
            }
        ),
        "{error}"
    );
}
