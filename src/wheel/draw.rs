//! A wheel as a line of text: one turn from left to right.

use super::{EdgeKind, Wheel};
use crate::units::{CamDelta, ShaftDeg, TURN_DEG};

impl Wheel {
    /// One turn drawn in `columns` characters, `█` over a tooth and `_` between.
    ///
    /// A column is marked when its middle lies on a tooth, and every tooth gets at
    /// least one column, so a narrow tooth cannot vanish.
    #[must_use]
    pub fn drawing(&self, columns: usize) -> String {
        let columns = columns.max(1);
        let degrees = TURN_DEG / columns as f64;
        let teeth = self.teeth(EdgeKind::Rising);
        let mut line = vec!['_'; columns];
        for tooth in &teeth {
            let column_of = |at: ShaftDeg| ((at.get() / degrees) as usize).min(columns - 1);
            line[column_of(tooth.middle())] = '█';
            for (column, mark) in line.iter_mut().enumerate() {
                let middle = ShaftDeg::new((column as f64 + 0.5) * degrees);
                let into = (middle - tooth.start).0.rem_euclid(TURN_DEG);
                if CamDelta(into) < tooth.width {
                    *mark = '█';
                }
            }
        }
        line.into_iter().collect()
    }
}
