//! Student's t, chi-square, F and their kin, from their distribution functions.
//!
//! Quantiles are found by halving an interval on the distribution function:
//! slower than a closed approximation, but right to about 1e-12 of the value
//! for every number of degrees of freedom, whole or not. Everything here is
//! NaN for a probability outside 0 to 1 or degrees of freedom not above 0.

use statrs::function::beta::beta_reg;
use statrs::function::erf::erfc;
use statrs::function::gamma::{gamma_lr, ln_gamma};

/// Above this many degrees of freedom Student's t is normal to 1e-7.
const NORMAL_FROM_DOF: f64 = 1e7;

/// Halvings; a double's 53 bits are used up after some 60.
const HALVINGS: usize = 120;

/// Cells of Simpson's rule for the non-central t; an even number. At one degree
/// of freedom, where the integrand is steepest, 2000 leave 1e-10.
const CELLS: usize = 2000;

fn proper(p: f64) -> bool {
    p > 0.0 && p < 1.0
}

fn positive(dof: f64) -> bool {
    dof > 0.0
}

/// Standard normal distribution function.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erfc(-z / std::f64::consts::SQRT_2)
}

/// Standard normal quantile.
pub fn normal_quantile(p: f64) -> f64 {
    if !proper(p) {
        return f64::NAN;
    }
    if p < 0.5 {
        return -normal_quantile(1.0 - p);
    }
    solve(normal_cdf, p)
}

/// Distribution function of Student's t; infinite `dof` is the normal.
pub fn t_cdf(t: f64, dof: f64) -> f64 {
    if t.is_nan() || !positive(dof) {
        return f64::NAN;
    }
    if dof >= NORMAL_FROM_DOF || t.is_infinite() {
        return normal_cdf(t);
    }
    let square = t * t;
    // Both forms are the same number; each is exact where the other cancels.
    let half = if square < dof {
        0.5 * (1.0 - beta_reg(0.5, 0.5 * dof, square / (dof + square)))
    } else {
        0.5 * beta_reg(0.5 * dof, 0.5, dof / (dof + square))
    };
    if t > 0.0 { 1.0 - half } else { half }
}

/// Quantile of Student's t.
pub fn t_quantile(p: f64, dof: f64) -> f64 {
    if !proper(p) || !positive(dof) {
        return f64::NAN;
    }
    if dof >= NORMAL_FROM_DOF {
        return normal_quantile(p);
    }
    if p > 0.5 {
        return -t_quantile(1.0 - p, dof);
    }
    -solve(|t| 1.0 - t_cdf(-t, dof), 1.0 - p)
}

/// Factor by which a standard uncertainty is widened to a two-sided 95 %
/// interval.
pub fn t95(dof: f64) -> f64 {
    t_quantile(0.975, dof)
}

/// Quantile of chi-square.
pub fn chi2_quantile(p: f64, dof: f64) -> f64 {
    if !proper(p) || !positive(dof) || dof.is_infinite() {
        return f64::NAN;
    }
    solve(|x| chi2_cdf(x, dof), p)
}

/// Distribution function of chi-square.
pub fn chi2_cdf(x: f64, dof: f64) -> f64 {
    if x.is_nan() || !positive(dof) || dof.is_infinite() {
        f64::NAN
    } else if x <= 0.0 {
        0.0
    } else {
        gamma_lr(0.5 * dof, 0.5 * x)
    }
}

/// Quantile of Fisher's F.
pub fn f_quantile(p: f64, above: f64, below: f64) -> f64 {
    let usable = |dof: f64| positive(dof) && dof.is_finite();
    if !proper(p) || !usable(above) || !usable(below) {
        return f64::NAN;
    }
    solve(
        |f| beta_reg(0.5 * above, 0.5 * below, above * f / (above * f + below)),
        p,
    )
}

/// The value above 0 at which a growing function reaches `p`.
fn solve(cdf: impl Fn(f64) -> f64, p: f64) -> f64 {
    let (mut lo, mut hi) = (0.0, 1.0);
    while cdf(hi) < p && hi < 1e150 {
        lo = hi;
        hi *= 2.0;
    }
    for _ in 0..HALVINGS {
        let middle = 0.5 * (lo + hi);
        if middle <= lo || middle >= hi {
            break;
        }
        if cdf(middle) < p {
            lo = middle;
        } else {
            hi = middle;
        }
    }
    0.5 * (lo + hi)
}

/// Two-sided 95 % interval of a standard deviation estimated with `dof`
/// degrees of freedom, from chi-square (normal errors): (lower, upper).
pub fn sd_interval95(sd: f64, dof: f64) -> (f64, f64) {
    if dof.is_infinite() {
        return (sd, sd);
    }
    (
        sd * (dof / chi2_quantile(0.975, dof)).sqrt(),
        sd * (dof / chi2_quantile(0.025, dof)).sqrt(),
    )
}

/// Chance that a non-central t with non-centrality `delta` exceeds `t`.
///
/// T = (Z + δ)/S with S² = χ²/ν, so the chance is the mean of Φ(δ − t S) over
/// S, taken by Simpson's rule out to ten standard deviations of S.
pub fn noncentral_t_above(t: f64, dof: f64, delta: f64) -> f64 {
    if !positive(dof) || t.is_nan() || delta.is_nan() {
        return f64::NAN;
    }
    if dof >= NORMAL_FROM_DOF {
        return normal_cdf(delta - t);
    }
    let reach = 10.0 / (2.0 * dof).sqrt();
    let (lo, hi) = ((1.0 - reach).max(0.0), 1.0 + reach);
    let log_scale = 2f64.ln() + 0.5 * dof * (0.5 * dof).ln() - ln_gamma(0.5 * dof);
    let density = |s: f64| {
        if s == 0.0 {
            // Finite only for one degree of freedom, the half normal.
            return if dof == 1.0 { log_scale.exp() } else { 0.0 };
        }
        (log_scale + (dof - 1.0) * s.ln() - 0.5 * dof * s * s).exp()
    };
    let step = (hi - lo) / CELLS as f64;
    let sum: f64 = (0..=CELLS)
        .map(|i| {
            let s = lo + step * i as f64;
            let weight = match i {
                0 | CELLS => 1.0,
                i if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * density(s) * normal_cdf(delta - t * s)
        })
        .sum();
    (sum * step / 3.0).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn central_case_of_the_noncentral_t_is_student() {
        for (t, dof) in [(0.5, 1.0), (2.0, 3.0), (-1.0, 7.5), (2.1, 40.0)] {
            let got = noncentral_t_above(t, dof, 0.0);
            assert!((got - t_cdf(-t, dof)).abs() < 1e-6, "{t} {dof}: {got}");
        }
    }

    #[test]
    fn quantiles_undo_the_distribution_functions() {
        for dof in [1.0, 2.0, 3.7, 30.0, 5e6, f64::INFINITY] {
            for p in [0.001, 0.2, 0.5, 0.8, 0.975] {
                assert!(
                    (t_cdf(t_quantile(p, dof), dof) - p).abs() < 1e-11,
                    "{p} {dof}"
                );
            }
        }
    }

    #[test]
    fn nonsense_is_not_a_number() {
        assert!(t_quantile(1.0, 3.0).is_nan() && t_quantile(0.5, 0.0).is_nan());
        assert!(chi2_quantile(0.5, f64::NAN).is_nan() && f_quantile(0.5, 1.0, -1.0).is_nan());
        assert!(noncentral_t_above(f64::NAN, 3.0, 0.0).is_nan());
    }
}
