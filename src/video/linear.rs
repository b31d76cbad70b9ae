//! Three linear equations, for fits with three unknowns.

/// Solves `a x = b` by Cramer's rule; `None` where the determinant is no larger than
/// `smallest`: then the equations do not tell the unknowns apart.
pub(in crate::video) fn solve(a: &[[f64; 3]; 3], b: &[f64; 3], smallest: f64) -> Option<[f64; 3]> {
    let whole = determinant(a);
    let unknown = |column: usize| {
        let mut a = *a;
        for (row, &b) in a.iter_mut().zip(b) {
            row[column] = b;
        }
        determinant(&a) / whole
    };
    (whole.abs() > smallest).then(|| [0, 1, 2].map(unknown))
}

fn determinant(a: &[[f64; 3]; 3]) -> f64 {
    let minor = |i: usize, j: usize| a[1][i] * a[2][j] - a[1][j] * a[2][i];
    a[0][0] * minor(1, 2) - a[0][1] * minor(0, 2) + a[0][2] * minor(0, 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solved_by_hand() {
        // x + y + z = 6, 2y + 5z = 19, 2x + 5y - z = 9: x = 1, y = 2, z = 3.
        let a = [[1.0, 1.0, 1.0], [0.0, 2.0, 5.0], [2.0, 5.0, -1.0]];
        let x = solve(&a, &[6.0, 19.0, 9.0], 1e-9).expect("a determinant of -21");
        for (x, wanted) in x.iter().zip([1.0, 2.0, 3.0]) {
            assert!((x - wanted).abs() < 1e-12, "{x}");
        }
    }

    #[test]
    fn equations_that_say_the_same_tell_nothing() {
        let a = [[1.0, 2.0, 3.0], [2.0, 4.0, 6.0], [0.0, 1.0, 1.0]];
        assert_eq!(solve(&a, &[1.0, 2.0, 3.0], 1e-9), None);
    }
}
