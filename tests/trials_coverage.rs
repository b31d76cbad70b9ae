//! Do the intervals of changes and of the athlete's own variation hold the
//! truth as often as they say? Simulated athletes whose truth is known, filmed
//! with whole-frame errors.

#[path = "support/draws.rs"]
mod draws;

use draws::Draws;
use underfoot::trials::companion::{rank_interval, spearman};
use underfoot::trials::components::separate;
use underfoot::trials::plan::PlannedNoise;
use underfoot::trials::squad::{Member, squad};
use underfoot::trials::trend::{DatedValue, trend};
use underfoot::trials::{
    Change, ChangeOptions, ChangeWarning, DayToDay, Reference, Session, SharedErrors, TrialHeight,
    TypicalError, Verdict, compare,
};
use underfoot::units::{Metres, StandardUncertainty};

impl Draws {
    /// A triangular error of unit standard deviation: two whole-frame edges.
    fn triangular(&mut self) -> f64 {
        6f64.sqrt() * (self.unit() - self.unit())
    }
}

/// An athlete and the camera, in metres.
#[derive(Clone, Copy)]
struct World {
    trial_sd: f64,
    film_u: f64,
    day_sd: f64,
}

impl World {
    fn day(&self, draws: &mut Draws, height: f64, n: usize) -> Vec<TrialHeight> {
        let today = height + self.day_sd * draws.normal();
        (0..n)
            .map(|i| {
                let own = self.trial_sd * draws.normal();
                trial(
                    i,
                    today + own + self.film_u * draws.triangular(),
                    self.film_u,
                )
            })
            .collect()
    }

    /// A change from 0.35 m by `rise`.
    fn change(
        &self,
        draws: &mut Draws,
        rise: f64,
        (sessions, n, today): (usize, usize, usize),
        options: &ChangeOptions,
    ) -> Change {
        let days: Vec<Vec<TrialHeight>> = (0..sessions).map(|_| self.day(draws, 0.35, n)).collect();
        let last = self.day(draws, 0.35 + rise, today);
        let baseline: Vec<Session> = days.iter().map(|trials| session(trials)).collect();
        compare(&baseline, &session(&last), options).unwrap()
    }
}

fn m(metres: f64) -> Metres {
    Metres::from_metres(metres)
}

fn trial(order: usize, height: f64, film_u: f64) -> TrialHeight {
    TrialHeight::new(order, m(height), StandardUncertainty(m(film_u)))
}

fn exact(heights: &[f64]) -> Vec<TrialHeight> {
    heights
        .iter()
        .enumerate()
        .map(|(i, h)| trial(i, *h, 0.0))
        .collect()
}

fn session(trials: &[TrialHeight]) -> Session<'_> {
    Session { day: 0.0, trials }
}

/// Share of `runs` of which something holds.
fn share(runs: usize, mut holds: impl FnMut() -> bool) -> f64 {
    (0..runs).filter(|_| holds()).count() as f64 / runs as f64
}

const RUNS: usize = 4000;

/// Four standard deviations of a share of 0.95 over [`RUNS`].
const CHANCE: f64 = 0.014;

#[test]
fn change_intervals_hold_the_truth() {
    let own = |day_sd: f64| World {
        trial_sd: 0.012,
        film_u: 0.008,
        day_sd,
    };
    let coarse = World {
        trial_sd: 0.003,
        film_u: 0.012,
        day_sd: 0.0,
    };
    // World, sessions and trials, highest share allowed. Welch's interval is
    // known to hold more for tiny sessions and a little less for unequal ones;
    // what must be there anyhow adds to it where it is nearly all there is.
    for (name, world, shape, most) in [
        ("4 and 4 trials", own(0.0), (1, 4, 4), 0.97),
        ("2 and 2 trials", own(0.0), (1, 2, 2), 0.99),
        ("3 and 8 trials", own(0.0), (1, 3, 8), 0.975),
        ("two sessions of 3, then 5", own(0.0), (2, 3, 5), 0.975),
        ("film error most", coarse, (1, 4, 4), 0.98),
        ("5 sessions, days vary", own(0.010), (5, 3, 3), 0.975),
        ("3 sessions, fewer today", own(0.010), (3, 6, 2), 0.985),
        ("8 sessions, more today", own(0.010), (8, 2, 5), 0.985),
        ("5 sessions, days do not vary", own(0.0), (5, 3, 3), 0.99),
    ] {
        let mut draws = Draws(41);
        let covered = share(RUNS, || {
            let change = world.change(&mut draws, 0.02, shape, &ChangeOptions::default());
            change.interval95.unwrap().contains(m(0.02))
        });
        println!("{name}: {covered:.4}");
        assert!(
            covered > 0.95 - CHANCE && covered <= most,
            "{name}: {covered}"
        );
    }
}

#[test]
fn days_left_out_are_days_missed_and_the_warning_says_so() {
    let world = World {
        trial_sd: 0.012,
        film_u: 0.004,
        day_sd: 0.015,
    };
    let known = ChangeOptions {
        day_to_day: DayToDay::Known(TypicalError::new(m(0.015), f64::INFINITY).unwrap()),
        ..ChangeOptions::default()
    };
    let coverage = |options: &ChangeOptions, warned: bool| {
        let mut draws = Draws(5);
        share(RUNS, || {
            let change = world.change(&mut draws, 0.0, (1, 4, 4), options);
            let found = change.warnings.contains(&ChangeWarning::DayToDayLeftOut);
            assert_eq!(found, warned);
            change.interval95.unwrap().contains(m(0.0))
        })
    };
    let (without, with) = (
        coverage(&ChangeOptions::default(), true),
        coverage(&known, false),
    );
    println!("one baseline day, days vary: left out {without:.4}, known {with:.4}");
    assert!(without < 0.8, "{without}");
    assert!((with - 0.95).abs() < CHANCE, "{with}");
}

#[test]
fn athlete_variation_intervals_hold_the_truth() {
    for (name, trial_sd, sessions, n) in [
        ("one session of 8", 0.012, 1, 8),
        ("five sessions of 3", 0.012, 5, 3),
        ("film error most", 0.004, 6, 4),
        ("no variation at all", 0.0, 6, 4),
    ] {
        let mut draws = Draws(77);
        let mut squares = 0.0;
        let covered = share(RUNS, || {
            let days: Vec<Vec<TrialHeight>> = (0..sessions)
                .map(|_| {
                    (0..n)
                        .map(|i| {
                            // Alternately filmed at 60 and 120 frames per second.
                            let film_u = if i % 2 == 0 { 0.008 } else { 0.004 };
                            let own = trial_sd * draws.normal();
                            trial(i, 0.35 + own + film_u * draws.normal(), film_u)
                        })
                        .collect()
                })
                .collect();
            let list: Vec<Session> = days.iter().map(|trials| session(trials)).collect();
            let parts = separate(&list).unwrap();
            squares += parts.athlete_sd.metres().powi(2) / RUNS as f64;
            let interval = parts.athlete_sd_interval95;
            interval.contains(m(trial_sd)) || (trial_sd == 0.0 && interval.lo == m(0.0))
        });
        println!(
            "{name}: {covered:.4}, mean square estimate {:.5} m",
            squares.sqrt()
        );
        // A truth of 0 can be missed on one side only, and an estimate that
        // cannot be negative is then a little above it on average.
        let zero = trial_sd == 0.0;
        let expected = if zero { 0.975 } else { 0.95 };
        assert!((covered - expected).abs() < CHANCE, "{name}: {covered}");
        let least = if zero { 0.0 } else { 0.93 * trial_sd };
        let most = if zero { 0.0025 } else { 1.07 * trial_sd };
        assert!((least..=most).contains(&squares.sqrt()), "{name}");
    }
}

#[test]
fn planned_power_is_met_by_the_verdict() {
    let world = World {
        trial_sd: 0.012,
        film_u: 0.004,
        day_sd: 0.0,
    };
    let noise = PlannedNoise {
        trial_sd: m(0.012f64.hypot(0.004)),
        day_sd: m(0.0),
    };
    let rise = noise.seen_with(6, 0.8).unwrap();
    let mut draws = Draws(9);
    let mut higher = |rise: f64| {
        share(RUNS, || {
            let change = world.change(&mut draws, rise, (1, 6, 6), &ChangeOptions::default());
            change.verdict == Verdict::Higher
        })
    };
    let (found, false_alarms) = (higher(rise.metres()), higher(0.0));
    println!("rise of {rise:?}: higher in {found:.4}; without a rise in {false_alarms:.4}");
    // Welch's test gives up a little against the plan's equal scatter.
    assert!((found - 0.8).abs() < 0.03, "{found}");
    assert!(false_alarms < 0.032, "{false_alarms}");
}

#[test]
fn trend_intervals_hold_the_truth() {
    let mut draws = Draws(3);
    let covered = share(RUNS, || {
        let points: Vec<DatedValue> = (0..12)
            .map(|week| {
                let day = 7.0 * f64::from(week);
                let odd = if draws.unit() < 0.1 { 0.08 } else { 0.0 };
                DatedValue {
                    day,
                    value: 0.31 + 2e-4 * day + 0.01 * draws.normal() - odd,
                }
            })
            .collect();
        trend(&points)
            .unwrap()
            .slope_interval95
            .unwrap()
            .contains(2e-4)
    });
    println!("trend with one odd day in ten: {covered:.4}");
    assert!(covered > 0.95 - CHANCE && covered < 0.985, "{covered}");
}

/// For normal pairs with correlation ρ the rank correlation of the whole
/// population is (6/π) asin(ρ/2) (Pearson 1907, from memory).
#[test]
fn rank_intervals_hold_the_truth() {
    for (rho, n) in [(0.0, 10), (0.5, 12), (0.8, 20)] {
        let truth = 6.0 / std::f64::consts::PI * (rho / 2.0f64).asin();
        let mut draws = Draws(23);
        let covered = share(RUNS, || {
            let (a, b): (Vec<f64>, Vec<f64>) = (0..n)
                .map(|_| {
                    let x = draws.normal();
                    (x, rho * x + (1.0 - rho * rho).sqrt() * draws.normal())
                })
                .unzip();
            rank_interval(spearman(&a, &b).unwrap(), n).contains(truth)
        });
        println!("rank correlation {truth:.3} on {n} dates: {covered:.4}");
        assert!((covered - 0.95).abs() < 0.02, "{rho} {n}: {covered}");
    }
}

#[test]
fn a_squad_is_sorted_into_rose_fell_not_yet_and_too_few() {
    let before = exact(&[0.310, 0.319, 0.309, 0.316]);
    let (up, down) = (exact(&[0.340, 0.347, 0.339]), exact(&[0.280, 0.287, 0.279]));
    let (same, one) = (exact(&[0.312, 0.319, 0.311]), exact(&[0.5]));
    let base = [session(&before)];
    let member = |name, today| Member {
        name,
        baseline: &base,
        today,
    };
    let alone = Member {
        name: "F",
        baseline: &[session(&one)],
        today: Some(session(&one)),
    };
    let members = [
        member("A", None),
        member("B", Some(session(&same))),
        member("C", Some(session(&down))),
        member("D", Some(session(&up))),
        alone,
    ];
    let table = squad(&members, &ChangeOptions::default()).unwrap();
    let names: Vec<&str> = table.rows.iter().map(|row| row.name.as_str()).collect();
    assert_eq!(names, ["D", "C", "B", "A", "F"]);
    assert_eq!(
        (table.rose, table.fell, table.not_told_apart, table.too_few),
        (1, 1, 1, 2)
    );
    assert!((table.expected_by_chance - 0.15).abs() < 1e-12);
}

#[test]
fn a_bad_day_picked_as_baseline_is_warned_of() {
    let (low, later) = (exact(&[0.255, 0.262, 0.248]), exact(&[0.290, 0.297, 0.284]));
    let options = |mean: f64| ChangeOptions {
        reference: Some(Reference {
            mean: m(mean),
            sd: m(0.03),
        }),
        ..ChangeOptions::default()
    };
    let expected = |mean: f64| {
        let change = compare(&[session(&low)], &session(&later), &options(mean)).unwrap();
        change.warnings.iter().find_map(|warning| match warning {
            ChangeWarning::RegressionToTheMean { expected } => Some(expected.metres()),
            _ => None,
        })
    };
    // Worked by hand: variance of the mean 49e-6/3 against 9e-4 between.
    let noise = 49e-6 / 3.0;
    let by_hand = (0.33 - 0.255) * noise / (noise + 9e-4);
    assert!((expected(0.33).unwrap() - by_hand).abs() < 1e-9);
    assert_eq!(expected(0.27), None);
    assert_eq!(expected(0.20), None);
}

#[test]
fn another_phone_brings_its_clock_error_back() {
    let with_shared = |heights: &[f64]| {
        let mut day = exact(heights);
        for trial in &mut day {
            trial.shared_u = StandardUncertainty(m(0.006));
        }
        day
    };
    let (a, b) = (
        with_shared(&[0.31, 0.32, 0.33]),
        with_shared(&[0.33, 0.34, 0.35]),
    );
    let u = |shared| {
        let options = ChangeOptions {
            shared,
            ..ChangeOptions::default()
        };
        compare(&[session(&a)], &session(&b), &options)
            .unwrap()
            .u
            .unwrap()
            .0
            .metres()
    };
    let (same, other) = (u(SharedErrors::Cancel), u(SharedErrors::Differ));
    assert!((same - 0.01 * (2.0f64 / 3.0).sqrt()).abs() < 1e-12);
    assert!((other - same.hypot(0.006 * 2f64.sqrt())).abs() < 1e-12);
}
