//! A made-up village handball squad over three months, whose truth is known.
//!
//! Nobody in it exists. Each player has a true height at the first session, a true
//! change from the first month to the last, and a scatter from jump to jump; what is
//! "measured" is drawn from these, with the film's errors on top. So a table of who
//! rose can be held against who did.

use jiff::civil::{Date, date};

use super::G;
use super::random::Rng;

/// One player and what is true of her.
#[derive(Clone, Debug, PartialEq)]
pub struct Player {
    /// Made-up name.
    pub name: &'static str,
    /// Year of birth.
    pub birth_year: i16,
    /// Body height in metres.
    pub stature_m: f64,
    /// Body mass in kg at the start.
    pub mass_kg: f64,
    /// True mean jump height in the first session, in metres.
    pub height_m: f64,
    /// True change of that from the first session to the last, in metres.
    pub change_m: f64,
    /// True scatter from jump to jump, in metres.
    pub scatter_m: f64,
    /// True speed of a throw at the start, in metres per second.
    pub throw_m_s: f64,
    /// The sessions she came to, of those of [`SESSIONS`].
    pub came: &'static [usize],
}

/// Days of the sessions.
pub const SESSIONS: [Date; 7] = [
    date(2026, 8, 31),
    date(2026, 9, 14),
    date(2026, 9, 28),
    date(2026, 10, 12),
    date(2026, 10, 26),
    date(2026, 11, 9),
    date(2026, 11, 23),
];

/// What the club's mat does to a flight time: it closes early and opens late, in
/// seconds. The truth for whoever compares it with the film.
pub const MAT_ADDS_S: f64 = 0.014;
/// Smallest step of the mat's display, in seconds.
pub const MAT_STEP_S: f64 = 0.001;
/// Scatter of the mat, in seconds.
const MAT_SCATTER_S: f64 = 0.002;
/// Session at which the mat lay on the floor.
const MAT_SESSION: usize = 4;
/// Session at which some jumped with a bar on the shoulders, and the loads in kg.
const LOAD_SESSION: usize = 5;
const LOADS_KG: [f64; 4] = [0.0, 10.0, 20.0, 30.0];
/// Lost height for each kg on the shoulders, as a share of the height.
const LOST_PER_KG: f64 = 0.0125;
/// Jumps of a player in a session.
const JUMPS: usize = 5;

const ALL: &[usize] = &[0, 1, 2, 3, 4, 5, 6];

/// The squad: four rose by 3 cm and more, two fell by as much, four stayed, one
/// came too seldom.
pub const PLAYERS: [Player; 11] = [
    player("Anneke Tolsdorf", 2008, (1.71, 63.0), (0.312, 0.042), ALL),
    player("Birte Quandel", 2007, (1.76, 70.5), (0.287, 0.036), ALL),
    player(
        "Carla Wiesenthau",
        2009,
        (1.66, 58.0),
        (0.331, 0.034),
        &[0, 1, 3, 4, 5, 6],
    ),
    player("Dörte Immenhof", 2008, (1.80, 74.0), (0.268, 0.031), ALL),
    player("Ella Brammstedt", 2010, (1.69, 60.5), (0.342, -0.038), ALL),
    player(
        "Fenja Oldörp",
        2007,
        (1.73, 66.0),
        (0.305, -0.032),
        &[0, 1, 2, 4, 5, 6],
    ),
    player("Greta Lüttmoor", 2009, (1.68, 59.5), (0.298, 0.0), ALL),
    player("Hanka Sievering", 2008, (1.75, 68.0), (0.322, 0.003), ALL),
    player(
        "Ilva Nordhusen",
        2010,
        (1.64, 55.0),
        (0.276, -0.002),
        &[0, 2, 3, 5, 6],
    ),
    player("Jorid Kattenbeck", 2007, (1.78, 72.0), (0.334, 0.001), ALL),
    player("Kaja Wendelin", 2009, (1.70, 62.0), (0.309, 0.030), &[6]),
];

const fn player(
    name: &'static str,
    birth_year: i16,
    (stature_m, mass_kg): (f64, f64),
    (height_m, change_m): (f64, f64),
    came: &'static [usize],
) -> Player {
    Player {
        name,
        birth_year,
        stature_m,
        mass_kg,
        height_m,
        change_m,
        scatter_m: 0.011,
        throw_m_s: 14.0 + 20.0 * height_m,
        came,
    }
}

impl Player {
    /// Her true mean height in a session, in metres; it changes evenly.
    pub fn true_height_m(&self, session: usize) -> f64 {
        self.height_m + self.change_m * session as f64 / (SESSIONS.len() - 1) as f64
    }
}

/// One made-up jump.
#[derive(Clone, Debug, PartialEq)]
pub struct SquadJump {
    /// Who jumped: a place in [`PLAYERS`].
    pub player: usize,
    /// Day.
    pub date: Date,
    /// Place in the player's day, from 1.
    pub order: u32,
    /// Load beyond the body, in kg.
    pub load_kg: f64,
    /// True time in the air, in seconds.
    pub true_flight_s: f64,
    /// The same as the film gives it.
    pub film_flight_s: f64,
    /// Time between the film's frames, in seconds.
    pub frame_s: f64,
    /// Time in the air as the mat shows it, where it lay there.
    pub mat_flight_s: Option<f64>,
    /// Whether the athlete tucked her legs, so that the jump does not count.
    pub spoilt: bool,
}

/// A made-up throw from seven metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SquadThrow {
    /// Who threw.
    pub player: usize,
    /// Day.
    pub date: Date,
    /// Speed of the ball, in metres per second.
    pub speed_m_s: f64,
}

/// All jumps, in order of players and days. The same in every run.
pub fn squad_jumps() -> Vec<SquadJump> {
    let mut jumps = Vec::new();
    for (number, player) in PLAYERS.iter().enumerate() {
        let mut rng = Rng::new(number as u64, 0x5_9AD0);
        for (session, date) in SESSIONS.iter().enumerate() {
            if player.came.contains(&session) {
                jumps.extend(session_jumps(number, (session, *date), &mut rng));
            }
        }
    }
    jumps
}

fn session_jumps(number: usize, (session, date): (usize, Date), rng: &mut Rng) -> Vec<SquadJump> {
    let Some(player) = PLAYERS.get(number) else {
        return Vec::new();
    };
    // Some days are better than others.
    let day = 0.004 * rng.normal();
    let with_loads = session == LOAD_SESSION && number < 4;
    let loads = if with_loads {
        &LOADS_KG[..]
    } else {
        &LOADS_KG[..1]
    };
    // She who came once jumped once.
    let each = if player.came.len() > 1 { JUMPS } else { 1 };
    let each = if with_loads { 3 } else { each };
    let mut jumps = Vec::new();
    for load_kg in loads {
        for _ in 0..each {
            let order = jumps.len() as u32 + 1;
            let spoilt = rng.unit() < 0.03;
            let mean = (player.true_height_m(session) + day) * (1.0 - LOST_PER_KG * load_kg);
            let height = (mean + player.scatter_m * rng.normal()).max(0.05);
            let height = if spoilt { height + 0.06 } else { height };
            let true_flight_s = (8.0 * height / G).sqrt();
            let mat = session == MAT_SESSION;
            jumps.push(SquadJump {
                player: number,
                date,
                order,
                load_kg: *load_kg,
                true_flight_s,
                film_flight_s: true_flight_s + film_error(FRAME_S, rng),
                frame_s: FRAME_S,
                mat_flight_s: mat.then(|| mat_reading(true_flight_s, rng)),
                spoilt,
            });
        }
    }
    jumps
}

/// The club's phone films 240 frames a second.
const FRAME_S: f64 = 1.0 / 240.0;

/// Errors of both events, cut off at the frames.
fn film_error(frame_s: f64, rng: &mut Rng) -> f64 {
    let mut event = || (0.3 * frame_s * rng.normal()).clamp(-0.5 * frame_s, 0.5 * frame_s);
    event() + event()
}

fn mat_reading(true_flight_s: f64, rng: &mut Rng) -> f64 {
    let shown = true_flight_s + MAT_ADDS_S + MAT_SCATTER_S * rng.normal();
    (shown / MAT_STEP_S).round() * MAT_STEP_S
}

/// All throws; two thirds of a rise in height are a rise in speed as well.
pub fn squad_throws() -> Vec<SquadThrow> {
    let mut throws = Vec::new();
    for (number, player) in PLAYERS.iter().enumerate() {
        let mut rng = Rng::new(number as u64, 0x7480);
        for (session, date) in SESSIONS.iter().enumerate() {
            if !player.came.contains(&session) {
                continue;
            }
            let rise = (player.true_height_m(session) - player.height_m) / player.height_m;
            for _ in 0..3 {
                let speed = player.throw_m_s * (1.0 + 0.67 * rise) + 0.35 * rng.normal();
                throws.push(SquadThrow {
                    player: number,
                    date: *date,
                    speed_m_s: (speed * 10.0).round() / 10.0,
                });
            }
        }
    }
    throws
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_squad_is_the_same_every_time_and_as_told() {
        assert_eq!(squad_jumps(), squad_jumps());
        let rose = PLAYERS
            .iter()
            .filter(|p| p.change_m >= 0.03 && p.came.len() > 2);
        let fell = PLAYERS.iter().filter(|p| p.change_m <= -0.03);
        assert_eq!((rose.count(), fell.count()), (4, 2));
    }

    #[test]
    fn what_was_measured_scatters_about_the_truth() {
        let jumps = squad_jumps();
        let unloaded = jumps.iter().filter(|j| j.load_kg == 0.0 && !j.spoilt);
        let errors: Vec<f64> = unloaded
            .map(|j| {
                let session = SESSIONS.iter().position(|day| *day == j.date).unwrap();
                let height = G * j.film_flight_s * j.film_flight_s / 8.0;
                height - PLAYERS[j.player].true_height_m(session)
            })
            .collect();
        let mean = errors.iter().sum::<f64>() / errors.len() as f64;
        assert!(
            errors.len() > 250 && mean.abs() < 0.003,
            "{} {mean}",
            errors.len()
        );
        assert!(jumps.iter().any(|j| j.spoilt));
    }

    #[test]
    fn the_mat_adds_what_it_is_said_to_add() {
        let jumps = squad_jumps();
        let added: Vec<f64> = jumps
            .iter()
            .filter_map(|j| Some(j.mat_flight_s? - j.true_flight_s))
            .collect();
        let mean = added.iter().sum::<f64>() / added.len() as f64;
        assert!(
            added.len() > 40 && (mean - MAT_ADDS_S).abs() < 0.001,
            "{mean}"
        );
    }
}
