//! A coarse look at a clip: between which key pictures something may have
//! happened at the feet.
//!
//! Key pictures cost little: nothing else has to be decoded for them. Where two
//! of them, at most [`LONGEST_S`] apart, show the same feet on the same floor to
//! within the noise, and the packets between them are no larger than those of
//! other such groups, nobody left the floor and came back in between: feet do not
//! land on their own prints to within half a centimetre. Everything else is
//! decoded. When the clip is not of a kind for which that holds, there is no
//! coarse look at all, and the whole clip is decoded.

use super::clip::Clip;
use super::clock::CaptureClock;
use super::fault::ClipError;
use super::grey::Grey;
use super::keys::key_pictures;
use super::likeness::{Likeness, difference};
use super::packets::PacketTable;
use super::plane::{Strip, UprightRect};
use super::zone::{Zone, shrink};

/// Longest stretch between two key pictures that may be passed over, in seconds
/// of capture time.
const LONGEST_S: f64 = 1.1;
/// Fewest groups for which a coarse look is worth its cost.
const FEWEST_GROUPS: usize = 4;
/// A last group, which no key picture closes, is passed over if it is no longer
/// than this, in seconds: feet that stand in its key picture cannot leave the floor,
/// fly and come back in so short a time.
const TOO_SHORT_S: f64 = 0.35;

/// A key picture and the group of pictures that follows it.
#[derive(Clone, Debug)]
pub(in crate::video) struct Group {
    /// Position of the key picture in order of time, and of the next one.
    pub(in crate::video) frames: (usize, usize),
    /// Ticks of the key picture.
    pub(in crate::video) ticks: i64,
    /// The feet in the key picture.
    pub(in crate::video) feet: Grey,
    /// Whether nothing can have happened before the next key picture.
    pub(in crate::video) quiet: bool,
}

/// What a coarse look told.
#[derive(Clone, Debug)]
pub(in crate::video) struct Coarse {
    /// All groups in order of time.
    pub(in crate::video) groups: Vec<Group>,
    /// How feet are compared.
    pub(in crate::video) likeness: Likeness,
}

/// Looks at the key pictures; `None` where the whole clip has to be decoded.
///
/// # Errors
/// When the clip cannot be opened or decoded at all.
pub(in crate::video) fn coarse_look(
    clip: &Clip,
    clock: &CaptureClock,
    zone: &Zone,
    threads: usize,
) -> Result<Option<Coarse>, ClipError> {
    let table = clip.packets()?;
    if !is_plain(clip, table) {
        return Ok(None);
    }
    let Some(bounds) = group_bounds(table, clock) else {
        return Ok(None);
    };
    let (rect, bin) = feet(zone);
    let mut strip = Strip::default();
    let mut seen: Vec<(i64, Grey)> = Vec::with_capacity(bounds.len());
    let mut failure = None;
    key_pictures(clip, threads, |frame| {
        match frame.read_strip(rect, &mut strip) {
            Ok(()) if !frame.stamp.corrupt => seen.extend(
                shrink(
                    &strip.luma,
                    rect.w as usize,
                    rect.h as usize,
                    strip.depth_bits,
                    bin,
                )
                .map(|feet| (frame.stamp.ticks, feet)),
            ),
            Ok(()) => {}
            Err(error) => failure = Some(error),
        }
    })?;
    if let Some(error) = failure {
        return Err(error);
    }
    let ticks = |at: usize| table.presented().get(at).copied();
    let all_there = seen.len() == bounds.len()
        && seen
            .iter()
            .zip(&bounds)
            .all(|(key, frames)| Some(key.0) == ticks(frames.0));
    if !all_there {
        return Ok(None);
    }
    let last_s = match (bounds.last(), table.presented().last()) {
        (Some(&(from, _)), Some(&last)) => {
            let begins = ticks(from).unwrap_or(last);
            clock.time_of(last).seconds() - clock.time_of(begins).seconds()
        }
        _ => f64::INFINITY,
    };
    Ok(judge(seen, &bounds, last_s))
}

/// The rows of the watched part in which feet stand, and the size to which they
/// are brought: knees and hips sway, feet do not.
pub(in crate::video) fn feet(zone: &Zone) -> (UprightRect, u32) {
    let (top, height) = zone.patch_rows(1);
    // On a row of the coarse picture, so that frames decoded later compare.
    let first = (top - height).max(0.0) as u32 / zone.coarse * zone.coarse;
    let rect = UprightRect {
        y: zone.y + first,
        h: zone.h - first,
        ..zone.rect()
    };
    (rect, zone.coarse)
}

/// Whether the container tells all times and nothing speaks of damage.
fn is_plain(clip: &Clip, table: &PacketTable) -> bool {
    let packets = table.packets();
    let read = packets.len() as u64;
    table.read_errors == 0
        && clip.facts().warnings.is_empty()
        && clip
            .facts()
            .frames_claimed
            .is_none_or(|claimed| claimed <= read)
        && packets
            .iter()
            .all(|p| p.pts.is_some() && p.dts.is_some() && !p.discard && !p.corrupt)
        && table.presented().windows(2).all(|pair| pair[0] < pair[1])
}

/// First frame of each group and of the next one; `None` where groups are few or
/// long, or the clip does not begin with a key picture.
fn group_bounds(table: &PacketTable, clock: &CaptureClock) -> Option<Vec<(usize, usize)>> {
    let keys = table.packets().iter().filter(|packet| packet.key);
    let mut starts: Vec<usize> = keys
        .filter_map(|key| table.position(key.shown_at()?))
        .collect();
    starts.sort_unstable();
    starts.dedup();
    if starts.len() < FEWEST_GROUPS || starts.first() != Some(&0) {
        return None;
    }
    starts.push(table.presented().len());
    let time = |at: usize| {
        let last = table.presented().last().copied().unwrap_or_default();
        let ticks = table.presented().get(at).copied().unwrap_or(last);
        clock.time_of(ticks).seconds()
    };
    let bounds: Vec<(usize, usize)> = starts.windows(2).map(|w| (w[0], w[1])).collect();
    bounds
        .iter()
        .all(|&(from, to)| time(to) - time(from) <= LONGEST_S)
        .then_some(bounds)
}

/// Compares each key picture with the next.
fn judge(seen: Vec<(i64, Grey)>, bounds: &[(usize, usize)], last_s: f64) -> Option<Coarse> {
    let pictures: Vec<&Grey> = seen.iter().map(|(_, feet)| feet).collect();
    let likeness = Likeness::of(&pictures)?;
    let mut quiet: Vec<bool> = pictures
        .windows(2)
        .map(|pair| difference(pair[0], pair[1]) <= likeness.limit())
        .collect();
    quiet.push(last_s <= TOO_SHORT_S && quiet.last().copied().unwrap_or(false));
    let groups = seen
        .into_iter()
        .zip(bounds)
        .zip(quiet)
        .map(|(((ticks, feet), &frames), quiet)| Group {
            frames,
            ticks,
            feet,
            quiet,
        })
        .collect();
    Some(Coarse { groups, likeness })
}
