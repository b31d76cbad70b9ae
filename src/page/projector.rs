//! Pictures of frames, decoded ahead of whoever steps through a clip.
//!
//! One thread decodes; a bounded store keeps what was shown and what is likely to be
//! shown next. The newest wish goes first: while somebody drags across a clip, only
//! where the hand is matters.

mod booth;

use std::ops::{ControlFlow, RangeInclusive};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use axum::body::Bytes;
use tokio::sync::watch;

use super::shelf::ClipId;
use crate::report::model::Failure;
use crate::workflow::frames::{Film, FramePicture};
use booth::{AFTER, After, BEFORE, Booth, MOST_WISHES, NEAR, Stretch, Wish};
pub(super) use booth::{Key, Part};

/// How long a decoder waits where a stretch ended, before it is put away.
const REST: Duration = Duration::from_secs(20);
/// How long a picture is waited for.
const PATIENCE: Duration = Duration::from_secs(20);

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
        booth.away = Some(clip);
        drop(booth);
        self.inner.work.notify_all();
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
        let film = Arc::clone(&wish.film);
        let area = wish.key.part.area(film.size());
        let last = film.times().len().saturating_sub(1);
        let mut stretch = Stretch::of(wish, *range.end());
        let first = *range.start();
        let mut receive = |picture: FramePicture| {
            let frame = picture.index.0;
            let key = Key {
                frame,
                ..stretch.key
            };
            self.inner.lock().store(key, picture.jpeg.into());
            self.inner.shown.send_modify(|count| *count += 1);
            self.goes_on(&mut stretch, first, frame)
        };
        let threads = self.inner.threads;
        let work = || film.pictures(first..=last, area, threads, &mut receive);
        // A fault in one clip must not end the projector.
        let done = std::panic::catch_unwind(std::panic::AssertUnwindSafe(work));
        let failure = match done {
            Ok(Ok(())) => undecodable(),
            Ok(Err(failure)) => failure,
            Err(_) => undecodable(),
        };
        let mut booth = self.inner.lock();
        if stretch.urgent && !booth.pictures.contains_key(&stretch.key) {
            if booth.failures.len() > MOST_WISHES {
                booth.failures.clear();
            }
            booth.failures.insert(stretch.key, failure);
        }
        drop(booth);
        self.inner.shown.send_modify(|count| *count += 1);
    }

    /// Whether decoding goes on after this frame; waits where nobody wishes for more.
    fn goes_on(&self, stretch: &mut Stretch, first: usize, frame: usize) -> ControlFlow<()> {
        let until = Instant::now() + REST;
        let mut booth = self.inner.lock();
        loop {
            match booth.after(stretch, first, frame) {
                After::GoOn => return ControlFlow::Continue(()),
                After::Leave => return ControlFlow::Break(()),
                After::Rest => {}
            }
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return ControlFlow::Break(());
            }
            booth = match self.inner.work.wait_timeout(booth, left) {
                Ok((booth, _)) => booth,
                Err(poisoned) => poisoned.into_inner().0,
            };
        }
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
