//! Heights, times and gravity against figures from outside this program.
//!
//! Where a check says "arithmetic", its figures were worked out separately from
//! the stated formula: it guards the code, not the source.

use underfoot::jump::gravity::{Gravity, STANDARD_GRAVITY};
use underfoot::jump::height::{
    flight_time, height, height_per_time, read_height, takeoff_speed, true_height,
};
use underfoot::jump::{ClockUncertainty, Conditions, Event, Flight, HeightResult};
use underfoot::units::{Acceleration, CaptureTime, Metres, Span};

#[track_caller]
fn close(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "got {got}, expected {expected} within {tolerance}"
    );
}

fn g(value: f64) -> Acceleration {
    Acceleration::from_metres_per_second_squared(value)
}

fn m(value: f64) -> Metres {
    Metres::from_metres(value)
}

fn s(value: f64) -> Span {
    Span::from_seconds(value)
}

/// Linthorne 2001, "Analysis of standing vertical jumps using a force
/// platform", Am J Phys 69:1198: h = g T²/8 and its relatives. Arithmetic.
#[test]
fn height_time_and_speed_belong_together() {
    for (time, expected) in [
        (0.400, 0.196133),
        (0.500, 0.306458),
        (0.550, 0.370814),
        (0.600, 0.441299),
    ] {
        close(height(s(time), STANDARD_GRAVITY).metres(), expected, 5e-7);
    }
    for (rise, expected) in [
        (0.20, 0.403924),
        (0.30, 0.494704),
        (0.40, 0.571235),
        (0.50, 0.638660),
    ] {
        close(
            flight_time(m(rise), STANDARD_GRAVITY).seconds(),
            expected,
            5e-7,
        );
    }
    let speed = takeoff_speed(s(0.5), STANDARD_GRAVITY);
    close(speed.metres_per_second(), 2.451662, 1e-6);
}

/// A centimetre in milliseconds of flight. Arithmetic.
#[test]
fn a_centimetre_is_about_eight_milliseconds() {
    for (time, slope, centimetre_ms) in [(0.5, 1.22583, 8.158), (0.55, 1.34841, 7.416)] {
        let got = height_per_time(s(time), STANDARD_GRAVITY).metres_per_second();
        close(got, slope, 5e-6);
        close(10.0 / got, centimetre_ms, 5e-4);
        let step = 1e-6;
        let numerical = (height(s(time + step), STANDARD_GRAVITY)
            - height(s(time - step), STANDARD_GRAVITY))
        .metres()
            / (2.0 * step);
        close(got, numerical, 1e-8);
    }
}

/// The landing posture formula. Arithmetic.
#[test]
fn a_lower_landing_reads_too_high() {
    for (rise, lowering, read) in [
        (0.40, 0.053, 0.42609),
        (0.30, 0.02, 0.30992),
        (0.30, -0.01, 0.29498),
    ] {
        close(
            read_height(m(rise), m(lowering)).unwrap().metres(),
            read,
            5e-6,
        );
        close(
            true_height(m(read), m(lowering)).unwrap().metres(),
            rise,
            6e-6,
        );
    }
}

/// Yamashita and others 2020, Appl Sci 10:776: in 27 athletes jumping with arm
/// swing the centre of mass was 0.053 m lower at landing, and flight time read
/// 0.025 m too high. Both printed to the millimetre, so the formula is held to
/// a millimetre and a half over the heights such athletes jump.
#[test]
fn yamashita_2020_posture_is_reproduced() {
    for rise in [0.35, 0.40, 0.45, 0.50] {
        let read = read_height(m(rise), m(0.053)).unwrap().metres();
        close(read - rise, 0.025, 0.0015);
    }
}

/// 3rd CGPM 1901: 980.665 cm/s².
#[test]
fn standard_gravity_is_that_of_the_cgpm() {
    let value = Gravity::standard().value().metres_per_second_squared();
    assert_eq!(value * 100.0, 980.665);
}

/// Somigliana's formula on the WGS84 ellipsoid. WGS84 also publishes γp =
/// 9.8321849378 at the pole (report NIMA TR8350.2, its number from memory),
/// which is not among the formula's constants and so checks them. The latitudes
/// between are arithmetic.
#[test]
fn normal_gravity_follows_wgs84() {
    let at = |latitude_deg: f64| {
        let gravity = Gravity::at_latitude(latitude_deg, 0.0).unwrap();
        gravity.value().metres_per_second_squared()
    };
    close(at(90.0), 9.832_184_937_8, 1e-9);
    for (latitude_deg, expected) in [
        (0.0, 9.780_325_336),
        (30.0, 9.793_247_269),
        (45.0, 9.806_197_769),
        (60.0, 9.819_176_953),
        (90.0, 9.832_184_938),
    ] {
        close(at(latitude_deg), expected, 1e-9);
        close(at(-latitude_deg), expected, 1e-9);
    }
    // GRS80, an ellipsoid of its own (γe 9.7803267715, γp 9.8321863685), lies
    // 1.4e-6 m/s² higher throughout.
    for (latitude_deg, grs80) in [
        (0.0, 9.780_326_771_5),
        (45.0, 9.806_199_202),
        (90.0, 9.832_186_368),
    ] {
        close(grs80 - at(latitude_deg), 1.433e-6, 5e-9);
    }
}

/// Free-air gradient, 0.3086 mGal per metre (1 mGal = 1e-5 m/s²).
#[test]
fn gravity_weakens_with_altitude() {
    let at = |altitude_m: f64| {
        let gravity = Gravity::at_latitude(45.0, altitude_m).unwrap();
        gravity.value().metres_per_second_squared()
    };
    close(at(1000.0) - at(0.0), -0.003086, 1e-12);
    close((at(1000.0) / at(0.0) - 1.0) * 100.0, -0.0315, 5e-5);
}

/// Why a constant serves: the Earth spans 1.6 mm at half a second. Arithmetic.
#[test]
fn the_place_matters_by_millimetres() {
    let at = |latitude_deg: f64| {
        let gravity = Gravity::at_latitude(latitude_deg, 0.0).unwrap();
        height(s(0.5), gravity.value()).metres()
    };
    close(at(0.0), 0.305635, 5e-7);
    close(at(90.0), 0.307256, 5e-7);
    let rounded = height(s(0.5), g(9.81)) / height(s(0.5), STANDARD_GRAVITY).metres();
    close((rounded.metres() - 1.0) * 100.0, 0.0342, 5e-5);
}

/// A flight of 0.5 s seen in whole frames, best case of the phase.
fn flight_at(frames_per_second: f64) -> Flight {
    let frame = 1.0 / frames_per_second;
    let event = |at: f64| {
        let time = CaptureTime::from_seconds;
        Event::between_frames(time(at - frame / 2.0), time(at + frame / 2.0)).unwrap()
    };
    Flight::new(event(1.0), event(1.5)).unwrap()
}

fn exact_clock() -> Conditions {
    let clock = ClockUncertainty::new(0.0, Span::default()).unwrap();
    Conditions::new(clock, Gravity::standard())
}

/// Bounds and standard uncertainty of 0.5 s at usual frame rates: T ± 1/f, and
/// g T/4 · 1/(f √6) for two rectangular errors (JCGM 100:2008, 4.3, from
/// memory). Arithmetic.
#[test]
fn bounds_and_uncertainty_at_usual_frame_rates() {
    for (rate, lo_cm, hi_cm, u_cm) in [
        (30.0, 26.696, 34.868, 1.668),
        (60.0, 28.637, 32.723, 0.834),
        (120.0, 29.633, 31.676, 0.417),
        (240.0, 30.137, 31.159, 0.2085),
        (1000.0, 30.523, 30.768, 0.050),
    ] {
        let result = HeightResult::of(&flight_at(rate), &exact_clock());
        close(result.bounds.lo().centimetres(), lo_cm, 6e-4);
        close(result.bounds.hi().centimetres(), hi_cm, 6e-4);
        let frames = result.budget.first().unwrap();
        close(frames.u_height.0.centimetres(), u_cm, 5e-4);
        close(result.height.centimetres(), 30.6458, 1e-4);
        // 0.7764 of a frame either way holds 95 % of a triangle.
        let time = result.flight_time_interval95;
        let half = (time.hi - time.lo).seconds() / 2.0;
        close(half * rate, 0.7764, 5e-5);
        println!(
            "{rate:6.0} fps: bounds {:.3} to {:.3} cm, u(h) frames {:.4} cm, all {:.4} cm, \
             95 % {:.3} to {:.3} cm, half-width of T {:.6} frames",
            result.bounds.lo().centimetres(),
            result.bounds.hi().centimetres(),
            frames.u_height.0.centimetres(),
            result.u.0.centimetres(),
            result.interval95.lo.centimetres(),
            result.interval95.hi.centimetres(),
            half * rate
        );
    }
}

/// Whole frames read too high by g/(48 f²) on average, because h grows with the
/// square of T: the exact mean over all phases of the frames.
#[test]
fn whole_frames_read_a_trifle_high() {
    for (rate, expected_mm) in [(30.0, 0.227), (60.0, 0.057)] {
        let frame = 1.0 / rate;
        let truth = height(s(0.5), STANDARD_GRAVITY).metres();
        // Both edges uniform within a frame, on a fine even grid of phases.
        let n = 400;
        let mut sum = 0.0;
        for i in 0..n {
            for j in 0..n {
                let edge = |k: i32| (f64::from(k) + 0.5) / f64::from(n) - 0.5;
                let read = s(0.5 + frame * (edge(i) - edge(j)));
                sum += height(read, STANDARD_GRAVITY).metres();
            }
        }
        let bias = sum / f64::from(n * n) - truth;
        close(bias * 1000.0, expected_mm, 5e-4);
        close(bias, 9.80665 / (48.0 * rate * rate), 1e-8);
        println!("{rate} fps: mean excess {:.4} mm", bias * 1000.0);
    }
}

/// 30 frames per second is often 30000/1001: 15 frames are 0.5005 s. Arithmetic.
#[test]
fn thirty_is_not_quite_thirty() {
    let ntsc = 15.0 * 1001.0 / 30000.0;
    close(ntsc, 0.5005, 1e-12);
    close(height(s(ntsc), STANDARD_GRAVITY).metres(), 0.307071, 5e-7);
    // A 240 clip played at 30: eight times as long, 64 times as high.
    close(height(s(4.0), STANDARD_GRAVITY).metres(), 19.6, 0.02);
}
