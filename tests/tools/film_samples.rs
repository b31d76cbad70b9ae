//! Films the shipped sample clips again: `cargo run --release --example
//! film_samples -- DIR`.

use std::path::PathBuf;
use std::time::Instant;

use underfoot::synth;

fn main() -> Result<(), synth::SynthError> {
    let dir = std::env::args_os()
        .nth(1)
        .map_or_else(|| "sample-clips-synthetic".into(), PathBuf::from);
    let mut started = Instant::now();
    synth::render_samples(&dir, &mut |name, done, of| {
        if done == of {
            let taken = started.elapsed().as_secs_f64();
            println!(
                "{name}: {of} frames in {taken:.1} s, {:.0} a second",
                of as f64 / taken
            );
            started = Instant::now();
        }
    })?;
    Ok(())
}
