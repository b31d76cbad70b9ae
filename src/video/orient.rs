//! Which way up the picture belongs.
//!
//! A phone held upright stores the picture as its sensor scanned it and adds a
//! display matrix (ISO/IEC 14496-12, track header): `x' = a x + c y`,
//! `y' = b x + d y`, rows `a b u / c d v / x y w`, `a` to `d` in 16.16.

/// How stored pixels become the upright picture: one of the eight ways to lay
/// a rectangle on itself.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::video) struct Orientation {
    /// Upright columns are stored rows.
    pub swapped: bool,
    /// Upright x runs against the stored axis it comes from.
    pub x_reversed: bool,
    /// Upright y runs against the stored axis it comes from.
    pub y_reversed: bool,
}

/// What does not fit in an [`Orientation`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::video) enum OrientationDoubt {
    /// The angle, in degrees clockwise, is not a quarter turn.
    NotAQuarterTurn(f64),
    /// The matrix shears the picture or flattens it to nothing.
    NotARotation,
}

/// Angles this close to a quarter turn, in degrees, are taken as meant so.
const QUARTER_TURN_SLACK_DEG: f64 = 0.5;

impl Orientation {
    /// The orientation nearest to a display matrix.
    pub fn from_matrix(matrix: &[i32; 9]) -> (Self, Option<OrientationDoubt>) {
        let [a, b, _, c, d, ..] = matrix.map(f64::from);
        let (x_axis, y_axis) = (a.hypot(b), c.hypot(d));
        if x_axis == 0.0 || y_axis == 0.0 {
            return (Self::default(), Some(OrientationDoubt::NotARotation));
        }
        let swapped = b.abs() / x_axis + c.abs() / y_axis > a.abs() / x_axis + d.abs() / y_axis;
        let orientation = Self {
            swapped,
            x_reversed: if swapped { c < 0.0 } else { a < 0.0 },
            y_reversed: if swapped { b < 0.0 } else { d < 0.0 },
        };
        let skew = (a * c + b * d).abs() / (x_axis * y_axis);
        if skew > 0.01 {
            return (orientation, Some(OrientationDoubt::NotARotation));
        }
        let angle = b.atan2(a).to_degrees();
        let off = (angle / 90.0 - (angle / 90.0).round()).abs() * 90.0;
        let doubt = (off > QUARTER_TURN_SLACK_DEG)
            .then_some(OrientationDoubt::NotAQuarterTurn(angle.rem_euclid(360.0)));
        (orientation, doubt)
    }

    /// Degrees clockwise from the stored to the upright picture, before any
    /// mirroring left to right.
    pub fn clockwise_deg(self) -> u16 {
        match (self.swapped, self.y_reversed) {
            (false, false) => 0,
            (true, false) => 90,
            (false, true) => 180,
            (true, true) => 270,
        }
    }

    /// Whether left and right change places after the turn.
    pub fn is_mirrored(self) -> bool {
        if self.swapped {
            self.x_reversed == self.y_reversed
        } else {
            self.x_reversed != self.y_reversed
        }
    }

    /// Size of the upright picture for a stored one.
    pub fn upright_size(self, stored: (u32, u32)) -> (u32, u32) {
        if self.swapped {
            (stored.1, stored.0)
        } else {
            stored
        }
    }

    /// The stored pixel that shows at upright (x, y), both inside the picture.
    pub fn stored(self, (x, y): (usize, usize), stored_size: (usize, usize)) -> (usize, usize) {
        let upright = if self.swapped {
            (stored_size.1, stored_size.0)
        } else {
            stored_size
        };
        let along_x = if self.x_reversed {
            upright.0 - 1 - x
        } else {
            x
        };
        let along_y = if self.y_reversed {
            upright.1 - 1 - y
        } else {
            y
        };
        if self.swapped {
            (along_y, along_x)
        } else {
            (along_x, along_y)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ONE: i32 = 1 << 16;

    /// A 3 by 2 picture, as the matrix asks for it to be shown.
    fn shown(a: i32, b: i32, c: i32, d: i32) -> (Orientation, Vec<String>) {
        let rows = ["ABC", "DEF"];
        let (orientation, doubt) = Orientation::from_matrix(&[a, b, 0, c, d, 0, 0, 0, 1 << 30]);
        assert_eq!(doubt, None);
        let (w, h) = orientation.upright_size((3, 2));
        let picture = (0..h as usize)
            .map(|y| {
                (0..w as usize)
                    .map(|x| {
                        let (sx, sy) = orientation.stored((x, y), (3, 2));
                        rows[sy].as_bytes()[sx] as char
                    })
                    .collect()
            })
            .collect();
        (orientation, picture)
    }

    #[test]
    fn quarter_turns_are_clockwise() {
        for (matrix, degrees, picture) in [
            ((ONE, 0, 0, ONE), 0, vec!["ABC", "DEF"]),
            ((0, ONE, -ONE, 0), 90, vec!["DA", "EB", "FC"]),
            ((-ONE, 0, 0, -ONE), 180, vec!["FED", "CBA"]),
            ((0, -ONE, ONE, 0), 270, vec!["CF", "BE", "AD"]),
        ] {
            let (orientation, seen) = shown(matrix.0, matrix.1, matrix.2, matrix.3);
            assert_eq!(orientation.clockwise_deg(), degrees);
            assert!(!orientation.is_mirrored());
            assert_eq!(seen, picture);
        }
    }

    #[test]
    fn mirrors_are_told_from_turns() {
        for (matrix, degrees, picture) in [
            ((-ONE, 0, 0, ONE), 0, vec!["CBA", "FED"]),
            ((ONE, 0, 0, -ONE), 180, vec!["DEF", "ABC"]),
            ((0, ONE, ONE, 0), 90, vec!["AD", "BE", "CF"]),
            ((0, -ONE, -ONE, 0), 270, vec!["FC", "EB", "DA"]),
        ] {
            let (orientation, seen) = shown(matrix.0, matrix.1, matrix.2, matrix.3);
            assert!(orientation.is_mirrored());
            assert_eq!(orientation.clockwise_deg(), degrees);
            assert_eq!(seen, picture);
        }
    }

    #[test]
    fn odd_angle_goes_to_the_nearest_quarter_and_says_so() {
        let (sin, cos) = 80_f64.to_radians().sin_cos();
        let fixed = |v: f64| (v * f64::from(ONE)) as i32;
        let matrix = [
            fixed(cos),
            fixed(sin),
            0,
            fixed(-sin),
            fixed(cos),
            0,
            0,
            0,
            1,
        ];
        let (orientation, doubt) = Orientation::from_matrix(&matrix);
        assert_eq!(orientation.clockwise_deg(), 90);
        let Some(OrientationDoubt::NotAQuarterTurn(angle)) = doubt else {
            panic!("{doubt:?}");
        };
        assert!((angle - 80.0).abs() < 0.01);
    }

    #[test]
    fn shear_and_nothing_are_no_rotations() {
        for matrix in [[ONE, 0, 0, ONE / 2, ONE, 0, 0, 0, 1], [0; 9], [i32::MIN; 9]] {
            let (_, doubt) = Orientation::from_matrix(&matrix);
            assert_eq!(doubt, Some(OrientationDoubt::NotARotation));
        }
    }
}
