//! Before filming: what to expect, how many trials, is this phone good enough.

use serde::Serialize;

use super::components::Components;
use super::error::TrialsError;
use super::student::{noncentral_t_above, normal_quantile, t95};
use crate::jump::height::flight_time;
use crate::jump::{
    BudgetSource, ClockUncertainty, Conditions, Event, Flight, Gravity, HeightResult, JumpError,
};
use crate::units::{Bounds, CaptureTime, Interval95, Metres, Span, StandardUncertainty};

/// An athlete's own trial-to-trial variation where nothing is logged, as a
/// share of the height: the middle of the 3 to 7 % that are common for the
/// countermovement jump (common practice, from memory; Markovic and others
/// 2004, J Strength Cond Res 18:551, give 2.4 to 4.6 % across jump tests).
pub const DEFAULT_CV: f64 = 0.05;

/// Power by convention.
pub const USUAL_POWER: f64 = 0.8;

/// Most trials a session is planned with; nobody jumps all-out more often in a
/// day without tiring.
pub const MOST_TRIALS: u32 = 30;

/// How events will be read.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reading {
    /// To whole frames.
    WholeFrames,
    /// By a fit with this standard uncertainty in frames, such as 0.2.
    FittedFrames(f64),
}

/// An athlete's own variation from trial to trial, film error taken out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OwnVariation {
    /// Standard deviation of one trial within a day.
    #[serde(rename = "trial_sd_m")]
    pub trial_sd: Metres,
    /// Standard deviation from day to day beyond that; 0 leaves it out.
    #[serde(rename = "day_sd_m")]
    pub day_sd: Metres,
    /// Whether it is this athlete's or a default.
    pub source: VariationSource,
}

/// Where a variation comes from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum VariationSource {
    /// From the athlete's logged trials.
    Logged {
        /// Degrees of freedom.
        dof: f64,
    },
    /// [`DEFAULT_CV`] of the height.
    Default,
    /// As stated by the user.
    Stated,
}

impl OwnVariation {
    /// The default for an athlete of a height.
    pub fn default_for(height: Metres) -> Self {
        Self {
            trial_sd: height * DEFAULT_CV,
            day_sd: Metres::default(),
            source: VariationSource::Default,
        }
    }

    /// The athlete's own, from logged trials.
    pub fn logged(parts: &Components) -> Self {
        Self {
            trial_sd: parts.athlete_sd,
            day_sd: Metres::default(),
            source: VariationSource::Logged { dof: parts.dof },
        }
    }
}

/// What the film will do to one trial.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FilmError {
    /// Frames per second.
    pub frames_per_second: f64,
    /// Height cannot lie outside, given the frames and gravity.
    #[serde(rename = "bounds_m")]
    pub bounds: Bounds<Metres>,
    /// Standard uncertainty of one trial, leaving out what all trials of the
    /// phone share and a change cancels (clock, gravity).
    #[serde(rename = "u_m")]
    pub u: StandardUncertainty<Metres>,
    /// 95 % interval of one trial, everything in it.
    #[serde(rename = "interval95_m")]
    pub interval95: Interval95<Metres>,
}

/// The film error to expect for a jump of `height`.
///
/// The flight time is T = √(8h/g); both events lie in the middle of a frame
/// interval, which is the usual case: bounds T ± 1/f. For whole frames the
/// standard uncertainty is close to (g T/4)/(f √6).
///
/// # Errors
/// [`JumpError`] if the height is not above 0, the rate not above 0, or the
/// flight shorter than one frame.
pub fn film_error(
    height: Metres,
    frames_per_second: f64,
    reading: Reading,
    clock: ClockUncertainty,
) -> Result<FilmError, JumpError> {
    let gravity = Gravity::standard();
    let frame = Span::from_seconds(1.0 / frames_per_second);
    let takeoff = CaptureTime::from_seconds(0.0);
    let event = |best: CaptureTime| {
        let (earliest, latest) = (best - frame / 2.0, best + frame / 2.0);
        match reading {
            Reading::WholeFrames => Event::between_frames(earliest, latest),
            Reading::FittedFrames(share) => {
                Event::fitted(earliest, best, latest, StandardUncertainty(frame * share))
            }
        }
    };
    let landing = event(takeoff + flight_time(height, gravity.value()))?;
    let flight = Flight::new(event(takeoff)?, landing)?;
    let result = HeightResult::of(&flight, &Conditions::new(clock, gravity));
    let own: f64 = result
        .budget
        .iter()
        .filter(|line| !matches!(line.source, BudgetSource::Clock | BudgetSource::Gravity))
        .map(|line| line.u_height.0.metres().powi(2))
        .sum();
    Ok(FilmError {
        frames_per_second,
        bounds: result.bounds,
        u: StandardUncertainty(Metres::from_metres(own.sqrt())),
        interval95: result.interval95,
    })
}

/// What scatters in a planned comparison of two sessions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlannedNoise {
    /// Standard deviation of one trial, film error included.
    pub trial_sd: Metres,
    /// Standard deviation from day to day, taken as known; 0 leaves it out.
    pub day_sd: Metres,
}

impl PlannedNoise {
    /// Athlete and film together.
    pub fn of(own: &OwnVariation, film: &FilmError) -> Self {
        let (athlete, film) = (own.trial_sd.metres(), film.u.0.metres());
        Self {
            trial_sd: Metres::from_metres(athlete.hypot(film)),
            day_sd: own.day_sd,
        }
    }

    /// Chance that two sessions of `trials` each show a true change: that the
    /// 95 % interval of the difference leaves 0 out.
    ///
    /// Exact for normal scatter, equal on both days, by the non-central t with
    /// 2n − 2 degrees of freedom; with a day-to-day part the degrees of freedom
    /// are Welch and Satterthwaite's and the result is an approximation. NaN
    /// for fewer than two trials.
    pub fn power(&self, change: Metres, trials: u32) -> f64 {
        if trials < 2 {
            return f64::NAN;
        }
        let n = f64::from(trials);
        let from_trials = 2.0 * self.trial_sd.metres().powi(2) / n;
        let variance = from_trials + 2.0 * self.day_sd.metres().powi(2);
        let dof = (2.0 * n - 2.0) * (variance / from_trials).powi(2);
        let delta = change.metres() / variance.sqrt();
        let limit = t95(dof);
        noncentral_t_above(limit, dof, delta) + noncentral_t_above(limit, dof, -delta)
    }

    /// Fewest trials per session that see `change` with a chance of `power`.
    ///
    /// # Errors
    /// [`TrialsError::BadSetting`] unless all are above 0 and the power is
    /// from 0.1 to 0.999.
    pub fn trials_to_see(&self, change: Metres, power: f64) -> Result<TrialsNeeded, TrialsError> {
        self.check(power)?;
        positive("a change in metres", change.metres())?;
        if let Some(n) = (2..=MOST_TRIALS).find(|n| self.power(change, *n) >= power) {
            return Ok(TrialsNeeded::PerSession(n));
        }
        // Known days and endless trials leave a normal comparison.
        let smallest =
            self.day_sd * (2f64.sqrt() * (normal_quantile(0.975) + normal_quantile(power)));
        Ok(if smallest >= change {
            TrialsNeeded::HiddenByDays { smallest }
        } else {
            TrialsNeeded::MoreThan(MOST_TRIALS)
        })
    }

    /// The smallest change that `trials` per session see with a chance of
    /// `power`.
    ///
    /// # Errors
    /// [`TrialsError::BadSetting`] as above, [`TrialsError::TooFew`] for fewer
    /// than two trials.
    pub fn seen_with(&self, trials: u32, power: f64) -> Result<Metres, TrialsError> {
        self.check(power)?;
        if trials < 2 {
            let found = trials as usize;
            return Err(TrialsError::TooFew {
                what: "trials per session",
                found,
                needed: 2,
            });
        }
        let scale = self.trial_sd.metres() + self.day_sd.metres();
        let (mut lo, mut hi) = (0.0, scale);
        while self.power(Metres::from_metres(hi), trials) < power && hi < 1e6 * scale {
            hi *= 2.0;
        }
        for _ in 0..60 {
            let middle = 0.5 * (lo + hi);
            if self.power(Metres::from_metres(middle), trials) < power {
                lo = middle;
            } else {
                hi = middle;
            }
        }
        Ok(Metres::from_metres(hi))
    }

    fn check(&self, power: f64) -> Result<(), TrialsError> {
        positive(
            "a trial-to-trial variation in metres",
            self.trial_sd.metres(),
        )?;
        let day = self.day_sd.metres();
        if !(day >= 0.0 && day.is_finite()) {
            let what = "a day-to-day variation in metres";
            return Err(TrialsError::BadSetting { what, value: day });
        }
        if !(0.1..=0.999).contains(&power) {
            return Err(TrialsError::BadSetting {
                what: "a power",
                value: power,
            });
        }
        Ok(())
    }
}

fn positive(what: &'static str, value: f64) -> Result<(), TrialsError> {
    if value > 0.0 && value.is_finite() {
        Ok(())
    } else {
        Err(TrialsError::BadSetting { what, value })
    }
}

/// How many trials it takes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum TrialsNeeded {
    /// So many per session will do.
    PerSession(u32),
    /// Not even so many will.
    MoreThan(u32),
    /// No number of trials will: the athlete differs more from day to day.
    HiddenByDays {
        /// The smallest change that one session on each side can show.
        #[serde(rename = "smallest_m")]
        smallest: Metres,
    },
}

/// Whether a phone is good enough for an athlete.
///
/// Film error adds to the athlete's own variation in squares, and the trials
/// needed grow in the same proportion, 1 + (film/own)². The thresholds are our
/// own: a quarter more trials is a fair price, twice as many is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PhoneVerdict {
    /// Film error at most half the athlete's own variation: at most a quarter
    /// more trials.
    Good,
    /// At most as large: up to twice as many trials.
    Usable,
    /// Larger: film faster or read below one frame.
    Coarse,
}

impl PhoneVerdict {
    /// Compares a film error with an athlete's own variation.
    pub fn of(own: &OwnVariation, film: &FilmError) -> Self {
        let (own, film) = (own.trial_sd.metres(), film.u.0.metres());
        if film <= 0.5 * own {
            Self::Good
        } else if film <= own {
            Self::Usable
        } else {
            Self::Coarse
        }
    }

    /// The verdict in a sentence.
    pub fn text(self) -> &'static str {
        match self {
            Self::Good => {
                "Good enough: the athlete's own ups and downs outweigh the film error; more \
                 frames per second would hardly save a trial."
            }
            Self::Usable => {
                "Usable: film error costs up to twice as many trials. Film faster if the phone can."
            }
            Self::Coarse => {
                "Too coarse for small changes: film error is larger than the athlete's own ups \
                 and downs. Film at more frames per second."
            }
        }
    }
}

/// What to expect at one frame rate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RatePlan {
    /// Film error of one trial.
    pub film: FilmError,
    /// Standard deviation of one trial, athlete and film together.
    #[serde(rename = "trial_sd_m")]
    pub trial_sd: Metres,
    /// Trials per session to see the wanted change.
    pub trials: TrialsNeeded,
    /// Smallest change that three trials per session see with the same power.
    #[serde(rename = "seen_with_three_m")]
    pub seen_with_three: Metres,
    /// Whether the phone is good enough.
    pub phone: PhoneVerdict,
}

/// A question to plan for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    /// The athlete's usual height.
    pub height: Metres,
    /// Her own variation.
    pub own: OwnVariation,
    /// The change to see.
    pub change: Metres,
    /// With what chance; [`USUAL_POWER`] by convention.
    pub power: f64,
    /// How events will be read.
    pub reading: Reading,
    /// The phone's clock.
    pub clock: ClockUncertainty,
}

/// Answers the question at each frame rate.
///
/// # Errors
/// [`TrialsError::BadSetting`] for a height, rate, change, variation or power
/// out of range.
pub fn plan(question: &Question, rates: &[f64]) -> Result<Vec<RatePlan>, TrialsError> {
    positive("a height in metres", question.height.metres())?;
    if let Reading::FittedFrames(share) = question.reading {
        positive("a fit's uncertainty in frames", share)?;
    }
    let at_rate =
        |rate: &f64| {
            positive("a frame rate", *rate)?;
            let film = film_error(question.height, *rate, question.reading, question.clock)
                .map_err(|_| TrialsError::BadSetting {
                    what: "a frame rate",
                    value: *rate,
                })?;
            let noise = PlannedNoise::of(&question.own, &film);
            Ok(RatePlan {
                film,
                trial_sd: noise.trial_sd,
                trials: noise.trials_to_see(question.change, question.power)?,
                seen_with_three: noise.seen_with(3, question.power)?,
                phone: PhoneVerdict::of(&question.own, &film),
            })
        };
    rates.iter().map(at_rate).collect()
}
