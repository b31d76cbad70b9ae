//! Progress bars on standard error; none where nobody looks.

use std::path::Path;

use indicatif::{MultiProgress, ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::workflow::{Progress, Stage};

/// Bars of all clips, one for each that is being worked on.
pub(super) struct Bars {
    all: MultiProgress,
}

impl Bars {
    /// Bars that hide themselves when standard error is no terminal.
    pub(super) fn new() -> Self {
        Self {
            all: MultiProgress::with_draw_target(ProgressDrawTarget::stderr()),
        }
    }

    /// A bar for the clip at `path`.
    pub(super) fn clip(&self, path: &Path) -> Bar {
        let name = path.file_name().unwrap_or(path.as_os_str());
        let bar = self.all.add(ProgressBar::new(0));
        if let Ok(style) =
            ProgressStyle::with_template("{prefix:24!} {bar:24} {percent:>3} %  {msg}")
        {
            bar.set_style(style);
        }
        bar.set_prefix(name.to_string_lossy().into_owned());
        Bar { bar, stage: None }
    }

    /// Does something that writes to the terminal without tearing the bars.
    pub(super) fn aside<T>(&self, write: impl FnOnce() -> T) -> T {
        self.all.suspend(write)
    }
}

/// The bar of one clip.
pub(super) struct Bar {
    bar: ProgressBar,
    stage: Option<Stage>,
}

impl Bar {
    /// Takes the bar away.
    pub(super) fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

impl Progress for Bar {
    fn frames(&mut self, stage: Stage, done: usize, of: usize) {
        if self.stage != Some(stage) {
            self.stage = Some(stage);
            self.bar.set_message(match stage {
                Stage::Suggesting => "looking for the feet",
                Stage::Filming => "filming",
                Stage::Watching => "watching the floor",
                Stage::TryingSlowMotion => "no jump so far; trying as slow motion",
            });
            self.bar.set_length(of as u64);
        }
        self.bar.set_position(done as u64);
    }
}
