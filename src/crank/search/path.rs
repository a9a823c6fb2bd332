//! The path that was found.

use super::{Kept, NONE};

/// The entries of a path in order.
pub(in crate::crank) struct Path {
    entries: Vec<Kept>,
    next: u32,
}

impl Path {
    /// From the first entry on; each names the one after it.
    pub(super) fn new(entries: Vec<Kept>, first: u32) -> Path {
        Path { entries, next: first }
    }
}

impl Iterator for Path {
    type Item = Kept;

    fn next(&mut self) -> Option<Kept> {
        if self.next == NONE {
            return None;
        }
        let entry = self.entries[self.next as usize];
        self.next = entry.from;
        Some(entry)
    }
}
