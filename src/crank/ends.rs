//! Parts of a stretch that the wheel does not vouch for: long ones without its gaps, and an end
//! that may have slipped.
//!
//! Before the starter engages, mains hum on a reluctance lead may look like teeth that go on into
//! the real ones.
//!
//! A path that takes a step too many or too few pays for it there and then; what comes later makes
//! it good, or shows that it was right. Close to the end nothing comes later: a crank that springs
//! away from a compression can be read as one that passed an edge over. So the end is kept only as
//! far as the tooth it ends with is sure.

use super::habits::Habits;
use super::identify::{odds_of_first, odds_of_last};
use super::marks::Marks;
use super::reading::LEAST_TELLING_SHARE;
use super::stretch::{Stretch, Tooth};
use crate::units::CYCLE_DEG;

/// A last tooth less likely than this to be the one it was taken for is not kept.
const SURE: f64 = 0.99;
/// Less than so much of a stretch that looks like the wheel is doubtful: see
/// [`Stretch::telling_share`].
const DOUBTFUL: f64 = LEAST_TELLING_SHARE;
/// Where none of the wheel's gaps looks as it should for so long, in crank degrees, and at so many
/// places, it is not the wheel.
const UNSEEN_DEG: f64 = CYCLE_DEG;
const UNSEEN_GAPS: usize = 2;
/// Where more than this share of the teeth is missed or extra all along, as a conditioner that
/// merges teeth has it, one more near an end tells nothing.
const MOST_SLIPS: f64 = 0.1;
/// Parts of the first turn that are cut one by one until the first tooth is sure.
const START_STEPS: usize = 8;
/// Turns beside a slip that are looked at on its far side: enough for the wheel to show there where
/// it stands.
const TURNS: usize = 2;

impl Stretch {
    /// The parts of a doubtful stretch between which the wheel shows none of its gaps; any other as
    /// it is.
    pub fn split_where_unseen(self, marks: &Marks) -> Vec<Stretch> {
        if !marks.pattern.telling_steps().contains(&true) || self.telling_share(marks) >= DOUBTFUL {
            return vec![self];
        }
        // Each part runs from the first step that looks right after a long run of those that do not
        // to the last before the next.
        let mut parts: Vec<(usize, usize)> = Vec::new();
        let mut bad = 0;
        for (i, looks) in self.telling_looks(marks).into_iter().enumerate() {
            match (looks, parts.last_mut()) {
                (None, _) => {}
                (Some(false), _) => bad += 1,
                (Some(true), Some(last))
                    if bad < UNSEEN_GAPS
                        || marks.between(&self.teeth[last.1], &self.teeth[i]).0 < UNSEEN_DEG =>
                {
                    (last.1, bad) = (i + 1, 0);
                }
                (Some(true), _) => {
                    parts.push((i, i + 1));
                    bad = 0;
                }
            }
        }
        if parts.is_empty() {
            return vec![self];
        }
        let part = |(from, to): (usize, usize)| Stretch { teeth: self.teeth[from..=to].to_vec() };
        parts.into_iter().map(part).collect()
    }

    /// Cuts the teeth beyond a missed or extra one, or a gap that does not look like one, within the
    /// last turn, and any within the first, as long as the outermost is not sure.
    pub fn without_unsure_ends(self, marks: &Marks, habits: Habits) -> Stretch {
        if marks.pattern.len() == 1 || self.slips_all_along() {
            return self;
        }
        self.without_unsure_end(marks, habits).without_unsure_start(marks, habits)
    }

    /// Whether the path may be off by a tooth from this one on, which is not the first: it slipped
    /// there, or a gap that does not look like one may be a tooth that was passed over with it.
    /// `looks`: see [`Stretch::telling_looks`].
    pub(super) fn may_slip_at(&self, tooth: usize, looks: &[Option<bool>]) -> bool {
        self.teeth[tooth].slipped() || looks[tooth - 1] == Some(false)
    }

    /// Whether so many teeth are missed or extra that one more tells nothing.
    pub fn slips_all_along(&self) -> bool {
        (self.missed() + self.extra()) as f64 > MOST_SLIPS * self.teeth.len() as f64
    }

    /// Hum that goes on into the teeth has no slip where the one becomes the other, so the first
    /// tooth has to be sure by itself.
    fn without_unsure_start(mut self, marks: &Marks, habits: Habits) -> Stretch {
        let turn = marks.per_turn();
        let sure = |from: usize| {
            let to = (from + TURNS * turn).min(self.teeth.len());
            odds_of_start(&self.teeth[from..to], marks, habits) >= SURE
        };
        // What was missed on the way to a tooth stands with it: that tooth stays.
        let next_slip = |after: usize| {
            let to = (turn + 1).min(self.teeth.len());
            (after + 1..to).find(|&at| self.teeth[at].slipped())
        };
        let next = |from: usize| next_slip(from).unwrap_or(from + (turn / START_STEPS).max(1));
        let starts = std::iter::successors(Some(0), |&from| Some(next(from)));
        let mut within = starts.take_while(|&from| from <= turn.min(self.teeth.len() / 2));
        // Never sure: what comes before the last slip is doubted all the same.
        let slipped = || std::iter::successors(next_slip(0), |&at| next_slip(at)).last();
        let start = within.find(|&from| sure(from)).or_else(slipped).unwrap_or(0);
        self.teeth.drain(..start);
        self
    }

    fn without_unsure_end(mut self, marks: &Marks, habits: Habits) -> Stretch {
        let reach = TURNS * marks.per_turn();
        let least = self.teeth.len().saturating_sub(marks.per_turn()).max(1);
        let looks = self.telling_looks(marks);
        while let Some(slip) =
            (least..self.teeth.len()).rev().find(|&at| self.may_slip_at(at, &looks))
        {
            let teeth = &self.teeth[slip.saturating_sub(reach)..];
            if odds_of_end(teeth, marks, habits) >= SURE {
                break;
            }
            self.teeth.truncate(slip);
        }
        self
    }
}

/// Probability that the first of these teeth is the one it was taken for, by the edges among them.
fn odds_of_start(teeth: &[Tooth], marks: &Marks, habits: Habits) -> f64 {
    let (Some(from), Some(to)) = (teeth.first(), teeth.last()) else { return 1.0 };
    odds_of_first(&among(from, to, marks), habits, usize::from(from.slot))
}

/// Probability that the last of these teeth is the one it was taken for, by the edges among them.
fn odds_of_end(teeth: &[Tooth], marks: &Marks, habits: Habits) -> f64 {
    let (Some(from), Some(to)) = (teeth.first(), teeth.last()) else { return 1.0 };
    odds_of_last(&among(from, to, marks), habits, usize::from(to.slot))
}

/// The edges from one tooth to another.
fn among<'a>(from: &Tooth, to: &Tooth, marks: &'a Marks) -> Marks<'a> {
    let edges = marks.edges.part(from.edge as usize..to.edge as usize + 1);
    Marks { edges, pattern: marks.pattern.clone() }
}
