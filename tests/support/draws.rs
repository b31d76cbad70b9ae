//! Random draws for simulations, the same on every machine.

/// SplitMix64 (Steele, Lea and Flood 2014, "Fast splittable pseudorandom number
/// generators").
pub struct Draws(pub u64);

impl Draws {
    /// Uniform in [0, 1).
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Standard normal, by Box and Muller 1958.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.unit()).cos()
    }
}
