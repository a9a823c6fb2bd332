//! What one run of the page holds: captures, engines, results. Everything is in memory and ends with the program.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard};

use super::captures;
use super::runs::Run;
use crate::capture::Capture;
use crate::engine::Engine;
use crate::watch::Watch;

const DEMO_ENGINE: &str = include_str!("../../demo-data/engine.toml");

/// A capture that was dropped on the page.
pub(super) struct HeldCapture {
    pub capture: Capture,
    /// What is shown of it, worked out once.
    pub about: captures::Shown,
}

/// An engine description that was chosen, uploaded or written.
pub(super) struct HeldEngine {
    pub engine: Engine,
    pub text: String,
}

/// The state behind the page, shared by its tabs.
pub struct Session {
    port: u16,
    max_upload: u64,
    next: AtomicU64,
    captures: Mutex<BTreeMap<u64, Arc<HeldCapture>>>,
    engines: Mutex<BTreeMap<u64, Arc<HeldEngine>>>,
    runs: Mutex<BTreeMap<u64, Arc<Run>>>,
    /// Uploads on their way, by the number their tab gave them.
    pub(super) readings: Mutex<BTreeMap<u64, Watch>>,
}

impl Session {
    /// A session on a port, taking uploads of up to so many bytes. It holds the demonstration's engine and nothing else.
    #[must_use]
    pub fn new(port: u16, max_upload: u64) -> Session {
        let session = Session {
            port,
            max_upload,
            next: AtomicU64::new(1),
            captures: Mutex::default(),
            engines: Mutex::default(),
            runs: Mutex::default(),
            readings: Mutex::default(),
        };
        if let Ok(engine) = Engine::parse(DEMO_ENGINE, Path::new("engine.toml")) {
            session.add_engine(HeldEngine { engine, text: DEMO_ENGINE.to_owned() });
        }
        session
    }

    pub(super) fn port(&self) -> u16 {
        self.port
    }

    pub(super) fn max_upload(&self) -> u64 {
        self.max_upload
    }

    fn number(&self) -> u64 {
        self.next.fetch_add(1, Ordering::Relaxed)
    }

    pub(super) fn add_capture(&self, held: HeldCapture) -> (u64, Arc<HeldCapture>) {
        add(&self.captures, self.number(), held)
    }
    pub(super) fn add_engine(&self, held: HeldEngine) -> (u64, Arc<HeldEngine>) {
        add(&self.engines, self.number(), held)
    }
    pub(super) fn add_run(&self, run: Run) -> (u64, Arc<Run>) {
        add(&self.runs, self.number(), run)
    }
    pub(super) fn capture(&self, id: u64) -> Option<Arc<HeldCapture>> {
        lock(&self.captures).get(&id).cloned()
    }
    pub(super) fn engine(&self, id: u64) -> Option<Arc<HeldEngine>> {
        lock(&self.engines).get(&id).cloned()
    }
    pub(super) fn run(&self, id: u64) -> Option<Arc<Run>> {
        lock(&self.runs).get(&id).cloned()
    }
    pub(super) fn remove_capture(&self, id: u64) -> bool {
        lock(&self.captures).remove(&id).is_some()
    }
    pub(super) fn captures(&self) -> Vec<(u64, Arc<HeldCapture>)> {
        all(&self.captures)
    }
    pub(super) fn engines(&self) -> Vec<(u64, Arc<HeldEngine>)> {
        all(&self.engines)
    }
    pub(super) fn runs(&self) -> Vec<(u64, Arc<Run>)> {
        all(&self.runs)
    }
}

/// A list is whole whatever a thread did while it held it: entries are only added and removed.
pub(super) fn lock<T>(list: &Mutex<T>) -> MutexGuard<'_, T> {
    list.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}

fn add<T>(list: &Mutex<BTreeMap<u64, Arc<T>>>, id: u64, held: T) -> (u64, Arc<T>) {
    let held = Arc::new(held);
    lock(list).insert(id, held.clone());
    (id, held)
}

fn all<T>(list: &Mutex<BTreeMap<u64, Arc<T>>>) -> Vec<(u64, Arc<T>)> {
    lock(list).iter().map(|(id, held)| (*id, held.clone())).collect()
}
