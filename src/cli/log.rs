//! `log`: what is kept, looked up and changed.

use std::path::Path;

use super::args::{LogCall, LogCommand};
use super::{Outcome, log_demo, log_entries, log_exchange, log_file, log_show, output};
use crate::log::{Log, LogError, Trial, TrialId};
use crate::report::model::Failure;
use crate::workflow::keeping;

/// Carries out a command on the log.
///
/// # Errors
/// What keeps it from being carried out, with the remedy.
pub(super) fn run(call: &LogCall) -> Result<Outcome, Failure> {
    let file = call.file.as_path();
    let now = keeping::now();
    match &call.what {
        LogCommand::Athletes(listing) => log_show::athletes(file, *listing),
        LogCommand::AddAthlete(name, facts) => log_entries::add_athlete(file, name, facts, now),
        LogCommand::SetAthlete(name, facts) => log_entries::set_athlete(file, name, facts, now),
        LogCommand::ForgetAthlete { name, sure } => log_entries::forget(file, name, *sure),
        LogCommand::Show(show) => log_show::trials(file, show),
        LogCommand::SetAside(trials, reason) => {
            let said = "set aside";
            each_trial(file, trials, said, &mut |log, id| log.set_aside(id, reason))
        }
        LogCommand::Restore(trials) => each_trial(file, trials, "counts again", &mut Log::restore),
        LogCommand::Remove(trials) => each_trial(file, trials, "removed", &mut Log::remove_trial),
        LogCommand::AddMat(add) => log_entries::add_mat(file, add, now),
        LogCommand::AddCompanion(add) => log_entries::add_companion(file, add, now),
        LogCommand::Import(import) => log_exchange::import(file, import, now),
        LogCommand::Export(export) => log_exchange::export(file, export),
        LogCommand::Backup(to) => log_exchange::backup(file, to),
        LogCommand::Path => output::say(&format!("{}\n", file.display())),
        LogCommand::Demo(to) => log_demo::write(to, now),
    }
    .map(|()| Outcome::Done)
}

type Change<'a> = &'a mut dyn FnMut(&mut Log, TrialId) -> Result<(), LogError>;

/// Changes trials, all of which must be there before the first is touched.
fn each_trial(file: &Path, ids: &[TrialId], said: &str, change: Change) -> Result<(), Failure> {
    let mut log = log_file::change(file)?;
    let failed = |error| log_file::failure(file, &error);
    let trials: Vec<Trial> = ids
        .iter()
        .map(|id| log.trial(*id))
        .collect::<Result<_, _>>()
        .map_err(failed)?;
    for trial in trials {
        let athlete = log.athlete_by_id(trial.athlete).map_err(failed)?;
        change(&mut log, trial.id).map_err(failed)?;
        let (id, name, date) = (trial.id.0, athlete.name, trial.date);
        output::say(&format!("Trial {id} of {name}, {date}: {said}\n"))?;
    }
    Ok(())
}
