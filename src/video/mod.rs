//! Everything that sees a pixel: clip file to contact trace.

mod agree;
mod arc;
pub mod contact;
mod grey;
pub mod hinge;
mod motion;
pub mod patch;
mod tiles;
mod zone;

/// Private trial: raw grey file through the detector.
pub fn trial(path: &str, n: usize, size: (u32, u32), patch: patch::FloorPatch, times: &[f64]) -> contact::ContactTrace {
    let raw = std::fs::read(path).unwrap();
    let zone = zone::Zone::new(patch, size);
    let mut watch = contact::Watch::new(zone);
    let (w, h) = (size.0 as usize, size.1 as usize);
    let mut luma = Vec::new();
    for k in 0..n {
        luma.clear();
        for y in zone.y..zone.y + zone.h {
            let at = k * w * h + y as usize * w + zone.x as usize;
            luma.extend(raw[at..at + zone.w as usize].iter().map(|&v| u16::from(v)));
        }
        watch.push(times[k], &luma, 8);
    }
    watch.finish()
}
