use image::{Rgb, RgbImage};

use super::paint::{AIR, CONTACT, INK, PAPER, PATCH};
use super::strip::{BORDER_PX, FOOT_PX, GAP_PX, HEADER_PX, HEADING_PX, TILE_PX};
use super::*;

const GREY: Rgb<u8> = Rgb([90, 120, 90]);

fn frame(index: usize, width: u32, height: u32) -> UprightFrame {
    UprightFrame {
        index: FrameIndex(index),
        time: CaptureTime::from_seconds(index as f64 / 240.0),
        picture: RgbImage::from_pixel(width, height, GREY),
    }
}

const PATCH_BOX: FloorPatch = FloorPatch {
    x: 300,
    y: 280,
    w: 90,
    h: 40,
};

fn decoded(png: &[u8]) -> RgbImage {
    image::load_from_memory_with_format(png, ImageFormat::Png)
        .unwrap()
        .to_rgb8()
}

#[test]
fn ruler_keeps_size_and_marks_every_ten_pixels() {
    for (width, height) in [(640, 360), (202, 360), (1920, 1080), (3840, 2160)] {
        let picture = decoded(&ruler_still(&frame(0, width, height), None).unwrap());
        assert_eq!(picture.dimensions(), (width, height));
        for x in (60..width - 60).step_by(10) {
            for y in [0, height - 1] {
                assert_eq!(*picture.get_pixel(x, y), PAPER, "mark at x {x} of {width}");
                assert_ne!(
                    *picture.get_pixel(x - 5, y),
                    PAPER,
                    "gap at x {x} of {width}"
                );
            }
        }
        for y in (60..height - 60).step_by(10) {
            for x in [0, width - 1] {
                assert_eq!(*picture.get_pixel(x, y), PAPER, "mark at y {y} of {height}");
                assert_ne!(
                    *picture.get_pixel(x, y - 5),
                    PAPER,
                    "gap at y {y} of {height}"
                );
            }
        }
        let centre = picture.get_pixel(width / 2, height / 2);
        assert_eq!(*centre, GREY, "the middle of the picture stays as filmed");
    }
}

#[test]
fn ruler_outlines_the_patch_outside_its_pixels() {
    let picture = decoded(&ruler_still(&frame(0, 640, 360), Some(PATCH_BOX)).unwrap());
    // The first dash of the outline starts at its top left corner.
    assert_eq!(*picture.get_pixel(300, 279), PATCH);
    assert_eq!(*picture.get_pixel(299, 281), PATCH);
    assert_eq!(*picture.get_pixel(300, 280), GREY);
    assert_eq!(*picture.get_pixel(389, 319), GREY);
    // The dark outer line keeps the patch visible on a yellow floor.
    assert_eq!(*picture.get_pixel(298, 278), INK);
    let bars = (300..390).filter(|x| *picture.get_pixel(*x, 19) == PATCH);
    assert!(bars.count() > 60, "the ruler shows where the patch lies");
}

#[test]
fn tiny_pictures_do_not_panic() {
    for (width, height) in [(1, 1), (3, 40), (40, 3), (64, 64)] {
        let whole = FloorPatch {
            x: 0,
            y: 0,
            w: width,
            h: height,
        };
        let frame = frame(0, width, height);
        let picture = decoded(&ruler_still(&frame, Some(whole)).unwrap());
        assert_eq!(picture.dimensions(), (width, height));
        let frames = [frame];
        let row = row(EventKind::TakeOff, &frames, 0);
        assert!(event_strip("", whole, &[row]).is_ok());
    }
}

#[test]
fn a_patch_beyond_the_picture_is_refused() {
    let beyond = FloorPatch {
        x: 600,
        ..PATCH_BOX
    };
    let overflowing = FloorPatch {
        w: u32::MAX,
        ..PATCH_BOX
    };
    let empty = FloorPatch { h: 0, ..PATCH_BOX };
    for patch in [beyond, overflowing, empty] {
        let error = ruler_still(&frame(0, 640, 360), Some(patch)).unwrap_err();
        assert!(matches!(error, StillError::PatchOutside { .. }), "{error}");
    }
    let error = ruler_still(&frame(3, 0, 0), None).unwrap_err();
    assert!(
        error.to_string().starts_with("frame 3 is 0 x 0 px"),
        "{error}"
    );
}

fn row(kind: EventKind, frames: &[UprightFrame], before: usize) -> EventRow<'_> {
    EventRow {
        kind,
        moment: CaptureTime::from_seconds((before as f64 + 0.4) / 240.0),
        before: FrameIndex(before),
        after: FrameIndex(before + 1),
        frames,
    }
}

fn tile_corner(column: i64, row: i64) -> (u32, u32) {
    let x = GAP_PX + column * (TILE_PX + GAP_PX);
    let y = HEADER_PX + row * (HEADING_PX + TILE_PX + FOOT_PX) + HEADING_PX;
    (x as u32, y as u32)
}

/// Share of the left border's pixels that have `colour`.
fn share_of_border(picture: &RgbImage, (x, y): (u32, u32), colour: Rgb<u8>) -> f64 {
    let wide = BORDER_PX as u32;
    let tall = TILE_PX as u32;
    let hits = (x..x + wide)
        .flat_map(|x| (y..y + tall).map(move |y| (x, y)))
        .filter(|(x, y)| *picture.get_pixel(*x, *y) == colour)
        .count();
    hits as f64 / f64::from(wide * tall)
}

#[test]
fn strip_marks_the_enclosing_frames_by_colour_and_pattern() {
    let takeoff: Vec<_> = (10..16).map(|i| frame(i, 640, 360)).collect();
    let landing: Vec<_> = (100..106).map(|i| frame(i, 640, 360)).collect();
    let rows = [
        row(EventKind::TakeOff, &takeoff, 12),
        row(EventKind::Landing, &landing, 102),
    ];
    let picture = decoded(&event_strip("T 0.375 s, h 17.2 cm", PATCH_BOX, &rows).unwrap());
    let width = GAP_PX + 6 * (TILE_PX + GAP_PX);
    let height = HEADER_PX + 2 * (HEADING_PX + TILE_PX + FOOT_PX);
    assert_eq!(picture.dimensions(), (width as u32, height as u32));
    for (column, row, on_floor) in [(2, 0, true), (3, 0, false), (2, 1, false), (3, 1, true)] {
        let corner = tile_corner(column, row);
        let (plain, striped) = (
            share_of_border(&picture, corner, CONTACT),
            share_of_border(&picture, corner, AIR),
        );
        if on_floor {
            assert!(plain == 1.0 && striped == 0.0, "{plain} {striped}");
        } else {
            assert!(plain == 0.0 && (0.4..0.6).contains(&striped), "{striped}");
        }
    }
    for (column, row) in [(0, 0), (1, 0), (4, 1), (5, 1)] {
        let corner = tile_corner(column, row);
        assert_eq!(share_of_border(&picture, corner, CONTACT), 0.0);
        assert_eq!(share_of_border(&picture, corner, AIR), 0.0);
    }
    let lettering = picture.enumerate_pixels().take(width as usize * 50);
    assert!(
        lettering.filter(|(_, _, p)| **p == INK).count() > 200,
        "header is set"
    );
}

#[test]
fn marks_differ_in_greyscale() {
    let luma = |Rgb([r, g, b]): Rgb<u8>| {
        0.2126 * f64::from(r) + 0.7152 * f64::from(g) + 0.0722 * f64::from(b)
    };
    assert!(luma(AIR) - luma(CONTACT) > 80.0);
    assert!(luma(PATCH) - luma(INK) > 150.0);
}

#[test]
fn an_empty_row_is_refused_and_a_long_header_is_cut() {
    let frames = [frame(0, 640, 360)];
    let mut empty = row(EventKind::TakeOff, &frames, 0);
    empty.frames = &[];
    for rows in [&[empty][..], &[]] {
        let error = event_strip("", PATCH_BOX, rows).unwrap_err();
        assert!(matches!(error, StillError::FrameCount { count: 0 }));
    }
    let long = "a header without an end ".repeat(100);
    let row = row(EventKind::Landing, &frames, 0);
    let picture = decoded(&event_strip(&long, PATCH_BOX, &[row]).unwrap());
    let margin = picture.width() - 5;
    assert!((0..HEADER_PX as u32).all(|y| *picture.get_pixel(margin, y) == PAPER));
}

/// Writes both pictures from frames of a clip, for the eye:
/// `UNDERFOOT_STILLS=dir cargo test --lib -- --ignored stills_for_the_eye`,
/// where `dir` holds upright `0000.png`... and `patch.txt` (x y w h before after before after).
#[test]
#[ignore = "writes pictures for a person to look at"]
fn stills_for_the_eye() {
    let dir = std::path::PathBuf::from(std::env::var("UNDERFOOT_STILLS").unwrap());
    let numbers: Vec<u32> = std::fs::read_to_string(dir.join("patch.txt"))
        .unwrap()
        .split_whitespace()
        .map(|word| word.parse().unwrap())
        .collect();
    let patch = FloorPatch {
        x: numbers[0],
        y: numbers[1],
        w: numbers[2],
        h: numbers[3],
    };
    let load = |index: usize| UprightFrame {
        picture: image::open(dir.join(format!("{index:04}.png")))
            .unwrap()
            .to_rgb8(),
        ..frame(index, 1, 1)
    };
    let round = |index: usize| (index - 2..index + 4).map(load).collect::<Vec<_>>();
    let (takeoff, landing) = (numbers[4] as usize, numbers[5] as usize);
    let (takeoff_frames, landing_frames) = (round(takeoff), round(landing));
    let rows = [
        row(EventKind::TakeOff, &takeoff_frames, takeoff),
        row(EventKind::Landing, &landing_frames, landing),
    ];
    let strip = event_strip(
        "T 0.506 s (0.502 to 0.510)   h 31.4 cm (30.9 to 31.9)",
        patch,
        &rows,
    );
    std::fs::write(dir.join("strip.png"), strip.unwrap()).unwrap();
    let ruler = ruler_still(&load(takeoff), Some(patch));
    std::fs::write(dir.join("ruler.png"), ruler.unwrap()).unwrap();
}
