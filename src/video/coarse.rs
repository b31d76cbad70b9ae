//! A coarse look at a clip: between which key pictures something may have
//! happened at the feet.
//!
//! Key pictures cost little: nothing else has to be decoded for them. Where two
//! of them, at most [`LONGEST_S`] apart, show the same feet and shins on the same
//! floor to within the noise, nobody left the floor and came back in between: that
//! takes longer, and feet do not land on their own prints to within half a
//! centimetre. The last group has no key picture after it: there the feet are
//! looked at until too little is left for a jump. Everything else
//! is decoded. When the clip is not of a kind for which that holds, there is no
//! coarse look at all, and the whole clip is decoded.

use std::ops::ControlFlow;

use super::clip::Clip;
use super::clock::CaptureClock;
use super::decode::DecodedFrame;
use super::fault::ClipError;
use super::grey::Grey;
use super::keys::{key_pictures, some_pictures};
use super::likeness::{Likeness, difference};
use super::packets::PacketTable;
use super::plane::{Strip, UprightRect};
use super::zone::{Zone, shrink};

/// Longest stretch between two key pictures that may be passed over, in seconds
/// of capture time.
const LONGEST_S: f64 = 1.1;
/// Fewest groups for which a coarse look is worth its cost.
const FEWEST_GROUPS: usize = 4;
/// Somebody who stands at rest cannot lower the body, push off, fly and be seen to
/// land in so short a time, in seconds: a hop of 5 cm flies for 0.2 s, lowering and
/// pushing take 0.3 s at the least, and a landing needs frames after it.
pub(in crate::video) const TOO_SHORT_S: f64 = 0.55;
/// Who does not move for so long is at rest, in seconds.
pub(in crate::video) const AT_REST_S: f64 = 0.15;
/// From which part of the patch on only the lower part of the shoe is seen, which
/// stays where it is while knees and ankles bend.
const SOLES: f64 = 0.45;

/// A key picture and the group of pictures that follows it.
#[derive(Clone, Debug)]
pub(in crate::video) struct Group {
    /// Position of the key picture in order of time, and of the next one.
    pub(in crate::video) frames: (usize, usize),
    /// Ticks of the key picture.
    pub(in crate::video) ticks: i64,
    /// Feet and shins in the key picture.
    pub(in crate::video) feet: Grey,
    /// The soles alone.
    pub(in crate::video) soles: Grey,
    /// Whether nothing can have happened before the next key picture.
    pub(in crate::video) quiet: bool,
    /// Difference of the soles to those of the next key picture.
    pub(in crate::video) shift: f32,
}

/// What a coarse look told.
#[derive(Clone, Debug)]
pub(in crate::video) struct Coarse {
    /// All groups in order of time.
    pub(in crate::video) groups: Vec<Group>,
    /// How feet are compared.
    pub(in crate::video) likeness: Likeness,
    /// Frames decoded for the look.
    pub(in crate::video) looked_at: usize,
    /// Whether somebody was seen at rest in the last group.
    ends_at_rest: bool,
}

/// Looks at the key pictures; `None` where the whole clip has to be decoded.
///
/// # Errors
/// When the clip cannot be opened or decoded at all.
pub(in crate::video) fn coarse_look(looker: &Looker) -> Result<Option<Coarse>, ClipError> {
    let Looker { clip, clock, .. } = *looker;
    let table = clip.packets()?;
    if !is_plain(clip, table) {
        return Ok(None);
    }
    let Some(bounds) = group_bounds(table, clock) else {
        return Ok(None);
    };
    let mut seen: Vec<(i64, Grey)> = Vec::with_capacity(bounds.len());
    let mut look = FeetOf::new(looker.zone);
    let mut failure = None;
    key_pictures(clip, looker.threads, |frame| match look.read(frame) {
        Ok(feet) => seen.extend(feet.map(|feet| (frame.stamp.ticks, feet))),
        Err(error) => failure = Some(error),
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
    let Some(mut coarse) = judge(seen, &bounds, Soles::new(looker.zone)) else {
        return Ok(None);
    };
    look_at_last(looker, &mut coarse)?;
    Ok(Some(coarse))
}

/// Reads feet and shins from frames.
struct FeetOf {
    rect: UprightRect,
    bin: u32,
    strip: Strip,
}

impl FeetOf {
    fn new(zone: &Zone) -> Self {
        let (rect, bin) = feet(zone);
        let strip = Strip::default();
        Self { rect, bin, strip }
    }

    /// The feet of a frame; nothing of a damaged one.
    fn read(&mut self, frame: &DecodedFrame) -> Result<Option<Grey>, ClipError> {
        frame.read_strip(self.rect, &mut self.strip)?;
        let (w, h) = (self.rect.w as usize, self.rect.h as usize);
        let feet = shrink(&self.strip.luma, w, h, self.strip.depth_bits, self.bin);
        Ok(feet.filter(|_| !frame.stamp.corrupt))
    }
}

/// Whether somebody who stands at rest in the last key picture still does so when
/// too little is left for a jump: then the last group is quiet.
fn look_at_last(looker: &Looker, coarse: &mut Coarse) -> Result<(), ClipError> {
    let [.., before, last] = &coarse.groups[..] else {
        return Ok(());
    };
    let ends = looker.clip.packets()?.presented().last().copied();
    let enough_s = looker.time_s(ends.unwrap_or(last.ticks)) - TOO_SHORT_S;
    let shown_s = enough_s - looker.time_s(last.ticks);
    // One picture like the one before it shows rest, or else many after it.
    if !before.quiet && shown_s < AT_REST_S {
        return Ok(());
    }
    let (quiet, frames) = match shown_s > 0.0 {
        true => looker.stays(coarse, last, enough_s)?,
        false => (true, 0),
    };
    coarse.looked_at += frames;
    coarse.ends_at_rest = quiet && shown_s >= AT_REST_S;
    if let Some(last) = coarse.groups.last_mut() {
        last.quiet = quiet;
    }
    Ok(())
}

/// What is needed to look at the feet here and there.
pub(in crate::video) struct Looker<'a> {
    pub(in crate::video) clip: &'a Clip,
    pub(in crate::video) clock: &'a CaptureClock,
    pub(in crate::video) zone: &'a Zone,
    pub(in crate::video) threads: usize,
}

impl Looker<'_> {
    fn time_s(&self, ticks: i64) -> f64 {
        self.clock.time_of(ticks).seconds()
    }

    /// Whether feet and shins stay as in a group's key picture up to a time in seconds,
    /// and how many frames were decoded to see it.
    fn stays(
        &self,
        coarse: &Coarse,
        group: &Group,
        until_s: f64,
    ) -> Result<(bool, usize), ClipError> {
        let limit = coarse.likeness.limit();
        let mut look = FeetOf::new(self.zone);
        let (mut stays, mut failure) = (false, None);
        let frames = some_pictures(self.clip, self.threads, group.ticks, |frame| {
            let like = match look.read(frame) {
                Ok(feet) => feet.is_some_and(|feet| difference(&group.feet, &feet) <= limit),
                Err(error) => {
                    failure = Some(error);
                    false
                }
            };
            stays = like && self.time_s(frame.stamp.ticks) >= until_s;
            match like && !stays {
                true => ControlFlow::Continue(()),
                false => ControlFlow::Break(()),
            }
        })?;
        match failure {
            Some(error) => Err(error),
            None => Ok((stays, frames)),
        }
    }

    /// Whether somebody is at rest in a group's key picture: as in the two before it, or
    /// seen to stay so. Two alike may show one going down and one straightening up.
    pub(in crate::video) fn rests_at(
        &self,
        coarse: &mut Coarse,
        at: usize,
    ) -> Result<bool, ClipError> {
        let quiet = |at: usize| coarse.groups.get(at).is_some_and(|group| group.quiet);
        if at >= 2 && quiet(at - 1) && quiet(at - 2) {
            return Ok(true);
        }
        let Some(group) = coarse.groups.get(at) else {
            return Ok(false);
        };
        let until_s = self.time_s(group.ticks) + AT_REST_S;
        let (stays, frames) = self.stays(coarse, group, until_s)?;
        coarse.looked_at += frames;
        Ok(stays)
    }
}

impl Looker<'_> {
    /// Doubts groups that seem quiet between two in which something happened, unless
    /// somebody is seen at rest: going down and coming up again look alike.
    pub(in crate::video) fn doubt_between(&self, coarse: &mut Coarse) -> Result<(), ClipError> {
        let alone = |three: &[Group]| !three[0].quiet && three[1].quiet && !three[2].quiet;
        let between: Vec<usize> = coarse
            .groups
            .windows(3)
            .map(alone)
            .enumerate()
            .filter_map(|(before, alone)| alone.then_some(before + 1))
            .collect();
        for at in between {
            let rests = self.rests_at(coarse, at)?;
            coarse.groups[at].quiet = rests;
        }
        Ok(())
    }
}

impl Coarse {
    /// Whether somebody is at rest in a group's key picture, by what follows it.
    pub(in crate::video) fn rests_from(&self, at: usize) -> bool {
        let quiet = |at: usize| self.groups.get(at).is_some_and(|group| group.quiet);
        match at + 1 == self.groups.len() {
            true => self.ends_at_rest,
            false => quiet(at) && quiet(at + 1),
        }
    }
}

/// Where the soles are in the feet's picture: beside the patch there are shadows only.
#[derive(Clone, Copy, Debug)]
pub(in crate::video) struct Soles {
    first_row: usize,
    columns: (usize, usize),
}

impl Soles {
    pub(in crate::video) fn new(zone: &Zone) -> Self {
        let (rect, bin) = feet(zone);
        let (top, height) = zone.patch_rows(bin);
        let first = top + SOLES * height - f64::from((rect.y - zone.y) / bin);
        Self {
            first_row: first.max(0.0) as usize,
            columns: zone.patch_columns(bin),
        }
    }

    /// The soles of a picture of the feet.
    pub(in crate::video) fn of(&self, feet: &Grey) -> Option<Grey> {
        feet.corner(self.first_row, self.columns)
    }
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
pub(in crate::video) fn is_plain(clip: &Clip, table: &PacketTable) -> bool {
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
fn judge(seen: Vec<(i64, Grey)>, bounds: &[(usize, usize)], soles: Soles) -> Option<Coarse> {
    let pictures: Vec<&Grey> = seen.iter().map(|(_, feet)| feet).collect();
    let likeness = Likeness::of(&pictures)?;
    let shoes: Vec<Grey> = pictures
        .iter()
        .map(|feet| soles.of(feet))
        .collect::<Option<_>>()?;
    let mut told: Vec<(bool, f32)> = pictures
        .windows(2)
        .zip(shoes.windows(2))
        .map(|(feet, soles)| {
            let quiet = difference(feet[0], feet[1]) <= likeness.limit();
            (quiet, difference(&soles[0], &soles[1]))
        })
        .collect();
    told.push((false, f32::INFINITY));
    let looked_at = seen.len();
    let groups = seen.into_iter().zip(shoes).zip(bounds).zip(told);
    let groups = groups.map(
        |((((ticks, feet), soles), &frames), (quiet, shift))| Group {
            frames,
            ticks,
            feet,
            soles,
            quiet,
            shift,
        },
    );
    Some(Coarse {
        groups: groups.collect(),
        likeness,
        looked_at,
        ends_at_rest: false,
    })
}
