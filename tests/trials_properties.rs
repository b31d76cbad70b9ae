//! What may never depend on where zero is, in which unit heights are given, or
//! in which order trials come.

use proptest::prelude::*;
use underfoot::trials::components::separate;
use underfoot::trials::trend::{DatedValue, trend};
use underfoot::trials::{ChangeOptions, Session, TrialHeight, Verdict, compare, summarise};
use underfoot::units::{Metres, StandardUncertainty};

fn trial(order: usize, height: f64, film_u: f64) -> TrialHeight {
    let film_u = StandardUncertainty(Metres::from_metres(film_u));
    TrialHeight::new(order, Metres::from_metres(height), film_u)
}

fn session(trials: &[TrialHeight]) -> Session<'_> {
    Session { day: 0.0, trials }
}

fn heights(least: usize) -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((0.1..0.7f64, 0.0005..0.02f64), least..7)
}

fn mapped(readings: &[(f64, f64)], shift: f64, scale: f64) -> Vec<TrialHeight> {
    let map = |(i, (h, u)): (usize, &(f64, f64))| trial(i, scale * h + shift, scale * u);
    readings.iter().enumerate().map(map).collect()
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-6 * a.abs().max(b.abs()) + 1e-12
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn changes_do_not_depend_on_zero_or_unit(
        before in prop::collection::vec(heights(2), 1..5),
        after in heights(2),
        shift in 0.0..2.0f64,
        scale in 0.1..100.0f64,
    ) {
        let run = |shift: f64, scale: f64| {
            let days: Vec<_> = before.iter().map(|day| mapped(day, shift, scale)).collect();
            let today = mapped(&after, shift, scale);
            let list: Vec<Session> = days.iter().map(|trials| session(trials)).collect();
            (
                compare(&list, &session(&today), &ChangeOptions::default()).unwrap(),
                separate(&list).unwrap(),
            )
        };
        let ((plain, parts), (shifted, moved), (scaled, larger)) =
            (run(0.0, 1.0), run(shift, 1.0), run(0.0, scale));
        let interval = plain.interval95.unwrap();
        for (other, parts_there, factor) in [(&shifted, moved, 1.0), (&scaled, larger, scale)] {
            let there = other.interval95.unwrap();
            prop_assert!(near(there.lo.metres(), factor * interval.lo.metres()));
            prop_assert!(near(there.hi.metres(), factor * interval.hi.metres()));
            prop_assert!(near(other.p_higher.unwrap(), plain.p_higher.unwrap()));
            prop_assert_eq!(other.verdict, plain.verdict);
            let sd = factor * parts.athlete_sd.metres();
            prop_assert!((parts_there.athlete_sd.metres() - sd).abs() < 1e-4 * factor);
        }
        // The default smallest worthwhile change goes with the height.
        prop_assert!(near(scaled.p_worthwhile_rise.unwrap(), plain.p_worthwhile_rise.unwrap()));
    }

    #[test]
    fn verdict_interval_and_chance_agree(before in heights(2), after in heights(2)) {
        let (a, b) = (mapped(&before, 0.0, 1.0), mapped(&after, 0.0, 1.0));
        let options = ChangeOptions::default();
        let there = compare(&[session(&a)], &session(&b), &options).unwrap();
        let back = compare(&[session(&b)], &session(&a), &options).unwrap();
        let p = there.p_higher.unwrap();
        prop_assert!(near(p, 1.0 - back.p_higher.unwrap()));
        let expected = if p > 0.975 {
            (Verdict::Higher, Verdict::Lower)
        } else if p < 0.025 {
            (Verdict::Lower, Verdict::Higher)
        } else {
            (Verdict::NotToldApart, Verdict::NotToldApart)
        };
        prop_assert_eq!((there.verdict, back.verdict), expected);
    }

    #[test]
    fn a_day_does_not_depend_on_the_order_of_trials(day in heights(1)) {
        let forth = summarise(&mapped(&day, 0.0, 1.0)).unwrap();
        let reversed: Vec<_> = day.iter().rev().copied().collect();
        let back = summarise(&mapped(&reversed, 0.0, 1.0)).unwrap();
        prop_assert!(near(forth.mean.metres(), back.mean.metres()));
        prop_assert_eq!(forth.best, back.best);
        prop_assert_eq!(forth.cv.is_some(), day.len() > 1);
        let sd = |s: &underfoot::trials::DaySummary| s.typical_error.map_or(0.0, |t| t.sd.metres());
        prop_assert!(near(sd(&forth), sd(&back)));
    }

    #[test]
    fn trends_follow_unit_and_turn_with_time(
        values in prop::collection::vec(0.1..0.7f64, 5..15),
        scale in 0.1..100.0f64,
    ) {
        let line = |scale: f64, direction: f64| {
            let points: Vec<DatedValue> = (0..)
                .zip(&values)
                .map(|(i, v)| DatedValue { day: direction * f64::from(i), value: scale * v })
                .collect();
            trend(&points).unwrap()
        };
        let (plain, scaled, back) = (line(1.0, 1.0), line(scale, 1.0), line(1.0, -1.0));
        prop_assert!(near(scaled.slope_per_day, scale * plain.slope_per_day));
        prop_assert!(near(back.slope_per_day, -plain.slope_per_day));
        prop_assert!(near(back.tau, -plain.tau));
        prop_assert!(near(scaled.residual_sd, scale * plain.residual_sd));
    }
}
