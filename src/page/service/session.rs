//! What one run of the page holds: captures, engines, results. Everything is in memory and ends
//! with the program.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

use super::held::{HeldCapture, HeldEngine, lock};
use super::lists::List;
use super::run::Run;
use super::shop::Shop;
use crate::engine::Engine;
use crate::practice::DEMONSTRATION_ENGINE;
use crate::watch::Watch;

/// Bytes that captures and results of a session take together unless the user allows more: a third
/// of what an ordinary workshop computer of 8 GB has.
pub const MOST_MEMORY: u64 = 2_500_000_000;
/// Names that are remembered of captures that had to leave.
const NAMES_OF_LEFT: usize = 20;

/// Largest capture a session takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UploadLimit {
    /// In bytes.
    pub bytes: u64,
    /// How the user raises it where this service was started: the end of a sentence, "or …". Empty
    /// where nobody can.
    pub to_raise: &'static str,
}

/// How a session is set up.
pub struct Setup {
    /// Largest capture.
    pub most: UploadLimit,
    /// Bytes that captures and results may take together.
    pub memory: u64,
    /// Draws numbers nobody can guess; without it things are counted.
    pub draw: Option<fn() -> u64>,
    /// What this computer has beside the page: the shelf.
    pub shop: Option<Arc<dyn Shop>>,
    /// The folder that is watched, by the name that is shown.
    pub watching: Option<String>,
}

impl Setup {
    /// A session of its own: nothing of this computer, numbers counted.
    #[must_use]
    pub fn alone(most: UploadLimit) -> Setup {
        Setup { most, memory: MOST_MEMORY, draw: None, shop: None, watching: None }
    }
}

/// The state behind the page, shared by its tabs.
pub(super) struct Session {
    setup: Setup,
    next: AtomicU64,
    pub captures: List<HeldCapture>,
    pub engines: List<HeldEngine>,
    pub runs: List<Run>,
    /// Uploads on their way, by the number their tab gave them.
    pub readings: Mutex<BTreeMap<u64, Watch>>,
    /// Bytes of the uploads on their way.
    coming: AtomicU64,
    /// Captures that had to leave, last first.
    left: Mutex<Vec<String>>,
    /// Held by the one measurement that is at work: each may take several times the memory of its
    /// capture.
    pub at_work: Mutex<()>,
    /// With what engine and leads a watched capture is judged.
    pub watched: Mutex<super::watched::Watched>,
}

impl Session {
    /// A session that holds the demonstration's engine and nothing else.
    pub fn new(setup: Setup) -> Session {
        let session = Session {
            setup,
            next: AtomicU64::new(1),
            captures: List::default(),
            engines: List::default(),
            runs: List::default(),
            readings: Mutex::default(),
            coming: AtomicU64::new(0),
            left: Mutex::default(),
            at_work: Mutex::default(),
            watched: Mutex::default(),
        };
        if let Ok(engine) = Engine::parse(DEMONSTRATION_ENGINE, Path::new("engine.toml")) {
            session.add_engine(HeldEngine::new(engine, DEMONSTRATION_ENGINE.to_owned()));
        }
        session
    }

    pub fn most(&self) -> UploadLimit {
        self.setup.most
    }

    pub fn shop(&self) -> Option<&Arc<dyn Shop>> {
        self.setup.shop.as_ref()
    }

    pub fn watching(&self) -> Option<&str> {
        self.setup.watching.as_deref()
    }

    /// Gives what is added next this number, where things are counted.
    pub fn count_from(&self, number: u64) {
        self.next.store(number, Ordering::Relaxed);
    }

    fn number(&self) -> u64 {
        let Some(draw) = self.setup.draw else {
            return self.next.fetch_add(1, Ordering::Relaxed);
        };
        loop {
            let id = draw();
            if !(self.captures.has(id) || self.engines.has(id) || self.runs.has(id)) {
                return id;
            }
        }
    }

    pub fn add_capture(&self, held: HeldCapture) -> (u64, Arc<HeldCapture>) {
        let added = self.captures.add(self.number(), held);
        self.make_room(added.0);
        added
    }
    pub fn add_engine(&self, held: HeldEngine) -> (u64, Arc<HeldEngine>) {
        self.engines.add(self.number(), held)
    }
    pub fn add_run(&self, run: Run) -> (u64, Arc<Run>) {
        self.runs.add(self.number(), run)
    }
    pub fn capture(&self, id: u64) -> Option<Arc<HeldCapture>> {
        self.captures.get(id)
    }
    pub fn engine(&self, id: u64) -> Option<Arc<HeldEngine>> {
        self.engines.get(id)
    }
    pub fn run(&self, id: u64) -> Option<Arc<Run>> {
        self.runs.get(id)
    }

    /// Bytes that captures and results take.
    fn taken(&self) -> u64 {
        let captures: u64 = self.captures.all().iter().map(|(_, held)| held.bytes()).sum();
        let runs: u64 = self.runs.all().iter().map(|(_, run)| run.bytes()).sum();
        captures + runs
    }

    /// Lets captures go, the oldest first, until the rest fits; never the one of number `but`.
    pub fn make_room(&self, but: u64) {
        while self.taken() > self.setup.memory {
            let oldest = self.captures.all().into_iter().find(|(id, _)| *id != but);
            let Some((id, held)) = oldest else { return };
            self.captures.remove(id);
            let mut left = lock(&self.left);
            left.insert(0, held.capture.source.clone());
            left.truncate(NAMES_OF_LEFT);
        }
    }

    /// Names of the captures that had to leave, the last first.
    pub fn left(&self) -> Vec<String> {
        lock(&self.left).clone()
    }

    /// Whether so many more bytes of uploads may come; they count until [`Session::came`].
    pub fn may_come(&self, bytes: u64) -> bool {
        let before = self.coming.fetch_add(bytes, Ordering::Relaxed);
        let fits = before + bytes <= self.setup.memory;
        if !fits {
            self.coming.fetch_sub(bytes, Ordering::Relaxed);
        }
        fits
    }

    /// Bytes of an upload that are no longer on their way.
    pub fn came(&self, bytes: u64) {
        self.coming.fetch_sub(bytes, Ordering::Relaxed);
    }

    /// Whether a measurement of captures of so many bytes may begin.
    pub fn may_measure(&self, bytes: u64) -> bool {
        bytes.saturating_mul(WORK) <= self.setup.memory
    }
}

/// A measurement may take so many times the bytes of its captures. Measured: from 3 s to 30 s of four
/// channels at 20 kS/s the largest resident set of a check with its report grows by twice the bytes
/// of the samples, themselves among them. One more is left for captures that are cut or joined,
/// which are copied.
const WORK: u64 = 3;
