//! Being told to stop: ctrl-C, or another program's request.

/// From now on such a signal ends the program between two files, never within one,
/// with the code that shells expect: 128 and the signal's number.
#[cfg(unix)]
pub(super) fn on_signals() {
    use signal_hook::consts::{SIGINT, SIGTERM};
    use signal_hook::iterator::Signals;
    // Without it the system's own way holds: the program ends at once.
    let Ok(mut signals) = Signals::new([SIGINT, SIGTERM]) else {
        return;
    };
    std::thread::spawn(move || {
        if let Some(signal) = signals.forever().next() {
            crate::workflow::interrupt::when_nobody_writes(|| {
                leave_terminal();
                // At once: what would tidy up on the way out is in use by other threads.
                signal_hook::low_level::exit(128 + signal);
            });
        }
    });
}

#[cfg(not(unix))]
pub(super) fn on_signals() {}

/// The prompt is to begin on a line of its own, not behind a progress bar.
#[cfg(unix)]
fn leave_terminal() {
    use std::io::IsTerminal;
    if std::io::stderr().is_terminal() {
        super::output::murmur("\n");
    }
}
