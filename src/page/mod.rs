//! The local page: the whole job in a browser, by the same workflow and with the same
//! numbers as the commands.
//!
//! A clip is brought in (`arrivals`), marked (`floor`), measured by one thread
//! (`bench`), looked at (`projector`), set right where needed (`jumps`) and kept in
//! the log (`keep`). Everything is served from this computer to whoever was let in
//! (`guard`); nothing is asked of any other.

mod arrivals;
mod bench;
mod day;
mod floor;
mod guard;
mod join;
mod jumps;
mod keep;
mod loads;
mod look;
mod private;
mod projector;
mod reply;
mod routes;
mod secret;
mod serve;
mod shelf;
mod views;

use std::path::PathBuf;
use std::sync::Arc;

use crate::report::terminal::Units;
use crate::workflow;

pub use arrivals::Limits;
use guard::Guard;
use projector::{Part, Projector};
pub use serve::{Opened, serve};
use shelf::{ClipId, Job, Mark, Origin, Shelf, Stage};

/// How the page is to be.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Clips that are there from the start; they are read where they lie.
    pub clips: Vec<PathBuf>,
    /// The log.
    pub log: PathBuf,
    /// Folder in which the page makes one of its own, for as long as it runs.
    pub folder: PathBuf,
    /// Whether phones on the same network may open it.
    pub lan: bool,
    /// Port; 0 for one that is free.
    pub port: u16,
    /// Threads for measuring; as many again may decode pictures.
    pub threads: usize,
    /// Unit of heights.
    pub units: Units,
    /// What may come in.
    pub limits: Limits,
}

/// What all handlers share.
struct App {
    settings: Settings,
    guard: Arc<Guard>,
    shelf: Arc<Shelf>,
    projector: Projector,
    /// Where clips that arrive are put.
    folder: PathBuf,
    /// Addresses that phones can open; empty unless they may.
    phones: Vec<String>,
    /// Clips are opened one after another, beside the queue.
    opening: tokio::sync::Semaphore,
}

impl App {
    /// Where a clip that arrives is put. Only its number makes the name.
    fn place(&self, number: u64) -> PathBuf {
        self.folder.join(format!("clip-{number}"))
    }

    /// Opens a clip that has arrived, so that it can be looked at and marked.
    fn open(self: &Arc<Self>, id: ClipId) {
        let app = Arc::clone(self);
        tokio::spawn(async move {
            let Ok(_turn) = app.opening.acquire().await else {
                return;
            };
            let Ok(clip) = app.shelf.get(id) else {
                return;
            };
            let (path, fps) = (clip.path, clip.capture_fps);
            let opened = reply::aside(move || workflow::frames::Film::open(&path, fps)).await;
            app.opened(id, opened);
        });
    }

    /// Enters what came of opening, and sees where the feet may stand.
    fn opened(&self, id: ClipId, opened: reply::Reply<workflow::frames::Film>) {
        let film = match opened {
            Ok(film) => Arc::new(film),
            Err(refusal) => {
                // A clip that was taken away meanwhile needs no stage.
                let _ = self
                    .shelf
                    .change(id, |clip| clip.stage = Stage::Failed(refusal.into()));
                return;
            }
        };
        let remembered = self.shelf.remembered(film.size()).map(|patch| Mark {
            patch,
            origin: Origin::Remembered,
        });
        let looked = self.shelf.change(id, |clip| {
            let kept = if clip.ours { None } else { film.kept_patch() };
            let kept = kept.map(|chosen| Mark {
                patch: chosen.patch,
                origin: Origin::Kept,
            });
            clip.mark = clip.mark.or(kept).or(remembered);
            clip.film = Some(Arc::clone(&film));
            clip.stage = Stage::Marking;
            clip.mark.is_some()
        });
        self.projector.prepare(&film, id, Part::Whole, 0);
        if matches!(looked, Ok(false)) {
            let _ = self.shelf.queue(id, Job::Suggest);
        }
    }
}
