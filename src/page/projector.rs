//! Pictures of frames, decoded ahead of whoever steps through a clip.
//!
//! One thread decodes; a bounded store keeps what was shown and what is likely to be
//! shown next. The newest wish goes first: while somebody drags across a clip, only
//! where the hand is matters.

use std::collections::HashMap;
use std::ops::{ControlFlow, RangeInclusive};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use axum::body::Bytes;
use tokio::sync::watch;

use super::shelf::ClipId;
use crate::report::model::Failure;
use crate::video::FloorPatch;
use crate::workflow::frames::{Film, PictureArea};

/// Bytes of pictures that are kept; some six hundred of a usual size.
const MOST_BYTES: usize = 96 << 20;
/// Wishes that are remembered; older ones are of no use to anybody.
const MOST_WISHES: usize = 48;
/// Longest side of a whole frame in pixels, and of the feet alone.
const WHOLE_PX: u32 = 1280;
const FEET_PX: u32 = 480;
/// Frames decoded before and after the one asked for.
const BEFORE: usize = 6;
const AFTER: usize = 18;
/// So near to the end of what is decoded, the next stretch is begun.
const NEAR: usize = 8;
/// How long a picture is waited for.
const PATIENCE: Duration = Duration::from_secs(20);

/// What is shown of a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Part {
    /// All of it.
    Whole,
    /// The feet in this patch: x, y, width, height.
    Feet([u32; 4]),
}

impl Part {
    fn area(self, size: (u32, u32)) -> PictureArea {
        match self {
            Self::Whole => PictureArea {
                part: None,
                max_side: WHOLE_PX,
            },
            Self::Feet([x, y, w, h]) => PictureArea::feet(FloorPatch { x, y, w, h }, size, FEET_PX),
        }
    }
}

/// One picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Key {
    pub(super) clip: ClipId,
    pub(super) part: Part,
    pub(super) frame: usize,
}

struct Wish {
    film: Arc<Film>,
    key: Key,
    range: RangeInclusive<usize>,
    urgent: bool,
}

#[derive(Default)]
struct Booth {
    pictures: HashMap<Key, (Bytes, u64)>,
    failures: HashMap<Key, Failure>,
    bytes: usize,
    tick: u64,
    wishes: Vec<Wish>,
    closed: bool,
}

impl Booth {
    fn take(&mut self, key: &Key) -> Option<Bytes> {
        self.tick += 1;
        let tick = self.tick;
        let (bytes, used) = self.pictures.get_mut(key)?;
        *used = tick;
        Some(bytes.clone())
    }

    fn store(&mut self, key: Key, bytes: Bytes) {
        self.tick += 1;
        self.bytes += bytes.len();
        if let Some((old, _)) = self.pictures.insert(key, (bytes, self.tick)) {
            self.bytes -= old.len();
        }
        if self.bytes <= MOST_BYTES {
            return;
        }
        // A quarter goes at a time, the longest unused first.
        let mut by_use: Vec<(u64, Key)> = self.pictures.iter().map(|(k, v)| (v.1, *k)).collect();
        by_use.sort_unstable_by_key(|(used, _)| *used);
        for (_, key) in by_use {
            if self.bytes <= MOST_BYTES / 4 * 3 {
                break;
            }
            if let Some((old, _)) = self.pictures.remove(&key) {
                self.bytes -= old.len();
            }
        }
    }

    fn wish(&mut self, wish: Wish) {
        let same = |other: &Wish| other.key == wish.key && other.urgent >= wish.urgent;
        if self.wishes.iter().any(same) {
            return;
        }
        if self.wishes.len() >= MOST_WISHES {
            self.wishes.remove(0);
        }
        self.wishes.push(wish);
    }

    /// The newest urgent wish, else the newest; those that have come true are dropped.
    fn next(&mut self) -> Option<Wish> {
        let pictures = &self.pictures;
        self.wishes.retain(|wish| !pictures.contains_key(&wish.key));
        let urgent = self.wishes.iter().rposition(|wish| wish.urgent);
        let at = urgent.or_else(|| self.wishes.len().checked_sub(1))?;
        Some(self.wishes.remove(at))
    }
}

struct Inner {
    booth: Mutex<Booth>,
    work: Condvar,
    shown: watch::Sender<u64>,
    threads: usize,
}

impl Inner {
    fn lock(&self) -> MutexGuard<'_, Booth> {
        self.booth.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The projector; clones show the same pictures.
#[derive(Clone)]
pub(super) struct Projector {
    inner: Arc<Inner>,
}

impl Projector {
    pub(super) fn new(threads: usize) -> Self {
        let inner = Inner {
            booth: Mutex::default(),
            work: Condvar::new(),
            shown: watch::Sender::new(0),
            threads,
        };
        Self {
            inner: Arc::new(inner),
        }
    }

    /// The picture of a frame, as soon as it is there.
    ///
    /// # Errors
    /// A frame that cannot be decoded, or does not come in time.
    pub(super) async fn picture(&self, film: &Arc<Film>, key: Key) -> Result<Bytes, Failure> {
        let mut shown = self.inner.shown.subscribe();
        let found = async {
            loop {
                shown.mark_unchanged();
                if let Some(answer) = self.look(film, key) {
                    return answer;
                }
                if shown.changed().await.is_err() {
                    return Err(late());
                }
            }
        };
        tokio::time::timeout(PATIENCE, found)
            .await
            .unwrap_or_else(|_| Err(late()))
    }

    /// The picture if it is there; else it is wished for.
    fn look(&self, film: &Arc<Film>, key: Key) -> Option<Result<Bytes, Failure>> {
        let count = film.times().len();
        let mut booth = self.inner.lock();
        if booth.closed {
            return Some(Err(late()));
        }
        if let Some(failure) = booth.failures.remove(&key) {
            return Some(Err(failure));
        }
        let picture = booth.take(&key);
        let last = count.saturating_sub(1);
        let wish = |frame: usize, range, urgent| Wish {
            film: Arc::clone(film),
            key: Key { frame, ..key },
            range,
            urgent,
        };
        if picture.is_none() {
            let range = key.frame.saturating_sub(BEFORE)..=(key.frame + AFTER).min(last);
            booth.wish(wish(key.frame, range, true));
        } else {
            let after = key.frame + NEAR;
            if after <= last
                && !booth.pictures.contains_key(&Key {
                    frame: after,
                    ..key
                })
            {
                booth.wish(wish(
                    after,
                    key.frame + 1..=(after + AFTER).min(last),
                    false,
                ));
            }
            if let Some(before) = key.frame.checked_sub(BEFORE / 2)
                && !booth.pictures.contains_key(&Key {
                    frame: before,
                    ..key
                })
            {
                booth.wish(wish(before, before.saturating_sub(AFTER)..=before, false));
            }
        }
        drop(booth);
        self.inner.work.notify_all();
        picture.map(Ok)
    }

    /// Has frames ready before anybody asks.
    pub(super) fn prepare(&self, film: &Arc<Film>, clip: ClipId, part: Part, frame: usize) {
        let last = film.times().len().saturating_sub(1);
        let range = frame.saturating_sub(BEFORE)..=(frame + BEFORE).min(last);
        let key = Key { clip, part, frame };
        self.inner.lock().wish(Wish {
            film: Arc::clone(film),
            key,
            range,
            urgent: false,
        });
        self.inner.work.notify_all();
    }

    /// Forgets a clip's pictures.
    pub(super) fn forget(&self, clip: ClipId) {
        let mut booth = self.inner.lock();
        booth.wishes.retain(|wish| wish.key.clip != clip);
        booth.failures.retain(|key, _| key.clip != clip);
        booth.pictures.retain(|key, _| key.clip != clip);
        booth.bytes = booth.pictures.values().map(|(bytes, _)| bytes.len()).sum();
    }

    pub(super) fn close(&self) {
        self.inner.lock().closed = true;
        self.inner.work.notify_all();
        self.inner.shown.send_modify(|count| *count += 1);
    }

    /// Decodes until the page closes.
    pub(super) fn run(&self) {
        loop {
            let wish = {
                let mut booth = self.inner.lock();
                loop {
                    if booth.closed {
                        return;
                    }
                    if let Some(wish) = booth.next() {
                        break wish;
                    }
                    booth = self
                        .inner
                        .work
                        .wait(booth)
                        .unwrap_or_else(PoisonError::into_inner);
                }
            };
            self.fulfil(&wish);
        }
    }

    fn fulfil(&self, wish: &Wish) {
        let Some(range) = self.missing(wish) else {
            return;
        };
        let (film, key) = (&wish.film, wish.key);
        let area = key.part.area(film.size());
        let mut receive = |picture: crate::workflow::frames::FramePicture| {
            let frame = picture.index.0;
            let mut booth = self.inner.lock();
            booth.store(Key { frame, ..key }, picture.jpeg.into());
            let reached = frame >= key.frame || !wish.urgent;
            let elsewhere = |other: &Wish| {
                other.urgent
                    && !(other.key.clip == key.clip
                        && other.key.part == key.part
                        && range.contains(&other.key.frame))
            };
            let leave = booth.closed || reached && booth.wishes.iter().any(elsewhere);
            drop(booth);
            self.inner.shown.send_modify(|count| *count += 1);
            match leave {
                true => ControlFlow::Break(()),
                false => ControlFlow::Continue(()),
            }
        };
        let threads = self.inner.threads;
        let work = || film.pictures(range.clone(), area, threads, &mut receive);
        // A fault in one clip must not end the projector.
        let done = std::panic::catch_unwind(std::panic::AssertUnwindSafe(work));
        let failure = match done {
            Ok(Ok(())) => undecodable(),
            Ok(Err(failure)) => failure,
            Err(_) => undecodable(),
        };
        let mut booth = self.inner.lock();
        if wish.urgent && !booth.pictures.contains_key(&key) {
            if booth.failures.len() > MOST_WISHES {
                booth.failures.clear();
            }
            booth.failures.insert(key, failure);
        }
        drop(booth);
        self.inner.shown.send_modify(|count| *count += 1);
    }

    /// The part of a wish's range that is not there yet.
    fn missing(&self, wish: &Wish) -> Option<RangeInclusive<usize>> {
        let booth = self.inner.lock();
        let absent = |frame: &usize| {
            let frame = *frame;
            !booth.pictures.contains_key(&Key { frame, ..wish.key })
        };
        let first = wish.range.clone().find(absent)?;
        let last = wish.range.clone().rev().find(absent)?;
        Some(first..=last)
    }
}

fn late() -> Failure {
    Failure {
        message: "the picture did not come in time".to_owned(),
        hint: "wait until other clips are measured, then try again".to_owned(),
    }
}

fn undecodable() -> Failure {
    Failure {
        message: "this frame cannot be decoded".to_owned(),
        hint: "look at the frame before or after it; copy the clip from the phone again if many \
               are missing"
            .to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(frame: usize) -> Key {
        Key {
            clip: ClipId(1),
            part: Part::Whole,
            frame,
        }
    }

    #[test]
    fn the_store_stays_within_its_bound_and_keeps_what_was_used() {
        let mut booth = Booth::default();
        let picture = Bytes::from(vec![0; 1 << 20]);
        for frame in 0..300 {
            booth.store(key(frame), picture.clone());
            assert!(booth.take(&key(0)).is_some(), "{frame}");
        }
        assert!(booth.bytes <= MOST_BYTES);
        let sum: usize = booth.pictures.values().map(|(bytes, _)| bytes.len()).sum();
        assert_eq!(sum, booth.bytes);
        assert!(booth.take(&key(299)).is_some() && booth.take(&key(1)).is_none());
    }
}
