//! What the projector keeps and what is wished of it.

use std::collections::HashMap;
use std::ops::RangeInclusive;
use std::sync::Arc;

use axum::body::Bytes;

use crate::page::shelf::ClipId;
use crate::report::model::Failure;
use crate::video::FloorPatch;
use crate::workflow::frames::{Film, PictureArea};

/// Bytes of pictures that are kept; some six hundred of a usual size.
const MOST_BYTES: usize = 96 << 20;
/// Wishes that are remembered; older ones are of no use to anybody.
pub(super) const MOST_WISHES: usize = 48;
/// Longest side of a whole frame in pixels, and of the feet alone.
const WHOLE_PX: u32 = 1280;
const FEET_PX: u32 = 480;
/// Frames decoded before and after the one asked for.
pub(super) const BEFORE: usize = 6;
pub(super) const AFTER: usize = 18;
/// So near to the end of what is decoded, the next stretch is begun.
pub(super) const NEAR: usize = 8;

/// What is shown of a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(in crate::page) enum Part {
    /// All of it.
    Whole,
    /// The feet in this patch: x, y, width, height.
    Feet([u32; 4]),
}

impl Part {
    pub(super) fn area(self, size: (u32, u32)) -> PictureArea {
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
pub(in crate::page) struct Key {
    pub(in crate::page) clip: ClipId,
    pub(in crate::page) part: Part,
    pub(in crate::page) frame: usize,
}

/// What is being decoded: for which picture, and up to which frame.
pub(super) struct Stretch {
    pub(super) key: Key,
    pub(super) upto: usize,
    pub(super) urgent: bool,
}

/// What becomes of a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum After {
    /// The next frame is decoded.
    GoOn,
    /// The decoder is put away.
    Leave,
    /// Nobody wishes for anything.
    Rest,
}

impl Stretch {
    /// The stretch that makes a wish come true, up to this frame at least.
    pub(super) fn of(wish: &Wish, upto: usize) -> Self {
        Self {
            key: wish.key,
            upto: upto.max(wish.key.frame),
            urgent: wish.urgent,
        }
    }

    /// Whether a picture is of the same clip and part.
    pub(super) fn is_of(&self, key: &Key) -> bool {
        (self.key.clip, self.key.part) == (key.clip, key.part)
    }
}

pub(super) struct Wish {
    pub(super) film: Arc<Film>,
    pub(super) key: Key,
    pub(super) range: RangeInclusive<usize>,
    pub(super) urgent: bool,
}

#[derive(Default)]
pub(super) struct Booth {
    pub(super) pictures: HashMap<Key, (Bytes, u64)>,
    pub(super) failures: HashMap<Key, Failure>,
    pub(super) bytes: usize,
    tick: u64,
    pub(super) wishes: Vec<Wish>,
    /// The clip that was thrown away last; nobody waits for wishes for it.
    pub(super) away: Option<ClipId>,
    pub(super) closed: bool,
}

impl Booth {
    pub(super) fn take(&mut self, key: &Key) -> Option<Bytes> {
        self.tick += 1;
        let tick = self.tick;
        let (bytes, used) = self.pictures.get_mut(key)?;
        *used = tick;
        Some(bytes.clone())
    }

    pub(super) fn store(&mut self, key: Key, bytes: Bytes) {
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

    pub(super) fn wish(&mut self, wish: Wish) {
        let same = |other: &Wish| other.key == wish.key && other.urgent >= wish.urgent;
        if self.wishes.iter().any(same) {
            return;
        }
        if self.wishes.len() >= MOST_WISHES {
            self.wishes.remove(0);
        }
        self.wishes.push(wish);
    }

    /// What becomes of a stretch after this frame of it, which began with `first`.
    ///
    /// Finding the way back into a clip means decoding from the last key frame, up to a
    /// second of it; so where a stretch ends, the decoder rests, and whoever steps on
    /// goes on from there.
    pub(super) fn after(&mut self, stretch: &mut Stretch, first: usize, frame: usize) -> After {
        if self.closed || self.away == Some(stretch.key.clip) {
            return After::Leave;
        }
        if frame < stretch.upto {
            let reached = frame >= stretch.key.frame || !stretch.urgent;
            let range = first..=stretch.upto;
            let elsewhere = |other: &Wish| {
                other.urgent && !(stretch.is_of(&other.key) && range.contains(&other.key.frame))
            };
            return match reached && self.wishes.iter().any(elsewhere) {
                true => After::Leave,
                false => After::GoOn,
            };
        }
        let Some(wish) = self.next() else {
            return After::Rest;
        };
        let ahead = frame + 1..=frame + BEFORE + AFTER;
        if stretch.is_of(&wish.key) && ahead.contains(&wish.key.frame) {
            *stretch = Stretch::of(&wish, *wish.range.end());
            return After::GoOn;
        }
        self.wishes.push(wish);
        After::Leave
    }

    /// The newest urgent wish, else the newest; those that have come true are dropped.
    pub(super) fn next(&mut self) -> Option<Wish> {
        let pictures = &self.pictures;
        self.wishes.retain(|wish| !pictures.contains_key(&wish.key));
        let urgent = self.wishes.iter().rposition(|wish| wish.urgent);
        let at = urgent.or_else(|| self.wishes.len().checked_sub(1))?;
        Some(self.wishes.remove(at))
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

    /// A clip to wish for; nobody looks into it here.
    fn film() -> Arc<Film> {
        let samples = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-clips-synthetic");
        let path = format!("{samples}/cmj_60.mp4");
        Arc::new(Film::open(path.as_ref(), None).expect("a sample"))
    }

    fn wish(key: Key, urgent: bool) -> Wish {
        Wish {
            film: film(),
            range: key.frame..=key.frame + AFTER,
            key,
            urgent,
        }
    }

    #[test]
    fn who_steps_on_finds_the_decoder_where_it_rested() {
        let mut booth = Booth::default();
        let mut stretch = Stretch::of(&wish(key(10), true), 28);
        assert_eq!(booth.after(&mut stretch, 4, 20), After::GoOn);
        assert_eq!(booth.after(&mut stretch, 4, 28), After::Rest);
        booth.wish(wish(key(36), false));
        assert_eq!(booth.after(&mut stretch, 4, 28), After::GoOn);
        assert_eq!((stretch.key, stretch.upto), (key(36), 54));
        assert!(booth.wishes.is_empty());
    }

    #[test]
    fn who_goes_elsewhere_is_not_kept_waiting() {
        for (away, urgent) in [(key(5), true), (key(200), true), (key(200), false)] {
            let mut booth = Booth::default();
            let mut stretch = Stretch::of(&wish(key(10), true), 28);
            booth.wish(wish(away, urgent));
            // The frame itself is shown first, and a wish that can wait does so.
            assert_eq!(booth.after(&mut stretch, 6, 9), After::GoOn);
            let mid = booth.after(&mut stretch, 6, 12);
            assert_eq!(mid == After::Leave, urgent, "{away:?}");
            assert_eq!(booth.after(&mut stretch, 6, 28), After::Leave);
            assert_eq!(booth.wishes.len(), 1, "the wish stays");
        }
        let other = Key {
            clip: ClipId(2),
            ..key(30)
        };
        let mut booth = Booth::default();
        booth.wish(wish(other, false));
        let mut stretch = Stretch::of(&wish(key(10), false), 28);
        assert_eq!(booth.after(&mut stretch, 4, 28), After::Leave);
        booth.away = Some(ClipId(1));
        assert_eq!(booth.after(&mut stretch, 4, 6), After::Leave);
    }
}
