//! How long the steps take that run most often: differencing, the fit of one path, and
//! the statistics of a squad. `cargo bench`; numbers only mean something on an idle
//! machine.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use underfoot::trials::reliability::{IccForm, Ratings};
use underfoot::video::timed;

/// Numbers that look random and are the same each time (Knuth's MMIX generator).
fn noise(state: &mut u64) -> f64 {
    *state = state
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add(1_442_695_040_888_963_407);
    (*state >> 40) as f64 / (1u64 << 24) as f64
}

/// The watched part of a picture of 1080 rows in which feet fill a tenth of the height.
fn differencing(bench: &mut Criterion) {
    let (w, h) = (324, 391);
    let mut state = 1;
    let pictures: Vec<Vec<u16>> = (0..24)
        .map(|_| {
            (0..w * h)
                .map(|_| (60.0 + 90.0 * noise(&mut state)) as u16)
                .collect()
        })
        .collect();
    bench.bench_function("difference 24 pictures", |b| {
        b.iter(|| timed::motion(black_box(&pictures), (w, h), 4));
    });
}

/// A toe seen at 240 frames a second, 0.1 s before the event and 0.1 s after it.
fn fit(bench: &mut Criterion) {
    let (event_s, speed) = (0.0031, 430.0);
    let mut state = 2;
    let heights: Vec<(f64, f64)> = (-24..24)
        .map(|k| {
            let t = f64::from(k) / 240.0;
            let u = (t - event_s).max(0.0);
            (
                t,
                100.0 - speed * (u - u * u / 0.5) + 0.2 * (noise(&mut state) - 0.5),
            )
        })
        .collect();
    bench.bench_function("fit one path", |b| {
        b.iter(|| timed::hinge(black_box(&heights), 400.0, (-0.09, 0.09)));
    });
}

/// Thirty athletes with ten trials each.
fn statistics(bench: &mut Criterion) {
    let mut state = 3;
    let rows: Vec<Vec<f64>> = (0..30)
        .map(|_| {
            let usual_m = 0.3 + 0.1 * noise(&mut state);
            (0..10)
                .map(|_| usual_m + 0.02 * noise(&mut state))
                .collect()
        })
        .collect();
    bench.bench_function("reliability of a squad", |b| {
        b.iter(|| {
            let ratings = Ratings::new(black_box(rows.clone())).expect("a table without gaps");
            (ratings.icc(IccForm::TwoOne), ratings.typical_error())
        });
    });
}

criterion_group! {
    name = steps;
    config = Criterion::default()
        .warm_up_time(std::time::Duration::from_millis(300))
        .measurement_time(std::time::Duration::from_secs(1))
        .sample_size(20);
    targets = differencing, fit, statistics
}
criterion_main!(steps);
