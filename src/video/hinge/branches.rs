//! Both branches of a hinge by least squares, and how far the sightings miss them.

use super::HingePrior;

/// A shoe on the floor rolls a little: its parts may drift at a small share of
/// the flying speed. Standard deviation of that share, by experience.
pub(super) const ROLL_U_REL: f64 = 0.04;

/// Both branches: floor level, flying speed, drift while on the floor.
#[derive(Clone, Copy)]
pub(super) struct Branches {
    pub(super) floor: f64,
    pub(super) speed: f64,
    pub(super) roll: f64,
}

/// Sums over one branch for the normal equations.
#[derive(Clone, Copy, Default)]
pub(super) struct Sums {
    w: f64,
    wx: f64,
    wxx: f64,
    wy: f64,
    wxy: f64,
}

impl Sums {
    pub(super) fn add(&mut self, w: f64, x: f64, y: f64) {
        let (wx, wy) = (w * x, w * y);
        self.w += w;
        self.wx += wx;
        self.wxx += wx * x;
        self.wy += wy;
        self.wxy += wx * y;
    }
}

/// Solves the normal equations of floor, speed and roll, with the pulls towards the
/// expected speed and towards no drift. Speed and roll do not meet but in the floor,
/// so that both are left out of its equation first.
pub(super) fn solve(stood: &Sums, flew: &Sums, prior: &HingePrior) -> Option<Branches> {
    let pull = |sd: f64| (prior.scatter_px / sd).powi(2);
    let speed_pull = pull(prior.speed_u_rel * prior.speed_px_s);
    let roll_pull = pull(ROLL_U_REL * prior.speed_px_s);
    let (rise_xx, roll_xx) = (flew.wxx + speed_pull, stood.wxx + roll_pull);
    let rise_xy = flew.wxy - speed_pull * prior.speed_px_s;
    let (rise_share, roll_share) = (flew.wx / rise_xx, stood.wx / roll_xx);
    let left = 1e-9 + stood.w + flew.w - rise_share * flew.wx - roll_share * stood.wx;
    let floor = (stood.wy + flew.wy - rise_share * rise_xy - roll_share * stood.wxy) / left;
    let rise = (rise_xy - flew.wx * floor) / rise_xx;
    let roll = (stood.wxy - stood.wx * floor) / roll_xx;
    (left * rise_xx * roll_xx > 1e-12).then_some(Branches {
        floor,
        speed: -rise,
        roll,
    })
}

/// A sum of logarithms of one and more: the logarithm of a product is one logarithm.
pub(super) struct Misfit {
    product: f64,
    logs: f64,
}

impl Default for Misfit {
    fn default() -> Self {
        Self {
            product: 1.0,
            logs: 0.0,
        }
    }
}

impl Misfit {
    pub(super) fn add(&mut self, off: f64) {
        self.product *= 1.0 + off;
        if self.product > 1e200 {
            self.logs += self.product.ln();
            self.product = 1.0;
        }
    }

    pub(super) fn told(&self) -> f64 {
        self.logs + self.product.ln()
    }
}
