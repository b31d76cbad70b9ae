//! Being told to stop while a file is being written.
//!
//! A file of ours is written under another name first and gets its own name once it
//! is whole. If the program ended in between, the unfinished one would be left. So
//! writers say that they write, and who ends the program waits for them.

use std::sync::{RwLock, TryLockError};
use std::time::{Duration, Instant};

/// Held by writers together, by who stops alone.
static WRITING: RwLock<()> = RwLock::new(());

/// A file takes no longer to write; one on a disk that hangs is not waited for.
const LONGEST_WAIT: Duration = Duration::from_secs(3);
const BETWEEN_LOOKS: Duration = Duration::from_millis(2);

/// Does something that must be finished before the program may be ended from
/// outside.
pub fn whole<T>(write: impl FnOnce() -> T) -> T {
    // The lock guards nothing that a panic could leave half done.
    let _writing = WRITING.read().unwrap_or_else(|broken| broken.into_inner());
    write()
}

/// Waits until nobody writes, for a few seconds at most, then does something that
/// does not return; nobody begins to write meanwhile.
pub fn when_nobody_writes(end: impl FnOnce()) {
    let since = Instant::now();
    let mut alone = WRITING.try_write();
    while matches!(alone, Err(TryLockError::WouldBlock)) && since.elapsed() < LONGEST_WAIT {
        std::thread::sleep(BETWEEN_LOOKS);
        alone = WRITING.try_write();
    }
    end();
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicBool, Ordering};

    #[test]
    fn the_end_waits_for_who_writes() {
        let written = AtomicBool::new(false);
        let begun = AtomicBool::new(false);
        std::thread::scope(|scope| {
            scope.spawn(|| {
                whole(|| {
                    begun.store(true, Ordering::SeqCst);
                    std::thread::sleep(Duration::from_millis(100));
                    written.store(true, Ordering::SeqCst);
                });
            });
            while !begun.load(Ordering::SeqCst) {
                std::thread::yield_now();
            }
            when_nobody_writes(|| assert!(written.load(Ordering::SeqCst)));
        });
    }
}
