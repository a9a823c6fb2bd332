//! What `look` said, held against what is true.

use camwitness::look::{Doubt, look};
use camwitness::wheel::{EdgeKind, Wheel};

use super::case::Case;

/// How it turned out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// Named at 0.99 or more, and right; or all that the capture decides is said.
    RightAndSure,
    /// The likeliest is right, and it is said to be unsure.
    Right,
    /// Nothing is named.
    NotSure,
    /// The likeliest is wrong, and it is said to be unsure.
    Wrong,
    /// Named at 0.99 or more, and wrong.
    WrongAndSure,
}

impl Outcome {
    pub const ALL: [Outcome; 5] = [
        Outcome::RightAndSure,
        Outcome::Right,
        Outcome::NotSure,
        Outcome::Wrong,
        Outcome::WrongAndSure,
    ];
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
        Err(Doubt::NotSure { best, odds }) => {
            let said = format!(
                "likeliest {} at {odds:.4} ({:.4} with the lock) on column {column:?}, then {:?}",
                best.name, best.confidence, best.runner_up
            );
            let outcome = if right(&best.wheel) { Outcome::Right } else { Outcome::Wrong };
            (outcome, said)
        }
        Err(Doubt::Pair(pair)) => {
            let said = format!("{} teeth for each period of another lead", pair.teeth);
            let one_of = pair.readings.iter().any(|one| one.teeth == truth.tooth_count());
            let outcome = match (one_of && column == Some(case.crank), pair.even) {
                // Of an even wheel that is all there is to see; of another, its teeth are.
                (true, true) => Outcome::RightAndSure,
                (true, false) => Outcome::Right,
                (false, _) => Outcome::Wrong,
            };
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
