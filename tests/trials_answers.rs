//! What a coach is told: verdicts, warnings and plans at the edges.

use underfoot::jump::ClockUncertainty;
use underfoot::trials::components::separate;
use underfoot::trials::plan::{
    FilmError, OwnVariation, PhoneVerdict, PlannedNoise, Question, Reading, TrialsNeeded,
    USUAL_POWER, VariationSource, film_error, plan,
};
use underfoot::trials::{
    Change, ChangeOptions, ChangeWarning, DayToDay, Session, SmallestWorthwhile, TrialHeight,
    TrialsError, TypicalError, Verdict, compare,
};
use underfoot::units::{Metres, Span, StandardUncertainty};

fn m(metres: f64) -> Metres {
    Metres::from_metres(metres)
}

fn cm(length: Metres) -> String {
    format!("{:.1} cm", length.centimetres())
}

fn day(heights: &[f64]) -> Vec<TrialHeight> {
    let u = StandardUncertainty(m(0.002));
    let trial = |(i, h): (usize, &f64)| TrialHeight::new(i, m(*h), u);
    heights.iter().enumerate().map(trial).collect()
}

fn session(trials: &[TrialHeight]) -> Session<'_> {
    Session { day: 0.0, trials }
}

fn change(before: &[f64], after: &[f64], options: &ChangeOptions) -> Change {
    let (before, after) = (day(before), day(after));
    compare(&[session(&before)], &session(&after), options).unwrap()
}

#[test]
fn the_coach_reads_a_sentence() {
    let rise = change(
        &[0.312, 0.319, 0.309, 0.316],
        &[0.336, 0.343, 0.337, 0.340],
        &ChangeOptions::default(),
    );
    assert_eq!(
        rise.sentence(&cm),
        "From 31.4 cm to 33.9 cm: higher. The jump is higher than trial noise and film error \
         explain. Chance of a true rise of more than 0.9 cm: more than 99 in 100."
    );
    let json = serde_json::to_value(&rise).unwrap();
    assert_eq!(json["verdict"], "higher");
    assert!((json["difference_m"].as_f64().unwrap() - 0.025).abs() < 1e-12);
    assert_eq!(json["warnings"][0]["code"], "day_to_day_left_out");
}

#[test]
fn a_change_too_small_to_matter_is_called_so() {
    let options = ChangeOptions {
        smallest: SmallestWorthwhile::Stated(m(0.05)),
        ..ChangeOptions::default()
    };
    let tiny = change(&[0.310, 0.312, 0.314], &[0.311, 0.314, 0.313], &options);
    assert_eq!(tiny.verdict, Verdict::NotToldApart);
    assert!(tiny.is_trivial() && tiny.sentence(&cm).contains("less than the smallest"));
    let rough = change(&[0.28, 0.31, 0.35], &[0.30, 0.36, 0.31], &options);
    assert!(!rough.is_trivial());
}

#[test]
fn single_trials_borrow_scatter_or_say_too_few() {
    let alone = change(&[0.31], &[0.36], &ChangeOptions::default());
    assert_eq!(
        (alone.verdict, alone.interval95),
        (Verdict::TooFewTrials, None)
    );
    assert_eq!((alone.u, alone.p_higher), (None, None));
    assert!(
        alone
            .warnings
            .contains(&ChangeWarning::FewTrials { fewest: 1 })
    );

    let heights = [0.310, 0.319, 0.309, 0.316];
    let borrowed = change(&heights, &[0.36], &ChangeOptions::default());
    assert!(borrowed.warnings.contains(&ChangeWarning::ScatterBorrowed));
    assert!((borrowed.dof.unwrap() - 3.0).abs() < 1e-9);
    // One new value against four: s √(1 + 1/4), by hand.
    let squares: f64 = heights.iter().map(|h| (h - 0.3135f64).powi(2)).sum();
    let expected = (squares / 3.0 * 1.25).sqrt();
    assert!((borrowed.u.unwrap().0.metres() - expected).abs() < 1e-12);

    let options = ChangeOptions {
        typical_error: Some(TypicalError::new(m(0.01), 20.0).unwrap()),
        ..ChangeOptions::default()
    };
    let known = change(&[0.31], &[0.36], &options);
    assert_eq!(known.verdict, Verdict::Higher);
    assert!((known.dof.unwrap() - 20.0).abs() < 1e-9);
    assert!((known.u.unwrap().0.metres() - 0.01 * 2f64.sqrt()).abs() < 1e-12);
}

#[test]
fn identical_readings_are_no_certainty() {
    // Three times the same whole-frame count on both days, one frame apart.
    let film = StandardUncertainty(m(0.008));
    let days: Vec<Vec<TrialHeight>> = [0.310, 0.325]
        .iter()
        .map(|h| (0..3).map(|i| TrialHeight::new(i, m(*h), film)).collect())
        .collect();
    let options = ChangeOptions::default();
    let found = compare(&[session(&days[0])], &session(&days[1]), &options).unwrap();
    let least = 0.008 * (2.0f64 / 3.0).sqrt();
    assert!((found.u.unwrap().0.metres() - least).abs() < 1e-12);
    let exact: Vec<TrialHeight> = day(&[0.31; 3])
        .into_iter()
        .map(|t| TrialHeight::new(t.order, t.height, StandardUncertainty::default()))
        .collect();
    let found = compare(&[session(&exact)], &session(&exact), &options).unwrap();
    assert_eq!(found.verdict, Verdict::TooFewTrials);
}

#[test]
fn left_out_trials_and_improbable_ones_are_mentioned() {
    let before = day(&[0.31, 0.32, 0.33]);
    let mut after = day(&[0.31, 0.32, 0.33, 0.85]);
    after[0].doubts = vec!["drop_landing".into()];
    after[3].doubts = vec!["improbable_height".into()];
    let options = ChangeOptions {
        day_to_day: DayToDay::LeftOut,
        ..ChangeOptions::default()
    };
    let found = compare(&[session(&before)], &session(&after), &options).unwrap();
    assert_eq!(found.today.trials, 3);
    assert!(
        found
            .warnings
            .contains(&ChangeWarning::TrialsLeftOut { count: 1 })
    );
    assert!(found.warnings.contains(&ChangeWarning::ImprobableHeight));
    after.truncate(1);
    let none = compare(&[session(&before)], &session(&after), &options);
    assert_eq!(none, Err(TrialsError::NoUsableTrials { day: Some(0.0) }));
}

#[test]
fn three_baseline_days_bring_their_ups_and_downs_in() {
    let days = [day(&[0.30, 0.31]), day(&[0.33, 0.34]), day(&[0.36, 0.37])];
    let today = day(&[0.38, 0.39]);
    let list: Vec<Session> = days.iter().map(|d| session(d)).collect();
    let found = compare(&list, &session(&today), &ChangeOptions::default()).unwrap();
    // Means 0.305, 0.335, 0.365: SD 0.03, so u = 0.03 √(4/3) on 2 degrees.
    assert!((found.u.unwrap().0.metres() - 0.03 * (4.0f64 / 3.0).sqrt()).abs() < 1e-12);
    assert!((found.dof.unwrap() - 2.0).abs() < 1e-9);
    assert_eq!(found.verdict, Verdict::NotToldApart);
    let few = ChangeWarning::FewBaselineSessions { sessions: 3 };
    assert!(found.warnings.contains(&few));
    assert!(found.sentence(&cm).contains("usual ups and downs"));
    // Trial noise of one mean is 0.005²; the rest is the days'.
    let expected = (9e-4f64 - 2.5e-5).sqrt();
    assert!((found.day_to_day_sd.unwrap().metres() - expected).abs() < 1e-9);
}

fn clock() -> ClockUncertainty {
    ClockUncertainty::new(1e-4, Span::default()).unwrap()
}

fn question(own: OwnVariation, change: f64) -> Question {
    Question {
        height: m(0.35),
        own,
        change: m(change),
        power: USUAL_POWER,
        reading: Reading::WholeFrames,
        clock: clock(),
    }
}

fn film(u: f64) -> FilmError {
    let some = film_error(m(0.35), 240.0, Reading::WholeFrames, clock()).unwrap();
    FilmError {
        u: StandardUncertainty(m(u)),
        ..some
    }
}

#[test]
fn more_frames_need_fewer_trials() {
    let plans = plan(
        &question(OwnVariation::default_for(m(0.35)), 0.03),
        &[60.0, 120.0, 240.0],
    );
    let plans = plans.unwrap();
    for plan in &plans {
        println!(
            "{} fps: film u {:.2} cm, one trial {:.2} cm, {:?}, three trials see {:.1} cm, {:?}",
            plan.film.frames_per_second,
            plan.film.u.0.centimetres(),
            plan.trial_sd.centimetres(),
            plan.trials,
            plan.seen_with_three.centimetres(),
            plan.phone
        );
    }
    let trials: Vec<u32> = plans
        .iter()
        .map(|p| match p.trials {
            TrialsNeeded::PerSession(n) => n,
            ref other => panic!("{other:?}"),
        })
        .collect();
    assert!(
        trials.windows(2).all(|w| w[0] >= w[1]) && trials[0] > trials[2],
        "{trials:?}"
    );
    assert!(
        plans
            .windows(2)
            .all(|w| w[0].seen_with_three > w[1].seen_with_three)
    );
    assert_eq!(plans[2].phone, PhoneVerdict::Good);
}

#[test]
fn a_phone_is_judged_by_the_athletes_own_variation() {
    let own = OwnVariation {
        trial_sd: m(0.01),
        day_sd: m(0.0),
        source: VariationSource::Stated,
    };
    assert_eq!(PhoneVerdict::of(&own, &film(0.005)), PhoneVerdict::Good);
    assert_eq!(PhoneVerdict::of(&own, &film(0.0051)), PhoneVerdict::Usable);
    assert_eq!(PhoneVerdict::of(&own, &film(0.0101)), PhoneVerdict::Coarse);
    let fitted = film_error(m(0.35), 60.0, Reading::FittedFrames(0.1), clock()).unwrap();
    let whole = film_error(m(0.35), 60.0, Reading::WholeFrames, clock()).unwrap();
    assert!(fitted.u.0 < whole.u.0 / 2.0 && fitted.bounds == whole.bounds);
}

#[test]
fn days_can_hide_a_change_from_any_number_of_trials() {
    let noise = PlannedNoise {
        trial_sd: m(0.01),
        day_sd: m(0.012),
    };
    // (1.960 + 0.842) √2 · 1.2 cm, by hand.
    match noise.trials_to_see(m(0.02), 0.8).unwrap() {
        TrialsNeeded::HiddenByDays { smallest } => {
            assert!(
                (smallest.centimetres() - 4.754).abs() < 2e-3,
                "{smallest:?}"
            );
        }
        other => panic!("{other:?}"),
    }
    assert!(matches!(
        noise.trials_to_see(m(0.06), 0.8).unwrap(),
        TrialsNeeded::PerSession(2..=10)
    ));
    assert_eq!(
        noise.trials_to_see(m(0.048), 0.8),
        Ok(TrialsNeeded::MoreThan(30))
    );
}

#[test]
fn the_logs_own_variation_is_used_without_its_film_error() {
    let trials = day(&[0.30, 0.32, 0.31, 0.33]);
    let parts = separate(&[session(&trials)]).unwrap();
    let own = OwnVariation::logged(&parts);
    assert_eq!(own.source, VariationSource::Logged { dof: 3.0 });
    // Variance of 30, 32, 31, 33 is 5/3 cm²; film 0.2² cm².
    let expected = (5.0f64 / 3.0 - 0.04).sqrt();
    assert!((own.trial_sd.centimetres() - expected).abs() < 1e-6);
}

#[test]
fn impossible_questions_are_refused() {
    let own = OwnVariation::default_for(m(0.35));
    let refused = |q: Question, rate: f64| {
        let error = plan(&q, &[rate]).unwrap_err();
        assert!(matches!(error, TrialsError::BadSetting { .. }), "{error:?}");
        assert!(!error.remedy().is_empty() && !error.to_string().is_empty());
    };
    refused(question(own, 0.0), 60.0);
    refused(question(own, f64::NAN), 60.0);
    refused(question(own, 0.02), 0.0);
    refused(question(own, 0.02), f64::INFINITY);
    refused(
        Question {
            height: m(-0.1),
            ..question(own, 0.02)
        },
        60.0,
    );
    refused(
        Question {
            power: 1.0,
            ..question(own, 0.02)
        },
        60.0,
    );
    refused(
        Question {
            reading: Reading::FittedFrames(0.0),
            ..question(own, 0.02)
        },
        60.0,
    );
    let still = OwnVariation {
        day_sd: m(-0.01),
        ..own
    };
    refused(question(still, 0.02), 60.0);
}
