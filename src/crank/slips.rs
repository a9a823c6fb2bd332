//! Teeth that may be others than they were taken for, because the path slipped near them.
//!
//! A tooth missed, or an edge passed over, is put where it costs least. Where a compression hides a
//! gap of the wheel, that may be a turn before or after the place where it happened, and the teeth
//! between are off by one. Where edges jitter, one that came late and one that came early look like
//! a tooth missed and an edge too many. Everywhere else the angle is right all the same.

use std::ops::Range;

use super::cycle::COARSE;
use super::identify::odds_along;
use super::mean_cycle::REGULAR;
use super::reading::{Reading, SURE};
use super::stretch::Tooth;
use crate::stats::median;
use crate::units::CYCLE_DEG;

/// Turns on each side of a slip within which the wheel has to show where it stands, and teeth on
/// each side that are looked at in any case.
const TURNS: usize = 2;
const BESIDE_SLIP: usize = 8;
/// Edges on each side of the teeth in doubt that their odds are worked out by: the place of a lost
/// tooth is told by some steps beside it, and the speed by as many more.
const AROUND_SLIP: usize = 24;
/// Most slips that are looked at so: a second of work. Where there are more the stretch is long.
const MOST_SLIPS: usize = 400;
/// Most states, teeth times marks, that one slip is looked at over: ten milliseconds.
const MOST_STATES: usize = 1 << 17;

impl Reading<'_> {
    /// Of each tooth, whether it may be another one: it stands between two slips that undo each
    /// other on a jittery wheel, within a turn, or near a slip and is not sure by the edges around.
    pub(super) fn doubtful_teeth(&self) -> Vec<bool> {
        let mut doubted = vec![false; self.stretch.teeth.len()];
        let jitters = self.habits.jitter > 0.0;
        if jitters {
            self.doubt_between_slips(&mut doubted);
        }
        let teeth = &self.stretch.teeth;
        let coarse = self.marks.pattern.common_step() > COARSE;
        let looks = self.stretch.telling_looks(&self.marks);
        // A coarse wheel's steps look otherwise by the engine's swing.
        let may_slip = |&at: &usize| match coarse {
            true => teeth[at].slipped(),
            false => {
                self.stretch.may_slip_at(at, &looks)
                    || (!jitters && self.stretch.took_two(at, &self.marks))
            }
        };
        let slips: Vec<usize> = (1..teeth.len()).filter(may_slip).collect();
        if slips.len() > MOST_SLIPS {
            return doubted;
        }
        let now_and_then = !self.stretch.slips_all_along();
        if jitters || now_and_then {
            self.doubt_beside_slips(&slips, &looks, &mut doubted);
        }
        if now_and_then && coarse {
            let slips: Vec<usize> = slips.into_iter().chain(self.breaks_off()).collect();
            self.doubt_unlike_other_cycles(&slips, &mut doubted);
        }
        doubted
    }

    /// The same where it is what comes again every cycle that tells the teeth apart.
    pub(super) fn teeth_unlike_other_cycles(&self) -> Vec<bool> {
        let mut doubted = vec![false; self.stretch.teeth.len()];
        self.doubt_unlike_other_cycles(self.breaks_off().as_slice(), &mut doubted);
        doubted
    }

    /// The last tooth of a path that breaks off: it may have slipped before it did, and nothing
    /// came later to tell.
    fn breaks_off(&self) -> Option<usize> {
        let last = self.stretch.teeth.last()?;
        self.marks.goes_on_after(last).then_some(self.stretch.teeth.len() - 1)
    }

    fn doubt_between_slips(&self, doubted: &mut [bool]) {
        let teeth = &self.stretch.teeth;
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
    }

    /// Doubts the teeth near slips that are not sure by the edges around. `looks`: see
    /// [`Stretch::telling_looks`](super::stretch::Stretch::telling_looks).
    fn doubt_beside_slips(&self, slips: &[usize], looks: &[Option<bool>], doubted: &mut [bool]) {
        let teeth = &self.stretch.teeth;
        let (Some(first), Some(last)) = (teeth.first(), teeth.last()) else { return };
        if self.marks.pattern.len() == 1 {
            return;
        }
        let edge = |tooth: usize| teeth[tooth].edge as usize;
        for part in self.around(slips, looks) {
            let start = edge(part.start).saturating_sub(AROUND_SLIP).max(first.edge as usize);
            let end = (edge(part.end - 1) + AROUND_SLIP).min(last.edge as usize);
            let odds = odds_along(
                &self.marks.edges.part(start..end + 1),
                &self.marks.pattern,
                self.habits.doubting(),
                edge(part.start) - start..edge(part.end - 1) - start + 1,
            );
            let from = edge(part.start);
            for tooth in part {
                doubted[tooth] |= odds[edge(tooth) - from][usize::from(teeth[tooth].slot)] < SURE;
            }
        }
    }

    /// Doubts the teeth of a coarse wheel, within a cycle of a slip, whose steps are not what the
    /// same steps of other cycles are: there a step tells little of where the wheel stands, and
    /// what comes again every cycle tells more.
    fn doubt_unlike_other_cycles(&self, slips: &[usize], doubted: &mut [bool]) {
        let teeth = &self.stretch.teeth;
        let cycle = self.marks.per_cycle();
        let place = |tooth: &Tooth| self.marks.turned(tooth).0.rem_euclid(CYCLE_DEG).round() as u32;
        // Place in the cycle, and time over what the mean speed of the cycle around makes of it.
        let steps: Vec<(u32, f64)> = (1..teeth.len())
            .map(|at| {
                let around =
                    &teeth[at.saturating_sub(cycle / 2)..(at + cycle / 2).min(teeth.len())];
                let (_, mean) = self.marks.between(&around[0], &around[around.len() - 1]);
                let (_, speed) = self.marks.between(&teeth[at - 1], &teeth[at]);
                (place(&teeth[at]), (mean / speed).ln())
            })
            .collect();
        for &slip in slips {
            for at in slip.saturating_sub(cycle).max(1)..(slip + cycle).min(teeth.len()) {
                let (place, took) = steps[at - 1];
                let same = steps.iter().filter(|step| step.0 == place).map(|step| step.1);
                let usual = median(&same.collect::<Vec<f64>>()).unwrap_or(took);
                if (took - usual).abs() > REGULAR {
                    doubted[at - 1..=at].fill(true);
                }
            }
        }
    }

    /// The teeth around each slip, as far on each side as the wheel does not show where it stands.
    fn around(&self, slips: &[usize], looks: &[Option<bool>]) -> Vec<Range<usize>> {
        let count = self.stretch.teeth.len();
        let states = MOST_STATES / (2 * self.marks.pattern.len());
        let reach = (TURNS * self.marks.per_turn()).min(states).max(BESIDE_SLIP);
        let shows = |step: &usize| looks[*step] == Some(true);
        let mut parts: Vec<Range<usize>> = Vec::new();
        for &slip in slips {
            // Step i leads from tooth i to the next; the slip stands with the step to its tooth.
            let before = (slip.saturating_sub(reach)..slip - 1).rev().find(shows);
            let after = (slip..(slip + reach).min(looks.len())).find(shows);
            let from = before.unwrap_or(slip.saturating_sub(reach));
            let to = after.map_or(slip + reach, |step| step + 1);
            let from = from.min(slip.saturating_sub(BESIDE_SLIP));
            let to = to.max(slip + BESIDE_SLIP).min(count - 1) + 1;
            match parts.last_mut() {
                Some(last) if last.end >= from => last.end = last.end.max(to),
                _ => parts.push(from..to),
            }
        }
        parts
    }
}
