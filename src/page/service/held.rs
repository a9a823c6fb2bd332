//! What a session holds of what was sent to it.

use std::sync::{Mutex, MutexGuard};

use super::seen::Shown;
use crate::capture::Capture;
use crate::engine::Engine;

/// A capture that was dropped on the page.
pub(super) struct HeldCapture {
    pub capture: Capture,
    /// What is shown of it, worked out once.
    pub about: Shown,
}

/// An engine description that was chosen, uploaded or written.
pub(super) struct HeldEngine {
    pub engine: Engine,
    pub text: String,
}

/// What is locked is whole whatever a thread did while it held it: it is only replaced, or added to
/// and removed from.
pub(super) fn lock<T>(held: &Mutex<T>) -> MutexGuard<'_, T> {
    held.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}
