//! Smooth curves of time.

/// A curve through knots, each piece a polynomial of the fifth degree that
/// meets value, speed and acceleration at both ends. A free fall between two
/// consistent knots is met exactly.
#[derive(Clone, Debug, Default)]
pub(super) struct Curve(Vec<Knot>);

#[derive(Clone, Copy, Debug)]
struct Knot {
    at: f64,
    value: f64,
    /// Speed and acceleration on arrival.
    before: [f64; 2],
    /// Speed and acceleration on departure.
    after: [f64; 2],
}

impl Curve {
    pub(super) fn smooth(&mut self, at: f64, value: f64, motion: [f64; 2]) {
        self.kink(at, value, motion, motion);
    }

    pub(super) fn kink(&mut self, at: f64, value: f64, before: [f64; 2], after: [f64; 2]) {
        self.0.push(Knot {
            at,
            value,
            before,
            after,
        });
    }

    /// When the curve's last knot is.
    pub(super) fn last_at(&self) -> f64 {
        self.0.last().map_or(f64::NEG_INFINITY, |knot| knot.at)
    }

    pub(super) fn at(&self, time: f64) -> f64 {
        let next = self.0.partition_point(|knot| knot.at <= time);
        let before = next.checked_sub(1).and_then(|index| self.0.get(index));
        match (before, self.0.get(next)) {
            (Some(from), Some(to)) => from.towards(to, time),
            (Some(only), None) | (None, Some(only)) => only.value,
            (None, None) => 0.0,
        }
    }
}

impl Knot {
    fn towards(&self, to: &Self, time: f64) -> f64 {
        let h = to.at - self.at;
        if h <= 0.0 {
            return to.value;
        }
        let x = (time - self.at) / h;
        let [v0, a0] = [self.after[0] * h, self.after[1] * h * h];
        let [v1, a1] = [to.before[0] * h, to.before[1] * h * h];
        // What is left at x = 1 of value, speed and acceleration fixes the
        // cubic and higher terms.
        let value = to.value - self.value - v0 - 0.5 * a0;
        let speed = v1 - v0 - a0;
        let accel = a1 - a0;
        let c3 = 10.0 * value - 4.0 * speed + 0.5 * accel;
        let c4 = -15.0 * value + 7.0 * speed - accel;
        let c5 = 6.0 * value - 3.0 * speed + 0.5 * accel;
        self.value + x * (v0 + x * (0.5 * a0 + x * (c3 + x * (c4 + x * c5))))
    }
}

/// Rises from 0 at 0 to 1 at 1 with speed and acceleration 0 at both ends.
pub(super) fn ease(part: f64) -> f64 {
    let x = part.clamp(0.0, 1.0);
    x * x * x * (10.0 + x * (6.0 * x - 15.0))
}
