//! What the search remembers, kept within bounds: entries that no living path stands on are thrown
//! away.

use super::{FIRST_CLEARING, NONE, NOWHERE, Row, Search};

/// Most entries kept beside one an edge. Where paths stay apart for longer than that, the cheapest
/// is taken.
const MOST_OPEN: usize = 1 << 20;

impl Search<'_> {
    /// Drops what no living path stands on.
    pub(super) fn throw_away_dead_ends(&mut self, i: usize) {
        let mut stands = self.standing();
        let standing = stands.iter().filter(|&&stands| stands).count();
        if standing > i + MOST_OPEN {
            self.keep_cheapest_alone();
            stands = self.standing();
        }
        let mut moved = vec![NONE; self.past.len()];
        let mut next = 0_usize;
        for old in 0..self.past.len() {
            if !stands[old] {
                continue;
            }
            let mut entry = self.past[old];
            if entry.from != NONE {
                entry.from = moved[entry.from as usize];
            }
            moved[old] = next as u32;
            self.past[next] = entry;
            next += 1;
        }
        self.past.truncate(next);
        for row in &mut self.rows {
            for &index in &row.alive {
                let entry = &mut row.entries[index as usize];
                *entry = moved[*entry as usize];
            }
        }
        if self.end.1 != NONE {
            self.end.1 = moved[self.end.1 as usize];
        }
        self.clear_at = (next + FIRST_CLEARING / 2).max(FIRST_CLEARING);
    }

    /// Which entries a living path stands on. An entry always stands after those it stands on.
    fn standing(&self) -> Vec<bool> {
        let mut stands = vec![false; self.past.len()];
        for row in &self.rows {
            for &index in &row.alive {
                stands[row.entries[index as usize] as usize] = true;
            }
        }
        if self.end.1 != NONE {
            stands[self.end.1 as usize] = true;
        }
        for entry in (0..self.past.len()).rev() {
            let from = self.past[entry].from;
            if stands[entry] && from != NONE {
                stands[from as usize] = true;
            }
        }
        stands
    }

    /// Forgets every survivor but the cheapest of each of the latest edges.
    fn keep_cheapest_alone(&mut self) {
        for row in &mut self.rows {
            let cost = |row: &Row, index: u32| row.states[index as usize].cost;
            let best =
                row.alive.iter().copied().min_by(|&a, &b| cost(row, a).total_cmp(&cost(row, b)));
            let Row { states, alive, .. } = row;
            alive.retain(|&index| {
                if Some(index) != best {
                    states[index as usize] = NOWHERE;
                }
                Some(index) == best
            });
        }
    }
}
