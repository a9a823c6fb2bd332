//! What one run of the page holds: captures, engines, results. Everything is in memory and ends
//! with the program.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

use super::held::{HeldCapture, HeldEngine, lock};
use super::run::Run;
use crate::engine::Engine;
use crate::practice::DEMONSTRATION_ENGINE;
use crate::watch::Watch;

/// Largest capture a session takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UploadLimit {
    /// In bytes.
    pub bytes: u64,
    /// How the user raises it where this service was started: the end of a sentence, "or …". Empty
    /// where nobody can.
    pub to_raise: &'static str,
}

/// The state behind the page, shared by its tabs.
pub(super) struct Session {
    most: UploadLimit,
    next: AtomicU64,
    captures: Mutex<BTreeMap<u64, Arc<HeldCapture>>>,
    engines: Mutex<BTreeMap<u64, Arc<HeldEngine>>>,
    runs: Mutex<BTreeMap<u64, Arc<Run>>>,
    /// Uploads on their way, by the number their tab gave them.
    pub readings: Mutex<BTreeMap<u64, Watch>>,
}

impl Session {
    /// A session that holds the demonstration's engine and nothing else.
    pub fn new(most: UploadLimit) -> Session {
        let session = Session {
            most,
            next: AtomicU64::new(1),
            captures: Mutex::default(),
            engines: Mutex::default(),
            runs: Mutex::default(),
            readings: Mutex::default(),
        };
        if let Ok(engine) = Engine::parse(DEMONSTRATION_ENGINE, Path::new("engine.toml")) {
            session.add_engine(HeldEngine { engine, text: DEMONSTRATION_ENGINE.to_owned() });
        }
        session
    }

    pub fn most(&self) -> UploadLimit {
        self.most
    }

    /// Gives what is added next this number.
    pub fn count_from(&self, number: u64) {
        self.next.store(number, Ordering::Relaxed);
    }

    fn number(&self) -> u64 {
        self.next.fetch_add(1, Ordering::Relaxed)
    }

    pub fn add_capture(&self, held: HeldCapture) -> (u64, Arc<HeldCapture>) {
        add(&self.captures, self.number(), held)
    }
    pub fn add_engine(&self, held: HeldEngine) -> (u64, Arc<HeldEngine>) {
        add(&self.engines, self.number(), held)
    }
    pub fn add_run(&self, run: Run) -> (u64, Arc<Run>) {
        add(&self.runs, self.number(), run)
    }
    pub fn capture(&self, id: u64) -> Option<Arc<HeldCapture>> {
        lock(&self.captures).get(&id).cloned()
    }
    pub fn engine(&self, id: u64) -> Option<Arc<HeldEngine>> {
        lock(&self.engines).get(&id).cloned()
    }
    pub fn run(&self, id: u64) -> Option<Arc<Run>> {
        lock(&self.runs).get(&id).cloned()
    }
    pub fn remove_capture(&self, id: u64) -> bool {
        lock(&self.captures).remove(&id).is_some()
    }
    pub fn captures(&self) -> Vec<(u64, Arc<HeldCapture>)> {
        all(&self.captures)
    }
    pub fn engines(&self) -> Vec<(u64, Arc<HeldEngine>)> {
        all(&self.engines)
    }
    pub fn runs(&self) -> Vec<(u64, Arc<Run>)> {
        all(&self.runs)
    }
}

fn add<T>(list: &Mutex<BTreeMap<u64, Arc<T>>>, id: u64, held: T) -> (u64, Arc<T>) {
    let held = Arc::new(held);
    lock(list).insert(id, held.clone());
    (id, held)
}

fn all<T>(list: &Mutex<BTreeMap<u64, Arc<T>>>) -> Vec<(u64, Arc<T>)> {
    lock(list).iter().map(|(id, held)| (*id, held.clone())).collect()
}
