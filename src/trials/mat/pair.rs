//! One jump, seen by the film and by the mat.

use serde::{Deserialize, Serialize};

use super::error::MatError;
use crate::jump::gravity::STANDARD_GRAVITY;
use crate::jump::height::{flight_time, height, height_per_time};
use crate::units::{Acceleration, Bounds, Metres, Span, StandardUncertainty};

/// Longest flight taken for a human jump: 1.2 m of height.
const LONGEST_FLIGHT_S: f64 = 1.0;

/// What the film says about a flight.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FilmFlight {
    /// Best estimate.
    #[serde(rename = "flight_time_s")]
    pub flight_time: Span,
    /// It cannot lie outside.
    #[serde(rename = "bounds_s")]
    pub bounds: Bounds<Span>,
    /// The error of this jump alone. Leave out what all clips share (the
    /// clock's rate): that is no scatter.
    #[serde(rename = "u_s")]
    pub u: StandardUncertainty<Span>,
}

/// How a mat that shows heights got them: h = g T²/8 + added.
///
/// A firmware that counts the heel rise adds a height; one that rounds gravity
/// uses 9.81.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct HeightFormula {
    /// Gravity in the mat's formula.
    #[serde(rename = "gravity_m_s2")]
    pub gravity: Acceleration,
    /// Constant the mat is known to add; 0 where nothing is known.
    #[serde(rename = "added_m")]
    pub added: Metres,
}

impl Default for HeightFormula {
    fn default() -> Self {
        Self {
            gravity: STANDARD_GRAVITY,
            added: Metres::default(),
        }
    }
}

/// What the mat showed. `step` is the smallest step of its display.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MatReading {
    /// A flight time.
    Time {
        /// As shown.
        #[serde(rename = "time_s")]
        time: Span,
        /// Smallest step.
        #[serde(rename = "step_s")]
        step: Span,
    },
    /// A height.
    Height {
        /// As shown.
        #[serde(rename = "height_m")]
        height: Metres,
        /// Smallest step.
        #[serde(rename = "step_m")]
        step: Metres,
        /// The formula behind it, as far as known.
        formula: HeightFormula,
    },
}

impl MatReading {
    /// The flight time the reading stands for.
    pub fn flight_time(&self) -> Span {
        match self {
            Self::Time { time, .. } => *time,
            Self::Height {
                height, formula, ..
            } => flight_time(*height - formula.added, formula.gravity),
        }
    }

    /// The display's step as a time; for a height, at that height.
    pub fn time_step(&self) -> Span {
        match self {
            Self::Time { step, .. } => *step,
            Self::Height { step, formula, .. } => {
                let per_time = height_per_time(self.flight_time(), formula.gravity);
                Span::from_seconds(step.metres() / per_time.metres_per_second())
            }
        }
    }

    /// The height: as shown, or of the time shown, under the given gravity.
    pub fn height(&self, gravity: Acceleration) -> Metres {
        match self {
            Self::Time { time, .. } => height(*time, gravity),
            Self::Height { height, .. } => *height,
        }
    }

    /// Whether the mat showed a height.
    pub fn is_height(&self) -> bool {
        matches!(self, Self::Height { .. })
    }

    fn check_scale(&self, order: u32) -> Result<(), MatError> {
        let (step, added, gravity) = match self {
            Self::Time { step, .. } => (step.seconds(), 0.0, 9.8),
            Self::Height { step, formula, .. } => (
                step.metres(),
                formula.added.metres(),
                formula.gravity.metres_per_second_squared(),
            ),
        };
        let bad = |what, value| Err(MatError::BadScale { order, what, value });
        if !(step > 0.0 && step <= 0.1) {
            return bad("step", step);
        }
        if !(-0.5..=0.5).contains(&added) {
            return bad("added height", added);
        }
        if !(gravity > 9.0 && gravity < 11.0) {
            return bad("gravity", gravity);
        }
        Ok(())
    }
}

/// One jump on the mat and on film.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pair {
    /// Who jumped.
    pub athlete: String,
    /// Place of the jump in the session, from 1.
    pub order: u32,
    /// The film's word.
    pub film: FilmFlight,
    /// The mat's word.
    pub mat: MatReading,
}

impl Pair {
    /// Whether the numbers can belong to a jump.
    ///
    /// # Errors
    /// [`MatError::BadFilm`], [`MatError::BadScale`], [`MatError::BadReading`].
    pub fn check(&self) -> Result<(), MatError> {
        let time_s = self.film.flight_time.seconds();
        let (lo_s, hi_s) = (
            self.film.bounds.lo().seconds(),
            self.film.bounds.hi().seconds(),
        );
        let u_s = self.film.u.0.seconds();
        let ordered = lo_s > 0.0 && lo_s <= time_s && time_s <= hi_s;
        let usable = time_s <= LONGEST_FLIGHT_S && hi_s.is_finite() && (0.0..0.1).contains(&u_s);
        if !(ordered && usable) {
            return Err(MatError::BadFilm {
                order: self.order,
                time_s,
                lo_s,
                hi_s,
                u_s,
            });
        }
        self.mat.check_scale(self.order)?;
        let time_s = self.mat.flight_time().seconds();
        // Mats that are badly off read 0.1 s too much; a wrong unit, a thousand times.
        if !(time_s > 0.05 && time_s <= 1.5 * LONGEST_FLIGHT_S) {
            return Err(MatError::BadReading {
                order: self.order,
                time_s,
            });
        }
        Ok(())
    }

    /// The comparison of this jump alone.
    pub fn compare(&self, gravity: Acceleration) -> JumpComparison {
        let mat_time = self.mat.flight_time();
        let step = self.mat.time_step();
        let film = &self.film;
        let allowed = Bounds::between(film.bounds.lo() - step, film.bounds.hi() + step);
        JumpComparison {
            athlete: self.athlete.clone(),
            order: self.order,
            film_time: film.flight_time,
            mat_time,
            difference: mat_time - film.flight_time,
            inside: allowed.contains(mat_time),
            allowed,
            film_height: height(film.flight_time, gravity),
            mat_height: self.mat.height(gravity),
        }
    }
}

/// Mat against film in one jump.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JumpComparison {
    /// Who jumped.
    pub athlete: String,
    /// Place in the session.
    pub order: u32,
    /// Flight time on film.
    #[serde(rename = "film_time_s")]
    pub film_time: Span,
    /// Flight time on the mat.
    #[serde(rename = "mat_time_s")]
    pub mat_time: Span,
    /// Mat minus film.
    #[serde(rename = "difference_s")]
    pub difference: Span,
    /// Whether the mat can be right: its time lies within the film's bounds,
    /// widened by one step of the mat on either side.
    pub inside: bool,
    /// Those widened bounds. A whole step, since a display may round or cut.
    #[serde(rename = "allowed_s")]
    pub allowed: Bounds<Span>,
    /// Height from the film's flight time.
    #[serde(rename = "film_height_m")]
    pub film_height: Metres,
    /// Height by the mat.
    #[serde(rename = "mat_height_m")]
    pub mat_height: Metres,
}
