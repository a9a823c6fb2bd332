//! Whether edges come as a wheel makes them, or at random.
//!
//! A search that may pass edges over, bridge teeth and allow for jitter reads something into any
//! train of edges. What was read is held against the plainest other account: each interval is drawn
//! by itself, from one spread. Both are densities of the logarithm of an interval, so that their
//! sums over the same edges can be compared.

use super::habits::{Change, PITCH_SCATTER, Stride};
use super::identify::change;
use super::marks::Marks;
use super::picked::Picked;
use super::reading::Reading;
use super::search::EXTRA_PRICE;
use crate::stats::{median, median_within, standard_deviation};

/// Least spread of log intervals at random. Those of edges with a constant rate scatter by π/√6 =
/// 1.28 (the standard deviation of the log of an exponential variable); filters, hysteresis and the
/// spacing of samples take the short ones, and up to half of it.
pub(super) const LEAST_SPREAD: f64 = 0.64;
/// Negative log of the Student-t density with four degrees of freedom at its middle, for a scatter
/// of one: 3/8.
const STUDENT: f64 = 0.980_829_253_011_726_2;

/// From steps of this many degrees on the engine's swing is no guide to how two steps differ: each
/// spans whole compressions, which cancel in it (four cylinders and more fire every 180° or less).
const COARSE_STEP: f64 = 90.0;

/// Steps within this factor of the shortest are alike: the least gap of a wheel is twice its step.
const EVENLY: f64 = 1.2;

impl Reading<'_> {
    /// Whether the intervals are likelier at random than by the wheel.
    pub fn is_noise(&self) -> bool {
        self.by_cycles.is_none() && self.better_than_noise() < 0.0
    }

    /// By how much the wheel explains the intervals better than the likeliest other account, in
    /// nats; negative where it does not.
    pub fn better_than_noise(&self) -> f64 {
        let Some((first, last)) = self.stretch.teeth.first().zip(self.stretch.teeth.last()) else {
            return f64::NEG_INFINITY;
        };
        let edges = self.marks.edges.part(first.edge as usize..last.edge as usize + 1);
        let intervals = log_intervals(&edges);
        let Some(random) = at_random(&intervals) else { return f64::NEG_INFINITY };
        let tone = self.lossy_tone(&intervals).map(|tone| tone - self.picked());
        tone.map_or(random, |tone| tone.min(random)) - self.by_the_wheel(edges.len())
    }

    /// Negative log density of the intervals by a steady tone that loses edges at random: what a
    /// wheel with gaps that loses teeth must be better than. Steps and losses are charged as the
    /// wheel's are. `None` where the wheel is a tone itself.
    fn lossy_tone(&self, intervals: &[f64]) -> Option<f64> {
        let pattern = &self.marks.pattern;
        let steps = || (0..pattern.len()).map(|mark| pattern.advance(mark, 1));
        let slot = steps().fold(360.0, f64::min);
        // Marks evenly apart, of both kinds of edge too, are a tone.
        if steps().all(|step| step < EVENLY * slot) {
            return None;
        }
        let middle = median(intervals)?;
        // Half of the edges may be lost, and two thirds.
        let tones = [0.0, 2.0_f64.ln(), 3.0_f64.ln()].map(|parts| middle - parts);
        tones
            .into_iter()
            .map(|tone| {
                let periods = |interval: f64| (interval - tone).exp().round().max(1.0);
                let fine =
                    intervals.iter().map(|&interval| (interval - tone) - periods(interval).ln());
                // The middle of all rests is the tone's own.
                let tone = tone + median_within(&mut fine.collect::<Vec<f64>>()).unwrap_or(0.0);
                // Of a long capture there are millions: no more than one number of each is kept.
                let periods: Vec<f64> = intervals
                    .iter()
                    .map(|&interval| (interval - tone).exp().round().max(1.0))
                    .collect();
                let strides = || {
                    periods.iter().zip(intervals).map(|(periods, interval)| {
                        let length = slot * periods;
                        Stride::new(length.ln() - interval, length)
                    })
                };
                let lost: f64 = periods.iter().map(|periods| periods - 1.0).sum();
                let changes = || strides().zip(strides().skip(1));
                let seen = intervals.len() + 1;
                let steps = strides().map(|stride| Some((stride, slot.ln() - tone)));
                let usual = self.habits.cost(steps).surprise + STUDENT * seen as f64;
                let lengths = periods.iter().skip(1).map(|periods| slot * periods);
                let steps = coarse(lengths, changes, seen).map_or(usual, |long| long.min(usual));
                let share = lost / (lost + seen as f64);
                let gone = if lost > 0.0 { -lost * share.ln() } else { 0.0 };
                steps + gone - seen as f64 * (1.0 - share).ln()
            })
            .reduce(f64::min)
    }

    /// What it costs that the stretch was picked out of many edges, in nats: among so many places
    /// to begin and to end at, some show anything by chance. Nothing where it holds most of them.
    fn picked(&self) -> f64 {
        let all = self.marks.edges.len();
        if 2 * self.stretch.teeth.len() > all { 0.0 } else { 2.0 * (all as f64).ln() }
    }

    /// Negative log density of the intervals by this reading.
    fn by_the_wheel(&self, edges: usize) -> f64 {
        let teeth = &self.stretch.teeth;
        let changes = || teeth.windows(3).map(|three| change(three, &self.marks));
        let lengths = teeth.windows(2).skip(1).map(|two| self.marks.between(&two[0], &two[1]).0);
        let seen = teeth.len();
        let usual = self.stretch.surprise(&self.marks, self.habits) + STUDENT * seen as f64;
        // A steady tone with teeth lost from it passes for any wheel: long steps count where nearly
        // none is.
        let whole = self.stretch.missed() <= seen / 10;
        let long = coarse(lengths, changes, seen).filter(|_| whole);
        long.map_or(usual, |long| long.min(usual))
            + self.habits.losses(self.stretch.missed(), seen)
            + EXTRA_PRICE * (edges - seen) as f64
    }
}

/// Negative log density of the changes between steps too long for the engine's swing: of one
/// spread, their own. `None` of shorter steps; `lengths` are those of the second of each two.
fn coarse<C: Iterator<Item = Change>>(
    lengths: impl Iterator<Item = f64> + Clone,
    changes: impl Fn() -> C,
    seen: usize,
) -> Option<f64> {
    // A long capture has millions, mostly short: these need not be put in order.
    let (all, short) = lengths
        .clone()
        .fold((0, 0), |(all, short), length| (all + 1, short + usize::from(length < COARSE_STEP)));
    if 2 * short > all {
        return None;
    }
    median_within(&mut lengths.collect::<Vec<f64>>()).filter(|&step| step >= COARSE_STEP)?;
    let count = all as f64;
    let square =
        changes().map(|(before, now)| (now.log_speed - before.log_speed).powi(2)).sum::<f64>()
            / count;
    let spread = square.sqrt().max(PITCH_SCATTER);
    let normal = 0.5 * std::f64::consts::TAU.ln();
    // The first steps come as they may, and the spread was fitted: half a log of the changes for
    // one figure (Schwarz 1978).
    let first = (normal + LEAST_SPREAD.ln()) * (seen as f64 - count) + 0.5 * count.ln();
    Some((normal + spread.ln() + 0.5 * square / (spread * spread)) * count + first)
}

/// Whether edges come as well at random as by a path of so much surprise, in nats, on which so many
/// of them are teeth.
pub(super) fn is_random(marks: &Marks, surprise: f64, seen: usize) -> bool {
    at_random(&log_intervals(&marks.edges))
        .is_none_or(|random| surprise + STUDENT * seen as f64 > random)
}

/// Logs of the times from edge to edge.
fn log_intervals(edges: &Picked) -> Vec<f64> {
    (1..edges.len()).map(|i| (edges[i].at - edges[i - 1].at).0.ln()).collect()
}

/// Negative log density of log intervals drawn from one normal spread, their own or the least;
/// `None` of none.
fn at_random(intervals: &[f64]) -> Option<f64> {
    let own = standard_deviation(intervals)?;
    let spread = own.max(LEAST_SPREAD);
    let each = 0.5 * std::f64::consts::TAU.ln() + spread.ln() + 0.5 * (own / spread).powi(2);
    Some(each * intervals.len() as f64)
}
