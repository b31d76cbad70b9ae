//! Many clips: how they share the cores, and their results in order.
//!
//! A clip is a pure function from file to document, so clips can be measured side by
//! side. What is bounded here is how many at once, and how far those that are quick
//! may run ahead of a slow one: memory does not grow with the number of clips.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError, mpsc};

/// Clips side by side at most, whatever the number of cores: each holds the pictures
/// that its decoder refers to. More clips at once are for more processes (`--shard`).
pub const MOST_SIDE_BY_SIDE: usize = 8;
/// Decoding threads of one clip at most: each holds pictures of its own, and beyond
/// about this number clips of a few seconds get no quicker.
pub const MOST_THREADS_EACH: usize = 8;
/// How many results for each clip side by side may wait for one before them.
const WAITING_EACH: usize = 8;

/// How clips share the threads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Share {
    /// Clips side by side.
    pub clips: usize,
    /// Threads of each.
    pub threads: usize,
}

impl Share {
    /// The threads shared out to so many clips.
    ///
    /// Clips side by side with one thread each go before threads side by side on one
    /// clip: much of a measurement cannot be divided, and a decoder's threads wait for
    /// one another. There are threads to spare only where clips are few.
    pub fn of(threads: usize, clips: usize) -> Self {
        let threads = threads.max(1);
        let side_by_side = clips.clamp(1, threads.min(MOST_SIDE_BY_SIDE));
        Self {
            clips: side_by_side,
            threads: (threads / side_by_side).min(MOST_THREADS_EACH),
        }
    }
}

/// Which clip is next, and how many results were taken.
struct Queue {
    count: usize,
    ahead: usize,
    state: Mutex<State>,
    moved: Condvar,
}

struct State {
    next: usize,
    taken: usize,
    stopped: bool,
}

impl Queue {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next piece of work, once it is not too far ahead of what was taken.
    fn next(&self) -> Option<usize> {
        let mut state = self.state();
        loop {
            if state.stopped || state.next >= self.count {
                return None;
            }
            if state.next < state.taken + self.ahead {
                state.next += 1;
                return Some(state.next - 1);
            }
            let waited = self.moved.wait(state);
            state = waited.unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn change(&self, change: impl FnOnce(&mut State)) {
        change(&mut self.state());
        self.moved.notify_all();
    }
}

/// Does `work` for each of the items, several at once, and hands the results to `take`
/// in the items' order, each as soon as those before it were taken.
///
/// # Errors
/// That of `take`: no further work is begun then. A panic in `work` becomes one of the
/// caller.
pub fn in_order<I: Sync, T: Send, E>(
    items: &[I],
    share: Share,
    work: impl Fn(&I) -> T + Sync,
    mut take: impl FnMut(T) -> Result<(), E>,
) -> Result<(), E> {
    let queue = Queue {
        count: items.len(),
        ahead: WAITING_EACH * share.clips,
        state: Mutex::new(State {
            next: 0,
            taken: 0,
            stopped: false,
        }),
        moved: Condvar::new(),
    };
    std::thread::scope(|scope| {
        let (sender, receiver) = mpsc::channel();
        let (queue, work) = (&queue, &work);
        for _ in 0..share.clips {
            let sender = sender.clone();
            scope.spawn(move || {
                while let Some((at, item)) = queue.next().and_then(|at| Some((at, items.get(at)?)))
                {
                    let done = catch_unwind(AssertUnwindSafe(|| work(item)));
                    // Fails only when nobody takes any more.
                    let _ = sender.send((at, done));
                }
            });
        }
        drop(sender);
        let mut waiting = BTreeMap::new();
        let mut next = 0;
        for (at, done) in receiver {
            waiting.insert(at, done);
            while let Some(done) = waiting.remove(&next) {
                let taken = done.map(&mut take);
                if !matches!(taken, Ok(Ok(()))) {
                    queue.change(|state| state.stopped = true);
                }
                taken.unwrap_or_else(|panic| resume_unwind(panic))?;
                next += 1;
                queue.change(|state| state.taken = next);
            }
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    use super::*;

    #[test]
    fn clips_go_before_threads_and_both_are_bounded() {
        let share = |threads, clips| {
            let share = Share::of(threads, clips);
            (share.clips, share.threads)
        };
        assert_eq!(share(2, 40), (2, 1));
        assert_eq!(share(2, 1), (1, 2));
        assert_eq!(share(8, 3), (3, 2));
        assert_eq!(share(1, 5), (1, 1));
        assert_eq!(share(0, 0), (1, 1));
        for threads in 1..300 {
            for clips in [1, 2, 7, 1000] {
                let (clips, each) = share(threads, clips);
                assert!((1..=MOST_SIDE_BY_SIDE).contains(&clips));
                assert!((1..=MOST_THREADS_EACH).contains(&each) && clips * each <= threads);
            }
        }
    }

    /// Now and then a slow one: the others wait for it, but only so many.
    #[test]
    fn results_come_in_order_and_few_wait() {
        let items: Vec<usize> = (0..1000).collect();
        let (begun, taken) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let most = AtomicUsize::new(0);
        let work = |item: &usize| {
            let ahead = begun.fetch_add(1, Ordering::SeqCst) + 1 - taken.load(Ordering::SeqCst);
            most.fetch_max(ahead, Ordering::SeqCst);
            if item.is_multiple_of(50) {
                std::thread::sleep(Duration::from_millis(5));
            }
            *item
        };
        let mut order = Vec::new();
        let end: Result<(), ()> = in_order(&items, Share::of(3, 1000), work, |item| {
            order.push(item);
            taken.fetch_add(1, Ordering::SeqCst);
            Ok(())
        });
        assert!(end.is_ok() && order == items);
        let most = most.into_inner();
        assert!((4..=3 * WAITING_EACH + 1).contains(&most), "{most} at once");
    }

    #[test]
    fn nothing_is_begun_after_the_end() {
        let begun = AtomicUsize::new(0);
        let work = |_: &()| begun.fetch_add(1, Ordering::SeqCst);
        let mut taken = 0;
        let end = in_order(&[(); 10_000], Share::of(2, 10_000), work, |_| {
            taken += 1;
            if taken == 20 { Err("full") } else { Ok(()) }
        });
        assert_eq!(end, Err("full"));
        assert!(begun.into_inner() <= 20 + 2 * WAITING_EACH + 1);
    }

    #[test]
    fn a_panic_ends_all_of_it() {
        let items: Vec<usize> = (0..100).collect();
        let fails = |item: &usize| assert_ne!(*item, 5, "made up");
        let run = || in_order(&items, Share::of(2, 100), fails, |()| Ok::<(), ()>(()));
        assert!(catch_unwind(AssertUnwindSafe(run)).is_err());
    }
}
