//! Draws for simulated intervals, the same on every machine and every run.

/// SplitMix64 (Steele, Lea and Flood 2014, "Fast splittable pseudorandom number
/// generators", Proc OOPSLA, p 453).
pub(super) struct Draws(u64);

impl Draws {
    pub(super) fn seeded(seed: u64) -> Self {
        Self(seed)
    }

    /// Uniform in [0, 1).
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Standard normal (Box and Muller 1958, "A note on the generation of random
    /// normal deviates", Ann Math Stat 29:610).
    pub(super) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.unit()).cos()
    }

    /// What turns normal draws into Student's t when the standard deviation
    /// itself was estimated with `dof` degrees of freedom; 1 where it is known.
    pub(super) fn stretch(&mut self, dof: Option<u32>) -> f64 {
        let Some(dof) = dof.filter(|dof| *dof > 0) else {
            return 1.0;
        };
        let squares: f64 = (0..dof).map(|_| self.normal().powi(2)).sum();
        (f64::from(dof) / squares).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draws_have_their_moments() {
        let mut draws = Draws::seeded(1);
        let values: Vec<f64> = (0..20_000)
            .map(|_| draws.stretch(Some(10)) * draws.normal())
            .collect();
        let mean = values.iter().sum::<f64>() / 20_000.0;
        let variance = values.iter().map(|v| v * v).sum::<f64>() / 20_000.0;
        // Student's t with 10 degrees of freedom has the variance 10/8.
        assert!(mean.abs() < 0.03 && (variance - 1.25).abs() < 0.05);
    }
}
