//! Where a cam should stand, best source first: a learned known-good, then the engine description.

use crate::cam::{Expected, ExpectedFrom};
use crate::engine::Engine;
use crate::known::KnownGood;

/// What positions are held against.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reference<'a> {
    pub engine: &'a Engine,
    pub known: Option<&'a KnownGood>,
}

impl Reference<'_> {
    /// Where a cam should stand and what says so.
    pub fn expected(&self, cam: usize) -> Option<Expected> {
        let known = self.known.and_then(|known| known.expected(self.engine, cam));
        if let Some((at, sd)) = known {
            return Some(Expected { at, sd: Some(sd), from: ExpectedFrom::KnownGood });
        }
        // A reference whose pass is open counts from its own pass: the description's angles
        // do not belong beside it.
        if self.known.is_some_and(|known| !known.pass_known) {
            return None;
        }
        let (at, sd) = self.engine.expected(cam)?;
        Some(Expected { at, sd, from: ExpectedFrom::EngineFile })
    }

    /// Whether expected angles count from the datum pass before firing TDC of cylinder 1.
    pub fn pass_known(&self) -> bool {
        self.known.is_none_or(|known| known.pass_known)
    }
}
