//! The propagation of uncertainty against the guides' worked examples.

use underfoot::jump::combine::{
    Combined, Correlations, Input, combine, covariance, coverage_factor,
};
use underfoot::jump::shape::{Component, Sum};

#[track_caller]
fn close(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "got {got}, expected {expected} within {tolerance}"
    );
}

fn uniform(half_width: f64) -> Component {
    Component::Uniform { half_width }
}

fn half_width_95(components: &[Component]) -> f64 {
    let (lo, hi) = Sum::of(components).interval(0.95);
    close(lo, -hi, 2e-5 * hi);
    hi
}

fn h1_inputs() -> [Input; 6] {
    let input = |value: f64, u: f64, dof: f64, sensitivity: f64| Input {
        value,
        u,
        dof,
        sensitivity,
    };
    let (l_s, alpha_s, theta) = (50_000_623.0, 11.5e-6, -0.1);
    [
        input(l_s, 25.0, 18.0, 1.0),
        input(215.0, 9.7, 25.6, 1.0),
        input(alpha_s, 1.2e-6, f64::INFINITY, 0.0),
        input(theta, 0.41, f64::INFINITY, 0.0),
        input(0.0, 0.58e-6, 50.0, -l_s * theta),
        input(0.0, 0.029, 2.0, -l_s * alpha_s),
    ]
}

/// JCGM 100:2008, H.1, "End-gauge calibration", lengths in nanometres.
#[test]
fn gum_h1_end_gauge() {
    let inputs = h1_inputs();
    let l_s = inputs[0].value;
    let length = l_s + inputs[1].value
        - l_s * (inputs[4].value * inputs[3].value + inputs[2].value * inputs[5].value);
    close(length, 50_000_838.0, 0.0);
    for (input, expected) in inputs.iter().zip([25.0, 9.7, 0.0, 0.0, 2.9, 16.7]) {
        close(input.contribution().abs(), expected, 0.05);
    }
    let Combined { u, effective_dof } = combine(&inputs, &Correlations::none());
    let dof = effective_dof.unwrap();
    close(u, 31.71, 0.005);
    assert_eq!(u.round(), 32.0);
    close(dof, 16.66, 0.06);
    assert_eq!(dof.floor(), 16.0);
    let k = coverage_factor(0.99, dof.floor());
    close(k, 2.921, 5e-4);
    // The guide multiplies the rounded 2.92 and 32; unrounded it is 92.1.
    assert_eq!((2.92f64 * 32.0).round(), 93.0);
    assert_eq!((k * u.round()).round(), 93.0);
    close(coverage_factor(0.99, dof) * u, 92.1, 0.05);
    println!(
        "H.1: u {u:.4} nm, effective dof {dof:.3}, U99 unrounded {:.2}, with 16 dof and 32 nm {:.2}",
        coverage_factor(0.99, dof) * u,
        k * 32.0
    );
}

/// Mean, its standard uncertainty, and the deviations of five readings.
fn readings(values: [f64; 5]) -> (f64, f64, [f64; 5]) {
    let mean = values.iter().sum::<f64>() / 5.0;
    let deviations = values.map(|value| value - mean);
    let square: f64 = deviations.iter().map(|d| d * d).sum();
    (mean, (square / 20.0).sqrt(), deviations)
}

fn correlation(a: &[f64; 5], b: &[f64; 5]) -> f64 {
    let product = |x: &[f64; 5], y: &[f64; 5]| x.iter().zip(y).map(|(p, q)| p * q).sum::<f64>();
    product(a, b) / (product(a, a) * product(b, b)).sqrt()
}

/// JCGM 100:2008, H.2, "Simultaneous resistance and reactance measurement":
/// correlated inputs, three results. The results' own correlations (−0.588,
/// −0.485, 0.993) are from memory.
#[test]
fn gum_h2_resistance_and_reactance() {
    let (v, u_v, d_v) = readings([5.007, 4.994, 5.005, 4.990, 4.999]);
    let (i, u_i, d_i) = readings([19.663, 19.639, 19.640, 19.685, 19.678].map(|ma| ma / 1000.0));
    let (phi, u_phi, d_phi) = readings([1.0456, 1.0438, 1.0468, 1.0428, 1.0433]);
    let r = [
        correlation(&d_v, &d_i),
        correlation(&d_v, &d_phi),
        correlation(&d_i, &d_phi),
    ];
    for (got, printed) in r.iter().zip([-0.36, 0.86, -0.65]) {
        close(*got, printed, 0.0055);
    }
    let correlations = Correlations::none()
        .with(0, 1, r[0])
        .and_then(|c| c.with(0, 2, r[1]))
        .and_then(|c| c.with(1, 2, r[2]))
        .unwrap();
    let inputs = |c: [f64; 3]| {
        [
            Input::known(v, u_v, c[0]),
            Input::known(i, u_i, c[1]),
            Input::known(phi, u_phi, c[2]),
        ]
    };
    let z = v / i;
    let (sin, cos) = phi.sin_cos();
    let resistance = inputs([cos / i, -z * cos / i, -z * sin]);
    let reactance = inputs([sin / i, -z * sin / i, z * cos]);
    let impedance = inputs([1.0 / i, -z / i, 0.0]);
    close(z * cos, 127.732, 5e-4);
    close(z * sin, 219.847, 5e-4);
    close(z, 254.260, 5e-4);
    let u = |result: &[Input]| combine(result, &correlations).u;
    close(u(&resistance), 0.071, 5e-4);
    // Printed 0.295; the readings give 0.29558 by the linear law.
    close(u(&reactance), 0.295, 1e-3);
    close(u(&impedance), 0.236, 5e-4);
    close(u(&reactance), 0.29558, 5e-6);
    let between = |a: &[Input], b: &[Input]| covariance(a, b, &correlations) / (u(a) * u(b));
    close(between(&resistance, &reactance), -0.588, 5e-4);
    close(between(&resistance, &impedance), -0.485, 5e-4);
    close(between(&reactance, &impedance), 0.993, 5e-4);
    println!(
        "H.2: u(R) {:.4}, u(X) {:.4}, u(Z) {:.4} ohm",
        u(&resistance),
        u(&reactance),
        u(&impedance)
    );
}

/// The second way of JCGM 100:2008, H.2: each set of readings gives a reactance
/// of its own, and the five spread by themselves, with no propagation at all.
/// It must agree with the first way but for the curvature.
#[test]
fn gum_h2_agrees_with_its_second_way() {
    let v = [5.007, 4.994, 5.005, 4.990, 4.999];
    let i = [19.663, 19.639, 19.640, 19.685, 19.678].map(|ma: f64| ma / 1000.0);
    let phi = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    let set = |f: fn(f64) -> f64| {
        let mut values = [0.0; 5];
        for (k, value) in values.iter_mut().enumerate() {
            *value = v[k] / i[k] * f(phi[k]);
        }
        readings(values)
    };
    let (reactance, u_x, _) = set(f64::sin);
    let (resistance, u_r, _) = set(f64::cos);
    close(reactance, 219.847, 5e-4);
    close(resistance, 127.732, 5e-4);
    close(u_x, 0.295, 5e-4);
    close(u_r, 0.071, 5e-4);
    // What the linear law gives in `gum_h2_resistance_and_reactance`.
    close(u_x, 0.29558, 2e-4);
}

/// Welch–Satterthwaite (JCGM 100:2008, G.4.1): four equal contributions with
/// 10 degrees of freedom each have 40.
#[test]
fn equal_contributions_pool_their_degrees_of_freedom() {
    let input = Input {
        value: 0.0,
        u: 0.3,
        dof: 10.0,
        sensitivity: -2.0,
    };
    let combined = combine(&[input; 4], &Correlations::none());
    close(combined.effective_dof.unwrap(), 40.0, 1e-9);
    close(combined.u, 1.2, 1e-12);
}

/// JCGM 100:2008, 4.3 (from memory): rectangular a/√3, triangular a/√6.
/// The figures are arithmetic.
#[test]
fn standard_uncertainty_of_usual_shapes() {
    close(uniform(2e-6).u(), 1.1547e-6, 1e-11);
    close(uniform(0.05).u(), 0.028868, 5e-7);
    let triangle = [
        Input::known(0.0, uniform(0.5).u(), 1.0),
        Input::known(0.0, uniform(0.5).u(), -1.0),
    ];
    let u = combine(&triangle, &Correlations::none()).u;
    close(u, 1.0 / 6f64.sqrt(), 1e-12);
    // U-shaped, a/√2, beside a plain uncertainty.
    let cyclic = [
        Input::known(0.0, 0.2, 1.0),
        Input::known(0.0, 0.5 / 2f64.sqrt(), 1.0),
    ];
    close(combine(&cyclic, &Correlations::none()).u, 0.40620, 5e-6);
}

/// JCGM 100:2008, tables G.1 and G.2 (from memory; recomputed).
#[test]
fn coverage_factors_are_those_of_the_tables() {
    for (p, k) in [
        (0.6827, 1.0),
        (0.90, 1.645),
        (0.95, 1.960),
        (0.9545, 2.0),
        (0.99, 2.576),
    ] {
        close(coverage_factor(p, f64::INFINITY), k, 5e-4);
    }
    for (dof, t) in [
        (1.0, 12.706),
        (5.0, 2.571),
        (10.0, 2.228),
        (16.0, 2.120),
        (50.0, 2.009),
    ] {
        close(coverage_factor(0.95, dof), t, 5e-4);
    }
    close(coverage_factor(0.99, 16.0), 2.921, 5e-4);
    // Large but finite degrees of freedom run into the normal value.
    close(
        coverage_factor(0.95, 9e5),
        coverage_factor(0.95, 1.1e6),
        1e-5,
    );
}

/// JCGM 101:2008, 9.2: four rectangular inputs of unit standard deviation. The
/// exact half-width is 2√3 (2 − 0.6^¼); printed 3.88, Gaussian 3.92.
#[test]
fn jcgm_101_four_rectangles() {
    let unit = uniform(3f64.sqrt());
    let inputs = [Input::known(0.0, unit.u(), 1.0); 4];
    let u = combine(&inputs, &Correlations::none()).u;
    close(u, 2.0, 1e-12);
    let exact = 2.0 * 3f64.sqrt() * (2.0 - 0.6f64.powf(0.25));
    close(exact, 3.879407, 5e-7);
    let got = half_width_95(&[unit; 4]);
    close(got, exact, 1e-4);
    close(coverage_factor(0.95, f64::INFINITY) * u, 3.92, 5e-3);
    println!("JCGM 101 9.2: {got:.6}, exact {exact:.6}");
}

/// JCGM 101:2008, 9.2.4: one rectangle outweighs three. Monte Carlo ± 17.0,
/// the normal assumption ± 19.9 (from memory); ± 17.016 recomputed.
#[test]
fn jcgm_101_one_dominant_rectangle() {
    let unit = uniform(3f64.sqrt());
    let components = [unit, unit, unit, uniform(10.0 * 3f64.sqrt())];
    let inputs = components.map(|component| Input::known(0.0, component.u(), 1.0));
    let u = combine(&inputs, &Correlations::none()).u;
    close(u, 10.149, 5e-4);
    let got = half_width_95(&components);
    close(got, 17.0, 0.05);
    close(got, 17.016, 1e-3);
    close(coverage_factor(0.95, f64::INFINITY) * u, 19.9, 0.05);
    println!("JCGM 101 9.2.4: {got:.4}");
}

/// A triangle's factor is 1.902, not 2; its half-width 0.7764 of the base.
#[test]
fn two_equal_rectangles_make_a_triangle() {
    let exact = 1.0 - 0.05f64.sqrt();
    close(exact, 0.7764, 5e-5);
    let got = half_width_95(&[uniform(0.5), uniform(0.5)]);
    close(got, exact, 1e-5);
    close(got * 6f64.sqrt(), 1.902, 5e-4);
    println!("triangle: {got:.7}, exact {exact:.7}");
}

/// Rectangles of half-widths a ≥ b make a trapezoid. Above a − b the tail is
/// (a + b − x)²/(8ab); on the flat top the density is 1/(2a).
#[test]
fn two_unequal_rectangles_make_a_trapezoid() {
    for (a, b) in [
        (1.0, 0.9),
        (1.0, 0.5),
        (1.0, 0.1),
        (1.0, 0.051),
        (1.0, 0.01),
    ] {
        let exact = if b >= a / 20.0 {
            a + b - (0.2f64 * a * b).sqrt()
        } else {
            0.95 * a
        };
        close(half_width_95(&[uniform(a), uniform(b)]), exact, 2e-5);
        close(half_width_95(&[uniform(b), uniform(a)]), exact, 2e-5);
    }
}

/// Normal errors add in quadrature.
#[test]
fn two_normals_make_a_normal() {
    for (a, b) in [(1.0, 1.0), (3.0, 0.4), (0.001, 2.0)] {
        let normal = |u: f64| Component::Normal { u };
        let exact = coverage_factor(0.95, f64::INFINITY) * f64::hypot(a, b);
        close(half_width_95(&[normal(a), normal(b)]), exact, 5e-5 * exact);
    }
}

/// Standard normal distribution function by Simpson's rule: no code in common
/// with the program.
fn normal_cdf(x: f64) -> f64 {
    let n = 2000;
    let step = x / f64::from(n);
    let density = |t: f64| (-0.5 * t * t).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let sum: f64 = (0..=n)
        .map(|k| {
            let weight = if k == 0 || k == n {
                1.0
            } else if k % 2 == 1 {
                4.0
            } else {
                2.0
            };
            weight * density(step * f64::from(k))
        })
        .sum();
    0.5 + sum * step / 3.0
}

/// A rectangle and a normal: at the reported quantile, the mean of Φ over the
/// rectangle must be 0.975.
#[test]
fn a_rectangle_and_a_normal() {
    for (half_width, u) in [(1.0, 0.05), (1.0, 0.5), (1.0, 1.0), (0.2, 1.0)] {
        let x = half_width_95(&[uniform(half_width), Component::Normal { u }]);
        let n = 1000;
        let mean: f64 = (0..n)
            .map(|k| {
                let shift = half_width * (2.0 * (f64::from(k) + 0.5) / f64::from(n) - 1.0);
                normal_cdf((x - shift) / u)
            })
            .sum::<f64>()
            / f64::from(n);
        close(mean, 0.975, 1e-5);
    }
}

/// A normal cut at its frames: the quantile in closed form.
#[test]
fn a_cut_normal_alone() {
    for (u, lo, hi) in [(1.0, -0.5, 2.0), (0.3, -1.0, 1.0), (2.0, 0.0, 1.0)] {
        let component = Component::TruncatedNormal { u, lo, hi };
        let sum = Sum::of(&[component]);
        for p in [0.025, 0.5, 0.975] {
            let x = sum.quantile(p);
            let below = normal_cdf(lo / u);
            let share = (normal_cdf(x / u) - below) / (normal_cdf(hi / u) - below);
            close(share, p, 1e-5);
        }
    }
}
