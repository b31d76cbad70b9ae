//! Marks a finished MP4 as turned, by the display matrix in its track header.
//!
//! FFmpeg's own call for this changed between versions 6 and 7, so the nine
//! numbers are written here; the layout is that of the QuickTime File Format
//! (Apple), "Track header atom" and "Matrices", shared by ISO/IEC 14496-12.

use super::{Scene, SynthError};

/// 1.0 in the matrix's 16.16 columns.
const ONE: i32 = 1 << 16;
/// 1.0 in the matrix's last column, 2.30.
const ONE_LAST: i32 = 1 << 30;

/// The clip with the scene's turn in its first track header.
pub(super) fn turn(mut clip: Vec<u8>, scene: &Scene) -> Result<Vec<u8>, SynthError> {
    if scene.rotate_deg == 0 {
        return Ok(clip);
    }
    let (width, height) = stored_size(scene);
    let matrix = matrix(scene.rotate_deg, width, height);
    let place = matrix_place(&clip).ok_or(SynthError::NoTrackHeader)?;
    let target = clip
        .get_mut(place..place + 36)
        .ok_or(SynthError::NoTrackHeader)?;
    for (bytes, value) in target.chunks_exact_mut(4).zip(matrix) {
        bytes.copy_from_slice(&value.to_be_bytes());
    }
    Ok(clip)
}

/// Width and height of the picture as the sensor stores it.
pub(super) fn stored_size(scene: &Scene) -> (u32, u32) {
    if scene.rotate_deg % 180 == 90 {
        (scene.height_px, scene.width_px)
    } else {
        (scene.width_px, scene.height_px)
    }
}

/// Row-vector matrix a b u, c d v, x y w: turns the stored picture clockwise
/// and shifts it back into the positive quadrant.
fn matrix(rotate_deg: u32, width: u32, height: u32) -> [i32; 9] {
    // Sides are at most 4096, so 16.16 cannot overflow.
    let (w, h) = ((width as i32) << 16, (height as i32) << 16);
    let (a, b, c, d, x, y) = match rotate_deg {
        90 => (0, ONE, -ONE, 0, h, 0),
        180 => (-ONE, 0, 0, -ONE, w, h),
        270 => (0, -ONE, ONE, 0, 0, w),
        _ => (ONE, 0, 0, ONE, 0, 0),
    };
    [a, b, 0, c, d, 0, x, y, ONE_LAST]
}

/// Byte offset of the matrix in the first `moov/trak/tkhd`.
fn matrix_place(clip: &[u8]) -> Option<usize> {
    let moov = find(clip, 0, clip.len(), b"moov")?;
    let trak = find(clip, moov.0, moov.1, b"trak")?;
    let (body, _) = find(clip, trak.0, trak.1, b"tkhd")?;
    // version and flags 4; times, id, reserved, duration: 20 bytes, or 32 with
    // 64-bit times; reserved 8, layer, group, volume, reserved 8.
    let times = if *clip.get(body)? == 1 { 32 } else { 20 };
    Some(body + 4 + times + 16)
}

/// Body (start, end) of the first box of a kind between two offsets.
fn find(clip: &[u8], mut at: usize, end: usize, kind: &[u8; 4]) -> Option<(usize, usize)> {
    while at + 8 <= end {
        let short = u32::from_be_bytes(clip.get(at..at + 4)?.try_into().ok()?);
        let (head, size) = match short {
            0 => (8, end - at),
            1 => {
                let long = u64::from_be_bytes(clip.get(at + 8..at + 16)?.try_into().ok()?);
                (16, usize::try_from(long).ok()?)
            }
            size => (8, size as usize),
        };
        let next = at.checked_add(size)?;
        if size < head || next > end {
            return None;
        }
        if clip.get(at + 4..at + 8)? == kind {
            return Some((at + head, next));
        }
        at = next;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boxed(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
        let mut out = (body.len() as u32 + 8).to_be_bytes().to_vec();
        out.extend_from_slice(kind);
        out.extend_from_slice(body);
        out
    }

    #[test]
    fn the_matrix_is_found_behind_other_boxes() {
        let tkhd = boxed(b"tkhd", &[0; 84]);
        let trak = boxed(b"trak", &tkhd);
        let moov = boxed(b"moov", &[boxed(b"mvhd", &[0; 100]), trak].concat());
        let clip = [boxed(b"mdat", &[7; 30]), moov].concat();
        let scene = Scene {
            rotate_deg: 90,
            width_px: 360,
            height_px: 640,
            ..Scene::default()
        };
        let turned = turn(clip.clone(), &scene).unwrap();
        // 38 mdat, 8 moov, 108 mvhd, 8 trak, 8 tkhd, 40 into its body.
        assert_eq!(matrix_place(&clip), Some(38 + 8 + 108 + 8 + 8 + 40));
        assert_eq!(&turned[214..218], &ONE.to_be_bytes());
        assert_eq!(&turned[234..238], &(360i32 << 16).to_be_bytes());
    }

    #[test]
    fn a_broken_file_is_an_error_not_a_panic() {
        let scene = Scene {
            rotate_deg: 180,
            ..Scene::default()
        };
        for clip in [vec![], vec![0; 7], vec![0xff; 40], boxed(b"moov", &[0; 3])] {
            assert!(matches!(turn(clip, &scene), Err(SynthError::NoTrackHeader)));
        }
    }
}
