//! From light to the bytes of a frame.

use super::outline::Colour;

/// One frame as the sensor stores it: planar Y'CbCr 4:2:0 of BT.709, limited
/// range.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Stored width.
    pub width: usize,
    /// Stored height.
    pub height: usize,
    /// Luma, one byte a pixel, row by row.
    pub luma: Vec<u8>,
    /// Blue and red difference, a quarter of the size each.
    pub chroma: [Vec<u8>; 2],
}

impl Picture {
    /// Y'CbCr of ITU-R BT.709, items 3.2 to 3.4, 8 bits, from R'G'B'.
    pub(super) fn of(stored: &Stored) -> Self {
        let Stored {
            width,
            height,
            pixels,
        } = stored;
        let grey = |[r, g, b]: Colour| 0.2126 * r + 0.7152 * g + 0.0722 * b;
        let byte = |value: f32| (value + 0.5).clamp(0.0, 255.0) as u8;
        let luma = pixels
            .iter()
            .map(|&p| byte(16.0 + 219.0 * grey(p)))
            .collect();
        let mut chroma = [Vec::new(), Vec::new()];
        for rows in pixels.chunks_exact(2 * width) {
            let (upper, lower) = rows.split_at(*width);
            for (a, b) in upper.chunks_exact(2).zip(lower.chunks_exact(2)) {
                let mean = [0, 1, 2]
                    .map(|axis| 0.25 * (a[0][axis] + a[1][axis] + b[0][axis] + b[1][axis]));
                let y = grey(mean);
                chroma[0].push(byte(128.0 + 224.0 * (mean[2] - y) / 1.8556));
                chroma[1].push(byte(128.0 + 224.0 * (mean[0] - y) / 1.5748));
            }
        }
        Self {
            width: *width,
            height: *height,
            luma,
            chroma,
        }
    }
}

const GAMMA_STEPS: usize = 4096;

/// The transfer curve as a table.
pub(super) struct Transfer(Vec<f32>);

impl Transfer {
    pub(super) fn bt709() -> Self {
        let part = |step: usize| step as f32 / GAMMA_STEPS as f32;
        Self((0..=GAMMA_STEPS).map(|step| transfer(part(step))).collect())
    }

    /// The signal, 0 to 1, for a linear light.
    pub(super) fn at(&self, light: f32) -> f32 {
        let at = light.clamp(0.0, 1.0) * GAMMA_STEPS as f32;
        let step = (at as usize).min(GAMMA_STEPS - 1);
        let (low, high) = (self.0[step], self.0[step + 1]);
        low + (at - step as f32) * (high - low)
    }
}

/// Transfer curve of ITU-R BT.709, item 1.2.
fn transfer(light: f32) -> f32 {
    if light < 0.018 {
        4.5 * light
    } else {
        1.099 * light.powf(0.45) - 0.099
    }
}

/// Pixels with their width, in the sensor's orientation.
pub(super) struct Stored {
    width: usize,
    height: usize,
    pixels: Vec<Colour>,
}

/// Turns the upright picture back to how the sensor stores it.
pub(super) fn turned(pixels: Vec<Colour>, width: usize, height: usize, rotate_deg: u32) -> Stored {
    let (stored_w, stored_h) = if rotate_deg % 180 == 90 {
        (height, width)
    } else {
        (width, height)
    };
    if rotate_deg == 0 {
        return Stored {
            width,
            height,
            pixels,
        };
    }
    let mut out = Vec::with_capacity(pixels.len());
    for row in 0..stored_h {
        for column in 0..stored_w {
            let (x, y) = match rotate_deg {
                90 => (width - 1 - row, column),
                180 => (width - 1 - column, height - 1 - row),
                _ => (row, height - 1 - column),
            };
            out.push(pixels[y * width + x]);
        }
    }
    Stored {
        width: stored_w,
        height: stored_h,
        pixels: out,
    }
}
