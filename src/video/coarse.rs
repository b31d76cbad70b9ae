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
/// Packets are added up over this many seconds.
const BIN_S: f64 = 0.1;
/// A group whose packets exceed those of its peers by more than this factor
/// anywhere, at the same place after the key picture, is decoded.
const LARGER: f64 = 1.25;
/// The same for the last group, which no key picture closes.
const LARGER_AT_END: f64 = 1.10;
/// Fewest peers for such a comparison.
const FEWEST_PEERS: usize = 2;

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
    Ok(judge(seen, &bounds, table, clock))
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

/// Compares each key picture with the next, and packets with those of peers.
fn judge(
    seen: Vec<(i64, Grey)>,
    bounds: &[(usize, usize)],
    table: &PacketTable,
    clock: &CaptureClock,
) -> Option<Coarse> {
    let pictures: Vec<&Grey> = seen.iter().map(|(_, feet)| feet).collect();
    let likeness = Likeness::of(&pictures)?;
    let alike: Vec<bool> = pictures
        .windows(2)
        .map(|pair| difference(pair[0], pair[1]) <= likeness.limit())
        .collect();
    let sizes = binned_sizes(bounds, table, clock);
    let peers: Vec<&Vec<f64>> = sizes
        .iter()
        .zip(&alike)
        .filter(|p| *p.1)
        .map(|p| p.0)
        .collect();
    let usual = |group: usize, factor: f64| {
        let peers: Vec<&Vec<f64>> = peers
            .iter()
            .copied()
            .filter(|peer| !std::ptr::eq(*peer, &sizes[group]))
            .collect();
        peers.len() >= FEWEST_PEERS && is_usual(&sizes[group], &peers, factor)
    };
    let quiet: Vec<bool> = (0..bounds.len())
        .map(|group| match alike.get(group) {
            Some(alike) => *alike && usual(group, LARGER),
            None => group > 0 && alike[group - 1] && usual(group, LARGER_AT_END),
        })
        .collect();
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

/// Bytes of each group's packets, the key packet's apart, over short stretches.
fn binned_sizes(
    bounds: &[(usize, usize)],
    table: &PacketTable,
    clock: &CaptureClock,
) -> Vec<Vec<f64>> {
    let mut sized: Vec<(i64, f64, bool)> = table
        .packets()
        .iter()
        .filter_map(|p| Some((p.shown_at()?, f64::from(p.size), p.key)))
        .collect();
    sized.sort_unstable_by_key(|packet| packet.0);
    bounds
        .iter()
        .map(|&(from, to)| {
            let group = sized.get(from..to).unwrap_or_default();
            let start = group.first().map_or(0.0, |p| clock.time_of(p.0).seconds());
            let mut bins: Vec<(f64, f64)> = Vec::new();
            for &(ticks, bytes, _) in group.iter().filter(|packet| !packet.2) {
                let bin = ((clock.time_of(ticks).seconds() - start) / BIN_S) as usize;
                if bins.len() <= bin {
                    bins.resize(bin + 1, (0.0, 0.0));
                }
                bins[bin].0 += bytes;
                bins[bin].1 += 1.0;
            }
            bins.iter()
                .map(|(bytes, count)| bytes / f64::max(*count, 1.0))
                .collect()
        })
        .collect()
}

/// Whether no stretch is larger than the median of the peers' at the same place.
fn is_usual(bins: &[f64], peers: &[&Vec<f64>], factor: f64) -> bool {
    bins.iter().enumerate().all(|(at, &bytes)| {
        let mut others: Vec<f64> = peers.iter().filter_map(|p| p.get(at).copied()).collect();
        others.sort_unstable_by(f64::total_cmp);
        others
            .get(others.len() / 2)
            .is_some_and(|&usual| bytes <= factor * usual)
    })
}
