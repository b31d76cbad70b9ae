//! Agreement with a mat, against published tables and reference programs, and on
//! simulated mats whose fault is known.

#[path = "support/draws.rs"]
mod draws;

use draws::Draws;
use underfoot::trials::mat::agree::{
    Difference, Estimate, LimitsRule, Multiplier, agreement, jumps_needed, repeatability,
};
use underfoot::trials::mat::explain::Explanation;
use underfoot::trials::mat::lines::{deming, ordinary, passing_bablok};
use underfoot::trials::mat::{
    Crosscheck, CrosscheckOptions, FilmFlight, HeightFormula, MatError, MatReading, Pair, Verdict,
    crosscheck,
};
use underfoot::units::{Acceleration, Bounds, Metres, Span, StandardUncertainty};

/// Peak flow in l/min of 17 subjects, Wright meter (first, second) and mini
/// meter (first, second): Bland and Altman 1986, "Statistical methods for
/// assessing agreement between two methods of clinical measurement", Lancet
/// 327:307, table 1.
const WRIGHT: [f64; 17] = [
    494., 395., 516., 434., 476., 557., 413., 442., 650., 433., 417., 656., 267., 478., 178., 423.,
    427.,
];
const WRIGHT_AGAIN: [f64; 17] = [
    490., 397., 512., 401., 470., 611., 415., 431., 638., 429., 420., 633., 275., 492., 165., 372.,
    421.,
];
const MINI: [f64; 17] = [
    512., 430., 520., 428., 500., 600., 364., 380., 658., 445., 432., 626., 260., 477., 259., 350.,
    451.,
];
const MINI_AGAIN: [f64; 17] = [
    525., 415., 508., 444., 500., 625., 460., 390., 642., 432., 420., 605., 227., 467., 268., 370.,
    443.,
];

#[track_caller]
fn close(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "got {got}, expected {expected} within {tolerance}"
    );
}

fn peak_flow() -> Vec<Difference<'static>> {
    const NAMES: &str = "abcdefghijklmnopq";
    (0..17)
        .map(|i| Difference {
            athlete: &NAMES[i..=i],
            value: WRIGHT[i] - MINI[i],
            u_film: 0.0,
        })
        .collect()
}

#[track_caller]
fn ends(got: Estimate<f64>, lo: f64, hi: f64, tolerance: f64) {
    close(got.interval95.lo, lo, tolerance);
    close(got.interval95.hi, hi, tolerance);
}

/// The paper prints −2.1, 38.8, limits −79.7 and 75.5 (these two from memory;
/// it multiplied the rounded 38.8), and the interval −114.3 to −45.1 of the
/// lower limit. The further digits are arithmetic on its table.
#[test]
fn bland_and_altman_1986_peak_flow_by_their_rule() {
    let got = agreement(&peak_flow(), LimitsRule::OF_1986).unwrap();
    println!("1986 rule: {got:?}");
    close(got.mean_difference.value, -2.1, 0.05);
    close(got.mean_difference.value, -2.117647, 1e-6);
    close(got.sd, 38.8, 0.05);
    close(got.sd, 38.765130, 1e-6);
    ends(got.mean_difference, -22.049, 17.814, 5e-4);
    close(got.lower_limit.value, -79.7, 0.1);
    close(got.lower_limit.value, -79.648, 5e-4);
    close(got.upper_limit.value, 75.5, 0.1);
    close(got.upper_limit.value, 75.413, 5e-4);
    ends(got.lower_limit, -114.3, -45.1, 0.15);
    ends(got.lower_limit, -114.170, -45.126, 5e-4);
    ends(got.upper_limit, 40.891, 109.934, 5e-4);
    assert_eq!((got.components, got.mat_alone), (None, None));
}

/// The same table with the normal quantile and the standard error of Bland and
/// Altman 1999, "Measuring agreement in method comparison studies", Stat Methods
/// Med Res 8:135. Arithmetic.
#[test]
fn bland_and_altman_1999_rule_is_the_default() {
    let got = agreement(&peak_flow(), LimitsRule::default()).unwrap();
    assert_eq!(Multiplier::Normal.value(), 1.96);
    close(got.lower_limit.value, -78.097302, 5e-7);
    close(got.upper_limit.value, 73.862007, 5e-7);
    ends(got.lower_limit, -112.853, -43.341, 6e-4);
}

/// Coefficients of repeatability, same paper's definition 2 √(mean d²). Arithmetic.
#[test]
fn repeatability_of_the_two_meters() {
    close(repeatability(&WRIGHT, &WRIGHT_AGAIN).unwrap(), 43.294, 5e-4);
    close(repeatability(&MINI, &MINI_AGAIN).unwrap(), 56.316, 5e-4);
    assert!(repeatability(&[], &[]).is_err());
}

/// Difference on mean, as statsmodels 0.15.0 (Python, OLS) prints it.
#[test]
fn proportional_bias_equals_statsmodels() {
    let difference: Vec<f64> = WRIGHT.iter().zip(MINI).map(|(w, m)| w - m).collect();
    let middle: Vec<f64> = WRIGHT
        .iter()
        .zip(MINI)
        .map(|(w, m)| (w + m) / 2.0)
        .collect();
    let got = ordinary(&middle, &difference, 0.95).unwrap();
    close(got.line.slope.value, 0.02868745, 1e-8);
    close(got.line.intercept.value, -15.0674973, 1e-7);
    close(got.p_slope, 0.74949853, 1e-8);
    close(got.line.slope.lo, -0.15932006, 1e-8);
    close(got.line.slope.hi, 0.21669495, 1e-8);
    close(got.line.intercept.lo, -102.40636241, 1e-6);
    close(got.line.intercept.hi, 72.27136781, 1e-6);
}

/// Ten points whose Deming line the R package SimplyAgree prints with jackknife
/// intervals in its article "Deming Regression": error ratio 4 of x to y, slope
/// 1.00119 (SE 0.1872; 0.5696 to 1.433), intercept −0.08974 (1.7220; −4.0607 to
/// 3.881), 8 degrees of freedom.
#[test]
fn deming_equals_an_r_package() {
    let x = [7., 8.3, 10.5, 9., 5.1, 8.2, 10.2, 10.3, 7.1, 5.9];
    let y = [7.9, 8.2, 9.6, 9., 6.5, 7.3, 10.2, 10.6, 6.3, 5.2];
    let got = deming(&x, &y, 0.25, 0.95).unwrap();
    close(got.slope.value, 1.00119, 5e-6);
    close(got.slope.lo, 0.5696, 5e-5);
    close(got.slope.hi, 1.433, 5e-4);
    close(got.intercept.value, -0.08974, 6e-6);
    close(got.intercept.lo, -4.0607, 5e-5);
    close(got.intercept.hi, 3.881, 5e-4);
    // Half-width over t(0.975; 8) = 2.3060 is the standard error.
    close((got.slope.hi - got.slope.lo) / 2.0 / 2.306004, 0.1872, 5e-5);
}

/// Orthogonal distance regression on the peak flow table, scipy 1.17.1 (its
/// iteration stops at about six digits).
#[test]
fn deming_equals_scipy_odr() {
    for (ratio, slope, intercept) in [
        (1.0, 1.029991, -15.6875),
        (2.0, 1.009433, -6.3857),
        (0.5, 1.050546, -24.9882),
    ] {
        let got = deming(&MINI, &WRIGHT, ratio, 0.95).unwrap();
        close(got.slope.value, slope, 3e-6);
        close(got.intercept.value, intercept, 2e-3);
    }
}

/// Test cases of the R package deming 1.4 (tests/pbtest): Sen's points with a
/// 93 % interval, and six noisy points.
#[test]
fn passing_bablok_equals_an_r_package() {
    let x = [1., 2., 3., 4., 10., 12., 18.];
    let y = [9., 15., 19., 20., 45., 55., 78.];
    let got = passing_bablok(&x, &y, 0.93).unwrap();
    close(got.slope.value, 4.0, 1e-12);
    close(got.intercept.value, 6.0, 1e-12);
    close(got.slope.lo, 26.0 / 7.0, 1e-12);
    close(got.slope.hi, 35.0 / 8.0, 1e-12);

    let x = [1., 2., 3., 4., 5., 6.];
    let y = [2., 1.2, 4.1, 3.5, 6.3, 3.];
    let got = passing_bablok(&x, &y, 0.95).unwrap();
    close(got.slope.value, 1.05, 1e-12);
    close(got.intercept.value, 0.125, 1e-12);
}

/// The peak flow table by a separate program written from the 1983 paper
/// (Python 3.11, numpy 2.4.6). Exchanging the methods must invert the line.
#[test]
fn passing_bablok_on_peak_flow_and_exchanged() {
    let got = passing_bablok(&MINI, &WRIGHT, 0.95).unwrap();
    close(got.slope.value, 0.9391304347826087, 1e-12);
    close(got.slope.lo, 0.7159090909090909, 1e-12);
    close(got.slope.hi, 1.1946308724832215, 1e-12);
    close(got.intercept.value, 22.82608695652172, 1e-9);
    close(got.intercept.lo, -99.08053691275165, 1e-9);
    close(got.intercept.hi, 127.45454545454544, 1e-9);
    let exchanged = passing_bablok(&WRIGHT, &MINI, 0.95).unwrap();
    close(exchanged.slope.value * got.slope.value, 1.0, 1e-12);
    let there = deming(&MINI, &WRIGHT, 0.4, 0.95).unwrap();
    let back = deming(&WRIGHT, &MINI, 2.5, 0.95).unwrap();
    close(there.slope.value * back.slope.value, 1.0, 1e-12);
}

/// Variance components of a balanced set: statsmodels 0.15.0 (Python), mixed
/// model by restricted maximum likelihood: within 0.8953424, between 5.126638,
/// standard error of the mean 1.041642.
#[test]
fn repeated_jumps_split_into_within_and_between() {
    let set = [
        ("a", [3.1, 4.0, 2.2]),
        ("b", [6.5, 5.1, 7.0]),
        ("c", [-1.0, 0.4, 1.1]),
        ("d", [2.0, 3.3, 2.9]),
        ("e", [5.0, 4.1, 6.2]),
    ];
    let differences: Vec<Difference<'_>> = set
        .iter()
        .flat_map(|(athlete, values)| {
            values.iter().map(|value| Difference {
                athlete,
                value: *value,
                u_film: 0.5,
            })
        })
        .collect();
    let got = agreement(&differences, LimitsRule::default()).unwrap();
    let parts = got.components.unwrap();
    close(parts.within_sd.powi(2), 0.8953424, 2e-5);
    close(parts.between_sd.powi(2), 5.126638, 2e-4);
    close(got.sd.powi(2), 0.8953424 + 5.126638, 2e-4);
    close(got.mean_difference.value, 3.46, 1e-12);
    // t(0.975; 4) = 2.776445: five athletes, not fifteen jumps.
    let margin = got.mean_difference.interval95.hi - 3.46;
    close(margin / 2.776445, 1.041642, 2e-5);
    close(got.upper_limit.value, 3.46 + 1.96 * got.sd, 1e-9);
    // The film's known error comes out by variance.
    close(
        got.mat_alone.unwrap().sd.value.powi(2),
        got.sd.powi(2) - 0.25,
        1e-9,
    );
    assert_eq!((got.athletes, got.jumps), (5, 15));
}

/// The intervals hold the truth in about 95 of 100 simulated sets of six
/// athletes with four jumps each, athletes differing by 4 and jumps by 3 units.
#[test]
fn intervals_keep_their_word_under_repeats() {
    let mut draws = Draws(11);
    let sd = (16.0f64 + 9.0).sqrt();
    let (sets, mut mean, mut lower, mut upper) = (2000, 0, 0, 0);
    for _ in 0..sets {
        let names = ["a", "b", "c", "d", "e", "f"];
        let differences: Vec<Difference<'_>> = names
            .iter()
            .flat_map(|athlete| {
                let own = 10.0 + 4.0 * draws.normal();
                [0; 4].map(|_| Difference {
                    athlete,
                    value: own + 3.0 * draws.normal(),
                    u_film: 0.0,
                })
            })
            .collect();
        let got = agreement(&differences, LimitsRule::default()).unwrap();
        let limit = 1.959964 * sd;
        mean += i32::from(got.mean_difference.interval95.contains(10.0));
        lower += i32::from(got.lower_limit.interval95.contains(10.0 - limit));
        upper += i32::from(got.upper_limit.interval95.contains(10.0 + limit));
    }
    let share = |count: i32| 100.0 * f64::from(count) / f64::from(sets);
    println!(
        "repeats, 95 % intervals hold: mean {:.1} %, lower limit {:.1} %, upper limit {:.1} %",
        share(mean),
        share(lower),
        share(upper)
    );
    for count in [mean, lower, upper] {
        assert!((93.0..=98.5).contains(&share(count)), "{}", share(count));
    }
}

/// n from s √(1/n) t and s √(1/n + k²/(2(n−1))) t by trial. Arithmetic:
/// t(0.975; 17) = 2.109816, t(0.975; 16) = 2.119905.
#[test]
fn jumps_for_a_wished_width() {
    let needed = jumps_needed(10.0, 5.0, LimitsRule::default()).unwrap();
    assert_eq!(needed.for_mean, 18);
    assert!(2.109816 / 18f64.sqrt() <= 0.5 && 2.119905 / 17f64.sqrt() > 0.5);
    let wide = |n: f64, t: f64| t * (1.0 / n + 1.96f64.powi(2) / (2.0 * (n - 1.0))).sqrt();
    // t(0.975; 47) = 2.011741, t(0.975; 46) = 2.012896.
    assert_eq!(needed.for_limits, 48);
    assert!(wide(48.0, 2.011741) <= 0.5 && wide(47.0, 2.012896) > 0.5);
    assert!(jumps_needed(0.0, 5.0, LimitsRule::default()).is_err());
    assert!(jumps_needed(1.0, f64::NAN, LimitsRule::default()).is_err());
}

/// What a simulated mat does with a true flight.
#[derive(Clone, Copy)]
enum Fault {
    None,
    Delay(f64),
    Rate(f64),
    /// The switch needs a residual force: it opens early by force/rate at
    /// take-off and closes late by force/rate at landing, where the force rises
    /// in proportion to the speed of landing.
    Threshold {
        take_off_s: f64,
        landing_m: f64,
    },
    AddedHeight(f64),
}

impl Fault {
    fn shown(self, t: f64) -> f64 {
        match self {
            Self::None => t,
            Self::Delay(a) => t + a,
            Self::Rate(b) => t * b,
            Self::Threshold {
                take_off_s,
                landing_m,
            } => t + take_off_s + landing_m / (G * t / 2.0),
            Self::AddedHeight(c) => (t * t + 8.0 * c / G).sqrt(),
        }
    }
}

const G: f64 = 9.80665;

/// A village handball club on the mat: jumps of 15 to 50 cm, filmed at
/// `rate` frames per second; the mat shows whole milliseconds, or millimetres.
fn session(
    fault: Fault,
    jumps: u32,
    rate: f64,
    mat_noise_s: f64,
    heights: bool,
    seed: u64,
) -> Vec<Pair> {
    let mut draws = Draws(seed);
    let frame = 1.0 / rate;
    (0..jumps)
        .map(|order| {
            let truth = 0.35 + 0.29 * f64::from(order % 10) / 9.0 + 0.004 * draws.normal();
            // Take-off and landing each somewhere within a frame.
            let film = truth + frame * (draws.unit() - draws.unit());
            let shown = fault.shown(truth) + mat_noise_s * draws.normal();
            let mat = if heights {
                MatReading::Height {
                    height: Metres::from_metres(
                        (G * shown * shown / 8.0 * 1000.0).round() / 1000.0,
                    ),
                    step: Metres::from_metres(0.001),
                    formula: HeightFormula::default(),
                }
            } else {
                MatReading::Time {
                    time: Span::from_millis((shown * 1000.0).round()),
                    step: Span::from_millis(1.0),
                }
            };
            Pair {
                athlete: format!("player {}", order % 8),
                order: order + 1,
                film: FilmFlight {
                    flight_time: Span::from_seconds(film),
                    bounds: Bounds::between(
                        Span::from_seconds(film - frame),
                        Span::from_seconds(film + frame),
                    ),
                    u: StandardUncertainty(Span::from_seconds(frame / 6f64.sqrt())),
                },
                mat,
            }
        })
        .collect()
}

fn check(pairs: &[Pair]) -> Crosscheck {
    crosscheck(pairs, CrosscheckOptions::default()).unwrap()
}

fn named(got: &Crosscheck) -> Option<Explanation> {
    match got.weighing.as_ref().unwrap().verdict {
        Verdict::Told(one) => Some(one),
        _ => None,
    }
}

/// Share of 100 simulated sets in which an explanation is named, and rightly.
fn recovery(fault: Fault, truth: Explanation, heights: bool) -> (usize, usize) {
    let (mut right, mut wrong) = (0, 0);
    for seed in 0..100 {
        let got = check(&session(fault, 40, 240.0, 0.003, heights, 1000 + seed));
        match named(&got) {
            Some(one) if one == truth => right += 1,
            Some(_) => wrong += 1,
            None => {}
        }
    }
    println!("{truth:?}: right {right}, wrong {wrong}, not told apart or none otherwise");
    (right, wrong)
}

#[test]
fn simulated_mats_are_recovered() {
    for (fault, truth, heights) in [
        (Fault::Delay(0.030), Explanation::ConstantDelay, false),
        (Fault::Delay(-0.025), Explanation::ConstantDelay, false),
        (Fault::Rate(1.06), Explanation::Proportional, false),
        (Fault::Rate(0.95), Explanation::Proportional, true),
        (Fault::AddedHeight(0.06), Explanation::AddedHeight, true),
    ] {
        let (right, wrong) = recovery(fault, truth, heights);
        assert!(
            right >= 90 && wrong <= 5,
            "{truth:?}: {right} right, {wrong} wrong"
        );
    }
}

/// A switch that needs a residual load: with a force that falls and rises at
/// fixed rates it is a delay; where the landing's rate follows its speed it must
/// not be called a wrong clock rate.
#[test]
fn a_threshold_shows_as_a_delay() {
    let fixed = Fault::Threshold {
        take_off_s: 0.025,
        landing_m: 0.0,
    };
    let got = check(&session(fixed, 40, 240.0, 0.003, false, 5));
    assert_eq!(named(&got), Some(Explanation::ConstantDelay));
    let curve = got.correction.unwrap().curve;
    close(curve.delay_s, 0.025, 0.0015);
    let mut called_rate = 0;
    for seed in 0..50 {
        let faster = Fault::Threshold {
            take_off_s: 0.010,
            landing_m: 0.030,
        };
        let got = check(&session(faster, 40, 240.0, 0.003, false, seed));
        called_rate += i32::from(named(&got) == Some(Explanation::Proportional));
        assert!(got.flight_time.mean_difference.interval95.lo > Span::from_millis(10.0));
    }
    assert_eq!(called_rate, 0);
}

/// A mat without fault is not accused, and no correction is offered. The
/// coarse film at 30 frames per second would tilt an ordinary fit.
#[test]
fn a_good_mat_is_left_alone() {
    for rate in [240.0, 30.0] {
        let mut accused = 0;
        let mut corrected = 0;
        for seed in 0..200 {
            let got = check(&session(Fault::None, 30, rate, 0.003, false, 7000 + seed));
            accused += i32::from(named(&got).is_some());
            corrected += i32::from(got.correction.is_some());
            let exact = check(&session(Fault::None, 30, rate, 0.0, false, 7000 + seed));
            assert_eq!(exact.outside, 0);
        }
        println!("good mat at {rate} fps: accused {accused}, corrected {corrected} of 200");
        assert!(accused <= 8 && corrected <= 8, "{accused} {corrected}");
    }
}

/// The film's error is taken out: the mat's own 3 ms come back although the film
/// at 60 frames per second scatters by 6.8 ms.
#[test]
fn the_mats_own_scatter_is_found_behind_the_films() {
    let mut sum = 0.0;
    for seed in 0..100 {
        let got = check(&session(
            Fault::Delay(0.01),
            60,
            60.0,
            0.003,
            false,
            300 + seed,
        ));
        let alone = got.flight_time.mat_alone.unwrap();
        sum += alone.sd.value.seconds().powi(2);
    }
    let sd_ms = 1000.0 * (sum / 100.0).sqrt();
    println!("mat's own scatter: {sd_ms:.2} ms, truth 3.0 and 0.29 of rounding");
    close(sd_ms, 3.0, 0.4);
}

/// The correction brings readings back and refuses what it has not seen.
#[test]
fn the_correction_works_within_its_range_only() {
    let pairs = session(Fault::Delay(0.030), 40, 240.0, 0.003, false, 21);
    let got = check(&pairs);
    let correction = got.correction.unwrap();
    let shown = Span::from_millis(530.0);
    let corrected = correction.apply(shown).unwrap();
    close(corrected.corrected.millis(), 500.0, 1.5);
    assert_eq!(corrected.shown, shown);
    close(corrected.u.0.millis(), 3.0, 1.0);
    let beyond = Span::from_millis(720.0);
    assert!(matches!(
        correction.apply(beyond),
        Err(MatError::OutsideCorrection { .. })
    ));
    println!("{}", got.paragraph);
    for words in [
        "longer than the film",
        "constant switching delay",
        "can be corrected",
    ] {
        assert!(got.paragraph.contains(words), "{}", got.paragraph);
    }
    // 30 ms do not fit between frames 4.2 ms apart.
    assert_eq!(got.outside, 40);
}

/// Every quantity in JSON stands under a key that names its unit.
#[test]
fn json_keys_name_their_units() {
    let got = check(&session(Fault::Delay(0.030), 40, 240.0, 0.003, false, 21));
    let json = serde_json::to_value(&got).unwrap();
    let number = |pointer: &str| json.pointer(pointer).and_then(serde_json::Value::as_f64);
    let mean = got.flight_time.mean_difference.value.seconds();
    assert_eq!(number("/flight_time_s/mean_difference/value"), Some(mean));
    let height = got.height.mean_difference.value.metres();
    assert_eq!(number("/height_m/mean_difference/value"), Some(height));
    assert_eq!(
        number("/jumps/0/film_time_s"),
        Some(got.jumps[0].film_time.seconds())
    );
    for pointer in [
        "/correction/valid_s/lo",
        "/proportionality_s/deming/slope/value",
    ] {
        assert!(number(pointer).is_some(), "{pointer}");
    }
    assert_eq!(json["weighing"]["verdict"]["told"], "constant_delay");
}

/// Jumps all of one height say that the mat is off, not why.
#[test]
fn jumps_of_one_height_do_not_tell_why() {
    let mut draws = Draws(3);
    let mut pairs = session(Fault::None, 20, 240.0, 0.0, false, 9);
    for pair in &mut pairs {
        let truth = 0.5 + 0.003 * draws.normal();
        let near = |offset: f64| Span::from_seconds(truth + offset);
        pair.film.flight_time = near(0.0);
        pair.film.bounds = Bounds::between(near(-0.004), near(0.004));
        pair.mat = MatReading::Time {
            time: Span::from_millis((1000.0 * (truth + 0.02 + 0.003 * draws.normal())).round()),
            step: Span::from_millis(1.0),
        };
    }
    let got = check(&pairs);
    let Verdict::NotToldApart(standing) = &got.weighing.as_ref().unwrap().verdict else {
        panic!("{:?}", got.weighing);
    };
    assert!(standing.contains(&Explanation::ConstantDelay));
    assert!(standing.contains(&Explanation::Proportional));
    assert!(got.paragraph.contains("not told apart"));
}

/// A mat that looks at its switch every 10 ms but prints single milliseconds.
#[test]
fn a_coarse_clock_shows() {
    let mut pairs = session(Fault::Delay(0.01), 30, 240.0, 0.0, false, 4);
    for pair in &mut pairs {
        let MatReading::Time { time, .. } = &mut pair.mat else {
            panic!("times expected");
        };
        *time = Span::from_millis((time.millis() / 10.0).floor() * 10.0 + 3.0);
    }
    let step = check(&pairs).clock_step.unwrap();
    println!("{step:?}");
    close(step.step.millis(), 10.0, 0.1);
    let mut found = 0;
    for seed in 0..200 {
        let got = check(&session(Fault::None, 60, 240.0, 0.003, seed % 2 == 0, seed));
        found += i32::from(got.clock_step.is_some());
    }
    println!("clock steps seen in 200 fine mats: {found}");
    assert!(found <= 2);
}

/// Heights: a mat with a known added height is read by its own formula, so its
/// flight times agree; its heights still differ by what it adds.
#[test]
fn a_known_formula_is_undone_in_time_but_stays_in_height() {
    let mut pairs = session(Fault::AddedHeight(0.05), 24, 240.0, 0.001, true, 8);
    for pair in &mut pairs {
        if let MatReading::Height { formula, .. } = &mut pair.mat {
            formula.added = Metres::from_metres(0.05);
        }
    }
    let got = check(&pairs);
    assert!(got.flight_time.mean_difference.value.abs() < Span::from_millis(1.5));
    close(got.height.mean_difference.value.metres(), 0.05, 0.002);
}

/// Whitmer and others 2015 (J Strength Cond Res 29:877): a mat that averaged
/// 0.629 s where a force plate had 0.524 s would lie outside any film's bounds.
#[test]
fn a_mat_badly_off_is_outside_the_bounds() {
    let pair = Pair {
        athlete: "player 1".to_owned(),
        order: 1,
        film: FilmFlight {
            flight_time: Span::from_seconds(0.524),
            bounds: Bounds::between(Span::from_seconds(0.491), Span::from_seconds(0.557)),
            u: StandardUncertainty(Span::from_seconds(0.0136)),
        },
        mat: MatReading::Time {
            time: Span::from_seconds(0.629),
            step: Span::from_millis(1.0),
        },
    };
    let got = pair.compare(Acceleration::from_metres_per_second_squared(9.81));
    assert!(!got.inside);
    close(got.difference.seconds(), 0.105, 1e-12);
    // One step either way is allowed, and no more.
    let mut edge = pair.clone();
    for (millis, inside) in [(558.0, true), (558.5, false), (490.0, true), (489.5, false)] {
        edge.mat = MatReading::Time {
            time: Span::from_millis(millis),
            step: Span::from_millis(1.0),
        };
        assert_eq!(
            edge.compare(underfoot::jump::gravity::STANDARD_GRAVITY)
                .inside,
            inside,
            "{millis}"
        );
    }
}

#[test]
fn impossible_readings_are_refused() {
    let pairs = session(Fault::None, 12, 240.0, 0.003, false, 2);
    let with = |change: &dyn Fn(&mut Pair)| {
        let mut pairs = pairs.clone();
        change(&mut pairs[3]);
        crosscheck(&pairs, CrosscheckOptions::default()).unwrap_err()
    };
    let time = |millis: f64, step: f64| MatReading::Time {
        time: Span::from_millis(millis),
        step: Span::from_millis(step),
    };
    // Seconds typed as milliseconds.
    let typed = with(&|p| p.mat = time(0.512, 1.0));
    assert!(matches!(typed, MatError::BadReading { order: 4, .. }));
    assert!(typed.remedy().contains("unit"));
    assert!(matches!(
        with(&|p| p.mat = time(f64::NAN, 1.0)),
        MatError::BadReading { .. }
    ));
    assert!(matches!(
        with(&|p| p.mat = time(512.0, 0.0)),
        MatError::BadScale { .. }
    ));
    let film = with(&|p| p.film.flight_time = Span::from_seconds(f64::NAN));
    assert!(matches!(film, MatError::BadFilm { .. }));
    assert!(matches!(
        crosscheck(&pairs[..2], CrosscheckOptions::default()),
        Err(MatError::TooFew { needed: 3, got: 2 })
    ));
    // Three jumps give limits, but neither lines nor explanations.
    let few = check(&pairs[..3]);
    assert!(few.proportionality.is_none() && few.weighing.is_none() && few.correction.is_none());
}
