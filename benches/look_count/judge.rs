//! What `look` said, held against what is true.

use camwitness::look::look;
use camwitness::wheel::{EdgeKind, Wheel};

use super::case::Case;

/// How it turned out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[expect(clippy::enum_variant_names, reason = "how sure is half of what is counted")]
pub enum Outcome {
    /// Named at 0.99 or more, and right.
    RightAndSure,
    /// Nothing is named.
    NotSure,
    /// Named at 0.99 or more, and wrong.
    WrongAndSure,
}

impl Outcome {
    pub const ALL: [Outcome; 3] = [Outcome::RightAndSure, Outcome::NotSure, Outcome::WrongAndSure];
}

/// Judges one capture; with what was said.
pub fn judge(case: &Case) -> (Outcome, String) {
    let seen = look(&case.capture, &[]);
    let column = seen.crank.map(|index| seen.channels[index].column);
    let truth = &case.engine.crank.wheel;
    let right = |wheel: &Wheel| column == Some(case.crank) && alike(truth, wheel);
    match &seen.wheel {
        Ok(guess) => {
            let said = format!("{} at {:.4} on column {column:?}", guess.name, guess.confidence);
            let outcome =
                if right(&guess.wheel) { Outcome::RightAndSure } else { Outcome::WrongAndSure };
            (outcome, said)
        }
        Err(doubt) => (Outcome::NotSure, doubt.to_string()),
    }
}

/// Marks nearer than this are the same, shaft degrees: speed ripple that repeats with a coarse
/// wheel's teeth moves them by as much.
const SAME_MARK: f64 = 5.0;

/// Whether two wheels have the same teeth, from wherever counted.
pub fn alike(a: &Wheel, b: &Wheel) -> bool {
    let kinds = [EdgeKind::Rising, EdgeKind::Falling];
    a.tooth_count() == b.tooth_count()
        && kinds.iter().any(|&kind| {
            kinds.iter().any(|&other| turned_alike(&places(a, kind), &places(b, other)))
        })
}

fn places(wheel: &Wheel, kind: EdgeKind) -> Vec<f64> {
    let marks = wheel.slot_marks().map(|marks| marks.iter().map(|mark| mark.get()).collect());
    marks.unwrap_or_else(|| {
        let teeth = wheel.teeth(EdgeKind::Falling);
        let at = |tooth: &camwitness::wheel::Tooth| match kind {
            EdgeKind::Rising => tooth.start.get(),
            EdgeKind::Falling => tooth.end().get(),
        };
        let mut places: Vec<f64> = teeth.iter().map(at).collect();
        places.sort_by(f64::total_cmp);
        places
    })
}

fn turned_alike(a: &[f64], b: &[f64]) -> bool {
    let count = a.len();
    (0..count).any(|by| {
        let off: Vec<f64> = (0..count)
            .map(|i| {
                let turned = b[(i + by) % count] - b[by] - (a[i] - a[0]);
                (turned + 180.0).rem_euclid(360.0) - 180.0
            })
            .collect();
        let most = off.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = off.iter().copied().fold(f64::INFINITY, f64::min);
        // Finer wheels must be closer.
        most - least < SAME_MARK.min(120.0 / count as f64)
    })
}
