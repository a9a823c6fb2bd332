//! What a session holds of what was sent to it.

use std::sync::{Mutex, MutexGuard};

use super::captures::Reading;
use super::seen::Shown;
use crate::capture::{Capture, Clock};
use crate::engine::Engine;
use crate::known::KnownGood;

/// A capture that was dropped on the page.
pub(super) struct HeldCapture {
    pub capture: Capture,
    /// What is shown of it, worked out once.
    pub about: Shown,
    /// When it came, as the browser's clock has it; tells captures of one name apart.
    pub came: String,
    /// The file as it was, packed, for whoever keeps it; absent where nothing can be kept.
    pub original: Option<Vec<u8>>,
    /// How it was read: settings beside the file.
    pub reading: Reading,
}

impl HeldCapture {
    /// Bytes it takes.
    pub fn bytes(&self) -> u64 {
        bytes_of(&self.capture) + self.original.as_ref().map_or(0, Vec::len) as u64
    }
}

/// Bytes of the values and times of a capture.
pub(super) fn bytes_of(capture: &Capture) -> u64 {
    let stamps = if matches!(capture.clock, Clock::Stamped(_)) { 8 } else { 0 };
    (capture.rows() * (4 * capture.channels.len() + stamps)) as u64
}

/// An engine description that was chosen, uploaded or written.
pub(super) struct HeldEngine {
    pub engine: Engine,
    pub text: String,
    /// Its name on the shelf, where it is from there.
    pub shelf: Option<String>,
    /// What was learned of it.
    pub known: Mutex<Option<KnownGood>>,
    /// Cams whose place was taken over from a capture: that capture's number, the cam's name. In it
    /// they are not judged.
    pub taken: Vec<(u64, String)>,
}

impl HeldEngine {
    /// An engine nobody has said anything of.
    pub fn new(engine: Engine, text: String) -> HeldEngine {
        HeldEngine { engine, text, shelf: None, known: Mutex::default(), taken: Vec::new() }
    }
}

/// What is locked is whole whatever a thread did while it held it: it is only replaced, or added to
/// and removed from.
pub(super) fn lock<T>(held: &Mutex<T>) -> MutexGuard<'_, T> {
    held.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}
