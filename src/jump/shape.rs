//! How errors are distributed, and what their sum looks like.
//!
//! A whole frame's error is uniform, a fit's is normal but cut off at its
//! frames; adding such errors gives triangles, trapezoids and softer shapes,
//! for which "twice the standard uncertainty" is wrong. So the sum's
//! distribution is worked out by convolution and its 95 % interval read off
//! it: the propagation of distributions of JCGM 101:2008, on a grid instead of
//! by random draws, so that the same flight always gives the same digits.

use statrs::function::erf::erfc;

/// Cells across the summed support. A quantile's error falls with the square
/// of the cell; 1024 leave a few millionths of the support, which is less than
/// a microsecond of flight, in a fraction of a millisecond's work.
const CELLS: f64 = 1024.0;

/// A normal error is followed to this many standard deviations; 2e-8 of it
/// lies beyond on either side.
const NORMAL_REACH: f64 = 5.5;

/// A cut narrower than this many standard deviations is flat to 1e-7.
const FLAT: f64 = 1e-3;

/// The distribution of one error about the best estimate, which is at 0.
///
/// Sizes are in the unit of the quantity. Negative sizes and sizes that are
/// no numbers make every result NaN.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Component {
    /// Anything within ± `half_width` is equally likely (rectangular).
    Uniform {
        /// Half the width of the rectangle.
        half_width: f64,
    },
    /// Normal with standard deviation `u`.
    Normal {
        /// Standard deviation.
        u: f64,
    },
    /// Normal with standard deviation `u` before it is cut to `lo` to `hi`,
    /// where `lo` ≤ 0 ≤ `hi`.
    TruncatedNormal {
        /// Standard deviation before cutting.
        u: f64,
        /// Lowest possible error, 0 or negative.
        lo: f64,
        /// Highest possible error, 0 or positive.
        hi: f64,
    },
}

impl Component {
    /// Standard uncertainty: root mean square distance from the best estimate.
    ///
    /// For a normal cut off unevenly the mean is not at 0; the distance is
    /// still taken from the best estimate, for that is what is reported.
    pub fn u(&self) -> f64 {
        match *self {
            Self::Uniform { half_width } => half_width / 3f64.sqrt(),
            Self::Normal { u } => u,
            Self::TruncatedNormal { u, lo, hi } => {
                if lo == hi || u == 0.0 {
                    return 0.0;
                }
                if hi - lo < FLAT * u {
                    return ((hi.powi(3) - lo.powi(3)) / (3.0 * (hi - lo))).sqrt();
                }
                let (a, b) = (lo / u, hi / u);
                let mass = normal_cdf(b) - normal_cdf(a);
                let edge = |x: f64| if x.is_finite() { x * density(x) } else { 0.0 };
                u * (1.0 - (edge(b) - edge(a)) / mass).max(0.0).sqrt()
            }
        }
    }

    /// The distribution of `factor` times this error.
    pub fn scaled(&self, factor: f64) -> Self {
        let size = factor.abs();
        match *self {
            Self::Uniform { half_width } => Self::Uniform {
                half_width: half_width * size,
            },
            Self::Normal { u } => Self::Normal { u: u * size },
            Self::TruncatedNormal { u, lo, hi } => Self::TruncatedNormal {
                u: u * size,
                lo: (lo * factor).min(hi * factor),
                hi: (lo * factor).max(hi * factor),
            },
        }
    }

    /// Where the error can lie, tails beyond [`NORMAL_REACH`] left out.
    fn support(&self) -> (f64, f64) {
        match *self {
            Self::Uniform { half_width } => (-half_width, half_width),
            Self::Normal { u } => (-NORMAL_REACH * u, NORMAL_REACH * u),
            Self::TruncatedNormal { u, lo, hi } => {
                (lo.max(-NORMAL_REACH * u), hi.min(NORMAL_REACH * u))
            }
        }
    }

    /// Whether all sizes are finite and of the right sign.
    pub(super) fn is_usable(&self) -> bool {
        let sizes = match *self {
            Self::Uniform { half_width } => [half_width, 0.0, 0.0],
            Self::Normal { u } => [u, 0.0, 0.0],
            Self::TruncatedNormal { u, lo, hi } => [u, -lo, hi],
        };
        sizes.iter().all(|size| size.is_finite() && *size >= 0.0)
    }

    /// Share of the support below `x`, where `x` lies inside the support.
    fn share_below(&self, x: f64, (lo, hi): (f64, f64)) -> f64 {
        let flat = (x - lo) / (hi - lo);
        match *self {
            Self::Uniform { .. } => flat,
            Self::Normal { u } | Self::TruncatedNormal { u, .. } => {
                if hi - lo < FLAT * u {
                    return flat;
                }
                let below_lo = normal_cdf(lo / u);
                (normal_cdf(x / u) - below_lo) / (normal_cdf(hi / u) - below_lo)
            }
        }
    }

    /// The error on a grid of `step`.
    fn on_grid(&self, step: f64) -> Grid {
        let (lo, hi) = self.support();
        let node = |x: f64| (x / step + 0.5).floor() as i64;
        let (first, last) = (node(lo), node(hi));
        if first == last {
            return Grid::point(first);
        }
        let mut below = 0.0;
        let mass = (first..=last)
            .map(|k| {
                let edge = (k as f64 + 0.5) * step;
                let upto = if edge >= hi {
                    1.0
                } else {
                    self.share_below(edge, (lo, hi))
                };
                let cell = upto - below;
                below = upto;
                cell
            })
            .collect();
        Grid { first, mass }
    }
}

/// Probability in cells centred on whole multiples of a step.
#[derive(Clone, Debug)]
struct Grid {
    /// Multiple on which the first cell is centred.
    first: i64,
    mass: Vec<f64>,
}

impl Grid {
    fn point(at: i64) -> Self {
        Self {
            first: at,
            mass: vec![1.0],
        }
    }

    fn plus(&self, other: &Self) -> Self {
        let mut mass = vec![0.0; self.mass.len() + other.mass.len() - 1];
        for (offset, a) in self.mass.iter().enumerate() {
            for (cell, b) in mass.iter_mut().skip(offset).zip(&other.mass) {
                *cell += a * b;
            }
        }
        Self {
            first: self.first + other.first,
            mass,
        }
    }
}

/// The distribution of the sum of independent errors.
#[derive(Clone, Debug)]
pub struct Sum {
    step: f64,
    grid: Grid,
}

impl Sum {
    /// Adds up independent errors.
    pub fn of(components: &[Component]) -> Self {
        let width: f64 = components
            .iter()
            .map(|component| {
                let (lo, hi) = component.support();
                hi - lo
            })
            .sum();
        let usable = components.iter().all(Component::is_usable);
        let step = if usable { width / CELLS } else { f64::NAN };
        let mut grid = Grid::point(0);
        if step > 0.0 && step.is_finite() {
            for component in components {
                grid = grid.plus(&component.on_grid(step));
            }
        }
        Self { step, grid }
    }

    /// The value below which the sum lies with probability `p`.
    ///
    /// Right to 1e-5 of the support (tested against closed forms). NaN
    /// for a `p` outside 0 to 1 and for unusable components; 0 when there is
    /// no error at all.
    pub fn quantile(&self, p: f64) -> f64 {
        if self.step.is_nan() || !(0.0..=1.0).contains(&p) {
            return f64::NAN;
        }
        if self.step == 0.0 {
            return 0.0;
        }
        let target = p * self.grid.mass.iter().sum::<f64>();
        let mut below = 0.0;
        let mut lower_edge = self.grid.first as f64 - 0.5;
        for mass in &self.grid.mass {
            if below + mass >= target && *mass > 0.0 {
                return (lower_edge + (target - below) / mass) * self.step;
            }
            below += mass;
            lower_edge += 1.0;
        }
        lower_edge * self.step
    }

    /// The interval that holds the sum with probability `p`, leaving out as
    /// much below as above.
    pub fn interval(&self, p: f64) -> (f64, f64) {
        let tail = (1.0 - p) / 2.0;
        (self.quantile(tail), self.quantile(1.0 - tail))
    }
}

/// Probability that a standard normal variable lies below `x`.
fn normal_cdf(x: f64) -> f64 {
    0.5 * erfc(-x / std::f64::consts::SQRT_2)
}

fn density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Root mean square distance from 0 by plain summation of the density.
    fn u_by_summation(u: f64, lo: f64, hi: f64) -> f64 {
        let n = 200_000;
        let (mut weight, mut square) = (0.0, 0.0);
        for i in 0..n {
            let x = lo + (hi - lo) * (f64::from(i) + 0.5) / f64::from(n);
            let w = (-0.5 * (x / u).powi(2)).exp();
            weight += w;
            square += w * x * x;
        }
        (square / weight).sqrt()
    }

    #[test]
    fn a_cut_normal_has_the_spread_of_its_density() {
        for (u, lo, hi) in [
            (1.0, -1.0, 1.0),
            (1.0, -0.2, 2.0),
            (50.0, -0.2, 2.0),
            (1e5, -1.0, 1.0),
            (0.1, 0.0, 3.0),
        ] {
            let exact = u_by_summation(u, lo, hi);
            let got = Component::TruncatedNormal { u, lo, hi }.u();
            assert!((got / exact - 1.0).abs() < 1e-6, "{u} {lo} {hi}: {got}");
        }
    }

    #[test]
    fn mirroring_swaps_the_tails() {
        let cut = Component::TruncatedNormal {
            u: 1.0,
            lo: -0.3,
            hi: 2.0,
        };
        let (lo, hi) = Sum::of(&[cut]).interval(0.95);
        let (mirrored_lo, mirrored_hi) = Sum::of(&[cut.scaled(-1.0)]).interval(0.95);
        assert!((lo + mirrored_hi).abs() < 1e-5 && (hi + mirrored_lo).abs() < 1e-5);
        assert!(lo > -0.3 && hi < 2.0);
    }

    #[test]
    fn nothing_uncertain_leaves_nothing_and_nonsense_stays_visible() {
        assert_eq!(Sum::of(&[]).interval(0.95), (0.0, 0.0));
        let exact = Component::Uniform { half_width: 0.0 };
        assert_eq!(Sum::of(&[exact]).interval(0.95), (0.0, 0.0));
        let nonsense = Component::Normal { u: -1.0 };
        assert!(Sum::of(&[nonsense]).quantile(0.5).is_nan());
        assert!(Sum::of(&[exact]).quantile(1.5).is_nan());
    }
}
