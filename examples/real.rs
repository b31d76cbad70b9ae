use underfoot::video::patch::FloorPatch;
fn main() {
    let a: Vec<u32> = std::env::args().skip(1).map(|v| v.parse().unwrap()).collect();
    let times: Vec<f64> = (0..141).map(|k| k as f64 / 30.0).collect();
    let tr = underfoot::video::trial("/tmp/px/real.gray", 141, (720, 320), FloorPatch { x: a[0], y: a[1], w: a[2], h: a[3] }, &times);
    for e in &tr.leaps { println!("to {:.1} ld {:.1} frames T {:.3} ev {:.2} cert {:.3} v {:.2} s {:.0} [{:.1} {:.1}ms rms {:.2}] [{:.1} {:.1}ms rms {:.2}]", e.takeoff.t_s*30., e.landing.t_s*30., e.flight_s(), e.evidence, e.certainty(), e.takeoff.speed_px_s/e.landing.speed_px_s, e.px_per_m, e.takeoff.weight, 1e3*e.takeoff.spread_s, e.takeoff.rms_px, e.landing.weight, 1e3*e.landing.spread_s, e.landing.rms_px); }
}
