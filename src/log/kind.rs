//! Kinds of jumps as they are kept and typed.

use std::fmt;
use std::str::FromStr;

use super::error::LogError;
use crate::jump::JumpKind;

impl JumpKind {
    /// All kinds.
    pub const ALL: [Self; 4] = [
        Self::Countermovement,
        Self::Squat,
        Self::Drop,
        Self::Rebound,
    ];

    /// The short name, as it is kept and typed.
    pub fn code(self) -> &'static str {
        match self {
            Self::Countermovement => "cmj",
            Self::Squat => "squat",
            Self::Drop => "drop",
            Self::Rebound => "rebound",
        }
    }

    /// The name in words.
    pub fn label(self) -> &'static str {
        match self {
            Self::Countermovement => "countermovement jump",
            Self::Squat => "squat jump",
            Self::Drop => "drop jump",
            Self::Rebound => "rebound jump",
        }
    }
}

impl fmt::Display for JumpKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.code())
    }
}

impl FromStr for JumpKind {
    type Err = LogError;

    fn from_str(text: &str) -> Result<Self, LogError> {
        Self::ALL
            .into_iter()
            .find(|kind| kind.code() == text)
            .ok_or_else(|| {
                let remedy = "it is cmj, squat, drop or rebound";
                LogError::bad("a kind of jump", format!("\"{text}\""), remedy)
            })
    }
}
