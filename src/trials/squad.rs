//! Who rose, who fell, who has too few trials.

use serde::Serialize;

use super::change::{Change, ChangeOptions, Reference, compare};
use super::error::TrialsError;
use super::trial::{Sample, Session};
use super::verdict::{SmallestWorthwhile, Verdict, mean_and_sd};
use crate::units::Metres;

/// Share of athletes without any true change whose 95 % interval leaves 0 out.
const FALSE_ALARMS: f64 = 0.05;

/// One athlete's sessions.
#[derive(Clone, Copy, Debug)]
pub struct Member<'a> {
    /// Name or initials.
    pub name: &'a str,
    /// Sessions to start from.
    pub baseline: &'a [Session<'a>],
    /// The session to compare; none if she was not there.
    pub today: Option<Session<'a>>,
}

/// One athlete's row.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// Name or initials.
    pub name: String,
    /// Verdict; too few trials where a side has none.
    pub verdict: Verdict,
    /// The change; none where a side has no usable trial.
    pub change: Option<Change>,
}

/// A squad's changes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Squad {
    /// Rows: those who rose, largest rise first; those who fell, largest fall
    /// first; those not told apart, by difference; those with too few trials.
    pub rows: Vec<Row>,
    /// How many rose.
    pub rose: usize,
    /// How many fell.
    pub fell: usize,
    /// How many are not told apart yet.
    pub not_told_apart: usize,
    /// How many have too few trials.
    pub too_few: usize,
    /// How many would be called higher or lower by chance if nobody had
    /// changed: one in twenty of those judged. A squad table asks many
    /// questions at once.
    pub expected_by_chance: f64,
}

/// Judges every athlete of a squad.
///
/// Where `options` leave the smallest worthwhile change at its default and ten
/// or more athletes have a baseline, it is taken from their spread; likewise
/// the usual height, if none is given, so that those who started far from the
/// squad are warned of regression to the mean.
///
/// # Errors
/// As [`compare`], except that missing trials are a row and no error.
pub fn squad(members: &[Member], options: &ChangeOptions) -> Result<Squad, TrialsError> {
    let options = with_squad(members, options)?;
    let mut rows: Vec<Row> = members
        .iter()
        .map(|member| row(member, &options))
        .collect::<Result<_, _>>()?;
    rows.sort_by(|a, b| {
        sort_key(a)
            .partial_cmp(&sort_key(b))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    let count = |verdict| rows.iter().filter(|row| row.verdict == verdict).count();
    let too_few = count(Verdict::TooFewTrials);
    Ok(Squad {
        rose: count(Verdict::Higher),
        fell: count(Verdict::Lower),
        not_told_apart: count(Verdict::NotToldApart),
        too_few,
        expected_by_chance: FALSE_ALARMS * (rows.len() - too_few) as f64,
        rows,
    })
}

/// Fills in what the squad itself can tell.
fn with_squad(members: &[Member], options: &ChangeOptions) -> Result<ChangeOptions, TrialsError> {
    let mut means = Vec::new();
    for member in members {
        let samples = Sample::all(member.baseline)?;
        if !samples.is_empty() {
            let sum: f64 = samples.iter().map(|sample| sample.mean).sum();
            means.push(Metres::from_metres(sum / samples.len() as f64));
        }
    }
    let mut options = *options;
    if let Some(smallest) = SmallestWorthwhile::from_squad(&means) {
        if options.smallest == SmallestWorthwhile::Default {
            options.smallest = smallest;
        }
        let (mean, sd) = mean_and_sd(&means);
        options.reference.get_or_insert(Reference {
            mean: Metres::from_metres(mean),
            sd: Metres::from_metres(sd),
        });
    }
    Ok(options)
}

fn row(member: &Member, options: &ChangeOptions) -> Result<Row, TrialsError> {
    let change = match member
        .today
        .map(|today| compare(member.baseline, &today, options))
    {
        None | Some(Err(TrialsError::NoUsableTrials { .. })) => None,
        Some(Err(other)) => return Err(other),
        Some(Ok(change)) => Some(change),
    };
    Ok(Row {
        name: member.name.to_owned(),
        verdict: change.as_ref().map_or(Verdict::TooFewTrials, |c| c.verdict),
        change,
    })
}

fn sort_key(row: &Row) -> (u8, f64) {
    let difference = row
        .change
        .as_ref()
        .map_or(f64::INFINITY, |c| c.difference.metres());
    match row.verdict {
        Verdict::Higher => (0, -difference),
        Verdict::Lower => (1, difference),
        Verdict::NotToldApart => (2, -difference),
        Verdict::TooFewTrials => (3, 0.0),
    }
}
