use underfoot::video::patch::FloorPatch;
fn main() {
    let dir = "/work/shared/clips/";
    let only: Vec<String> = std::env::args().skip(1).collect();
    let mut names: Vec<String> = std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).filter(|n| n.ends_with(".json")).map(|n| n.replace(".json", "")).collect();
    names.sort();
    let mut all: Vec<(f64, f64)> = vec![];
    for name in names {
        if !only.is_empty() && !only.contains(&name) { continue; }
        let d: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(format!("{dir}{name}.json")).unwrap()).unwrap();
        let f = |v: &serde_json::Value| v.as_f64().unwrap();
        let b: Vec<u32> = d["image"]["floor_box"].as_array().unwrap().iter().map(|v| f(v) as u32).collect();
        let s: Vec<u32> = d["size_displayed"].as_array().unwrap().iter().map(|v| f(v) as u32).collect();
        let times: Vec<f64> = d["frame_capture_s"].as_array().unwrap().iter().map(f).collect();
        let raw = format!("/tmp/px/{name}.gray");
        let t0 = std::time::Instant::now();
        let tr = underfoot::video::trial(&raw, times.len(), (s[0], s[1]), FloorPatch { x: b[0], y: b[1], w: b[2], h: b[3] }, &times);
        let el = t0.elapsed().as_millis();
        let sh = f(&d["shutter_s"]) / 2.0;
        println!("{name} {el} ms");
        for l in &tr.leaps {
            let j = d["truth"]["jumps"].as_array().unwrap().iter().find(|j| (f(&j["takeoff"]) - l.takeoff.t_s).abs() < 0.15 && (f(&j["landing"]) - l.landing.t_s).abs() < 0.25);
            let e = |e: &underfoot::video::contact::Leap| format!("ev {:.2} cert {:.3} [w {:.1}/{} sh {:.2} sp {:.1}ms rms {:.2} ru {:.1}] [w {:.1}/{} sh {:.2} sp {:.1}ms rms {:.2}] s {:.2} v {:.2}", e.evidence, e.certainty(), e.takeoff.weight, e.takeoff.paths, e.takeoff.share, 1e3*e.takeoff.spread_s, e.takeoff.rms_px, 1e3*e.takeoff.run_up_s, e.landing.weight, e.landing.paths, e.landing.share, 1e3*e.landing.spread_s, e.landing.rms_px, e.px_per_m*(b[3] as f64/60.).round().max(1.)/f(&d["image"]["pixels_per_metre_at_feet"]), e.takeoff.speed_px_s/e.landing.speed_px_s);
            match j {
                Some(j) => {
                    let (a, c) = (1e3 * (l.takeoff.t_s + sh - f(&j["takeoff"])), 1e3 * (l.landing.t_s + sh - f(&j["landing"])));
                    all.push((f(&d["capture_fps"]), c - a));
                    println!("   to {a:+.1} ld {c:+.1} T {:+.1} {}", c - a, e(l));
                }
                None => println!("   ??? {:.3} {:.3} {}", l.takeoff.t_s, l.flight_s(), e(l)),
            }
        }
    }
    for (lo, hi) in [(20., 35.), (45., 65.), (100., 130.), (200., 300.)] {
        let q: Vec<f64> = all.iter().filter(|a| a.0 > lo && a.0 < hi).map(|a| a.1).collect();
        let n = q.len() as f64;
        println!("{lo}: {n} rms {:.2} bias {:.2}", (q.iter().map(|x| x * x).sum::<f64>() / n).sqrt(), q.iter().sum::<f64>() / n);
    }
}
