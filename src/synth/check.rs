//! Refuses scenes that contradict themselves.

use super::SynthError;
use super::body::Body;
use super::scene::{Jump, Scene, Shoe};

/// Largest picture side. Larger ones are of no use in a sample.
const MAX_SIDE_PX: u32 = 4096;
/// Most frames in a clip.
const MAX_FRAMES: f64 = 20_000.0;
/// Least time from one landing to the next take-off.
const MIN_CONTACT_S: f64 = 0.12;

impl Scene {
    /// Says what in the scene contradicts itself.
    pub(super) fn check(&self) -> Result<(), SynthError> {
        let sides = [self.width_px, self.height_px];
        need(
            sides
                .iter()
                .all(|side| side.is_multiple_of(2) && (64..=MAX_SIDE_PX).contains(side)),
            || format!("a picture of {} x {}", self.width_px, self.height_px),
            "use even sides from 64 to 4096",
        )?;
        need(
            self.rotate_deg.is_multiple_of(90) && self.rotate_deg < 360,
            || format!("rotate_deg = {}", self.rotate_deg),
            "use 0, 90, 180 or 270",
        )?;
        need(
            (1..=64).contains(&self.playback_slowdown)
                && (0.5..=2.5).contains(&self.stature_m)
                && (10.0..=4000.0).contains(&self.pixels_per_metre),
            || "playback_slowdown, stature_m or pixels_per_metre out of range".into(),
            "use 1..64 times, 0.5..2.5 m, 10..4000 px/m",
        )?;
        need(
            self.encoding.key_interval_s > 0.0,
            || "encoding.key_interval_s is not positive".into(),
            "use 1 s",
        )?;
        self.check_times()?;
        self.check_looks()?;
        self.check_jumps()
    }

    /// Frame rate, exposure and jitter against each other.
    fn check_times(&self) -> Result<(), SynthError> {
        let fps = self.capture_rate.fps();
        need(
            fps.is_finite()
                && (1.0..=2000.0).contains(&fps)
                && self.duration_s * fps >= 1.0
                && self.duration_s * fps <= MAX_FRAMES,
            || format!("{} s at {fps} frames per second", self.duration_s),
            "use 1 to 2000 frames per second and at most 20000 frames",
        )?;
        need(
            self.shutter_s > 0.0 && self.shutter_s <= 1.0 / fps,
            || format!("a shutter of {} s at {fps} fps", self.shutter_s),
            "the shutter cannot stay open longer than a frame",
        )?;
        need(
            self.rolling_readout_s >= 0.0 && self.rolling_readout_s <= 1.0 / fps,
            || format!("a readout of {} s at {fps} fps", self.rolling_readout_s),
            "the readout cannot take longer than a frame",
        )?;
        let (capture, stamp) = (self.timing.capture_jitter_s, self.timing.stamp_jitter_s);
        need(
            capture >= 0.0 && stamp >= 0.0 && capture + stamp < 0.4 / fps,
            || format!("jitter of {capture} and {stamp} s at {fps} fps"),
            "keep their sum under 0.4 of a frame so that frames stay in order",
        )
    }

    /// Values which would draw nothing sensible, or are not numbers.
    fn check_looks(&self) -> Result<(), SynthError> {
        let Shoe { upper, sole } = self.shoe;
        need(
            within(&self.stance, 0.0, 1.0)
                && within(&[self.floor_luminance, self.shadow], 0.0, 1.0)
                && within(&[upper, sole], 0.0, 100.0)
                && within(&[self.noise.read, self.noise.shot], 0.0, 1.0),
            || "stance, floor_luminance, shadow, shoe or noise out of range".into(),
            "use 0..1 (the shoe: 0..100 times the floor)",
        )?;
        let lamp = self.flicker.is_none_or(|f| {
            within(&[f.amplitude], 0.0, 1.0)
                && within(&[f.hz], 1.0, 1000.0)
                && f.phase_rad.is_finite()
        });
        let hand = self
            .shake
            .is_none_or(|s| within(&[s.amplitude_px], 0.0, 10.0) && within(&[s.hz], 0.0, 100.0));
        need(
            lamp && hand,
            || "flicker or shake out of range".into(),
            "use lamps of 1..1000 Hz and shakes of up to 10 px and 100 Hz",
        )?;
        let walkers = self
            .passers_by
            .iter()
            .map(|p| [p.passes_s, p.speed_m_s, p.depth_m]);
        let balls = self
            .ball
            .iter()
            .map(|b| [b.passes_s, b.speed_m_s, b.depth_m]);
        need(
            walkers
                .chain(balls)
                .all(|values| within(&values, -1e3, 1e3)),
            || "a passer-by or the ball is out of range".into(),
            "use seconds, m/s and metres under 1000",
        )
    }

    fn check_jumps(&self) -> Result<(), SynthError> {
        let body = Body::of_stature(self.stature_m);
        let mut floor_from = f64::NEG_INFINITY;
        for jump in &self.jumps {
            let at = jump.takeoff_s;
            need(
                at.is_finite() && (0.05..=1.2).contains(&jump.flight_s),
                || format!("a flight of {} s from {at} s", jump.flight_s),
                "use flights of 0.05 to 1.2 s",
            )?;
            need(
                at - floor_from >= MIN_CONTACT_S,
                || format!("the jump at {at} s follows too soon on the one before"),
                "leave 0.12 s from a landing to the next take-off, in order of time",
            )?;
            need(
                (0.0..=0.25 * jump.flight_s).contains(&jump.toe_lag_s)
                    && (0.0..0.8).contains(&jump.takeoff_pitch_rad)
                    && (0.0..=0.5).contains(&jump.tuck_m)
                    && within(&jump.left_apart_s, 0.0, 0.12)
                    && jump.landing_shift_px.abs() <= f64::from(MAX_SIDE_PX),
                || format!("toe lag, take-off pitch, tuck, feet or shift of the jump at {at} s"),
                "use a toe lag under a quarter of the flight, 0..0.8 rad, 0..0.5 m, 0..0.12 s, \
                 4096 px",
            )?;
            let least = body.least_drop_m(jump);
            let drop = jump.landing.com_drop_m;
            need(
                (least..=0.35).contains(&drop) && jump.landing.foot_pitch_rad.abs() < 0.8,
                || format!("the landing at {at} s needs a drop from {least:.3} to 0.35 m"),
                "a flatter foot at landing shortens the leg: raise landing.com_drop_m",
            )?;
            floor_from = jump.landing_s();
        }
        for rise in &self.heel_rises {
            let (from, to) = (rise.start_s, rise.start_s + rise.duration_s);
            let clear = |jump: &Jump| to < jump.takeoff_s - 1.2 || from > jump.landing_s() + 1.2;
            need(
                from.is_finite()
                    && (0.2..1e3).contains(&rise.duration_s)
                    && (0.0..0.8).contains(&rise.pitch_rad)
                    && self.jumps.iter().all(clear),
                || format!("the heel rise at {from} s"),
                "make it 0.2 s or longer and keep 1.2 s between it and any jump",
            )?;
        }
        Ok(())
    }
}

fn within(values: &[f64], lo: f64, hi: f64) -> bool {
    values.iter().all(|v| (lo..=hi).contains(v))
}

fn need(
    holds: bool,
    what: impl FnOnce() -> String,
    remedy: &'static str,
) -> Result<(), SynthError> {
    if holds {
        Ok(())
    } else {
        Err(SynthError::Scene {
            what: what(),
            remedy,
        })
    }
}
