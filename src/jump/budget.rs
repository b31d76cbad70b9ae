//! The uncertainty of a height, line by line.
//!
//! Every source keeps its own line, so that whatever is summed can be taken
//! apart again. Three statements come out, and they are not the same:
//!
//! * bounds: given the frames' times and the stated gravity, the height cannot
//!   lie outside;
//! * standard uncertainty: the lines in quadrature (JCGM 100:2008, 5.1.2);
//! * 95 % interval: from the distribution of all errors together, which is
//!   seldom normal (JCGM 101:2008; see [`super::shape`]).
//!
//! Take-off and landing share one clock and one shutter. A common delay, from
//! shutter, container or player, moves both events alike and cancels in the
//! flight time; only the clock's rate and rounding are left.

use serde::Serialize;

use super::combine::{Correlations, Input, combine};
use super::conditions::{Conditions, Term};
use super::flight::Flight;
use super::gravity::Gravity;
use super::height::{
    DEFINITION, PostureAllowance, height, height_bounds, height_per_time, takeoff_speed,
};
use super::shape::{Component, Sum};
use crate::units::{Bounds, Interval95, Metres, Span, Speed, StandardUncertainty};

/// Share of true values that an interval is to hold.
const COVERAGE: f64 = 0.95;

/// Two half-widths that differ by less than this share are called equal: a
/// container's rounding makes frames of the same length differ a little.
const SAME_WIDTH: f64 = 0.01;

/// Where an uncertainty comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum BudgetSource {
    /// The camera looks only once per frame; events seen in whole frames.
    FrameSpacing,
    /// The fit that places an event below one frame.
    DetectorFit,
    /// The rate of the capture clock.
    Clock,
    /// Rounding of time stamps to the container's tick.
    ClockTick,
    /// Rolling shutter and exposure, as far as they do not cancel.
    Shutter,
    /// Gravity at the place of the jump.
    Gravity,
}

/// Form of a line's distribution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    /// One rectangle.
    Uniform,
    /// Two rectangles of equal width.
    Triangular,
    /// Two rectangles of unequal width.
    Trapezoidal,
    /// Normal.
    Normal,
    /// One or two normal errors cut off at the frames.
    TruncatedNormal,
    /// Anything else.
    Mixed,
}

/// One line of the budget.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BudgetLine {
    /// Where it comes from.
    pub source: BudgetSource,
    /// Standard uncertainty of the flight time; none for gravity.
    #[serde(rename = "u_flight_s")]
    pub u_flight: Option<StandardUncertainty<Span>>,
    /// Standard uncertainty of the height.
    #[serde(rename = "u_height_m")]
    pub u_height: StandardUncertainty<Metres>,
    /// Form of the distribution.
    pub shape: Shape,
}

/// The height of one jump and everything that is claimed about it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeightResult {
    /// What "height" means.
    pub definition: &'static str,
    /// Best estimate.
    #[serde(rename = "height_m")]
    pub height: Metres,
    /// Given the frames' times and the gravity used, it cannot lie outside.
    #[serde(rename = "bounds_m")]
    pub bounds: Bounds<Metres>,
    /// Combined standard uncertainty: the budget's lines in quadrature.
    #[serde(rename = "u_m")]
    pub u: StandardUncertainty<Metres>,
    /// 95 % interval, all lines of the budget together.
    #[serde(rename = "interval95_m")]
    pub interval95: Interval95<Metres>,
    /// Best estimate of the time in the air.
    #[serde(rename = "flight_time_s")]
    pub flight_time: Span,
    /// Given the frames' times, it cannot lie outside.
    #[serde(rename = "flight_time_bounds_s")]
    pub flight_time_bounds: Bounds<Span>,
    /// Combined standard uncertainty of the flight time.
    #[serde(rename = "flight_time_u_s")]
    pub flight_time_u: StandardUncertainty<Span>,
    /// 95 % interval of the flight time.
    #[serde(rename = "flight_time_interval95_s")]
    pub flight_time_interval95: Interval95<Span>,
    /// Speed of the centre of mass at take-off.
    #[serde(rename = "takeoff_speed_m_s")]
    pub takeoff_speed: Speed,
    /// Gravity used.
    pub gravity: Gravity,
    /// Where the uncertainty comes from.
    pub budget: Vec<BudgetLine>,
    /// What the posture at landing likely adds, if something is known of it.
    /// Not part of the interval.
    pub posture: Option<PostureAllowance>,
}

impl HeightResult {
    /// Works out the height of a flight.
    ///
    /// A fitted event's normal error is cut off at its frames. Where both fits
    /// are correlated, the difference of the two is taken as one normal error
    /// cut off at the flight time's bounds. Neither interval reaches farther
    /// outside the bounds than clock, tick, gravity and further sources
    /// together account for. The interval always holds the best estimate.
    ///
    /// ```
    /// use underfoot::jump::{ClockUncertainty, Conditions, Event, Flight, Gravity, HeightResult};
    /// use underfoot::units::{CaptureTime, Span};
    ///
    /// // Half a second, each event between two frames of a 240 per second clip.
    /// let at = CaptureTime::from_seconds;
    /// let takeoff = Event::between_frames(at(1.0), at(1.0 + 1.0 / 240.0))?;
    /// let landing = Event::between_frames(at(1.5), at(1.5 + 1.0 / 240.0))?;
    /// let flight = Flight::new(takeoff, landing)?;
    ///
    /// let clock = ClockUncertainty::new(1e-4, Span::default())?;
    /// let conditions = Conditions::new(clock, Gravity::standard());
    /// let result = HeightResult::of(&flight, &conditions);
    ///
    /// assert_eq!(format!("{:.1}", result.height.centimetres()), "30.6");
    /// assert_eq!(format!("{:.1}", result.bounds.lo().centimetres()), "30.1");
    /// assert_eq!(format!("{:.1}", result.bounds.hi().centimetres()), "31.2");
    /// # Ok::<(), underfoot::jump::JumpError>(())
    /// ```
    pub fn of(flight: &Flight, conditions: &Conditions) -> Self {
        let time = flight.flight_time();
        let gravity = conditions.gravity;
        let slope = height_per_time(time, gravity.value());
        let terms = time_terms(flight, conditions);
        let mut errors: Vec<Component> = terms.iter().map(|term| term.error).collect();
        let flight_time_interval95 = interval(time, &errors);
        errors.push(gravity_as_time(time, &gravity));
        let in_time = interval(time, &errors);

        let time_inputs: Vec<Input> = terms.iter().map(|term| input(term.error, 1.0)).collect();
        let height_per_gravity = time.seconds().powi(2) / 8.0;
        let mut height_inputs: Vec<Input> = terms
            .iter()
            .map(|term| input(term.error, slope.metres_per_second()))
            .collect();
        height_inputs.push(input(gravity.component(), height_per_gravity));
        Self {
            definition: DEFINITION,
            height: height(time, gravity.value()),
            bounds: height_bounds(flight.flight_time_bounds(), gravity.value()),
            u: StandardUncertainty(Metres::from_metres(in_quadrature(&height_inputs))),
            interval95: Interval95 {
                lo: height(in_time.lo, gravity.value()),
                hi: height(in_time.hi, gravity.value()),
            },
            flight_time: time,
            flight_time_bounds: flight.flight_time_bounds(),
            flight_time_u: StandardUncertainty(Span::from_seconds(in_quadrature(&time_inputs))),
            flight_time_interval95,
            takeoff_speed: takeoff_speed(time, gravity.value()),
            gravity,
            budget: lines(&terms, slope, &gravity, height_per_gravity),
            posture: None,
        }
    }

    /// Adds what the posture at landing likely does.
    pub fn with_posture(mut self, posture: PostureAllowance) -> Self {
        self.posture = Some(posture);
        self
    }
}

/// All errors of the flight time, each independent of the others.
fn time_terms(flight: &Flight, conditions: &Conditions) -> Vec<Term> {
    let mut terms = event_terms(flight, conditions.fit_correlation);
    let clock = conditions.clock;
    if clock.relative() > 0.0 {
        terms.push(Term {
            source: BudgetSource::Clock,
            error: Component::Normal {
                u: clock.relative() * flight.flight_time().seconds(),
            },
        });
    }
    if clock.tick() > Span::default() {
        // Each of the two stamps is off by up to half a tick; stamps cut down
        // instead of rounded are all late alike, which cancels.
        let rounding = Term {
            source: BudgetSource::ClockTick,
            error: Component::Uniform {
                half_width: clock.tick().seconds() / 2.0,
            },
        };
        terms.extend([rounding; 2]);
    }
    terms.extend(&conditions.further);
    terms
}

/// The errors of take-off and landing, as errors of the flight time.
fn event_terms(flight: &Flight, fit_correlation: f64) -> Vec<Term> {
    let (takeoff, landing) = (flight.takeoff(), flight.landing());
    if let (Some(first), Some(second)) = (takeoff.fit(), landing.fit())
        && fit_correlation != 0.0
    {
        let bounds = flight.flight_time_bounds();
        let time = flight.flight_time();
        let error = Component::TruncatedNormal {
            u: difference_u(first.0, second.0, fit_correlation),
            lo: (bounds.lo() - time).seconds(),
            hi: (bounds.hi() - time).seconds(),
        };
        let source = BudgetSource::DetectorFit;
        return vec![Term { source, error }];
    }
    // A late take-off shortens the flight, hence the sign.
    [(takeoff, -1.0), (landing, 1.0)]
        .into_iter()
        .map(|(event, sign)| Term {
            source: match event.fit() {
                None => BudgetSource::FrameSpacing,
                Some(_) => BudgetSource::DetectorFit,
            },
            error: event.component().scaled(sign),
        })
        .collect()
}

/// Standard uncertainty of a difference of two correlated moments.
fn difference_u(takeoff: Span, landing: Span, correlation: f64) -> f64 {
    let inputs = [
        Input::known(0.0, takeoff.seconds(), -1.0),
        Input::known(0.0, landing.seconds(), 1.0),
    ];
    // The coefficient was checked when it was stated.
    let correlations = Correlations::none()
        .with(0, 1, correlation)
        .unwrap_or_default();
    combine(&inputs, &correlations).u
}

/// Gravity's error as the error of the flight time that would do the same to
/// the height: h = g T²/8, so a share of g weighs as half that share of T.
fn gravity_as_time(time: Span, gravity: &Gravity) -> Component {
    let g = gravity.value().metres_per_second_squared();
    gravity.component().scaled(time.seconds() / (2.0 * g))
}

fn interval(best: Span, errors: &[Component]) -> Interval95<Span> {
    let (lo, hi) = Sum::of(errors).interval(COVERAGE);
    let earliest = (best.seconds() + lo.min(0.0)).max(0.0);
    Interval95 {
        lo: Span::from_seconds(earliest),
        hi: best + Span::from_seconds(hi.max(0.0)),
    }
}

fn input(error: Component, sensitivity: f64) -> Input {
    Input::known(0.0, error.u(), sensitivity)
}

fn in_quadrature(inputs: &[Input]) -> f64 {
    combine(inputs, &Correlations::none()).u
}

/// One line per source, in order of first appearance; gravity last.
fn lines(
    terms: &[Term],
    slope: Speed,
    gravity: &Gravity,
    height_per_gravity: f64,
) -> Vec<BudgetLine> {
    let mut sources: Vec<BudgetSource> = Vec::new();
    for term in terms {
        if !sources.contains(&term.source) {
            sources.push(term.source);
        }
    }
    let mut lines: Vec<BudgetLine> = sources
        .into_iter()
        .map(|source| {
            let errors: Vec<Component> = terms
                .iter()
                .filter(|term| term.source == source)
                .map(|term| term.error)
                .collect();
            time_line(source, &errors, slope)
        })
        .collect();
    lines.push(BudgetLine {
        source: BudgetSource::Gravity,
        u_flight: None,
        u_height: StandardUncertainty(Metres::from_metres(
            gravity.component().u() * height_per_gravity,
        )),
        shape: shape_of(&[gravity.component()]),
    });
    lines
}

fn time_line(source: BudgetSource, errors: &[Component], slope: Speed) -> BudgetLine {
    let inputs: Vec<Input> = errors.iter().map(|error| input(*error, 1.0)).collect();
    let u_s = in_quadrature(&inputs);
    BudgetLine {
        source,
        u_flight: Some(StandardUncertainty(Span::from_seconds(u_s))),
        u_height: StandardUncertainty(Metres::from_metres(u_s * slope.metres_per_second())),
        shape: shape_of(errors),
    }
}

fn shape_of(errors: &[Component]) -> Shape {
    let all = |wanted: fn(&Component) -> bool| errors.iter().all(wanted);
    match errors {
        [Component::Uniform { .. }] => Shape::Uniform,
        [
            Component::Uniform { half_width: a },
            Component::Uniform { half_width: b },
        ] => {
            if (a - b).abs() <= SAME_WIDTH * a.max(*b) {
                Shape::Triangular
            } else {
                Shape::Trapezoidal
            }
        }
        _ if all(|e| matches!(e, Component::Normal { .. })) => Shape::Normal,
        _ if all(|e| matches!(e, Component::TruncatedNormal { .. })) => Shape::TruncatedNormal,
        _ => Shape::Mixed,
    }
}

#[cfg(test)]
#[path = "budget_tests.rs"]
mod tests;
