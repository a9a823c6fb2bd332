//! Panels of one size, side by side and below each other, with lines of text under them all.

use super::drawing::{Anchor, Drawing, SMALL, fitted};

/// Where each panel of a drawing stands.
pub(super) struct Panels {
    size: (f64, f64),
    across: usize,
    down: usize,
}

impl Panels {
    /// So many panels of a size, so many of them side by side at the most.
    pub fn new(size: (f64, f64), panels: usize, across: usize) -> Panels {
        Panels { size, across, down: panels.div_ceil(across) }
    }

    /// The empty drawing: at least two panels wide, with room for the lines under them.
    pub fn drawing(&self, foot: f64) -> Drawing {
        Drawing::new(self.width(), self.size.1 * self.down as f64 + foot)
    }

    /// Upper left corner of a panel, counted from 0.
    pub fn corner(&self, panel: usize) -> (f64, f64) {
        let (column, row) = (panel % self.across, panel / self.across);
        (self.size.0 * column as f64, self.size.1 * row as f64)
    }

    /// The lines under the panels.
    pub fn lines(&self, drawing: &mut Drawing, lines: &[&str]) {
        let foot = self.size.1 * self.down as f64;
        for (line, text) in lines.iter().enumerate() {
            let text = fitted(text, SMALL, false, self.width() - 16.0);
            drawing.small((8.0, foot + 12.0 + 18.0 * line as f64), text, Anchor::Left);
        }
    }

    fn width(&self) -> f64 {
        (self.size.0 * self.across as f64).max(2.0 * self.size.0)
    }
}
