//! Progress bars on standard error; none where nobody looks.

use std::path::Path;
use std::time::{Duration, Instant};

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

    /// A bar for all clips, where there are several; `before` of them are done.
    pub(super) fn whole(&self, clips: usize, before: usize, bytes: u64) -> Option<Whole> {
        if clips < 2 {
            return None;
        }
        let bar = self.all.add(ProgressBar::new(bytes.max(1)));
        if let Ok(style) =
            ProgressStyle::with_template("{prefix:24!} {bar:24} {percent:>3} %  {msg}")
        {
            bar.set_style(style);
        }
        let whole = Whole {
            bar,
            clips,
            done: before,
            begun: Instant::now(),
        };
        whole.show();
        Some(whole)
    }

    /// Does something that writes to the terminal without tearing the bars.
    pub(super) fn aside<T>(&self, write: impl FnOnce() -> T) -> T {
        self.all.suspend(write)
    }
}

/// The bar of all clips together.
pub(super) struct Whole {
    bar: ProgressBar,
    clips: usize,
    done: usize,
    begun: Instant,
}

impl Whole {
    /// One more is done, whose file is this long.
    pub(super) fn clip_done(&mut self, bytes: u64) {
        self.done += 1;
        self.bar.inc(bytes);
        self.show();
    }

    /// Takes the bar away.
    pub(super) fn finish(&self) {
        self.bar.finish_and_clear();
    }

    fn show(&self) {
        self.bar
            .set_prefix(format!("{} of {} clips", self.done, self.clips));
        let (done, of) = (self.bar.position(), self.bar.length().unwrap_or(0));
        self.bar
            .set_message(remaining(self.begun.elapsed(), done, of));
    }
}

/// How long it will go on, if the rest takes as long for its length as what is done.
fn remaining(elapsed: Duration, done: u64, of: u64) -> String {
    if done == 0 || done > of {
        return String::new();
    }
    let seconds = elapsed.as_secs_f64() * (of - done) as f64 / done as f64;
    match seconds {
        ..=90.0 => format!("about {:.0} s left", seconds.max(1.0)),
        ..=5400.0 => format!("about {:.0} min left", seconds / 60.0),
        _ => format!("about {:.1} h left", seconds / 3600.0),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_remaining_time_goes_by_length() {
        let after = |seconds, done, of| remaining(Duration::from_secs(seconds), done, of);
        assert_eq!(after(10, 0, 100), "");
        assert_eq!(after(10, 25, 100), "about 30 s left");
        assert_eq!(after(10, 100, 100), "about 1 s left");
        assert_eq!(after(60, 10, 100), "about 9 min left");
        assert_eq!(after(600, 1, 19), "about 3.0 h left");
    }
}
