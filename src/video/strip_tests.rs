//! Pixels against the `ffmpeg` program's own, exactly.

use std::ops::ControlFlow;
use std::path::Path;

use super::*;

#[path = "../../tests/support/mod.rs"]
mod support;

/// The rectangle of every frame, as this crate reads it.
fn read(path: &Path, rect: UprightRect, options: &DecodeOptions) -> (Vec<FrameStamp>, Vec<Strip>) {
    let clip = Clip::open(path).unwrap();
    let (mut stamps, mut strips) = (Vec::new(), Vec::new());
    frames(&clip, options, |frame| {
        let mut strip = Strip::default();
        frame.read_strip(rect, &mut strip).unwrap();
        stamps.push(frame.stamp);
        strips.push(strip);
        ControlFlow::Continue(())
    })
    .unwrap();
    (stamps, strips)
}

/// Compares several rectangles of every frame with `ffmpeg`'s.
fn same_as_ffmpeg(path: &Path, bits: u32) {
    let (w, h) = Clip::open(path).unwrap().facts().size;
    for (x, y, w, h) in [
        (0, 0, w, h),
        (13, 7, 51, 33),
        (w - 17, h - 9, 17, 9),
        (3, 5, 1, 1),
    ] {
        let wanted = support::luma_by_ffmpeg(path, (x, y, w, h), bits);
        let (_, strips) = read(path, UprightRect { x, y, w, h }, &DecodeOptions::default());
        assert_eq!(strips.len(), wanted.len(), "{} frames", path.display());
        for (i, (strip, wanted)) in strips.iter().zip(&wanted).enumerate() {
            assert_eq!((strip.w, strip.h, strip.depth_bits), (w, h, bits));
            assert!(
                strip.luma == *wanted,
                "{} frame {i} at {x},{y} {w}x{h} differs",
                path.display()
            );
        }
    }
}

#[test]
fn luma_is_exact_in_every_format() {
    let folder = tempfile::tempdir().unwrap();
    for (name, ..) in support::FORMATS {
        let path = support::format(folder.path(), name);
        same_as_ffmpeg(&path, support::bits_of(name));
    }
}

/// Matrices of the quarter turns clockwise, then the four mirrored ones.
const MATRICES: [[f64; 4]; 8] = [
    [1.0, 0.0, 0.0, 1.0],
    [0.0, 1.0, -1.0, 0.0],
    [-1.0, 0.0, 0.0, -1.0],
    [0.0, -1.0, 1.0, 0.0],
    [-1.0, 0.0, 0.0, 1.0],
    [0.0, 1.0, 1.0, 0.0],
    [1.0, 0.0, 0.0, -1.0],
    [0.0, -1.0, -1.0, 0.0],
];

#[test]
fn luma_is_exact_in_turned_and_mirrored_pictures() {
    let folder = tempfile::tempdir().unwrap();
    for (name, bits) in [("h264_b.mp4", 8), ("hevc10.mov", 10)] {
        let flat = support::format(folder.path(), name);
        for (i, matrix) in MATRICES.into_iter().enumerate() {
            let turned = support::turn(&flat, &format!("turned{i}_{name}"), matrix);
            let facts = Clip::open(&turned).unwrap().facts().clone();
            let upright = if i % 2 == 1 { (108, 192) } else { (192, 108) };
            assert_eq!((facts.stored_size, facts.size), ((192, 108), upright));
            assert_eq!(facts.rotation as usize, i % 4 * 90);
            assert_eq!(facts.mirrored, i >= 4);
            same_as_ffmpeg(&turned, bits);
        }
    }
}

#[test]
fn a_part_of_a_clip_is_the_same_as_that_part_of_the_whole() {
    let folder = tempfile::tempdir().unwrap();
    let rect = UprightRect {
        x: 20,
        y: 10,
        w: 40,
        h: 30,
    };
    for name in [
        "h264_b.mp4",
        "hevc10.mov",
        "h264.mkv",
        "mpeg4.avi",
        "vp9.webm",
    ] {
        let path = support::format(folder.path(), name);
        let (stamps, strips) = read(&path, rect, &DecodeOptions::default());
        for (from, to) in [(0, 3), (7, 12), (stamps.len() - 4, stamps.len() - 1)] {
            let options = DecodeOptions {
                threads: 2,
                range: Some((stamps[from].ticks, stamps[to].ticks)),
            };
            let part = read(&path, rect, &options);
            assert_eq!(part.0, stamps[from..=to], "{name} {from}..={to}");
            assert!(part.1 == strips[from..=to], "{name} {from}..={to}");
        }
    }
}

#[test]
fn a_rectangle_outside_the_picture_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = support::format(folder.path(), "gray.mkv");
    let clip = Clip::open(&path).unwrap();
    let mut refused = 0;
    frames(&clip, &DecodeOptions::default(), |frame| {
        for (x, y, w, h) in [
            (0, 0, 193, 1),
            (192, 0, 1, 1),
            (0, 0, 0, 5),
            (u32::MAX, 0, 2, 2),
        ] {
            let error = frame.read_strip(UprightRect { x, y, w, h }, &mut Strip::default());
            refused += usize::from(matches!(error, Err(ClipError::OutsidePicture((192, 108)))));
        }
        ControlFlow::Break(())
    })
    .unwrap();
    assert_eq!(refused, 4);
}

/// Colour bars of known colour, upright and made smaller.
#[test]
fn pictures_for_people_have_the_right_colours_the_right_way_up() {
    let folder = tempfile::tempdir().unwrap();
    // Red left, blue right; turned a quarter clockwise the red goes up.
    for (pixels, codec) in [
        ("yuv420p", "libx264"),
        ("yuv420p10le", "libx265 -x265-params log-level=error"),
    ] {
        support::ffmpeg(
            folder.path(),
            &format!(
                "-f lavfi -i color=red:size=80x60:rate=10:duration=0.5 \
                 -f lavfi -i color=blue:size=80x60:rate=10:duration=0.5 \
                 -filter_complex hstack,scale=out_color_matrix=bt709 -colorspace bt709 \
                 -pix_fmt {pixels} -c:v {codec} {{}}/bars.mp4"
            ),
        );
        let turned = support::turn(&folder.path().join("bars.mp4"), "turned.mp4", MATRICES[1]);
        let clip = Clip::open(&turned).unwrap();
        let mut pictures = Vec::new();
        frames(&clip, &DecodeOptions::default(), |frame| {
            pictures.push(frame.read_upright_rgb(1000).unwrap());
            pictures.push(frame.read_upright_rgb(80).unwrap());
            ControlFlow::Break(())
        })
        .unwrap();
        let sizes: Vec<_> = pictures.iter().map(image::RgbImage::dimensions).collect();
        assert_eq!(sizes, [(60, 160), (30, 80)]);
        for picture in &pictures {
            let (w, h) = picture.dimensions();
            for (y, wanted) in [(h / 4, [255, 0, 0]), (3 * h / 4, [0, 0, 255])] {
                let seen = picture.get_pixel(w / 2, y).0;
                let off = seen
                    .iter()
                    .zip(wanted)
                    .map(|(a, b): (&u8, u8)| a.abs_diff(b));
                assert!(off.max() <= Some(6), "{seen:?} for {wanted:?}");
            }
        }
    }
}
