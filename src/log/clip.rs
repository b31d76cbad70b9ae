//! Clips, known by their contents.

use std::fmt;
use std::io::{self, Read};

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};

use super::error::LogError;
use super::trial::{TrialId, TrialRecord};
use super::{AthleteId, JumpKind, Log};
use crate::units::Metres;

/// SHA-256 of a clip's bytes: the same clip has the same one under any name.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ClipHash(pub [u8; 32]);

impl ClipHash {
    /// Reads `clip` to its end.
    ///
    /// # Errors
    /// What the reader says.
    pub fn of(mut clip: impl Read) -> io::Result<Self> {
        let mut hasher = Sha256::new();
        let mut chunk = vec![0; 1 << 16];
        loop {
            match clip.read(&mut chunk) {
                Ok(0) => return Ok(Self(hasher.finalize().into())),
                Ok(count) => hasher.update(chunk.get(..count).unwrap_or_default()),
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
    }

    /// Reads sixty-four hexadecimal digits.
    pub fn from_hex(text: &str) -> Option<Self> {
        let mut bytes = [0; 32];
        if text.len() != 64 || !text.is_ascii() {
            return None;
        }
        for (at, byte) in bytes.iter_mut().enumerate() {
            let digits = text.get(2 * at..2 * at + 2)?;
            if digits.starts_with('+') {
                return None;
            }
            *byte = u8::from_str_radix(digits, 16).ok()?;
        }
        Some(Self(bytes))
    }
}

impl fmt::Display for ClipHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for ClipHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// The clip a trial was measured in. The clip itself is never kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClipRef {
    /// Its contents.
    pub sha256: ClipHash,
    /// Its name without folders.
    pub name: String,
    /// The floor patch in pixels of the upright picture: x, y, width, height.
    pub patch_px: Option<[u32; 4]>,
}

/// The jumps of one clip, to be kept together.
#[derive(Clone, Debug)]
pub struct ClipTrials<'a> {
    /// Who jumped.
    pub athlete: AthleteId,
    /// The clip.
    pub clip: ClipRef,
    /// Day of a clip that is new to the log.
    pub date: Date,
    /// What a person stated, which goes before anything that is kept already.
    pub stated: Stated,
    /// Its jumps, each with its number in the clip, from 1.
    pub trials: &'a [(u32, TrialRecord)],
}

/// What a person stated of all jumps of a clip; `None` where nothing was stated, so
/// that what is kept of the clip stays.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stated {
    /// Day.
    pub date: Option<Date>,
    /// Kind of jump.
    pub kind: Option<JumpKind>,
    /// Load beyond the body in kg.
    pub load_kg: Option<f64>,
    /// Height of the box of drop jumps.
    pub drop_height: Option<Metres>,
}

/// What became of a clip's jumps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// The trials, in the clip's order.
    pub trials: Vec<TrialId>,
    /// The day they are kept under.
    pub date: Date,
    /// How many trials of an earlier measurement of the same clip were replaced.
    pub replaced: usize,
}

impl Log {
    /// Whether trials of this clip are kept, and whose they are.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn clip_owner(&self, clip: &ClipHash) -> Result<Option<AthleteId>, LogError> {
        let owner: Option<i64> = self
            .connection
            .prepare_cached(
                "SELECT t.athlete_id FROM clip c JOIN trial t ON t.clip_id = c.id \
                 WHERE c.sha256 = ?1 LIMIT 1",
            )?
            .query_row([clip.0.as_slice()], |row| row.get(0))
            .optional()?;
        Ok(owner.map(AthleteId))
    }

    /// Keeps the jumps of a clip.
    ///
    /// A clip that is known already is measured anew: its jumps replace the earlier
    /// ones, and each keeps the number, the place in the day, the remark and the
    /// reason for being set aside of the jump it replaces, unless it brings its own.
    /// Day, kind and load stay as well, unless others are stated. Jumps are the same if their
    /// take-offs are less than 0.1 s apart. A measurement that finds nothing replaces
    /// nothing.
    ///
    /// # Errors
    /// [`LogError::ClipOfAnother`] if the clip is kept under another athlete, or
    /// what is wrong with a trial; nothing is changed then.
    pub fn keep_clip(&mut self, clip: &ClipTrials, now: Timestamp) -> Result<Kept, LogError> {
        self.at_once(|log| super::trial_rows::keep_clip(log, clip, now))
    }
}

/// The clip's row, made if it is new.
pub(super) fn ensure(log: &Connection, clip: &ClipRef) -> Result<i64, LogError> {
    let [x, y, w, h] = match clip.patch_px {
        Some(patch) => patch.map(Some),
        None => [None; 4],
    };
    let mut statement = log.prepare_cached(
        "INSERT INTO clip (sha256, name, patch_x_px, patch_y_px, patch_w_px, patch_h_px) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT (sha256) DO UPDATE SET name = excluded.name, \
         patch_x_px = excluded.patch_x_px, patch_y_px = excluded.patch_y_px, \
         patch_w_px = excluded.patch_w_px, patch_h_px = excluded.patch_h_px RETURNING id",
    )?;
    let id = statement.query_row(
        params![clip.sha256.0.as_slice(), clip.name, x, y, w, h],
        |row| row.get(0),
    )?;
    Ok(id)
}

/// Deletes the clips that no trial refers to any more.
pub(super) fn drop_orphans(log: &Connection) -> Result<(), LogError> {
    log.execute(
        "DELETE FROM clip WHERE NOT EXISTS (SELECT 1 FROM trial WHERE clip_id = clip.id)",
        [],
    )?;
    Ok(())
}

/// Refuses a clip that is kept under another athlete.
pub(super) fn refuse_another(
    log: &Connection,
    clip: &ClipHash,
    athlete: AthleteId,
) -> Result<(), LogError> {
    let sql = "SELECT a.name, t.id FROM clip c JOIN trial t ON t.clip_id = c.id \
               JOIN athlete a ON a.id = t.athlete_id \
               WHERE c.sha256 = ?1 AND t.athlete_id <> ?2 ORDER BY t.id LIMIT 1";
    let mut statement = log.prepare_cached(sql)?;
    let other = statement
        .query_row(params![clip.0.as_slice(), athlete.0], |row| {
            Ok(LogError::ClipOfAnother {
                athlete: row.get(0)?,
                trial: row.get(1)?,
            })
        })
        .optional()?;
    other.map_or(Ok(()), Err)
}
