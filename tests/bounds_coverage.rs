//! Does the truth lie where the program says? Simulated jumps, seen by cameras
//! that catch them at any phase, stumble, and drop frames.
//!
//! The camera here is written from the definition alone (a frame shows contact
//! or not); only events and times are handed to the program.

#[path = "support/draws.rs"]
mod draws;

use draws::Draws;
use proptest::prelude::*;
use underfoot::jump::height::height;
use underfoot::jump::shape::{Component, Sum};
use underfoot::jump::{ClockUncertainty, Conditions, Event, Flight, Gravity, HeightResult};
use underfoot::units::{Acceleration, CaptureTime, Metres, Span, StandardUncertainty};

impl Draws {
    fn between(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * self.unit()
    }
}

/// One simulated jump: when it really left and landed, and the frames' times.
struct Scene {
    takeoff_s: f64,
    landing_s: f64,
    frames_s: Vec<f64>,
}

impl Scene {
    fn draw(draws: &mut Draws, rate: f64, jitter: f64, drop_share: f64) -> Self {
        let takeoff_s = 0.3 + draws.between(0.0, 0.2);
        let landing_s = takeoff_s + draws.between(0.25, 0.75);
        let frame = 1.0 / rate;
        let count = (1.8 * rate) as usize;
        let frames_s = (0..count)
            .map(|k| (k as f64 + jitter * draws.between(-0.5, 0.5)) * frame)
            .collect::<Vec<f64>>()
            .into_iter()
            // First and last frames stay, so that each event is bracketed.
            .filter(|t| *t < 0.25 || *t > 1.4 || draws.unit() >= drop_share)
            .collect();
        Self {
            takeoff_s,
            landing_s,
            frames_s,
        }
    }

    /// The last frame before a moment and the first one at or after it.
    fn bracket(&self, moment_s: f64) -> (f64, f64) {
        let after = self.frames_s.partition_point(|t| *t < moment_s);
        (self.frames_s[after - 1], self.frames_s[after])
    }

    fn whole_frames(&self) -> Option<Flight> {
        let event = |moment_s: f64| {
            let (lo, hi) = self.bracket(moment_s);
            Event::between_frames(at(lo), at(hi)).unwrap()
        };
        Flight::new(event(self.takeoff_s), event(self.landing_s)).ok()
    }

    /// Both events fitted, with normal errors of the stated size, kept within
    /// the frames.
    fn fitted(&self, draws: &mut Draws, u_s: f64) -> Option<Flight> {
        let mut event = |moment_s: f64| {
            let (lo, hi) = self.bracket(moment_s);
            let best = (moment_s + u_s * draws.normal()).clamp(lo, hi);
            let u = StandardUncertainty(Span::from_seconds(u_s));
            Event::fitted(at(lo), at(best), at(hi), u).unwrap()
        };
        let takeoff = event(self.takeoff_s);
        Flight::new(takeoff, event(self.landing_s)).ok()
    }

    fn time(&self) -> Span {
        Span::from_seconds(self.landing_s - self.takeoff_s)
    }
}

fn at(seconds: f64) -> CaptureTime {
    CaptureTime::from_seconds(seconds)
}

fn conditions(relative: f64) -> Conditions {
    let clock = ClockUncertainty::new(relative, Span::default()).unwrap();
    Conditions::new(clock, Gravity::standard())
}

/// Share of trials of which something holds.
fn share(trials: usize, mut holds: impl FnMut() -> bool) -> f64 {
    (0..trials).filter(|_| holds()).count() as f64 / trials as f64
}

#[test]
fn the_truth_is_never_outside_the_bounds() {
    let mut draws = Draws(1);
    let mut seen = 0;
    for _ in 0..20_000 {
        let rate = draws.between(24.0, 1000.0);
        let (jitter, drop_share) = (draws.between(0.0, 0.9), draws.between(0.0, 0.3));
        let scene = Scene::draw(&mut draws, rate, jitter, drop_share);
        let Some(flight) = scene.whole_frames() else {
            continue;
        };
        seen += 1;
        let bounds = flight.flight_time_bounds();
        assert!(bounds.contains(scene.time()), "{rate} fps: {bounds:?}");
        assert!(bounds.contains(flight.flight_time()));
        let u_s = draws.between(0.01, 2.0) / rate;
        if let Some(fitted) = scene.fitted(&mut draws, u_s) {
            assert_eq!(fitted.flight_time_bounds(), bounds);
        }
    }
    println!("truth inside the bounds in {seen} of {seen} flights");
    assert!(seen > 19_900);
}

#[test]
fn whole_frames_cover_95_in_100() {
    for (rate, jitter, drop_share, seed) in [
        (24.0, 0.0, 0.0, 11),
        (30.0, 0.3, 0.0, 12),
        (59.94, 0.1, 0.1, 13),
        (240.0, 0.05, 0.02, 14),
        (1000.0, 0.0, 0.0, 15),
    ] {
        let mut draws = Draws(seed);
        let conditions = conditions(0.0);
        let covered = share(3000, || {
            let scene = Scene::draw(&mut draws, rate, jitter, drop_share);
            let flight = scene.whole_frames().unwrap();
            let result = HeightResult::of(&flight, &conditions);
            result.flight_time_interval95.contains(scene.time())
        });
        println!("{rate} fps, whole frames: {:.2} %", 100.0 * covered);
        assert!((covered - 0.95).abs() < 0.015, "{rate} fps: {covered}");
    }
}

#[test]
fn fits_cover_95_in_100() {
    for (rate, u_frames, seed) in [
        (30.0, 0.05, 21),
        (30.0, 0.2, 22),
        (120.0, 0.15, 23),
        (240.0, 0.4, 24),
        (240.0, 1.0, 25),
    ] {
        let mut draws = Draws(seed);
        let conditions = conditions(0.0);
        let covered = share(3000, || {
            let scene = Scene::draw(&mut draws, rate, 0.05, 0.02);
            let flight = scene.fitted(&mut draws, u_frames / rate).unwrap();
            let result = HeightResult::of(&flight, &conditions);
            result.flight_time_interval95.contains(scene.time())
        });
        println!(
            "{rate} fps, fit u {u_frames} frames: {:.2} %",
            100.0 * covered
        );
        assert!(
            (covered - 0.95).abs() < 0.015,
            "{rate} fps, {u_frames}: {covered}"
        );
    }
}

/// Clock, gravity and one unfitted event together, judged on the height.
#[test]
fn heights_cover_95_in_100_with_every_source_at_work() {
    let mut draws = Draws(31);
    let (rate, relative, u_s) = (120.0, 0.004, 0.001);
    let conditions = conditions(relative);
    let covered = share(4000, || {
        let scene = Scene::draw(&mut draws, rate, 0.05, 0.02);
        // The clock's rate is off: every recorded time is stretched alike.
        let stretch = 1.0 + relative * draws.normal();
        let g = 9.80665 + draws.between(-0.0264, 0.0264);
        let truth = height(
            scene.time(),
            Acceleration::from_metres_per_second_squared(g),
        );
        let event = |moment_s: f64| {
            let (lo, hi) = scene.bracket(moment_s);
            (lo * stretch, hi * stretch)
        };
        let (lo, hi) = event(scene.takeoff_s);
        let takeoff = Event::between_frames(at(lo), at(hi)).unwrap();
        let (lo, hi) = event(scene.landing_s);
        let best = (scene.landing_s * stretch + u_s * draws.normal()).clamp(lo, hi);
        let u = StandardUncertainty(Span::from_seconds(u_s));
        let landing = Event::fitted(at(lo), at(best), at(hi), u).unwrap();
        let flight = Flight::new(takeoff, landing).unwrap();
        HeightResult::of(&flight, &conditions)
            .interval95
            .contains(truth)
    });
    println!("every source: {:.2} %", 100.0 * covered);
    assert!((covered - 0.95).abs() < 0.015, "{covered}");
}

prop_compose! {
    /// Any flight: brackets of any width, fitted or not, even overlapping.
    fn any_flight()(
        takeoff_s in 0.0..2.0f64,
        time_s in 0.02..1.2f64,
        widths in prop::array::uniform4(1e-4..0.05f64),
        fits in prop::array::uniform2(prop::option::of(1e-5..0.1f64)),
    ) -> Flight {
        let event = |best: f64, before: f64, after: f64, fit: Option<f64>| match fit {
            None => Event::between_frames(at(best - before), at(best + before)).unwrap(),
            Some(u_s) => Event::fitted(
                at(best - before),
                at(best),
                at(best + after),
                StandardUncertainty(Span::from_seconds(u_s)),
            )
            .unwrap(),
        };
        Flight::new(
            event(takeoff_s, widths[0], widths[1], fits[0]),
            event(takeoff_s + time_s, widths[2], widths[3], fits[1]),
        )
        .unwrap()
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn bounds_and_interval_hold_the_best_estimate(flight in any_flight(), relative in 0.0..0.02f64) {
        let result = HeightResult::of(&flight, &conditions(relative));
        prop_assert!(result.bounds.contains(result.height));
        prop_assert!(result.interval95.contains(result.height));
        prop_assert!(result.flight_time_bounds.contains(result.flight_time));
        prop_assert!(result.flight_time_interval95.contains(result.flight_time));
        prop_assert!(result.interval95.lo >= Metres::default());
    }

    /// With clock and gravity exact but for the standard constant, the interval
    /// keeps inside the bounds widened by their own 95 % interval.
    #[test]
    fn the_interval_keeps_inside_the_widened_bounds(
        flight in any_flight(),
        relative in 0.0..0.02f64,
    ) {
        let result = HeightResult::of(&flight, &conditions(relative));
        let time_s = result.flight_time.seconds();
        let clock = Component::Normal { u: relative * time_s };
        let gravity = Component::Uniform { half_width: time_s * 0.0264 / (2.0 * 9.80665) };
        let slack = 2e-6;
        let (lo, hi) = Sum::of(&[clock, gravity]).interval(0.95);
        let gravity_value = result.gravity.value();
        let widened = |bound: Span, by: f64| height(bound + Span::from_seconds(by), gravity_value);
        let bounds = result.flight_time_bounds;
        prop_assert!(result.interval95.lo >= widened(bounds.lo(), lo - slack));
        prop_assert!(result.interval95.hi <= widened(bounds.hi(), hi + slack));
        // With no clock error at all the time keeps inside the frames' bounds.
        let exact = HeightResult::of(&flight, &conditions(0.0));
        let step = Span::from_seconds(2e-6);
        prop_assert!(exact.flight_time_interval95.lo + step >= bounds.lo());
        prop_assert!(exact.flight_time_interval95.hi - step <= bounds.hi());
    }

    /// Leaving frames out can only widen the bounds.
    #[test]
    fn more_frames_never_widen_the_bounds(seed in any::<u64>(), rate in 24.0..480.0f64) {
        let mut draws = Draws(seed);
        let all = Scene::draw(&mut draws, rate, 0.3, 0.0);
        let fewer = Scene {
            frames_s: all
                .frames_s
                .iter()
                .copied()
                .filter(|t| *t < 0.25 || *t > 1.4 || draws.unit() > 0.4)
                .collect(),
            ..all
        };
        prop_assume!(fewer.frames_s.len() < all.frames_s.len());
        if let (Some(sharp), Some(coarse)) = (all.whole_frames(), fewer.whole_frames()) {
            let (sharp, coarse) = (sharp.flight_time_bounds(), coarse.flight_time_bounds());
            prop_assert!(coarse.lo() <= sharp.lo() && sharp.hi() <= coarse.hi());
        }
    }

    /// A longer flight between the same kind of events is a higher jump, in
    /// every figure.
    #[test]
    fn height_grows_with_time(
        time_s in 0.1..0.9f64,
        more_s in 1e-4..0.2f64,
        frame_s in 1e-3..0.04f64,
    ) {
        let result = |time_s: f64| {
            let event = |best: f64| {
                Event::between_frames(at(best - frame_s / 2.0), at(best + frame_s / 2.0)).unwrap()
            };
            let flight = Flight::new(event(1.0), event(1.0 + time_s)).unwrap();
            HeightResult::of(&flight, &conditions(1e-4))
        };
        let (low, high) = (result(time_s), result(time_s + more_s));
        prop_assert!(high.height > low.height);
        prop_assert!(high.bounds.lo() > low.bounds.lo() && high.bounds.hi() > low.bounds.hi());
        prop_assert!(high.interval95.lo > low.interval95.lo);
        prop_assert!(high.interval95.hi > low.interval95.hi);
        prop_assert!(high.u.0 > low.u.0);
    }

    /// A sharper fit never makes the result less certain.
    #[test]
    fn a_sharper_fit_is_never_less_certain(u_s in 1e-4..0.02f64, sharper in 0.1..0.95f64) {
        let u_of = |u_s: f64| {
            let fit = StandardUncertainty(Span::from_seconds(u_s));
            let event = |best: f64| {
                Event::fitted(at(best - 0.01), at(best), at(best + 0.01), fit).unwrap()
            };
            let flight = Flight::new(event(1.0), event(1.5)).unwrap();
            let result = HeightResult::of(&flight, &conditions(0.0));
            (result.u.0, result.interval95.hi - result.interval95.lo)
        };
        let (sharp, blunt) = (u_of(u_s * sharper), u_of(u_s));
        prop_assert!(sharp.0 <= blunt.0);
        prop_assert!(sharp.1 <= blunt.1);
    }
}
