//! Holes between sure teeth in which the crank may have turned a whole period of the wheel more, or
//! less, than was read.
//!
//! Where a reluctance lead loses most of its teeth for a turn, the few that are left fit any number
//! of the wheel's periods between the two sides. The wheel is read rightly on both; the cycles that
//! are counted across are not, and every cam after it would stand a period off. So what was read
//! across the hole is held against the speeds beside it.

use std::ops::Range;

use super::reading::Reading;

/// Sure teeth in a row, as a share of a turn's and in any case, that are more than an island in a
/// hole: enough to take the speed from. Fewer may be edges of noise that happen to fit.
const ISLAND_SHARE: f64 = 0.25;
const ISLAND: usize = 4;
/// The mean speed across a hole is by so much slower than on both sides, or faster, before its
/// periods are doubted: less than that a compression does, or a start.
const SPEED_RATIO: f64 = 1.5;

impl Reading<'_> {
    /// Keeps the longest part across whose holes the count of periods is sure.
    pub(super) fn without_unsure_holes(self) -> Self {
        self.without_islets().without_uncounted_holes()
    }

    fn without_uncounted_holes(mut self) -> Self {
        let parts = self.parts_of_sure_count();
        let length = |part: &Range<usize>| {
            self.marks.between(&self.stretch.teeth[part.start], &self.stretch.teeth[part.end - 1]).0
        };
        let Some(longest) = parts.into_iter().max_by(|a, b| length(a).total_cmp(&length(b))) else {
            return self;
        };
        self.stretch.teeth.truncate(longest.end);
        self.stretch.teeth.drain(..longest.start);
        self.doubted.truncate(longest.end);
        self.doubted.drain(..longest.start);
        self
    }

    /// The teeth from hole to hole, where their periods are not sure.
    fn parts_of_sure_count(&self) -> Vec<Range<usize>> {
        let islands = self.islands();
        let (mut parts, mut from) = (Vec::new(), 0);
        for pair in islands.windows(2) {
            if !self.count_is_sure(&pair[0], &pair[1]) {
                parts.push(from..pair[0].end);
                from = pair[1].start;
            }
        }
        parts.push(from..self.stretch.teeth.len());
        parts.retain(|part: &Range<usize>| part.len() > 1);
        parts
    }

    /// Runs of sure teeth that are long enough to take a speed from.
    fn islands(&self) -> Vec<Range<usize>> {
        let least = ISLAND.max((ISLAND_SHARE * self.marks.per_turn() as f64) as usize);
        let runs = self.runs().into_iter();
        runs.filter(|run| !self.doubted[run.start] && run.len() >= least).collect()
    }

    /// Runs of teeth that are sure or in doubt alike.
    fn runs(&self) -> Vec<Range<usize>> {
        let ends = self.doubted.chunk_by(|a, b| a == b).scan(0, |to, run| {
            *to += run.len();
            Some(*to - run.len()..*to)
        });
        ends.collect()
    }

    /// Doubts the few sure teeth in the midst of a hole, where most of the next ones on both sides
    /// are in doubt: they may be edges of noise that happen to fit, or stand as those around them
    /// do.
    fn without_islets(mut self) -> Self {
        let count = self.doubted.len();
        let most = |teeth: Range<usize>| {
            2 * self.doubted[teeth.clone()].iter().filter(|doubted| **doubted).count() > teeth.len()
        };
        let amid = |run: &Range<usize>| {
            run.start > 0
                && run.end < count
                && most(run.start.saturating_sub(ISLAND)..run.start)
                && most(run.end..(run.end + ISLAND).min(count))
        };
        let runs = self.runs().into_iter();
        let islets: Vec<Range<usize>> = runs
            .filter(|run| !self.doubted[run.start] && run.len() < ISLAND && amid(run))
            .collect();
        islets.into_iter().for_each(|islet| self.doubted[islet].fill(true));
        self
    }

    /// Whether what was read across the hole between two runs is what the speeds beside it make of
    /// it, and they leave no room for another period.
    fn count_is_sure(&self, before: &Range<usize>, after: &Range<usize>) -> bool {
        let teeth = &self.stretch.teeth;
        let turn = self.marks.per_turn();
        let between = |from: usize, to: usize| self.marks.between(&teeth[from], &teeth[to]);
        let (last, first) = (before.end - 1, after.start);
        let (_, speed_before) = between(last.saturating_sub(turn).max(before.start), last);
        let (_, speed_after) = between(first, (first + turn).min(after.end - 1));
        let (slow, fast) = (speed_before.min(speed_after), speed_before.max(speed_after));
        let (read, speed) = between(last, first);
        let took = read / speed;
        let period = self.marks.pattern.period;
        let likely = slow / SPEED_RATIO <= speed && speed <= SPEED_RATIO * fast;
        let by_the_mean = (slow.midpoint(fast) * took - read).abs() < period / 2.0;
        let room = (fast - slow) * took;
        (likely || by_the_mean) && room < period
    }
}
