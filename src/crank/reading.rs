//! The crank signal read with one kind of edge as the mark.

use super::angle::Mark;
use super::habits::Habits;
use super::identify::{confidence, identify};
use super::marks::Marks;
use super::pattern::pattern;
use super::stretch::{Stretch, Tooth, join};
use crate::edges::EdgeTrain;
use crate::engine::Crank;
use crate::units::TURN_DEG;
use crate::wheel::EdgeKind;

/// Least turns that can be judged.
pub(super) const LEAST_TURNS: f64 = 2.0;
/// Least share of the telling steps that must look as the wheel says. A wrong wheel shows its gaps
/// elsewhere and reaches almost none; the right one in a bad capture loses a few.
pub(super) const LEAST_TELLING_SHARE: f64 = 0.6;
/// Turns on each side of the middle over which the confidence is worked out.
const CONFIDENCE_TURNS: usize = 2;
/// Most states, edges times marks, that it is worked out over: a tenth of a second.
const MOST_CONFIDENCE_STATES: usize = 1 << 20;
/// Trains of more edges are read one kind after the other, to hold one search in memory and not
/// two.
const MANY_EDGES: usize = 500_000;

/// A reading of the signal with the stretch it gives.
pub(super) struct Reading<'a> {
    pub marked_by: EdgeKind,
    pub marks: Marks<'a>,
    pub habits: Habits,
    pub stretch: Stretch,
}

/// Reads the train by each kind of edge, falling first.
pub(super) fn read_both<'a>(train: &'a EdgeTrain, crank: &Crank) -> Vec<Reading<'a>> {
    let read = |marked_by: EdgeKind| read(train, crank, marked_by);
    let (falling, rising) = if train.edges.len() > MANY_EDGES {
        (read(EdgeKind::Falling), read(EdgeKind::Rising))
    } else {
        rayon::join(|| read(EdgeKind::Falling), || read(EdgeKind::Rising))
    };
    falling.into_iter().chain(rising).collect()
}

/// Reads the train with one kind of edge as the mark and keeps the longest stretch of those that
/// can be judged, where there is one: what is no wheel, as mains hum before the starter engages,
/// may last longer.
fn read<'a>(train: &'a EdgeTrain, crank: &Crank, marked_by: EdgeKind) -> Option<Reading<'a>> {
    let marks = Marks::of(train, pattern(crank, train.shape, marked_by));
    let (stretches, habits) = identify(&marks);
    let mut parts: Vec<Stretch> = stretches
        .into_iter()
        .flat_map(|stretch| stretch.split_at_stops(&marks))
        .flat_map(|stretch| stretch.split_where_unseen(&marks))
        .collect();
    parts.retain(|stretch| stretch.teeth.len() >= 2);
    let can_be_judged = |stretch: &Stretch| {
        stretch.degrees(&marks) >= LEAST_TURNS * TURN_DEG
            && stretch.telling_share(&marks) >= LEAST_TELLING_SHARE
    };
    let (_, _, stretch) = join(parts, &marks)
        .into_iter()
        .map(|stretch| stretch.without_unproven_ends(&marks).without_leap(&marks))
        .map(|stretch| stretch.without_unsure_ends(&marks, habits))
        .map(|stretch| (can_be_judged(&stretch), stretch.degrees(&marks), stretch))
        .max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)))?;
    Some(Reading { marked_by, marks, habits, stretch })
}

impl Reading<'_> {
    /// Turns of the crank covered.
    pub fn turns(&self) -> f64 {
        self.stretch.degrees(&self.marks) / TURN_DEG
    }

    /// See [`Stretch::telling_share`].
    pub fn telling_share(&self) -> f64 {
        self.stretch.telling_share(&self.marks)
    }

    /// See [`Stretch::cost_per_turn`].
    pub fn cost_per_turn(&self, habits: Habits) -> f64 {
        self.stretch.cost_per_turn(&self.marks, habits)
    }

    /// The identified teeth as time and angle. Where edges jitter, one that came late and one that
    /// came early may have been taken for a missed tooth and an extra edge; which of the teeth
    /// between two slips that undo each other is which cannot be told, and they are left out.
    pub fn points(&self) -> Vec<Mark> {
        let mark = |tooth| Mark { at: self.marks.at(tooth), turned: self.marks.turned(tooth) };
        let doubted = self.between_slips();
        let kept = self.stretch.teeth.iter().zip(doubted).filter(|(_, doubted)| !doubted);
        kept.map(|(tooth, _)| mark(tooth)).collect()
    }

    /// Of each tooth, whether it stands between two slips of a jittery wheel that undo each other,
    /// within a turn.
    fn between_slips(&self) -> Vec<bool> {
        let teeth = &self.stretch.teeth;
        let mut doubted = vec![false; teeth.len()];
        if self.habits.jitter == 0.0 {
            return doubted;
        }
        let net = |tooth: &Tooth| i32::from(tooth.missed) - i32::from(tooth.extra);
        // One edge that came late or early: whole groups that are passed over are another matter.
        let slips = (0..teeth.len()).filter(|&at| net(&teeth[at]).abs() == 1);
        let mut open: Option<usize> = None;
        for at in slips {
            let from = open.filter(|&from| {
                at - from <= self.marks.per_turn() && net(&teeth[from]) + net(&teeth[at]) == 0
            });
            match from {
                Some(from) => {
                    doubted[from..at].fill(true);
                    open = None;
                }
                None => open = Some(at),
            }
        }
        doubted
    }

    /// Probability that the slots are identified rightly: the odds of the middle of the stretch.
    pub fn confidence(&self) -> f64 {
        let teeth = &self.stretch.teeth;
        // A single mark fits any even train: only its evenness speaks for it.
        if self.marks.pattern.len() == 1 {
            return self.telling_share();
        }
        let middle = &teeth[teeth.len() / 2];
        let reach = (CONFIDENCE_TURNS * self.marks.per_turn())
            .min(MOST_CONFIDENCE_STATES / self.marks.pattern.len());
        let at = middle.edge as usize;
        let from = at.saturating_sub(reach).max(teeth[0].edge as usize);
        let to = (at + reach).min(teeth[teeth.len() - 1].edge as usize);
        confidence(
            &self.marks.edges[from..=to],
            &self.marks.pattern,
            self.habits,
            at - from,
            usize::from(middle.slot),
        )
    }
}
