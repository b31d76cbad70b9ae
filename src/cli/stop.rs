//! Being told to stop: ctrl-C, or another program's request.

/// From now on such a signal ends the program between two files, never within one,
/// with the code that shells expect: 128 and the signal's number.
///
/// Where the system does not let it, its own way holds: the program ends at once.
#[cfg(unix)]
pub(super) fn on_signals() {
    use signal_hook::consts::{SIGINT, SIGTERM};
    use signal_hook::flag::register_usize;
    use signal_hook::low_level::pipe;
    use std::io::Read;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicUsize, Ordering};

    // A pipe and not a pair of sockets: this program opens none.
    let Ok((mut woken, waker)) = std::io::pipe() else {
        return;
    };
    let which = Arc::new(AtomicUsize::new(0));
    for signal in [SIGINT, SIGTERM] {
        let number = usize::try_from(signal).unwrap_or_default();
        let registered = waker.try_clone().and_then(|waker| {
            register_usize(signal, Arc::clone(&which), number)?;
            pipe::register(signal, waker)
        });
        if registered.is_err() {
            return;
        }
    }
    std::thread::spawn(move || {
        if woken.read_exact(&mut [0]).is_err() {
            return;
        }
        let signal = i32::try_from(which.load(Ordering::SeqCst)).unwrap_or_default();
        crate::workflow::interrupt::when_nobody_writes(|| {
            leave_terminal();
            // At once: what would tidy up on the way out is in use by other threads.
            signal_hook::low_level::exit(128 + signal);
        });
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
