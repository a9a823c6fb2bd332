//! Where the crank came to rest. It rocks back then and turns the other way, which the teeth alone
//! do not show.
//!
//! A compression is no stop, however slow the crank gets on it: it comes back every cycle, and the
//! crank springs away from it. A three-cylinder engine was recorded at 127 to 521 rpm within one
//! turn, a four-cylinder with one plug out at 131 to 285. So a speed is held against the slowest of
//! the two turns before, not against the mean, and over more than one step of a fine wheel.
//! Silence, a step slower than any cranking, parts stretches already in the search.

use std::collections::VecDeque;

use super::marks::Marks;
use super::stretch::{Stretch, UNFIT};
use crate::units::{CYCLE_DEG, TURN_DEG};

/// Crank degrees a speed is taken over, at least: three steps of a fine wheel, one of a coarse one.
/// A compression holds the crank up for longer, a jittery step is over before.
const SLOW_SPAN: f64 = 20.0;
/// A crank slower than this share of the mean speed of the turn before stands still meanwhile,
/// whatever comes after: half as slow as the slowest compression that was recorded (127 of 240
/// rpm).
const SILENT_SHARE: f64 = 0.25;
/// The crank comes to rest where it turns at less than this share of its slowest in the cycle
/// before. From one compression to the next, speed at the slowest point differs by a tenth or two
/// (recordings); a stop takes all of it.
const STOPPING_SHARE: f64 = 0.5;
/// The slowing itself is no measure of what comes before it: it takes about half a stroke.
const SLOWING_SPAN: f64 = 90.0;
/// A crank that is back at this share of the mean speed of the turn before within half a turn has
/// sprung over a compression. One that rocks comes back with less than it had, and so does one that
/// coasts over its last.
const RECOVERED_SHARE: f64 = 0.8;
/// Within so many crank degrees.
const RECOVERED_WITHIN: f64 = 180.0;
/// The turn that the mean speed before is taken over.
const MEAN_SPAN: f64 = 360.0;
/// The engine is still starting to turn below this share of the mean speed of what follows.
const STARTING_SHARE: f64 = 0.5;
/// Crank degrees from which a stretch can spare its first turn.
const ENOUGH: f64 = 2.0 * CYCLE_DEG;
/// What follows: one compression of a four-cylinder engine.
const START_SPAN: f64 = 180.0;

impl Stretch {
    /// Parts the stretch wherever the engine came to rest, and cuts from each part the first teeth,
    /// when the engine is only starting to turn.
    pub fn split_at_stops(mut self, marks: &Marks) -> Vec<Stretch> {
        let mut parts = Vec::new();
        while let Some(stop) = self.first_stop(marks) {
            let rest = self.teeth.split_off(stop);
            parts.push(Stretch { teeth: std::mem::replace(&mut self.teeth, rest) });
        }
        parts.push(self);
        for part in &mut parts {
            let start = part.first_turning(marks);
            part.teeth.drain(..start);
        }
        parts
    }

    /// First tooth of those the crank takes so long over that it is coming to rest.
    fn first_stop(&self, marks: &Marks) -> Option<usize> {
        let between = |from: usize, to: usize| marks.between(&self.teeth[from], &self.teeth[to]);
        // The latest window of the least span: its first tooth. Windows are kept by their last
        // tooth, with their speed.
        let mut from = 0;
        let mut waiting: VecDeque<(usize, f64)> = VecDeque::new();
        // Of the cycle before, those that none after them undercuts: the slowest comes first.
        let mut slowest: VecDeque<(usize, f64)> = VecDeque::new();
        for to in 1..self.teeth.len() {
            while from + 1 < to && between(from + 1, to).0 >= SLOW_SPAN {
                from += 1;
            }
            let (degrees, now) = between(from, to);
            if degrees < SLOW_SPAN {
                continue;
            }
            while let Some(&(last, speed)) = waiting.front()
                && between(last, from).0 >= SLOWING_SPAN
            {
                waiting.pop_front();
                while slowest.back().is_some_and(|&(_, other)| other >= speed) {
                    slowest.pop_back();
                }
                slowest.push_back((last, speed));
            }
            while slowest.front().is_some_and(|&(last, _)| between(last, to).0 > CYCLE_DEG) {
                slowest.pop_front();
            }
            let slow = slowest.front().is_some_and(|&(_, before)| now < STOPPING_SHARE * before);
            if slow {
                let mean = self.mean_before(from, marks);
                if now < SILENT_SHARE * mean || !self.recovers(to, RECOVERED_SHARE * mean, marks) {
                    return Some(from + 1);
                }
            }
            waiting.push_back((to, now));
        }
        None
    }

    /// Mean speed over the turn that ends at a tooth, or as much of it as there is.
    fn mean_before(&self, at: usize, marks: &Marks) -> f64 {
        let between = |from: usize| marks.between(&self.teeth[from], &self.teeth[at]);
        let from = (0..at).rev().find(|&from| between(from).0 >= MEAN_SPAN).unwrap_or(0);
        if from < at { between(from).1 } else { 0.0 }
    }

    /// Whether the crank is soon this fast again.
    fn recovers(&self, slow: usize, fast: f64, marks: &Marks) -> bool {
        let between = |from: usize, to: usize| marks.between(&self.teeth[from], &self.teeth[to]);
        let mut from = slow;
        for to in slow + 1..self.teeth.len() {
            if between(slow, from).0 > RECOVERED_WITHIN {
                break;
            }
            while from + 1 < to && between(from + 1, to).0 >= SLOW_SPAN {
                from += 1;
            }
            let (degrees, speed) = between(from, to);
            if degrees >= SLOW_SPAN && speed >= fast {
                return true;
            }
        }
        false
    }

    /// First tooth from which the engine turns at the speed of what follows, smoothly.
    fn first_turning(&self, marks: &Marks) -> usize {
        let count = self.teeth.len();
        let smooth = |i: usize| f64::from(self.teeth[i + 1].rough) <= UNFIT;
        (0..count.saturating_sub(2))
            .find(|&i| self.up_to_speed(i, marks) && smooth(i))
            .unwrap_or(count)
    }

    /// Whether the step after a tooth is as fast as what follows, nearly.
    fn up_to_speed(&self, i: usize, marks: &Marks) -> bool {
        let count = self.teeth.len();
        let span = marks.pattern.period.min(START_SPAN);
        let between = |from: usize, to: usize| marks.between(&self.teeth[from], &self.teeth[to]);
        let after = (i + 2..count).find(|&j| between(i + 1, j).0 >= span).unwrap_or(count - 1);
        let (_, mean) = between(i + 1, after);
        between(i, i + 1).1 >= STARTING_SHARE * mean
    }

    /// Cuts from the first turn what comes before the crank leaps away: it may be hum, into whose
    /// rhythm the first teeth fell. An engine that springs away from its compressions does so again
    /// in the cycle after, and nothing of it is cut.
    pub fn without_leap(mut self, marks: &Marks) -> Stretch {
        if self.degrees(marks) >= ENOUGH {
            let first = self.teeth[0];
            let after = |i: usize| marks.between(&first, &self.teeth[i]).0;
            let looked_at = (0..self.teeth.len() - 2).take_while(|&i| after(i) < ENOUGH);
            let slow = looked_at.filter(|&i| !self.up_to_speed(i, marks)).last();
            if let Some(slow) = slow.filter(|&slow| after(slow) < TURN_DEG) {
                self.teeth.drain(..=slow);
            }
        }
        self
    }
}
