//! Film jumps and mat readings brought together.
//!
//! Each side comes from several places ([`film`], [`readings`]); [`pair_up`] finds out
//! which reading belongs to which jump, and says what found no partner.

pub mod film;
pub mod readings;

use std::collections::HashSet;

use jiff::civil::Date;

use crate::report::model::Failure;
use crate::trials::mat::Pair;
use crate::units::Span;

pub use film::FilmJump;
pub use readings::Reading;

/// Pairs, and what could not be paired.
#[derive(Clone, Debug, PartialEq)]
pub struct Paired {
    /// Jumps that both saw, in the film's order.
    pub pairs: Vec<Pair>,
    /// What was left out and why, one line each.
    pub left_out: Vec<String>,
    /// The film's error that all its clips share (rate of the clock, gravity), root
    /// mean square as a time; no scatter, but a doubt in the mean.
    pub shared_u: Span,
    /// Last day on which a paired jump was made, where days are known.
    pub last_day: Option<Date>,
}

/// How the film's side and the mat's are to be brought together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PairingOptions {
    /// Who jumped, where neither side says.
    pub athlete: Option<String>,
    /// Whether jumps that the film doubts count too.
    pub with_doubtful: bool,
    /// Whether most jumps have no reading, as in a log: then those are not mentioned.
    pub film_is_wider: bool,
}

/// Finds the jump of each reading.
///
/// Readings that name clips are matched by clip and jump; readings with a place in
/// the athlete's day, against a log, by athlete, date and place. Otherwise the first
/// reading belongs to the first jump, and there must be as many of both; a jump that
/// either side missed keeps its place in the row.
///
/// # Errors
/// [`Failure`] where the two sides cannot belong together.
pub fn pair_up(
    film: &[FilmJump],
    readings: &[Reading],
    options: &PairingOptions,
) -> Result<Paired, Failure> {
    let dated = film.iter().all(|jump| jump.date.is_some());
    let by_name = readings.iter().any(|r| r.clip.is_some())
        || dated && readings.iter().any(|r| r.order.is_some());
    let partners = if by_name {
        by_fields(film, readings)?
    } else {
        in_sequence(film, readings)?
    };
    let mut left_out = Vec::new();
    let mut found: Vec<(usize, Pair, Span)> = Vec::new();
    for (reading, partner) in readings.iter().zip(&partners) {
        let Some((place, jump)) = partner.and_then(|at| Some((at, film.get(at)?))) else {
            left_out.push(format!("{}: no such jump on film", reading.name()));
            continue;
        };
        match usable(jump, reading, options.with_doubtful) {
            Err(reason) => left_out.push(format!("{}: {reason}", jump.name())),
            Ok((film, mat)) => {
                let athlete = jump.athlete.as_ref().or(reading.athlete.as_ref());
                let athlete = athlete.or(options.athlete.as_ref());
                let pair = Pair {
                    athlete: athlete.cloned().unwrap_or_default(),
                    order: 0,
                    film,
                    mat,
                };
                found.push((place, pair, jump.shared_u));
            }
        }
    }
    let met: HashSet<usize> = partners.iter().flatten().copied().collect();
    for (place, jump) in film.iter().enumerate() {
        if !met.contains(&place) && !options.film_is_wider {
            left_out.push(format!("{}: no reading of the mat", jump.name()));
        }
    }
    found.sort_by_key(|(place, ..)| *place);
    let last_day = found
        .iter()
        .filter_map(|(at, ..)| film.get(*at)?.date)
        .max();
    let squares: f64 = found.iter().map(|(.., u)| u.seconds().powi(2)).sum();
    let shared_u = Span::from_seconds((squares / found.len().max(1) as f64).sqrt());
    let number = |(position, (_, pair, _)): (usize, (usize, Pair, Span))| Pair {
        order: u32::try_from(position + 1).unwrap_or(u32::MAX),
        ..pair
    };
    Ok(Paired {
        pairs: found.into_iter().enumerate().map(number).collect(),
        left_out,
        shared_u,
        last_day,
    })
}

type Both = (
    crate::trials::mat::FilmFlight,
    crate::trials::mat::MatReading,
);

/// Both values, or why there are none.
fn usable(jump: &FilmJump, reading: &Reading, with_doubtful: bool) -> Result<Both, String> {
    let film = jump.flight.clone()?;
    if !jump.doubts.is_empty() && !with_doubtful {
        return Err(format!("does not count ({})", jump.doubts.join(", ")));
    }
    let mat = reading.reading.ok_or("the mat showed nothing")?;
    Ok((film, mat))
}

fn in_sequence(film: &[FilmJump], readings: &[Reading]) -> Result<Vec<Option<usize>>, Failure> {
    if film.len() == readings.len() {
        return Ok((0..film.len()).map(Some).collect());
    }
    Err(Failure {
        message: format!(
            "{} readings of the mat stand against {} jumps on film",
            readings.len(),
            film.len()
        ),
        hint: "write - for a reading that is missing, or name the clips in a column clip"
            .to_owned(),
    })
}

/// Everything a reading says must be true of its jump, and of that jump alone.
fn by_fields(film: &[FilmJump], readings: &[Reading]) -> Result<Vec<Option<usize>>, Failure> {
    let mut taken = HashSet::new();
    let mut partners = Vec::with_capacity(readings.len());
    for reading in readings {
        let mut matching = film
            .iter()
            .enumerate()
            .filter(|(_, jump)| reading.fits(jump));
        let first = matching.next().map(|(place, _)| place);
        if matching.next().is_some() {
            return Err(Failure {
                message: format!("{}: several jumps on film fit this reading", reading.name()),
                hint: "add columns: athlete, date and order, or clip and jump".to_owned(),
            });
        }
        if let Some(place) = first
            && !taken.insert(place)
        {
            return Err(Failure {
                message: format!("{}: that jump has another reading already", reading.name()),
                hint: "leave one of them out".to_owned(),
            });
        }
        partners.push(first);
    }
    Ok(partners)
}

#[cfg(test)]
mod tests {
    use super::readings::MatScale;
    use super::*;
    use crate::trials::mat::FilmFlight;
    use crate::units::{Bounds, StandardUncertainty};

    fn jump(clip: &str, time_s: f64) -> FilmJump {
        let ms = Span::from_millis;
        let time = Span::from_seconds(time_s);
        FilmJump {
            athlete: None,
            date: None,
            order: None,
            clip: Some(clip.to_owned()),
            jump: 1,
            flight: Ok(FilmFlight {
                flight_time: time,
                bounds: Bounds::between(time - ms(4.0), time + ms(4.0)),
                u: StandardUncertainty(ms(1.7)),
            }),
            shared_u: ms(0.1),
            doubts: Vec::new(),
        }
    }

    fn typed(list: &str) -> Vec<Reading> {
        readings::typed(list, readings::Quantity::Millis, &MatScale::default()).unwrap()
    }

    fn table(text: &str) -> Vec<Reading> {
        readings::from_table(
            &super::super::table::Table::parse("r.csv", text).unwrap(),
            &MatScale::default(),
        )
        .unwrap()
    }

    #[test]
    fn typed_readings_go_by_their_place() {
        let film = [jump("a", 0.50), jump("b", 0.52), jump("c", 0.54)];
        let options = PairingOptions::default();
        let got = pair_up(&film, &typed("510, -, 550"), &options).unwrap();
        let mats: Vec<f64> = got
            .pairs
            .iter()
            .map(|p| p.mat.flight_time().millis())
            .collect();
        assert_eq!(mats, [510.0, 550.0]);
        assert_eq!(got.left_out, ["b, jump 1: the mat showed nothing"]);
        assert!(pair_up(&film, &typed("510,550"), &options).is_err());
    }

    #[test]
    fn named_clips_go_by_their_name_in_any_order() {
        let film = [jump("day/a.mp4", 0.50), jump("day/b.mp4", 0.52)];
        let options = PairingOptions::default();
        let rows = table("clip,athlete,time_ms\nb.mp4,Mia,530\nc.mp4,Bo,520\n");
        let got = pair_up(&film, &rows, &options).unwrap();
        assert_eq!(got.pairs.len(), 1);
        let pair = &got.pairs[0];
        assert_eq!(
            (pair.athlete.as_str(), pair.film.flight_time.millis()),
            ("Mia", 520.0)
        );
        assert_eq!(
            got.left_out,
            [
                "reading in line 3 (Bo, c.mp4): no such jump on film",
                "day/a.mp4, jump 1: no reading of the mat"
            ]
        );
        let twice = table("clip,time_ms\nb.mp4,530\nb.mp4,520\n");
        assert!(pair_up(&film, &twice, &options).is_err());
    }

    #[test]
    fn doubtful_jumps_count_on_request_only() {
        let mut film = [jump("a", 0.50), jump("b", 0.52)];
        film[0].doubts.push("landing_beside".to_owned());
        let count = |with_doubtful| {
            let options = PairingOptions {
                with_doubtful,
                ..PairingOptions::default()
            };
            pair_up(&film, &typed("510,530"), &options)
                .unwrap()
                .pairs
                .len()
        };
        assert_eq!((count(false), count(true)), (1, 2));
    }

    #[test]
    fn days_of_a_log_go_by_athlete_date_and_place() {
        let day = jiff::civil::date(2026, 3, 2);
        let dated = |athlete: &str, order| FilmJump {
            athlete: Some(athlete.to_owned()),
            date: Some(day),
            order: Some(order),
            ..jump("x", 0.5)
        };
        let film = [dated("Mia", 1), dated("Mia", 2), dated("Bo", 1)];
        let rows = table("athlete,date,order,time_ms\nbo,2026-03-02,1,520\nMia,2026-03-02,2,530\n");
        let got = pair_up(&film, &rows, &PairingOptions::default()).unwrap();
        let who: Vec<&str> = got.pairs.iter().map(|p| p.athlete.as_str()).collect();
        assert_eq!(who, ["Mia", "Bo"]);
        let vague = table("order,time_ms\n1,520\n");
        assert!(pair_up(&film, &vague, &PairingOptions::default()).is_err());
    }
}
