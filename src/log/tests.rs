use std::path::PathBuf;

use jiff::Timestamp;
use jiff::civil::{Date, date};

use super::*;
use crate::units::{Bounds, CaptureTime, Interval95, Metres, Span, StandardUncertainty};

pub(super) fn now() -> Timestamp {
    "2026-03-02T18:00:00.5Z".parse().unwrap()
}

pub(super) fn metres(value: f64) -> Metres {
    Metres::from_metres(value)
}

pub(super) fn fresh() -> (tempfile::TempDir, PathBuf, Log) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("deep/er/log.sqlite");
    let log = Log::open(&path).unwrap();
    (folder, path, log)
}

pub(super) fn plain(height: f64) -> TrialRecord {
    let u = StandardUncertainty(metres(0.002));
    TrialRecord::of_height(JumpKind::Countermovement, metres(height), u)
}

/// A record with every field filled, none of them like another.
pub(super) fn full(takeoff: f64) -> TrialRecord {
    let at = CaptureTime::from_seconds;
    let event = |best: f64| EventTime {
        best: at(best),
        bounds: Bounds::between(at(best - 0.003), at(best + 0.005)),
    };
    let s = Span::from_seconds;
    TrialRecord {
        kind: JumpKind::Drop,
        load_kg: 12.5,
        drop_height: Some(metres(0.4)),
        takeoff: Some(event(takeoff)),
        landing: Some(event(takeoff + 0.5)),
        flight_time: Some(Measured {
            best: s(0.5),
            bounds: Some(Bounds::between(s(0.49), s(0.52))),
            u: StandardUncertainty(s(0.0021)),
            interval95: Some(Interval95 {
                lo: s(0.496),
                hi: s(0.504),
            }),
        }),
        height: Measured {
            best: metres(0.306),
            bounds: Some(Bounds::between(metres(0.29), metres(0.33))),
            u: StandardUncertainty(metres(0.0026)),
            interval95: Some(Interval95 {
                lo: metres(0.301),
                hi: metres(0.311),
            }),
        },
        film_u: StandardUncertainty(metres(0.0025)),
        shared_u: StandardUncertainty(metres(0.0007)),
        gravity_m_s2: Some(9.81),
        contact_time: Some(s(0.21)),
        overstatement: Some(Overstatement {
            likely: metres(0.02),
            u: StandardUncertainty(metres(0.011)),
        }),
        budget: vec![BudgetShare {
            source: "clock rate".into(),
            u: StandardUncertainty(metres(0.0007)),
        }],
        flags: vec![
            RaisedFlag {
                code: "blur".into(),
                advice: "more light; \"shutter\" shorter".into(),
                doubtful: false,
            },
            RaisedFlag {
                code: "landing_beside".into(),
                advice: "mark the floor wider".into(),
                doubtful: true,
            },
        ],
        note: "Größe passt,\nzweite Zeile".into(),
        set_aside: Some("stumbled".into()),
    }
}

fn clip(byte: u8) -> ClipRef {
    ClipRef {
        sha256: ClipHash([byte; 32]),
        name: format!("clip{byte}.mp4"),
        patch_px: Some([1, 2, 30, 40]),
    }
}

fn keep(
    log: &mut Log,
    athlete: AthleteId,
    day: Option<Date>,
    byte: u8,
    trials: &[(u32, TrialRecord)],
) -> Result<Kept, LogError> {
    let wanted = ClipTrials {
        athlete,
        date: date(2026, 1, 1),
        stated: Stated {
            date: day,
            ..Stated::default()
        },
        clip: clip(byte),
        trials,
    };
    log.keep_clip(&wanted, now())
}

#[test]
fn a_trial_comes_back_as_it_went_in() {
    let (_folder, path, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
    let record = full(1.5);
    let kept = keep(&mut log, mia, None, 7, &[(2, record.clone())]).unwrap();
    drop(log);
    let log = Log::open_read_only(&path).unwrap();
    let trial = log.trial(kept.trials[0]).unwrap();
    assert_eq!(trial.record, record);
    assert_eq!(trial.clip, Some((clip(7), 2)));
    assert_eq!((trial.athlete, trial.order), (mia, 1));
    assert_eq!((trial.date, trial.recorded), (date(2026, 1, 1), now()));
    let height = trial.height();
    assert_eq!(height.doubts, ["landing_beside", "set aside: stumbled"]);
    assert!(!height.is_usable());
    let sessions = log.sessions(&TrialQuery::of(mia)).unwrap();
    assert_eq!(sessions[0].trials, [height]);
}

#[test]
fn an_athlete_is_found_by_name_and_slips_are_answered() {
    let (_folder, _, mut log) = fresh();
    let zoe = log.add_athlete(&NewAthlete::named(" Zo\u{eb}  Brandt"), now());
    let zoe = zoe.unwrap();
    assert_eq!(log.athlete("zoe\u{308} brandt").unwrap().id, zoe);
    let again = log.add_athlete(&NewAthlete::named("ZOË BRANDT"), now());
    assert!(matches!(again, Err(LogError::AthleteExists(_))));
    let slip = log.athlete("Zoë Brant").unwrap_err();
    assert!(
        slip.to_string().contains("did you mean Zoë Brandt?"),
        "{slip}"
    );
    let mut changed = NewAthlete::from(log.athlete_by_id(zoe).unwrap());
    changed.stature = Some(metres(1.74));
    changed.name = "Zoë Brandt-Ohm".into();
    log.set_athlete(zoe, &changed).unwrap();
    let found = log.athlete("zoë brandt-ohm").unwrap();
    assert_eq!((found.id, found.stature), (zoe, Some(metres(1.74))));
    changed.stature = Some(metres(174.0));
    assert!(log.set_athlete(zoe, &changed).is_err());
}

#[test]
fn places_follow_one_another_and_none_is_given_twice() {
    let (_folder, _, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
    let day = date(2026, 3, 2);
    log.add_trial(mia, day, Some(3), &plain(0.3), now())
        .unwrap();
    log.add_trial(mia, day, None, &plain(0.31), now()).unwrap();
    log.add_trial(mia, date(2026, 3, 1), None, &plain(0.32), now())
        .unwrap();
    let orders: Vec<u32> = log
        .trials(&TrialQuery::default())
        .unwrap()
        .iter()
        .map(|t| t.order)
        .collect();
    assert_eq!(orders, [1, 3, 4]);
    let taken = log.add_trial(mia, day, Some(4), &plain(0.3), now());
    assert!(matches!(taken, Err(LogError::PlaceTaken { place: 4, .. })));
    assert!(
        log.add_trial(mia, day, Some(0), &plain(0.3), now())
            .is_err()
    );
}

#[test]
fn a_clip_measured_again_replaces_its_trials_and_keeps_what_people_said() {
    let (_folder, _, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
    let at = |takeoff| TrialRecord {
        note: String::new(),
        set_aside: None,
        ..full(takeoff)
    };
    let first = [(1, at(1.0)), (2, at(3.0))];
    let kept = keep(&mut log, mia, Some(date(2026, 2, 1)), 1, &first).unwrap();
    log.set_aside(kept.trials[1], "arms swung").unwrap();
    // Now one more jump is found, before the others.
    let better = [(1, at(0.2)), (2, at(1.02)), (3, at(3.01))].map(|(number, record)| {
        let kind = JumpKind::Countermovement;
        (number, TrialRecord { kind, ..record })
    });
    let again = keep(&mut log, mia, None, 1, &better).unwrap();
    assert_eq!((again.replaced, again.date), (2, date(2026, 2, 1)));
    assert_eq!(again.trials[1..], kept.trials[..]);
    let trials = log.trials(&TrialQuery::of(mia)).unwrap();
    let told: Vec<_> = trials
        .iter()
        .map(|t| {
            (
                t.order,
                t.clip.as_ref().unwrap().1,
                t.record.set_aside.as_deref(),
            )
        })
        .collect();
    assert_eq!(
        told,
        [(1, 2, None), (2, 3, Some("arms swung")), (3, 1, None)]
    );
    // Nobody said that these were other jumps than drop jumps this time.
    assert!(trials.iter().all(|t| t.record.kind == JumpKind::Drop));
    // Nothing found replaces nothing; a stated day moves the jumps.
    keep(&mut log, mia, None, 1, &[]).unwrap();
    assert_eq!(log.trials(&TrialQuery::of(mia)).unwrap().len(), 3);
    keep(&mut log, mia, Some(date(2026, 2, 8)), 1, &better).unwrap();
    let sessions = log.sessions(&TrialQuery::of(mia)).unwrap();
    assert_eq!((sessions.len(), sessions[0].date), (1, date(2026, 2, 8)));
}

#[test]
fn a_clip_of_somebody_else_is_refused() {
    let (_folder, _, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
    let lena = log.add_athlete(&NewAthlete::named("Lena"), now()).unwrap();
    let kept = keep(&mut log, mia, None, 1, &[(1, full(1.0))]).unwrap();
    let refused = keep(&mut log, lena, None, 1, &[(1, full(1.0))]).unwrap_err();
    assert!(matches!(refused, LogError::ClipOfAnother { .. }));
    assert_eq!(log.clip_owner(&clip(1).sha256).unwrap(), Some(mia));
    log.remove_trial(kept.trials[0]).unwrap();
    assert_eq!(log.clip_owner(&clip(1).sha256).unwrap(), None);
    keep(&mut log, lena, None, 1, &[(1, full(1.0))]).unwrap();
}

#[test]
fn queries_choose_by_kind_load_and_day() {
    let (_folder, _, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
    let lena = log.add_athlete(&NewAthlete::named("Lena"), now()).unwrap();
    for (who, day, load_kg, kind) in [
        (mia, 1, 0.0, JumpKind::Countermovement),
        (mia, 1, 20.0, JumpKind::Countermovement),
        (mia, 2, 0.0, JumpKind::Squat),
        (lena, 3, 10.0, JumpKind::Countermovement),
    ] {
        let record = TrialRecord {
            load_kg,
            kind,
            ..plain(0.3)
        };
        log.add_trial(who, date(2026, 5, day), None, &record, now())
            .unwrap();
    }
    let count = |query: TrialQuery| log.trials(&query).unwrap().len();
    let all = TrialQuery::default();
    assert_eq!(count(all), 4);
    assert_eq!(count(all.load(LoadFilter::None)), 2);
    assert_eq!(count(all.load(LoadFilter::Some)), 2);
    assert_eq!(count(all.load(LoadFilter::Exactly(20.0))), 1);
    assert_eq!(count(all.kind(JumpKind::Squat)), 1);
    assert_eq!(count(TrialQuery::of(mia)), 3);
    let second = Some(date(2026, 5, 2));
    assert_eq!(count(all.between(second, None)), 2);
    assert_eq!(count(all.between(None, second)), 3);
    assert_eq!(count(all.between(second, second)), 1);
    let squad = log.squad(&all.between(None, second)).unwrap();
    let told: Vec<_> = squad
        .iter()
        .map(|row| (row.athlete.name.as_str(), row.sessions.len()))
        .collect();
    assert_eq!(told, [("Lena", 0), ("Mia", 2)]);
    assert_eq!(squad[1].sessions[1].day() - squad[1].sessions[0].day(), 1.0);
}

/// Whether the bytes of `text` stand anywhere in the log's files.
fn anywhere(path: &Path, text: &str) -> bool {
    let folder = path.parent().unwrap();
    std::fs::read_dir(folder).unwrap().any(|entry| {
        let bytes = std::fs::read(entry.unwrap().path()).unwrap();
        bytes.windows(text.len()).any(|w| w == text.as_bytes())
    })
}

#[test]
fn whoever_is_forgotten_leaves_no_byte_behind() {
    let (_folder, path, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia Unvergessen"), now());
    let mia = mia.unwrap();
    let lena = log.add_athlete(&NewAthlete::named("Lena Bleibt"), now());
    let lena = lena.unwrap();
    keep(&mut log, mia, None, 1, &[(1, full(1.0))]).unwrap();
    keep(&mut log, lena, None, 2, &[(1, full(1.0))]).unwrap();
    log.set_body_mass(mia, date(2026, 1, 1), 61.0, now())
        .unwrap();
    for (name, about) in [("all", vec![mia, lena]), ("mat", vec![])] {
        let result = NewSaved {
            kind: "crosscheck".into(),
            name: name.into(),
            version: 1,
            date: date(2026, 1, 1),
            content: format!("{{\"of\":\"{name}\"}}"),
            about,
        };
        log.save(&result, now()).unwrap();
    }
    assert!(anywhere(&path, "Mia Unvergessen") && anywhere(&path, "clip1.mp4"));
    log.forget_athlete(mia).unwrap();
    for gone in ["Mia Unvergessen", "clip1.mp4", "mia unvergessen"] {
        assert!(!anywhere(&path, gone), "{gone}");
    }
    assert!(anywhere(&path, "Lena Bleibt") && anywhere(&path, "clip2.mp4"));
    assert_eq!(log.all_saved("crosscheck").unwrap().len(), 1);
    assert!(log.saved("crosscheck", "mat").unwrap().is_some());
    assert!(log.forget_athlete(mia).is_err());
}
