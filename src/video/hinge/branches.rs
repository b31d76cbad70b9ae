//! Both branches of a hinge by least squares, and how far the sightings miss them.

use super::HingePrior;
use super::lanes::{LANES, Lanes, Sums};

/// A shoe on the floor rolls a little: its parts may drift at a small share of
/// the flying speed. Standard deviation of that share, by experience.
pub(super) const ROLL_U_REL: f64 = 0.04;

/// Both branches: floor level, flying speed, drift while on the floor.
#[derive(Clone, Copy)]
pub(super) struct Branches {
    pub(super) floor: Lanes,
    pub(super) speed: Lanes,
    pub(super) roll: Lanes,
}

impl Branches {
    /// What is expected, at a floor that is not known.
    #[inline(always)]
    pub(super) fn expected(prior: &HingePrior) -> Self {
        Self {
            floor: Lanes::all(0.0),
            speed: Lanes::all(prior.speed_px_s),
            roll: Lanes::all(0.0),
        }
    }

    /// Distance from what was expected, as a negative log likelihood.
    #[inline(always)]
    pub(super) fn distance_from(&self, prior: &HingePrior) -> Lanes {
        let all = Lanes::all;
        let off = self.speed / all(prior.speed_px_s) - all(1.0);
        let off = off / all(prior.speed_u_rel);
        let rolls = self.roll / all(ROLL_U_REL * prior.speed_px_s);
        all(0.5) * (off * off + rolls * rolls)
    }
}

/// Solves the normal equations of floor, speed and roll, with the pulls towards the
/// expected speed and towards no drift. Speed and roll do not meet but in the floor,
/// so that both are left out of its equation first. Tells as well in which lanes the
/// sightings tell the unknowns apart.
#[inline(always)]
pub(super) fn solve(stood: &Sums, flew: &Sums, prior: &HingePrior) -> (Branches, [bool; LANES]) {
    let all = Lanes::all;
    let pull = |sd: f64| (prior.scatter_px / sd).powi(2);
    let speed_pull = pull(prior.speed_u_rel * prior.speed_px_s);
    let roll_pull = pull(ROLL_U_REL * prior.speed_px_s);
    let (rise_xx, roll_xx) = (flew.wxx + all(speed_pull), stood.wxx + all(roll_pull));
    let rise_xy = flew.wxy - all(speed_pull * prior.speed_px_s);
    let (rise_share, roll_share) = (flew.wx / rise_xx, stood.wx / roll_xx);
    let left = all(1e-9) + stood.w + flew.w - rise_share * flew.wx - roll_share * stood.wx;
    let floor = (stood.wy + flew.wy - rise_share * rise_xy - roll_share * stood.wxy) / left;
    let rise = (rise_xy - flew.wx * floor) / rise_xx;
    let roll = (stood.wxy - stood.wx * floor) / roll_xx;
    let apart = left * rise_xx * roll_xx;
    let branches = Branches {
        floor,
        speed: -rise,
        roll,
    };
    (branches, apart.0.map(|apart| apart > 1e-12))
}

/// Sums of logarithms of one and more: the logarithm of a product is one logarithm.
pub(super) struct Misfits {
    product: Lanes,
    logs: Lanes,
}

impl Misfits {
    #[inline(always)]
    pub(super) fn none() -> Self {
        Self {
            product: Lanes::all(1.0),
            logs: Lanes::all(0.0),
        }
    }

    #[inline(always)]
    pub(super) fn add(&mut self, off: Lanes) {
        const LARGE: f64 = 1e200;
        self.product = self.product * (Lanes::all(1.0) + off);
        for lane in 0..LANES {
            if self.product.0[lane] > LARGE {
                // Before it runs over.
                self.logs.0[lane] += self.product.0[lane].ln();
                self.product.0[lane] = 1.0;
            }
        }
    }

    pub(super) fn told(&self, lane: usize) -> f64 {
        self.logs.0[lane] + self.product.0[lane].ln()
    }
}
