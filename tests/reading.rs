//! Clips in the formats that phones and editors write, against `ffprobe`.

mod support;

use std::ops::ControlFlow;
use std::path::Path;

use underfoot::units::FrameIndex;
use underfoot::video::decode::{DecodeOptions, DecodeSummary, FrameStamp, stamps};
use underfoot::video::packets::scan_packets;
use underfoot::video::repeats::find_repeats;
use underfoot::video::{CaptureClock, Clip, ClipError, ClipWarning, ClockSource};

fn decode(clip: &Clip, options: &DecodeOptions) -> (Vec<FrameStamp>, DecodeSummary) {
    let mut all = Vec::new();
    let summary = stamps(clip, options, |stamp| {
        all.push(stamp);
        ControlFlow::Continue(())
    })
    .expect("a sound clip");
    (all, summary)
}

fn ticks_of(path: &Path) -> Vec<i64> {
    let clip = Clip::open(path).expect("a sound clip");
    let (all, summary) = decode(&clip, &DecodeOptions::default());
    assert!(summary.is_clean(), "{}: {summary:?}", path.display());
    for (i, stamp) in all.iter().enumerate() {
        assert_eq!((stamp.index, stamp.corrupt), (FrameIndex(i), false));
    }
    all.iter().map(|stamp| stamp.ticks).collect()
}

#[test]
fn times_are_those_of_ffprobe_in_every_format() {
    let folder = tempfile::tempdir().unwrap();
    for (name, ..) in support::FORMATS {
        let path = support::format(folder.path(), name);
        let ticks = ticks_of(&path);
        assert_eq!(ticks, support::probed_ticks(&path), "{name}");
        let table = scan_packets(&path).unwrap();
        assert_eq!(table.presented(), ticks, "{name}: packets against frames");
    }
}

#[test]
fn facts_name_what_is_in_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let facts = |name: &str| {
        let path = support::format(folder.path(), name);
        Clip::open(&path).unwrap().facts().clone()
    };
    let h264 = facts("h264_b.mp4");
    assert_eq!((h264.codec.as_str(), h264.bit_depth), ("H.264", 8));
    assert_eq!(
        (h264.size, h264.rotation, h264.mirrored),
        ((192, 108), 0, false)
    );
    assert_eq!((h264.frames_claimed, h264.full_range), (Some(60), false));
    assert!((h264.nominal_fps.unwrap() - 60.0).abs() < 1e-9);
    assert!((h264.duration_s.unwrap() - 1.0).abs() < 1e-6);
    let hevc = facts("hevc10.mov");
    assert_eq!((hevc.codec.as_str(), hevc.bit_depth), ("HEVC (H.265)", 10));
    assert_eq!(hevc.transfer, Some("HLG (BT.2100)"));
    assert_eq!(facts("vp9.webm").codec, "VP9");
    assert_eq!(facts("av1.mp4").codec, "AV1");
    assert_eq!(facts("prores.mov").codec, "ProRes");
    assert_eq!(facts("mpeg4.avi").codec, "MPEG-4 Visual");
    let mjpeg = facts("mjpeg.avi");
    assert_eq!(
        (mjpeg.codec.as_str(), mjpeg.full_range),
        ("Motion JPEG", true)
    );
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let clip = Clip::open(&support::format(folder.path(), "h264_b.mp4")).unwrap();
    let with = |threads| {
        decode(
            &clip,
            &DecodeOptions {
                threads,
                range: None,
            },
        )
    };
    let one = with(1);
    assert_eq!(one.0.len(), 60);
    assert_eq!(one, with(3));
    assert_eq!(one, with(0));
}

#[test]
fn a_receiver_can_stop() {
    let folder = tempfile::tempdir().unwrap();
    let clip = Clip::open(&support::format(folder.path(), "h264_b.mp4")).unwrap();
    let mut seen = 0;
    let summary = stamps(&clip, &DecodeOptions::default(), |_| {
        seen += 1;
        if seen == 5 {
            ControlFlow::Break(())
        } else {
            ControlFlow::Continue(())
        }
    })
    .unwrap();
    assert_eq!((seen, summary.frames, summary.stopped), (5, 5, true));
    assert!(summary.is_clean());
}

/// Copying from a point between key frames leaves an edit list that hides the
/// first pictures.
#[test]
fn an_edit_list_hides_what_it_hides() {
    let folder = tempfile::tempdir().unwrap();
    let whole = support::format(folder.path(), "h264_b.mp4");
    let cut = support::remake(&whole, "cut.mp4", "-ss 0.6", "-c copy");
    let table = scan_packets(&cut).unwrap();
    let hidden = table
        .packets()
        .iter()
        .filter(|packet| packet.discard)
        .count();
    assert!(hidden > 0 && table.packets().len() > table.presented().len());
    assert_eq!(ticks_of(&cut), support::probed_ticks(&cut));
}

#[test]
fn cut_tails_fragments_and_streams_are_complete() {
    let folder = tempfile::tempdir().unwrap();
    let whole = support::format(folder.path(), "h264_b.mp4");
    for (name, before, after) in [
        ("tail.mp4", "-ss 0.3", "-t 0.4 -c copy"),
        (
            "fragments.mp4",
            "",
            "-c copy -movflags frag_keyframe+empty_moov",
        ),
        ("stream.ts", "", "-c copy"),
    ] {
        let path = support::remake(&whole, name, before, after);
        let ticks = ticks_of(&path);
        assert!(ticks.len() >= 20, "{name}");
        assert_eq!(ticks, support::probed_ticks(&path), "{name}");
    }
}

/// AVI keeps no time of showing: frames are shown at an even rate.
#[test]
fn avi_with_frames_out_of_order_is_even() {
    let folder = tempfile::tempdir().unwrap();
    for codec in ["mpeg4", "libx264"] {
        let path = support::clip(
            folder.path(),
            "order.avi",
            "size=96x64:rate=50:duration=1",
            &format!("-pix_fmt yuv420p -c:v {codec} -bf 2"),
        );
        let ticks = ticks_of(&path);
        assert_eq!(ticks.len(), 50, "{codec}");
        let clip = Clip::open(&path).unwrap();
        let clock = CaptureClock::new(clip.facts(), &ticks, None).unwrap();
        assert!((clock.report().measured_fps - 50.0).abs() < 1e-6);
        assert_eq!(clock.report().jitter_s, 0.0);
        let options = DecodeOptions {
            threads: 1,
            range: Some((ticks[17], ticks[30])),
        };
        let (part, _) = decode(&clip, &options);
        let first_and_last = (part[0].index.0, part[part.len() - 1].index.0);
        assert_eq!(first_and_last, (17, 30));
    }
}

#[test]
fn a_first_stamp_other_than_zero_is_moment_zero() {
    let folder = tempfile::tempdir().unwrap();
    let whole = support::format(folder.path(), "ntsc.mp4");
    for (name, arguments) in [
        ("late.mkv", "-c copy -output_ts_offset 7"),
        ("late.mp4", "-c copy -output_ts_offset 7"),
    ] {
        let moved = support::remake(&whole, name, "", arguments);
        let ticks = ticks_of(&moved);
        assert_eq!(ticks, support::probed_ticks(&moved), "{name}");
        assert_ne!(ticks[0], 0, "{name}");
        let clip = Clip::open(&moved).unwrap();
        let clock = CaptureClock::new(clip.facts(), &ticks, None).unwrap();
        assert_eq!(clock.time_of(ticks[0]).seconds(), 0.0);
        for (i, &tick) in ticks.iter().enumerate() {
            let off = clock.time_of(tick).seconds() - i as f64 * 1001.0 / 30_000.0;
            // Matroska rounds to milliseconds.
            assert!(off.abs() <= 1.001e-3, "{name} frame {i}: {off}");
        }
    }
}

#[test]
fn ntsc_rates_and_coarse_ticks_are_measured() {
    let folder = tempfile::tempdir().unwrap();
    let path = support::format(folder.path(), "ntsc.mp4");
    let clip = Clip::open(&path).unwrap();
    let clock = CaptureClock::new(clip.facts(), &ticks_of(&path), None).unwrap();
    assert!((clock.report().measured_fps - 30_000.0 / 1001.0).abs() < 1e-6);
    let coarse = support::clip(
        folder.path(),
        "coarse.mov",
        "size=96x64:rate=240:duration=1",
        "-pix_fmt yuv420p -c:v libx264 -preset fast -video_track_timescale 600",
    );
    let clip = Clip::open(&coarse).unwrap();
    let clock = CaptureClock::new(clip.facts(), &ticks_of(&coarse), None).unwrap();
    let report = clock.report();
    assert!((report.measured_fps - 240.0).abs() < 0.5, "{report:?}");
    assert!((report.rounding_s.unwrap() - 0.5 / 600.0).abs() < 1e-9);
    assert_eq!((report.dropped.len(), report.repeated.len()), (0, 0));
}

#[test]
fn frames_left_out_are_found_where_they_were() {
    let folder = tempfile::tempdir().unwrap();
    let path = support::clip(
        folder.path(),
        "gaps.mp4",
        "size=96x64:rate=60:duration=1",
        "-vf select=not(eq(n\\,20)+between(n\\,40\\,41)) -fps_mode passthrough \
         -pix_fmt yuv420p -c:v libx264 -bf 2",
    );
    let clip = Clip::open(&path).unwrap();
    let clock = CaptureClock::new(clip.facts(), &ticks_of(&path), None).unwrap();
    let found: Vec<_> = clock
        .report()
        .dropped
        .iter()
        .map(|gap| (gap.after.0, gap.missing))
        .collect();
    assert_eq!(found, [(19, 1), (38, 2)]);
    assert_eq!(clock.report().dropped_count(), 3);
}

/// A capture rate as a phone writes it: `meta` with `keys` and `ilst`
/// (QuickTime File Format, metadata chapter), value type 1 for text and 23 for
/// a 32-bit float.
fn tag_capture_rate(input: &Path, name: &str, kind: u32, value: &[u8]) -> std::path::PathBuf {
    fn boxed(name: &[u8], inside: &[&[u8]]) -> Vec<u8> {
        let inside = inside.concat();
        let length = u32::try_from(8 + inside.len()).unwrap();
        [&length.to_be_bytes()[..], name, &inside].concat()
    }
    let handler = boxed(b"hdlr", &[&[0; 8], b"mdta", &[0; 13]]);
    let key = boxed(b"mdta", &[b"com.android.capture.fps"]);
    let keys = boxed(b"keys", &[&[0; 4], &1_u32.to_be_bytes(), &key]);
    let data = boxed(b"data", &[&kind.to_be_bytes(), &[0; 4], value]);
    let list = boxed(b"ilst", &[&boxed(&1_u32.to_be_bytes(), &[&data])]);
    let meta = boxed(b"meta", &[&handler, &keys, &list]);

    // The index stands last, so a longer one moves nothing else.
    let mut bytes = std::fs::read(input).unwrap();
    let index = support::find(&bytes, b"moov") - 4;
    let length = u32::from_be_bytes(bytes[index..index + 4].try_into().unwrap());
    assert_eq!(index + length as usize, bytes.len(), "moov must stand last");
    let longer = length + u32::try_from(meta.len()).unwrap();
    bytes[index..index + 4].copy_from_slice(&longer.to_be_bytes());
    bytes.extend(meta);
    let path = input.with_file_name(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

#[test]
fn a_tagged_slow_motion_file_runs_at_the_speed_of_the_world() {
    let folder = tempfile::tempdir().unwrap();
    let plain = support::clip(
        folder.path(),
        "slow.mp4",
        "size=96x64:rate=30:duration=2",
        "-pix_fmt yuv420p -c:v libx264 -video_track_timescale 90000",
    );
    for (name, kind, value) in [
        ("text.mp4", 1, b"240.000000".to_vec()),
        ("float.mp4", 23, 240_f32.to_be_bytes().to_vec()),
    ] {
        let tagged = tag_capture_rate(&plain, name, kind, &value);
        let clip = Clip::open(&tagged).unwrap();
        let ticks = ticks_of(&tagged);
        let clock = CaptureClock::new(clip.facts(), &ticks, None).unwrap();
        let report = clock.report();
        assert_eq!(report.stretch, 8.0, "{name}: {:?}", clip.facts().tags);
        let tag = "com.android.capture.fps".to_owned();
        assert_eq!(report.source, ClockSource::CaptureTag(tag));
        assert!((report.capture_fps - 240.0).abs() < 1e-6);
        for (i, &tick) in ticks.iter().enumerate() {
            let off = clock.time_of(tick).seconds() - i as f64 / 240.0;
            assert!(off.abs() < 1e-9, "{name} frame {i}: {off}");
        }
    }
    let clip = Clip::open(&plain).unwrap();
    let clock = CaptureClock::new(clip.facts(), &ticks_of(&plain), None).unwrap();
    assert_eq!(
        (clock.report().stretch, &clock.report().source),
        (1.0, &ClockSource::FileTimes)
    );
}

#[test]
fn a_tag_that_is_not_text_does_no_harm() {
    let folder = tempfile::tempdir().unwrap();
    let plain = support::clip(
        folder.path(),
        "plain.mp4",
        "size=96x64:rate=30:duration=0.5",
        "-pix_fmt yuv420p -c:v libx264",
    );
    let tagged = tag_capture_rate(&plain, "bytes.mp4", 1, &[0xff, 0xfe, b'2', 0x80]);
    let clip = Clip::open(&tagged).unwrap();
    let clock = CaptureClock::new(clip.facts(), &ticks_of(&tagged), None).unwrap();
    assert_eq!(clock.report().stretch, 1.0);
    let doubt = clock.report().doubt.clone().expect("a doubt");
    assert!(doubt.to_string().contains("no usable number"), "{doubt}");
}

#[test]
fn an_odd_angle_is_warned_of_and_a_mirror_too() {
    let folder = tempfile::tempdir().unwrap();
    let flat = support::format(folder.path(), "h264_b.mp4");
    let (sin, cos) = 75_f64.to_radians().sin_cos();
    let askew = support::turn(&flat, "askew.mp4", [cos, sin, -sin, cos]);
    let facts = Clip::open(&askew).unwrap().facts().clone();
    assert_eq!((facts.rotation, facts.size), (90, (108, 192)));
    assert!(
        matches!(facts.warnings[..], [ClipWarning::OddRotation { used_deg: 90, asked_deg }]
            if (asked_deg - 75.0).abs() < 0.1),
        "{:?}",
        facts.warnings
    );
    let mirrored = support::turn(&flat, "mirrored.mp4", [-1.0, 0.0, 0.0, 1.0]);
    let facts = Clip::open(&mirrored).unwrap().facts().clone();
    assert_eq!(facts.warnings, [ClipWarning::Mirrored]);
}

#[test]
fn a_conversion_from_25_to_30_is_told_by_its_repeats() {
    let folder = tempfile::tempdir().unwrap();
    let make = |name, rate: &str| {
        support::ffmpeg(
            folder.path(),
            &format!(
                "-f lavfi -i testsrc2=size=320x240:rate=25:duration=3 \
                 -vf noise=alls=6:allf=t,fps={rate} -pix_fmt yuv420p -c:v libx264 -crf 20 \
                 {{}}/{name}"
            ),
        );
        let clip = Clip::open(&folder.path().join(name)).unwrap();
        find_repeats(&clip, &DecodeOptions::default()).unwrap()
    };
    let converted = make("converted.mp4", "30");
    assert_eq!(converted.period(), Some(6.0), "{converted:?}");
    assert!(
        (13..=15).contains(&converted.repeated.len()),
        "{converted:?}"
    );
    let plain = make("plain.mp4", "25");
    assert_eq!(
        (plain.repeated.len(), plain.period()),
        (0, None),
        "{plain:?}"
    );
}

#[test]
fn pixels_that_are_not_luma_in_a_plane_are_named() {
    let folder = tempfile::tempdir().unwrap();
    for (name, arguments, format) in [
        ("rgb.mkv", "-pix_fmt bgr0 -c:v ffv1", "bgr0"),
        ("planes.mp4", "-pix_fmt gbrp -c:v libx264rgb", "gbrp"),
        ("packed.avi", "-pix_fmt yuyv422 -c:v rawvideo", "yuyv422"),
    ] {
        let source = "size=96x64:rate=30:duration=0.2";
        let arguments = arguments.replace("-pix_fmt gbrp -c:v libx264rgb", "-c:v libx264rgb");
        let path = support::clip(folder.path(), name, source, &arguments);
        let error = Clip::open(&path).unwrap_err();
        assert!(
            matches!(&error, ClipError::UnsupportedPixels(found) if found == format),
            "{error}"
        );
        let text = error.to_string();
        assert!(
            text.contains(format) && text.contains("-pix_fmt yuv420p"),
            "{text}"
        );
    }
}
