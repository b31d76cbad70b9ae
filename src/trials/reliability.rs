//! How well a test repeats across a squad: intraclass correlation, typical
//! error, coefficient of variation.
//!
//! A table has one row per athlete and one column per trial, session or rater.
//! The six coefficients and their intervals are those of Shrout and Fleiss
//! 1979 ("Intraclass correlations: uses in assessing rater reliability",
//! Psychol Bull 86:420), in their numbering.

use serde::Serialize;

use super::error::TrialsError;
use super::student::{f_quantile, sd_interval95};
use crate::units::Interval95;

/// Normal quantile of the minimal detectable change, by convention.
const DETECTABLE_Z: f64 = 1.96;

/// A complete table, athletes by trials, in any unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Ratings {
    rows: Vec<Vec<f64>>,
    columns: usize,
}

/// Mean squares of a two-way table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MeanSquares {
    /// Between rows (athletes).
    pub between: f64,
    /// Within rows.
    pub within: f64,
    /// Between columns (trials).
    pub columns: f64,
    /// Residual.
    pub error: f64,
}

/// Which of the six coefficients.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum IccForm {
    /// ICC(1,1): each row has trials of its own.
    OneOne,
    /// ICC(2,1): trials stand for all such trials; absolute agreement.
    TwoOne,
    /// ICC(3,1): these trials only; consistency.
    ThreeOne,
    /// ICC(1,k), of the mean of k trials.
    OneK,
    /// ICC(2,k), of the mean of k trials.
    TwoK,
    /// ICC(3,k), of the mean of k trials.
    ThreeK,
}

impl IccForm {
    /// All six, in the order of the 1979 table.
    pub const ALL: [Self; 6] = [
        Self::OneOne,
        Self::TwoOne,
        Self::ThreeOne,
        Self::OneK,
        Self::TwoK,
        Self::ThreeK,
    ];

    /// The coefficient's usual name.
    pub fn label(self) -> &'static str {
        match self {
            Self::OneOne => "ICC(1,1)",
            Self::TwoOne => "ICC(2,1)",
            Self::ThreeOne => "ICC(3,1)",
            Self::OneK => "ICC(1,k)",
            Self::TwoK => "ICC(2,k)",
            Self::ThreeK => "ICC(3,k)",
        }
    }
}

/// An intraclass correlation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Icc {
    /// Which one.
    pub form: IccForm,
    /// Its value; can be negative when athletes differ less than trials.
    pub value: f64,
    /// 95 % interval from F; none where the trials repeat without any error.
    pub interval95: Option<Interval95<f64>>,
}

/// Typical error across a squad.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SquadError {
    /// Typical error of one trial, the root of the residual mean square, in the
    /// table's unit: for two columns the standard deviation of the differences
    /// over √2 (Hopkins 2000, Sports Med 30:1).
    pub typical_error: f64,
    /// Its degrees of freedom.
    pub dof: f64,
    /// Its 95 % interval, from chi-square.
    pub interval95: Interval95<f64>,
    /// Typical error over the grand mean.
    pub cv: f64,
    /// CV from logarithms, e^s − 1 with s the typical error of the logarithms:
    /// for athletes whose scatter grows with their height. None if a value is
    /// not above 0.
    pub log_cv: Option<f64>,
    /// Minimal detectable change of one trial, 1.96 √2 TE (Weir 2005,
    /// J Strength Cond Res 19:231).
    pub detectable: f64,
    /// Mean of the last column less mean of the first: learning or fatigue.
    pub drift: f64,
}

impl Ratings {
    /// A table of at least two athletes and two trials.
    ///
    /// # Errors
    /// [`TrialsError::TooFew`], [`TrialsError::Ragged`] or
    /// [`TrialsError::BadValue`].
    pub fn new(rows: Vec<Vec<f64>>) -> Result<Self, TrialsError> {
        let columns = rows.first().map_or(0, Vec::len);
        let too_few = |what, found| TrialsError::TooFew {
            what,
            found,
            needed: 2,
        };
        if rows.len() < 2 {
            return Err(too_few("athletes", rows.len()));
        }
        if columns < 2 {
            return Err(too_few("trials of each athlete", columns));
        }
        for (row, values) in rows.iter().enumerate() {
            if values.len() != columns {
                return Err(TrialsError::Ragged {
                    row,
                    found: values.len(),
                    expected: columns,
                });
            }
            if let Some(at) = values.iter().position(|v| !v.is_finite()) {
                return Err(TrialsError::BadValue {
                    what: "value",
                    position: row * columns + at,
                    value: values.get(at).copied().unwrap_or(f64::NAN),
                });
            }
        }
        Ok(Self { rows, columns })
    }

    fn n(&self) -> f64 {
        self.rows.len() as f64
    }

    fn k(&self) -> f64 {
        self.columns as f64
    }

    fn residual_dof(&self) -> f64 {
        (self.n() - 1.0) * (self.k() - 1.0)
    }

    fn column_means(&self) -> Vec<f64> {
        (0..self.columns)
            .map(|j| self.rows.iter().filter_map(|row| row.get(j)).sum::<f64>() / self.n())
            .collect()
    }

    fn grand_mean(&self) -> f64 {
        self.rows.iter().flatten().sum::<f64>() / (self.n() * self.k())
    }

    /// The two-way analysis of variance.
    pub fn mean_squares(&self) -> MeanSquares {
        let (n, k, grand) = (self.n(), self.k(), self.grand_mean());
        let columns = self.column_means();
        let (mut between, mut within, mut error) = (0.0, 0.0, 0.0);
        for row in &self.rows {
            let mean = row.iter().sum::<f64>() / k;
            between += k * (mean - grand).powi(2);
            for (value, column) in row.iter().zip(&columns) {
                within += (value - mean).powi(2);
                error += (value - mean - column + grand).powi(2);
            }
        }
        let across: f64 = columns.iter().map(|c| n * (c - grand).powi(2)).sum();
        MeanSquares {
            between: between / (n - 1.0),
            within: within / (n * (k - 1.0)),
            columns: across / (k - 1.0),
            error: error / self.residual_dof(),
        }
    }

    /// One of the six coefficients with its 95 % interval.
    ///
    /// # Errors
    /// [`TrialsError::NoVariation`] when the coefficient does not exist: all
    /// values equal, or, for the means of k trials, athletes' means equal.
    pub fn icc(&self, form: IccForm) -> Result<Icc, TrialsError> {
        let MeanSquares {
            between,
            within,
            columns,
            error,
        } = self.mean_squares();
        let (n, k) = (self.n(), self.k());
        let value = match form {
            IccForm::OneOne => (between - within) / (between + (k - 1.0) * within),
            IccForm::TwoOne => self.two_one(),
            IccForm::ThreeOne => (between - error) / (between + (k - 1.0) * error),
            IccForm::OneK => (between - within) / between,
            IccForm::TwoK => (between - error) / (between + (columns - error) / n),
            IccForm::ThreeK => (between - error) / between,
        };
        if !value.is_finite() {
            return Err(TrialsError::NoVariation);
        }
        let (lo, hi) = self.limits(form);
        // Without noise F is infinite, and a certainty of 1 would be a lie.
        let noise = match form {
            IccForm::OneOne | IccForm::OneK => within,
            _ => error,
        };
        let interval95 =
            (noise > 0.0 && lo.is_finite() && hi.is_finite()).then_some(Interval95 { lo, hi });
        Ok(Icc {
            form,
            value,
            interval95,
        })
    }

    fn two_one(&self) -> f64 {
        let MeanSquares {
            between,
            columns,
            error,
            ..
        } = self.mean_squares();
        let (n, k) = (self.n(), self.k());
        (between - error) / (between + (k - 1.0) * error + k * (columns - error) / n)
    }

    /// 95 % limits by F (Shrout and Fleiss 1979, pp. 424 to 426, from memory).
    fn limits(&self, form: IccForm) -> (f64, f64) {
        let squares = self.mean_squares();
        let (n, k) = (self.n(), self.k());
        let by_f = |noise: f64, dof: f64| {
            let f = squares.between / noise;
            (
                f / f_quantile(0.975, n - 1.0, dof),
                f * f_quantile(0.975, dof, n - 1.0),
            )
        };
        let one_way = || by_f(squares.within, n * (k - 1.0));
        let two_way = || by_f(squares.error, self.residual_dof());
        let single =
            |(lo, hi): (f64, f64)| ((lo - 1.0) / (lo + k - 1.0), (hi - 1.0) / (hi + k - 1.0));
        let of_means = |(lo, hi): (f64, f64)| (1.0 - 1.0 / lo, 1.0 - 1.0 / hi);
        match form {
            IccForm::OneOne => single(one_way()),
            IccForm::ThreeOne => single(two_way()),
            IccForm::OneK => of_means(one_way()),
            IccForm::ThreeK => of_means(two_way()),
            IccForm::TwoOne => self.two_one_limits(),
            IccForm::TwoK => {
                let (lo, hi) = self.two_one_limits();
                let up = |r: f64| k * r / (1.0 + (k - 1.0) * r);
                (up(lo), up(hi))
            }
        }
    }

    /// Limits of ICC(2,1), whose noise mixes two mean squares: its degrees of
    /// freedom are Satterthwaite's.
    fn two_one_limits(&self) -> (f64, f64) {
        let MeanSquares {
            between,
            columns,
            error,
            ..
        } = self.mean_squares();
        let (n, k, r) = (self.n(), self.k(), self.two_one());
        let a = k * r / (n * (1.0 - r));
        let b = 1.0 + k * r * (n - 1.0) / (n * (1.0 - r));
        let (by_columns, by_error) = (a * columns, b * error);
        let dof = (by_columns + by_error).powi(2)
            / (by_columns.powi(2) / (k - 1.0) + by_error.powi(2) / self.residual_dof());
        let low_f = f_quantile(0.975, n - 1.0, dof);
        let high_f = f_quantile(0.975, dof, n - 1.0);
        let noise = k * columns + (k * n - k - n) * error;
        (
            n * (between - low_f * error) / (low_f * noise + n * between),
            n * (high_f * between - error) / (noise + n * high_f * between),
        )
    }

    /// Typical error, CV and detectable change across the squad.
    ///
    /// # Errors
    /// [`TrialsError::NoVariation`] when the grand mean is 0, for which there
    /// is no CV.
    pub fn typical_error(&self) -> Result<SquadError, TrialsError> {
        let typical_error = self.mean_squares().error.sqrt();
        let dof = self.residual_dof();
        let (lo, hi) = sd_interval95(typical_error, dof);
        let columns = self.column_means();
        let drift = columns
            .last()
            .zip(columns.first())
            .map_or(0.0, |(b, a)| b - a);
        let cv = typical_error / self.grand_mean();
        if !cv.is_finite() {
            return Err(TrialsError::NoVariation);
        }
        Ok(SquadError {
            typical_error,
            dof,
            interval95: Interval95 { lo, hi },
            cv,
            log_cv: self
                .logarithms()
                .map(|t| t.mean_squares().error.sqrt().exp_m1()),
            detectable: DETECTABLE_Z * 2f64.sqrt() * typical_error,
            drift,
        })
    }

    fn logarithms(&self) -> Option<Self> {
        let positive = self.rows.iter().flatten().all(|value| *value > 0.0);
        let log = |row: &Vec<f64>| row.iter().map(|value| value.ln()).collect();
        positive.then(|| Self {
            rows: self.rows.iter().map(log).collect(),
            columns: self.columns,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_must_be_whole() {
        assert!(matches!(
            Ratings::new(vec![]),
            Err(TrialsError::TooFew { .. })
        ));
        assert!(matches!(
            Ratings::new(vec![vec![1.0]; 3]),
            Err(TrialsError::TooFew { .. })
        ));
        let ragged = Ratings::new(vec![vec![1.0, 2.0], vec![1.0]]);
        assert!(matches!(ragged, Err(TrialsError::Ragged { row: 1, .. })));
        let hole = Ratings::new(vec![vec![1.0, 2.0], vec![1.0, f64::NAN]]);
        assert!(matches!(
            hole,
            Err(TrialsError::BadValue { position: 3, .. })
        ));
    }

    #[test]
    fn perfect_repeats_correlate_fully_without_an_interval() {
        let table = Ratings::new(vec![vec![1.0, 1.0], vec![2.0, 2.0]]).unwrap();
        for form in IccForm::ALL {
            let icc = table.icc(form).unwrap();
            assert_eq!((icc.value, icc.interval95), (1.0, None), "{form:?}");
        }
        let flat = Ratings::new(vec![vec![1.0; 2]; 2]).unwrap();
        assert_eq!(flat.icc(IccForm::ThreeOne), Err(TrialsError::NoVariation));
    }
}
