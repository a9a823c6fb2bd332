//! Unbroken stretches of identified teeth: trimmed, joined over short holes, weighed.

use super::angle::Mark;
use super::identify::Assigned;
use super::pattern::Pattern;
use crate::edges::Edge;
use crate::units::{CrankTurned, Seconds};

/// The engine has come to rest at a tooth reached at less than this share of the mean speed of the turn before.
/// A compression takes a quarter or less off (docs/sources.md, "Cranking motion": ±10 to ±25 %); a stop takes all.
const STOPPING_SHARE: f64 = 0.5;
/// The engine is still starting to turn below this share of the mean speed of the turn that follows.
const STARTING_SHARE: f64 = 0.5;
/// The turn that a speed is held against, in crank degrees: one compression of a four-cylinder engine.
const SPEED_REACH: f64 = 180.0;
/// Longest hole two stretches are joined over, in periods of the wheel.
const LONGEST_HOLE: f64 = 1.0;
/// The angle bridged, worked out from the speeds on both sides, must agree with the marks to this
/// share of a period; half a period would be a toss-up.
const HOLE_AGREEMENT: f64 = 0.2;
/// Speeds on both sides of a hole may differ by this factor and no more.
const HOLE_SPEED_RATIO: f64 = 1.5;
/// A step this rough, in nats, does not fit: about three standard deviations.
const UNFIT: f64 = 3.0;

/// An identified tooth with what the search said of the step to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tooth {
    pub mark: Mark,
    /// Index of the mark in the pattern.
    pub slot: usize,
    /// Index among the edges searched.
    pub edge: usize,
    pub missed: usize,
    pub extra: usize,
    pub rough: f64,
}

/// Teeth in order of time; angles count from a datum pass.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    pub teeth: Vec<Tooth>,
}

impl Stretch {
    /// Gives every assigned edge its angle.
    pub fn build(assigned: &[Assigned], edges: &[Edge], pattern: &Pattern) -> Stretch {
        let mut turned = assigned.first().map_or(0.0, |first| pattern.angles[first.mark]);
        let mut before: Option<usize> = None;
        let teeth = assigned
            .iter()
            .map(|one| {
                if let Some(from) = before {
                    turned += pattern.advance(from, one.advance);
                }
                before = Some(one.mark);
                Tooth {
                    mark: Mark { at: edges[one.edge].at, turned: CrankTurned(turned) },
                    slot: one.mark,
                    edge: one.edge,
                    missed: one.advance.saturating_sub(1),
                    extra: one.skipped,
                    rough: one.rough,
                }
            })
            .collect();
        Stretch { teeth }
    }

    /// Crank degrees covered.
    pub fn degrees(&self) -> f64 {
        match (self.teeth.first(), self.teeth.last()) {
            (Some(first), Some(last)) => last.mark.turned.0 - first.mark.turned.0,
            _ => 0.0,
        }
    }

    /// Parts the stretch wherever the engine came to rest (it rocks back then, and turns the other way), and cuts from each part
    /// the first teeth, when the engine is only starting to turn.
    pub fn split_at_stops(mut self, period: f64) -> Vec<Stretch> {
        let mut parts = Vec::new();
        while let Some(stop) = self.first_stop(period) {
            let rest = self.teeth.split_off(stop);
            parts.push(Stretch { teeth: std::mem::replace(&mut self.teeth, rest) });
        }
        parts.push(self);
        for part in &mut parts {
            let start = part.first_turning(period);
            part.teeth.drain(..start);
        }
        parts
    }

    /// First tooth that the engine took far longer to reach than the turn before it promised.
    fn first_stop(&self, period: f64) -> Option<usize> {
        let mut turn_before = 0;
        (2..self.teeth.len()).find(|&i| {
            while self.between(turn_before + 1, i - 1).0 >= period.min(SPEED_REACH) {
                turn_before += 1;
            }
            let (_, mean) = self.between(turn_before, i - 1);
            self.between(i - 1, i).1 < STOPPING_SHARE * mean
        })
    }

    /// First tooth from which the engine turns at the speed of the turn that follows, smoothly.
    fn first_turning(&self, period: f64) -> usize {
        let count = self.teeth.len();
        (0..count.saturating_sub(2))
            .find(|&i| {
                let reach = period.min(SPEED_REACH);
                let turn_after = (i + 2..count)
                    .find(|&j| self.between(i + 1, j).0 >= reach)
                    .unwrap_or(count - 1);
                let (_, mean) = self.between(i + 1, turn_after);
                self.between(i, i + 1).1 >= STARTING_SHARE * mean
                    && self.teeth[i + 1].rough <= UNFIT
            })
            .unwrap_or(count)
    }

    /// Degrees and degrees per second from one tooth to another.
    fn between(&self, from: usize, to: usize) -> (f64, f64) {
        let (from, to) = (self.teeth[from].mark, self.teeth[to].mark);
        let degrees = to.turned.0 - from.turned.0;
        (degrees, degrees / (to.at - from.at).0.max(1e-9))
    }

    /// Share of the steps that tell the wheel's parts apart which look as the wheel says:
    /// one step, nothing missed or extra, speed smooth. All steps, on an even wheel. 0..1.
    pub fn telling_share(&self, pattern: &Pattern) -> f64 {
        let telling = pattern.telling_steps();
        let any = telling.iter().any(|&telling| telling);
        let (mut seen, mut good) = (0_usize, 0_usize);
        for pair in self.teeth.windows(2) {
            let crossed =
                (0..=pair[1].missed).any(|step| telling[(pair[0].slot + step) % pattern.len()]);
            if any && !crossed {
                continue;
            }
            seen += 1;
            good += usize::from(pair[1].missed == 0 && pair[1].extra == 0 && pair[1].rough < UNFIT);
        }
        good as f64 / seen.max(1) as f64
    }

    /// Roughness, missed and extra teeth in nats per turn.
    pub fn cost_per_turn(&self) -> f64 {
        let rough: f64 = self.teeth.iter().map(|tooth| tooth.rough).sum();
        let wrong: usize = self.teeth.iter().map(|tooth| tooth.missed + tooth.extra).sum();
        (rough + 4.0 * wrong as f64) / (self.degrees() / 360.0).max(0.5)
    }

    fn speed_at_end(&self) -> f64 {
        speed(&self.teeth[self.teeth.len().saturating_sub(8)..])
    }

    fn speed_at_start(&self) -> f64 {
        speed(&self.teeth[..self.teeth.len().min(8)])
    }
}

fn speed(teeth: &[Tooth]) -> f64 {
    let (first, last) = (teeth[0].mark, teeth[teeth.len() - 1].mark);
    (last.turned.0 - first.turned.0) / (last.at - first.at).0.max(1e-9)
}

/// Joins stretches parted by a hole short enough that the number of turns in it is sure.
pub(super) fn join(stretches: Vec<Stretch>, period: f64) -> Vec<Stretch> {
    let mut joined: Vec<Stretch> = Vec::new();
    for next in stretches {
        match joined.last_mut() {
            Some(last) => match bridge(last, &next, period) {
                Some(shift) => last.teeth.extend(next.teeth.into_iter().map(|tooth| Tooth {
                    mark: Mark { turned: CrankTurned(tooth.mark.turned.0 + shift), ..tooth.mark },
                    ..tooth
                })),
                None => joined.push(next),
            },
            None => joined.push(next),
        }
    }
    joined
}

/// What to add to the angles of `next` so that they go on from `last`.
fn bridge(last: &Stretch, next: &Stretch, period: f64) -> Option<f64> {
    if last.degrees() < period || next.degrees() < period {
        return None;
    }
    let (from, to) = (last.teeth.last()?.mark, next.teeth.first()?.mark);
    let (before, after) = (last.speed_at_end(), next.speed_at_start());
    if before.max(after) > HOLE_SPEED_RATIO * before.min(after) {
        return None;
    }
    let expected = before.midpoint(after) * (to.at - from.at).0;
    if expected > LONGEST_HOLE * period {
        return None;
    }
    let plain = to.turned.0 - from.turned.0;
    let periods = ((expected - plain) / period).round();
    let agrees = (plain + periods * period - expected).abs() < HOLE_AGREEMENT * period;
    (agrees && plain + periods * period > 0.0).then_some(periods * period)
}

/// First and last instant of a stretch.
pub(super) fn span(stretch: &Stretch) -> (Seconds, Seconds) {
    let at = |tooth: Option<&Tooth>| tooth.map_or(Seconds(0.0), |tooth| tooth.mark.at);
    (at(stretch.teeth.first()), at(stretch.teeth.last()))
}
