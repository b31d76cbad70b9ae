//! `log demo`: a log of a squad that does not exist.

use std::path::Path;

use jiff::Timestamp;

use super::{log_exchange, log_file, output};
use crate::jump::{
    ClockUncertainty, Conditions, Event, Flag, Flight, Gravity, HeightResult, JumpError,
};
use crate::log::{AthleteId, Log, LogError, NewAthlete, NewCompanion, NewMatEntry, TrialRecord};
use crate::report::model::Failure;
use crate::synth::squad::{MAT_STEP_S, PLAYERS, SESSIONS, SquadJump, squad_jumps, squad_throws};
use crate::trials::mat::MatReading;
use crate::units::{CaptureTime, Metres, Span, StandardUncertainty};
use crate::workflow::{self, wording};

/// Writes the demonstration log to a new file.
///
/// # Errors
/// When the name is taken or the file cannot be written.
pub(super) fn write(to: &Path, now: Timestamp) -> Result<(), Failure> {
    log_exchange::refuse_taken(to, "remove it first")?;
    let records: Vec<TrialRecord> = squad_jumps()
        .iter()
        .map(record)
        .collect::<Result<_, _>>()
        .map_err(wording::jump_failure)?;
    let mut log = log_file::write(to)?;
    let trials = fill(&mut log, &records, now).map_err(|error| log_file::failure(to, &error))?;
    let (players, sessions, name) = (PLAYERS.len(), SESSIONS.len(), to.display());
    output::say(&format!(
        "A made-up squad is in {name}: {players} players, {sessions} days, {trials} jumps, with a\n\
         jump mat on one day, loads on another, and throw speeds. None of them exists.\n\
         Look at it with: underfoot log show --log {name}\n"
    ))
}

fn fill(log: &mut Log, records: &[TrialRecord], now: Timestamp) -> Result<usize, LogError> {
    let ids = add_players(log, now)?;
    let jumps = squad_jumps();
    let of = |player: usize| ids.get(player).copied();
    let trials: Vec<_> = jumps
        .iter()
        .zip(records)
        .filter_map(|(jump, record)| Some((of(jump.player)?, jump.date, record.clone())))
        .collect();
    log.add_trials(&trials, now)?;
    let readings: Vec<NewMatEntry> = jumps
        .iter()
        .filter_map(|jump| reading(jump, of(jump.player)?))
        .collect();
    log.add_mat_entries(&readings, now)?;
    let throws: Vec<NewCompanion> = squad_throws()
        .iter()
        .filter_map(|throw| {
            Some(NewCompanion {
                athlete: of(throw.player)?,
                measure: "throw speed".to_owned(),
                date: throw.date,
                order: None,
                value: throw.speed_m_s,
                unit: "m/s".to_owned(),
                note: String::new(),
            })
        })
        .collect();
    log.add_companions(&throws, now)?;
    Ok(trials.len())
}

fn add_players(log: &mut Log, now: Timestamp) -> Result<Vec<AthleteId>, LogError> {
    let mut ids = Vec::new();
    for player in &PLAYERS {
        let athlete = NewAthlete {
            stature: Some(Metres::from_metres(player.stature_m)),
            birth_year: Some(player.birth_year),
            note: "made up".to_owned(),
            ..NewAthlete::named(player.name)
        };
        let id = log.add_athlete(&athlete, now)?;
        if let Some(first) = SESSIONS.first() {
            log.set_body_mass(id, *first, player.mass_kg, now)?;
        }
        ids.push(id);
    }
    Ok(ids)
}

fn reading(jump: &SquadJump, athlete: AthleteId) -> Option<NewMatEntry> {
    Some(NewMatEntry {
        athlete,
        date: jump.date,
        order: Some(jump.order),
        mat: "club mat".to_owned(),
        reading: MatReading::Time {
            time: Span::from_seconds(jump.mat_flight_s?),
            step: Span::from_seconds(MAT_STEP_S),
        },
        note: String::new(),
    })
}

/// The jump as `measure` would give it: the same reckoning, from made-up frames.
fn record(jump: &SquadJump) -> Result<TrialRecord, JumpError> {
    let at = CaptureTime::from_seconds;
    let half = jump.frame_s / 2.0;
    // Each event's fit is good to a third of a frame.
    let u = StandardUncertainty(Span::from_seconds(0.3 * jump.frame_s));
    let event = |best: f64| Event::fitted(at(best - half), at(best), at(best + half), u);
    let takeoff = event(1.0)?;
    let landing = event(1.0 + jump.film_flight_s)?;
    let clock = ClockUncertainty::new(5e-5, Span::default())?;
    let conditions = Conditions::new(clock, Gravity::standard());
    let flight = Flight::new(takeoff, landing)?;
    let result = HeightResult::of(&flight, &conditions);
    let loaded = (jump.load_kg > 0.0).then_some(Flag::Loaded);
    let flags: Vec<Flag> = loaded.into_iter().collect();
    Ok(TrialRecord {
        load_kg: jump.load_kg,
        set_aside: jump.spoilt.then(|| "legs tucked".to_owned()),
        ..workflow::record(&flight, &result, &flags)
    })
}
