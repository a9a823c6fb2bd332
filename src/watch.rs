//! Long work that somebody waits for: they see how far it is, and can stop it.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// Parts a whole is told in: a bar on a screen shows no more.
const PARTS: f64 = 10_000.0;

/// Held by whoever works and by whoever waits; copies are of one watch. The default is nobody's: it
/// is never stopped, and asking it costs nothing.
#[derive(Debug, Clone, Default)]
pub struct Watch(Option<Arc<Shared>>);

#[derive(Debug, Default)]
struct Shared {
    stopped: AtomicBool,
    parts: AtomicU32,
}

/// The work was stopped by whoever waited for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("stopped on request. Start it again if it is wanted after all")]
pub struct Stopped;

impl Watch {
    /// A watch of somebody's.
    #[must_use]
    pub fn new() -> Watch {
        Watch(Some(Arc::default()))
    }

    /// Asks the work to stop at its next step.
    pub fn stop(&self) {
        if let Some(shared) = &self.0 {
            shared.stopped.store(true, Ordering::Relaxed);
        }
    }

    /// Whether the work is to stop.
    #[must_use]
    pub fn is_stopped(&self) -> bool {
        self.0.as_ref().is_some_and(|shared| shared.stopped.load(Ordering::Relaxed))
    }

    /// For the work's own `?`.
    ///
    /// # Errors
    /// [`Stopped`], when it is to stop.
    pub fn go_on(&self) -> Result<(), Stopped> {
        if self.is_stopped() { Err(Stopped) } else { Ok(()) }
    }

    /// Tells how much of the work is done, 0 to 1.
    pub fn tell(&self, share: f64) {
        if let Some(shared) = &self.0 {
            let parts = (share.clamp(0.0, 1.0) * PARTS).round() as u32;
            shared.parts.store(parts, Ordering::Relaxed);
        }
    }

    /// How much was last told, 0 to 1.
    #[must_use]
    pub fn share(&self) -> f64 {
        let parts = self.0.as_ref().map_or(0, |shared| shared.parts.load(Ordering::Relaxed));
        f64::from(parts) / PARTS
    }
}

/// Two are equal when they are copies of one.
impl PartialEq for Watch {
    fn eq(&self, other: &Watch) -> bool {
        match (&self.0, &other.0) {
            (Some(one), Some(two)) => Arc::ptr_eq(one, two),
            (None, None) => true,
            _ => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn copies_are_one_watch_and_nobodys_never_stops() {
        let (watch, nobodys) = (Watch::new(), Watch::default());
        let copy = watch.clone();
        for one in [&copy, &nobodys] {
            one.tell(0.25);
            one.stop();
        }
        assert_eq!((watch.share(), watch.go_on()), (0.25, Err(Stopped)));
        assert_eq!((nobodys.share(), nobodys.go_on()), (0.0, Ok(())));
        assert!(watch == copy && watch != nobodys && watch != Watch::new());
    }
}
