//! The statistics of several jumps against published tables and other people's
//! code. Values marked "scipy", "statsmodels" or "pingouin" were printed by
//! scipy 1.17.1, statsmodels 0.15.0 and pingouin 0.7.0.

use underfoot::jump::ClockUncertainty;
use underfoot::trials::companion::{rank_interval, spearman};
use underfoot::trials::components::separate;
use underfoot::trials::plan::{PlannedNoise, Reading, TrialsNeeded, film_error};
use underfoot::trials::reliability::{IccForm, Ratings};
use underfoot::trials::student::{
    chi2_quantile, f_quantile, noncentral_t_above, normal_quantile, t_quantile,
};
use underfoot::trials::trend::{DatedValue, trend};
use underfoot::trials::{
    ChangeOptions, Session, TrialHeight, TypicalError, compare, summarise, typical_error,
};
use underfoot::units::{Metres, Span, StandardUncertainty};

#[track_caller]
fn close(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "got {got}, expected {expected} within {tolerance}"
    );
}

fn m(metres: f64) -> Metres {
    Metres::from_metres(metres)
}

fn trials(readings: &[(f64, f64)]) -> Vec<TrialHeight> {
    let trial =
        |(i, (h, u)): (usize, &(f64, f64))| TrialHeight::new(i, m(*h), StandardUncertainty(m(*u)));
    readings.iter().enumerate().map(trial).collect()
}

fn exact(heights: &[f64]) -> Vec<TrialHeight> {
    trials(&heights.iter().map(|h| (*h, 0.0)).collect::<Vec<_>>())
}

/// Printed tables of Student's t and chi-square (any statistics textbook, from
/// memory), to their last digit.
#[test]
fn quantiles_against_printed_tables() {
    for (p, dof, expected) in [
        (0.975, 1.0, 12.706),
        (0.975, 2.0, 4.303),
        (0.975, 5.0, 2.571),
        (0.975, 10.0, 2.228),
        (0.975, 16.0, 2.120),
        (0.975, 30.0, 2.042),
        (0.975, 120.0, 1.980),
        (0.995, 16.0, 2.921),
        (0.80, 2.0, 1.061),
    ] {
        close(t_quantile(p, dof), expected, 5.01e-4);
        close(t_quantile(1.0 - p, dof), -expected, 5.01e-4);
    }
    for (p, dof, expected) in [
        (0.95, 1.0, 3.841),
        (0.975, 4.0, 11.143),
        (0.025, 4.0, 0.484),
        (0.025, 10.0, 3.247),
        (0.975, 10.0, 20.483),
        (0.025, 29.0, 16.047),
        (0.975, 29.0, 45.722),
    ] {
        close(chi2_quantile(p, dof), expected, 5.01e-4);
    }
    for (p, expected) in [(0.975, 1.960), (0.95, 1.645), (0.995, 2.576), (0.8, 0.842)] {
        close(normal_quantile(p), expected, 5.01e-4);
    }
}

/// The same against scipy, to more digits and for broken degrees of freedom.
#[test]
fn quantiles_against_scipy() {
    let near = |got: f64, expected: f64| close(got / expected, 1.0, 1e-9);
    near(t_quantile(0.975, 1.0), 12.706_204_736_174_694);
    near(t_quantile(0.8, 2.0), 1.060_660_171_779_821_4);
    near(t_quantile(0.975, 16.66), 2.113_100_304_723_839_7);
    near(t_quantile(0.995, 3.0), 5.840_909_309_733_355);
    near(t_quantile(0.8, 120.0), 0.844_626_837_743_131_6);
    near(chi2_quantile(0.025, 1.0), 0.000_982_069_117_175_255_5);
    near(chi2_quantile(0.975, 2.0), 7.377_758_908_227_871);
    near(f_quantile(0.975, 5.0, 18.0), 3.381_967_805_875_243);
    near(f_quantile(0.975, 18.0, 5.0), 6.361_883_204_654_352);
    near(f_quantile(0.975, 5.0, 4.7853), 7.498_353_103_049_657);
    for (t, dof, delta, expected) in [
        (2.1, 3.0, 1.5, 0.375_290_154_106_057_6),
        (2.306, 8.0, 2.0, 0.420_966_400_463_082_54),
        (12.706, 1.0, 3.0, 0.186_110_999_982_874_64),
        (2.0, 38.0, 2.8, 0.786_034_378_460_312_3),
        (-1.0, 5.0, 1.0, 0.969_192_646_739_249_8),
    ] {
        close(noncentral_t_above(t, dof, delta), expected, 1e-8);
    }
}

fn shrout_fleiss() -> Ratings {
    let rows = [
        [9.0, 2.0, 5.0, 8.0],
        [6.0, 1.0, 3.0, 2.0],
        [8.0, 4.0, 6.0, 8.0],
        [7.0, 1.0, 2.0, 6.0],
        [10.0, 5.0, 6.0, 9.0],
        [6.0, 2.0, 4.0, 7.0],
    ];
    Ratings::new(rows.map(|row| row.to_vec()).to_vec()).unwrap()
}

/// Shrout and Fleiss 1979, "Intraclass correlations: uses in assessing rater
/// reliability", Psychol Bull 86:420, table 2 and the coefficients from it;
/// intervals by pingouin, which prints (2,1) and (3,1) as (A,1) and (C,1).
#[test]
fn shrout_and_fleiss_all_six() {
    let table = shrout_fleiss();
    let squares = table.mean_squares();
    close(squares.between, 11.24167, 5e-6);
    close(squares.within, 6.26389, 5e-6);
    close(squares.columns, 32.48611, 5e-6);
    close(squares.error, 1.01944, 5e-6);
    for (form, value, lo, hi) in [
        (IccForm::OneOne, 0.165_741_77, -0.132_932_32, 0.722_560_06),
        (IccForm::TwoOne, 0.289_763_78, 0.018_786_51, 0.761_084_37),
        (IccForm::ThreeOne, 0.714_840_71, 0.342_464_77, 0.945_858_26),
        (IccForm::OneK, 0.442_797_13, -0.884_442_16, 0.912_415_42),
        (IccForm::TwoK, 0.620_050_55, 0.071_136_82, 0.927_232_04),
        (IccForm::ThreeK, 0.909_315_54, 0.675_674_71, 0.985_891_68),
    ] {
        let icc = table.icc(form).unwrap();
        let interval = icc.interval95.unwrap();
        println!(
            "{} {:.6} ({:.6} to {:.6})",
            form.label(),
            icc.value,
            interval.lo,
            interval.hi
        );
        close(icc.value, value, 6e-9);
        close(interval.lo, lo, 6e-9);
        close(interval.hi, hi, 6e-9);
    }
}

/// Hopkins 2000, "Measures of reliability in sports medicine and science",
/// Sports Med 30:1: five athletes, two trials; typical error printed as 2.9.
#[test]
fn hopkins_worked_data() {
    let first = [62.0, 78.0, 81.0, 55.0, 66.0];
    let second = [67.0, 76.0, 87.0, 55.0, 63.0];
    let rows = first.iter().zip(second).map(|(a, b)| vec![*a, b]).collect();
    let table = Ratings::new(rows).unwrap();
    let error = table.typical_error().unwrap();
    println!("{error:?}");
    close(error.typical_error, 2.8896, 5e-5);
    close(error.typical_error * 2f64.sqrt(), 4.0866, 5e-5);
    close(error.drift, 1.2, 1e-12);
    close(error.dof, 4.0, 0.0);
    close(error.interval95.lo, 1.731, 5e-4);
    close(error.interval95.hi, 8.304, 1e-3);
    close(100.0 * error.cv, 4.19, 5e-3);
    close(100.0 * error.log_cv.unwrap(), 4.08, 5e-3);
    close(error.detectable, 8.0097, 5e-5);
    close(table.icc(IccForm::ThreeOne).unwrap().value, 0.938_399, 5e-7);
    let interval = table.icc(IccForm::TwoOne).unwrap().interval95.unwrap();
    // pingouin
    close(interval.lo, 0.625_515_91, 6e-9);
    close(interval.hi, 0.994_044_13, 6e-9);
}

/// Mean, scatter and their intervals; scipy `t.interval` and `chi2.ppf`.
#[test]
fn a_day_against_scipy() {
    let day = summarise(&exact(&[0.312, 0.331, 0.298, 0.340])).unwrap();
    close(day.mean.metres(), 0.32025, 1e-15);
    let interval = day.mean_interval95.unwrap();
    close(interval.lo.metres(), 0.290_216_321_619_961_14, 1e-10);
    close(interval.hi.metres(), 0.350_283_678_380_038_93, 1e-10);
    close(
        day.typical_error.unwrap().sd.metres(),
        0.018_874_586_088_176_89,
        1e-15,
    );
    assert_eq!((day.best.metres(), day.best_order), (0.340, 3));
}

/// scipy `ttest_ind(..., equal_var=False)` with its confidence interval.
#[test]
fn two_sessions_against_welch() {
    let before = exact(&[0.312, 0.316, 0.309, 0.317, 0.321]);
    let after = exact(&[0.336, 0.343, 0.329]);
    let baseline = [Session {
        day: 0.0,
        trials: &before,
    }];
    let today = Session {
        day: 9.0,
        trials: &after,
    };
    let change = compare(&baseline, &today, &ChangeOptions::default()).unwrap();
    let interval = change.interval95.unwrap();
    close(change.dof.unwrap(), 3.084_777_625_034_971, 1e-9);
    close(interval.lo.metres(), 0.006_766_253_167_511_119, 1e-9);
    close(interval.hi.metres(), 0.035_233_746_832_488_92, 1e-9);
    close(
        change.p_higher.unwrap(),
        1.0 - 0.017_916_972_655_961_053 / 2.0,
        1e-9,
    );
}

/// Weir 2005, "Quantifying test-retest reliability using the intraclass
/// correlation coefficient and the SEM", J Strength Cond Res 19:231: minimal
/// difference 1.96 √2 SEM. A CV of 5 % at 40 cm makes it 5.54 cm, and 3.20 cm
/// for means of three.
#[test]
fn detectable_change_of_single_trials_and_of_means() {
    let options = ChangeOptions {
        typical_error: Some(TypicalError::new(m(0.02), f64::INFINITY).unwrap()),
        ..ChangeOptions::default()
    };
    for (n, expected_cm) in [(1, 5.54), (3, 3.20)] {
        let day = exact(&vec![0.4; n]);
        let session = Session {
            day: 0.0,
            trials: &day,
        };
        let change = compare(&[session], &session, &options).unwrap();
        close(change.detectable.unwrap().centimetres(), expected_cm, 5e-3);
    }
}

/// statsmodels `combine_effects(method_re="iterated")` gives the Paule–Mandel
/// variance; the interval by solving Viechtbauer's 2007 Q-profile with scipy
/// `brentq`.
#[test]
fn variance_components_against_statsmodels() {
    let day = trials(&[
        (0.312, 0.004),
        (0.331, 0.008),
        (0.298, 0.004),
        (0.340, 0.012),
        (0.322, 0.008),
        (0.305, 0.004),
        (0.351, 0.008),
    ]);
    let parts = separate(&[Session {
        day: 0.0,
        trials: &day,
    }])
    .unwrap();
    println!("{parts:?}");
    close(
        parts.athlete_sd.metres().powi(2),
        0.000_317_598_821_061_314_4,
        1e-11,
    );
    close(
        parts.athlete_sd_interval95.lo.metres(),
        0.010_221_832_475_711_538,
        1e-9,
    );
    close(
        parts.athlete_sd_interval95.hi.metres(),
        0.041_619_933_389_351_3,
        1e-9,
    );
}

fn series(days: &[f64], values: &[f64]) -> Vec<DatedValue> {
    days.iter()
        .zip(values)
        .map(|(day, value)| DatedValue {
            day: *day,
            value: *value,
        })
        .collect()
}

/// scipy `theilslopes` and `kendalltau`: twelve sessions with two odd ones;
/// ties in days and values; five and six days.
#[test]
fn trends_against_scipy() {
    let days = [
        0.0, 3.0, 7.0, 14.0, 16.0, 21.0, 28.0, 35.0, 41.0, 49.0, 56.0, 63.0,
    ];
    let cm = [
        31.2, 31.0, 32.1, 31.6, 29.0, 32.4, 32.2, 33.1, 32.9, 33.0, 36.5, 33.8,
    ];
    let tied_days = [0.0, 0.0, 7.0, 7.0, 14.0, 21.0, 28.0, 28.0, 35.0];
    let tied_cm = [30.0, 31.0, 31.0, 31.0, 32.0, 30.0, 33.0, 32.0, 33.0];
    let (five, six) = ([1.0, 2.0, 4.0, 3.0, 6.0], [1.0, 2.0, 4.0, 5.0, 6.5, 9.0]);
    let count = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0];
    for (points, slope, intercept, lo, hi) in [
        (
            series(&days, &cm),
            0.046_190_476_190_476_09,
            31.168_333_333_333_333,
            0.028_571_428_571_428_723,
            0.094_642_857_142_857_15,
        ),
        (
            series(&tied_days, &tied_cm),
            0.071_428_571_428_571_42,
            30.0,
            0.0,
            0.142_857_142_857_142_85,
        ),
        (series(&count, &five), 1.125, 0.75, -1.0, 3.0),
        (series(&count, &six), 1.5, 0.75, 1.0, 2.0),
    ] {
        let line = trend(&points).unwrap();
        let interval = line.slope_interval95.unwrap();
        println!(
            "slope {} ({} to {})",
            line.slope_per_day, interval.lo, interval.hi
        );
        close(line.slope_per_day, slope, 1e-12);
        close(line.intercept, intercept, 1e-12);
        close(interval.lo, lo, 1e-12);
        close(interval.hi, hi, 1e-12);
    }
    let line = trend(&series(&days, &cm)).unwrap();
    close(line.tau, 0.696_969_696_969_696_9, 1e-12);
    close(line.residual_sd, 0.343_468_999_999_995_75, 1e-12);
    let tied = trend(&series(&tied_days, &tied_cm)).unwrap();
    close(tied.tau, 0.635_641_726_163_728_2, 1e-12);
}

/// scipy `spearmanr`; the interval is Bonett and Wright's 2000 formula worked
/// with numpy.
#[test]
fn rank_correlation_against_scipy() {
    let jump = [
        31.2, 30.1, 32.5, 33.0, 31.9, 32.8, 30.7, 33.5, 32.2, 31.5, 34.0,
    ];
    let throw = [
        18.1, 17.6, 18.9, 18.4, 18.2, 19.3, 17.9, 18.8, 18.4, 18.6, 19.0,
    ];
    let r = spearman(&jump, &throw).unwrap();
    let interval = rank_interval(r, jump.len());
    close(r, 0.815_491_865_164_987_4, 1e-12);
    close(interval.lo, 0.330_423_130_325_683_4, 1e-9);
    close(interval.hi, 0.959_780_270_254_141_6, 1e-9);
}

/// statsmodels `TTestIndPower().power` and `.solve_power` (rounded up), effect
/// in standard deviations of one trial, two-sided 5 %.
#[test]
fn power_against_statsmodels() {
    let noise = PlannedNoise {
        trial_sd: m(0.02),
        day_sd: m(0.0),
    };
    for (effect, n, expected) in [
        (0.5, 10, 0.185_095_656_291_166_06),
        (1.0, 17, 0.807_036_715_147_219_6),
        (1.0, 5, 0.286_295_493_380_597_57),
        (2.0, 3, 0.462_640_811_891_306_35),
        (1.5, 8, 0.796_545_010_133_603_5),
        (0.8, 26, 0.807_486_615_146_527_9),
    ] {
        close(noise.power(m(0.02 * effect), n), expected, 1e-7);
    }
    for (effect, n) in [(0.8, 26), (1.0, 17), (1.2, 12), (1.5, 9), (2.0, 6)] {
        let needed = noise.trials_to_see(m(0.02 * effect), 0.8).unwrap();
        assert_eq!(needed, TrialsNeeded::PerSession(n), "{effect}");
        let seen = noise.seen_with(n, 0.8).unwrap().metres();
        close(noise.power(m(seen), n), 0.8, 1e-6);
        let one_fewer = noise.seen_with(n - 1, 0.8).unwrap().metres();
        assert!(seen <= 0.02 * effect && 0.02 * effect < one_fewer);
    }
    // 63.8 in statsmodels.
    let needed = noise.trials_to_see(m(0.01), 0.8).unwrap();
    assert_eq!(needed, TrialsNeeded::MoreThan(30));
}

/// Two uniform edges give u(T) = 1/(f √6) and bounds T ± 1/f: at half a second
/// of flight (h 0.306458 m) the figures of docs/method.md, worked by hand.
#[test]
fn film_error_of_whole_frames_by_hand() {
    let clock = ClockUncertainty::new(0.0, Span::default()).unwrap();
    for (rate, lo_cm, hi_cm, u_cm) in [
        (60.0, 28.637, 32.723, 0.834),
        (120.0, 29.633, 31.676, 0.417),
        (240.0, 30.137, 31.159, 0.2085),
    ] {
        let film = film_error(m(0.306_457_8), rate, Reading::WholeFrames, clock).unwrap();
        close(film.bounds.lo().centimetres(), lo_cm, 1e-3);
        close(film.bounds.hi().centimetres(), hi_cm, 1e-3);
        close(film.u.0.centimetres(), u_cm, 5e-4);
    }
}

/// Pooled typical error of two sessions: by hand, squares 2·1² and 2·2² cm² on
/// 2 + 2 degrees of freedom.
#[test]
fn pooled_typical_error_by_hand() {
    let (a, b) = (exact(&[0.30, 0.31, 0.32]), exact(&[0.33, 0.35, 0.37]));
    let sessions = [
        Session {
            day: 0.0,
            trials: &a,
        },
        Session {
            day: 2.0,
            trials: &b,
        },
    ];
    let pooled = typical_error(&sessions).unwrap();
    close(pooled.sd.centimetres(), 2.5f64.sqrt(), 1e-9);
    // Interval by the printed chi-square table, 4 degrees of freedom.
    close(
        pooled.interval95.lo.centimetres(),
        (10.0 / 11.143f64).sqrt(),
        1e-4,
    );
    close(
        pooled.interval95.hi.centimetres(),
        (10.0 / 0.4844f64).sqrt(),
        1e-3,
    );
}
