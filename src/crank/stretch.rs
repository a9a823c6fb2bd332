//! Unbroken stretches of identified teeth: joined over short holes, weighed.

use super::habits::{Habits, Stride};
use super::marks::Marks;
use super::search::{EXTRA_PRICE, Path};
use crate::units::{CrankTurned, Seconds, TURN_DEG};

/// Longest hole two stretches are joined over, in periods of the wheel.
const LONGEST_HOLE: f64 = 1.0;
/// The angle bridged, worked out from the speeds on both sides, must agree with the marks to this
/// share of a period; half a period would be a toss-up.
const HOLE_AGREEMENT: f64 = 0.2;
/// Speeds on both sides of a hole may differ by this factor and no more.
const HOLE_SPEED_RATIO: f64 = 1.5;
/// Share of the gaps that must be whole for those with a lost tooth to be passed over: a conditioner
/// was recorded that loses the tooth after a gap in half of the turns.
const LEAST_WHOLE: f64 = 0.35;
/// A step this rough, in nats, does not fit: about three standard deviations.
pub(super) const UNFIT: f64 = 3.0;

/// An identified tooth with what the search said of the step to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tooth {
    /// Index among the marks' edges.
    pub edge: u32,
    /// Periods of the pattern since the first datum of the stretch.
    pub periods: u32,
    /// Habits of the step to it, in nats.
    pub rough: f32,
    /// Index of its mark in the pattern.
    pub slot: u16,
    /// Teeth missed on the way to it.
    pub missed: u8,
    /// Edges passed over on the way to it.
    pub extra: u8,
}

impl Tooth {
    /// Whether a tooth was missed, or an edge passed over, on the way to this one.
    pub fn slipped(&self) -> bool {
        self.missed + self.extra > 0
    }
}

impl Marks<'_> {
    /// When a tooth passed.
    pub fn at(&self, tooth: &Tooth) -> Seconds {
        self.edges[tooth.edge as usize].at
    }

    /// Crank degrees since the first datum of the stretch.
    pub fn turned(&self, tooth: &Tooth) -> CrankTurned {
        let whole = f64::from(tooth.periods) * self.pattern.period;
        CrankTurned(whole + self.pattern.angles[tooth.slot as usize])
    }

    /// Degrees and degrees per second from one tooth to another.
    pub fn between(&self, from: &Tooth, to: &Tooth) -> (f64, f64) {
        let degrees = self.turned(to).since(self.turned(from)).0;
        (degrees, degrees / (self.at(to) - self.at(from)).0.max(1e-9))
    }

    /// The same as the search takes it.
    pub fn stride(&self, from: &Tooth, to: &Tooth) -> Stride {
        let (length, speed) = self.between(from, to);
        Stride::new(speed.ln(), length)
    }

    /// The same with the log of the mean speed around it.
    pub fn step(&self, from: &Tooth, to: &Tooth) -> (Stride, f64) {
        (self.stride(from, to), self.log_mean_speed(to.edge as usize))
    }
}

/// Teeth in order of time; angles count from a datum pass.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    pub teeth: Vec<Tooth>,
}

impl Stretch {
    /// Every unbroken stretch of a path.
    pub fn all_of(path: Path, marks: &Marks) -> Vec<Stretch> {
        let count = marks.pattern.len();
        let mut stretches: Vec<Stretch> = Vec::new();
        let mut periods = 0;
        for entry in path {
            if entry.advance == 0 {
                periods = 0;
                stretches.push(Stretch { teeth: Vec::new() });
            }
            let Some(stretch) = stretches.last_mut() else { continue };
            if let Some(before) = stretch.teeth.last() {
                periods += (usize::from(before.slot) + usize::from(entry.advance)) / count;
            }
            stretch.teeth.push(Tooth {
                edge: entry.edge,
                periods: periods as u32,
                rough: entry.rough,
                slot: entry.mark,
                missed: entry.advance.saturating_sub(1),
                extra: entry.skipped(),
            });
        }
        stretches
    }

    /// Crank degrees covered.
    pub fn degrees(&self, marks: &Marks) -> f64 {
        match (self.teeth.first(), self.teeth.last()) {
            (Some(first), Some(last)) => marks.between(first, last).0,
            _ => 0.0,
        }
    }

    /// First and last instant.
    pub fn span(&self, marks: &Marks) -> (Seconds, Seconds) {
        let at = |tooth: Option<&Tooth>| tooth.map_or(Seconds(0.0), |tooth| marks.at(tooth));
        (at(self.teeth.first()), at(self.teeth.last()))
    }

    /// Share of the steps that tell the wheel's parts apart which look as the wheel says. On an
    /// even wheel the share of all steps that are smooth. 0..1.
    ///
    /// A gap whose far tooth the sensor lost is no longer a step of its own and tells nothing, as
    /// long as enough others are: a wrong wheel bridges what it takes for teeth everywhere.
    pub fn telling_share(&self, marks: &Marks) -> f64 {
        let (mut seen, mut good) = (0_usize, 0_usize);
        let looks = self.telling_looks(marks);
        let gaps = marks.pattern.telling_steps().contains(&true);
        for (pair, looks) in self.teeth.windows(2).zip(&looks) {
            let lost = gaps && pair[1].missed > 0 && pair[1].extra == 0;
            seen += usize::from(looks.is_some() && !lost);
            good += usize::from(*looks == Some(true));
        }
        let crossed = looks.iter().flatten().count();
        if (seen as f64) < LEAST_WHOLE * crossed as f64 {
            return good as f64 / crossed.max(1) as f64;
        }
        good as f64 / seen.max(1) as f64
    }

    /// Share of the steps in which no tooth is missed and no edge passed over, 0..1.
    pub fn whole_share(&self) -> f64 {
        let whole = self.teeth.iter().skip(1).filter(|tooth| !tooth.slipped());
        whole.count() as f64 / self.teeth.len().saturating_sub(1).max(1) as f64
    }

    /// For the step from each tooth to the next, whether it looks as the wheel says, where it tells
    /// the wheel's parts apart: one step, nothing missed or extra, and its length at the speed of
    /// the steps beside it nearer to the wheel's than to a common step's. On an even wheel, whether
    /// any step is smooth.
    pub(super) fn telling_looks(&self, marks: &Marks) -> Vec<Option<bool>> {
        let telling = marks.pattern.telling_steps();
        let any = telling.iter().any(|&telling| telling);
        let common = marks.pattern.common_step();
        let looks = |(i, pair): (usize, &[Tooth])| {
            let crossed = (0..=usize::from(pair[1].missed))
                .any(|step| telling[(usize::from(pair[0].slot) + step) % marks.pattern.len()]);
            if any && !crossed {
                return None;
            }
            let whole = !pair[1].slipped();
            let looks = if any {
                let (length, speed) = marks.between(&pair[0], &pair[1]);
                let beside = self.log_speed_beside(i, marks);
                beside.is_none_or(|beside| {
                    (speed.ln() - beside).abs() < ((length / common).ln() / 2.0).abs()
                })
            } else {
                f64::from(pair[1].rough) < UNFIT
            };
            Some(whole && looks)
        };
        self.teeth.windows(2).enumerate().map(looks).collect()
    }

    /// Whether the step to a tooth, which is not the first, took as long as two by the speed of the
    /// steps beside it, or longer: a tooth may have been lost in it.
    pub(super) fn took_two(&self, tooth: usize, marks: &Marks) -> bool {
        let (_, speed) = marks.between(&self.teeth[tooth - 1], &self.teeth[tooth]);
        let beside = self.log_speed_beside(tooth - 1, marks);
        beside.is_some_and(|beside| beside - speed.ln() > 2_f64.ln() / 2.0)
    }

    /// Cuts from both ends what the wheel has not shown to be rightly counted: teeth beyond a
    /// missed or extra one, before the first step that tells the wheel's parts apart, and after the
    /// last. A path that slips there pays for the slip alone, and nothing that comes later
    /// contradicts it.
    pub fn without_unproven_ends(mut self, marks: &Marks) -> Stretch {
        if !marks.pattern.telling_steps().iter().any(|&telling| telling) {
            return self;
        }
        let looks = self.telling_looks(marks);
        let good = |looks: &Option<bool>| *looks == Some(true);
        let (Some(first), Some(last)) = (looks.iter().position(good), looks.iter().rposition(good))
        else {
            return self;
        };
        // Step i leads from tooth i to tooth i + 1, and what was missed on the way stands with the
        // latter.
        let after = self.teeth[last + 2..].iter().position(Tooth::slipped).map(|at| last + 2 + at);
        let before = self.teeth[1..=first].iter().rposition(Tooth::slipped).map(|at| at + 1);
        self.teeth.truncate(after.unwrap_or(self.teeth.len()));
        self.teeth.drain(..before.unwrap_or(0));
        self
    }

    /// Mean log speed of the steps before and after the step from tooth `i` to the next.
    fn log_speed_beside(&self, i: usize, marks: &Marks) -> Option<f64> {
        let speed = |from: usize| {
            let (from, to) = (self.teeth.get(from)?, self.teeth.get(from + 1)?);
            Some(marks.between(from, to).1.ln())
        };
        let (before, after) = (i.checked_sub(1).and_then(speed), speed(i + 1));
        match (before, after) {
            (Some(before), Some(after)) => Some(before.midpoint(after)),
            (before, after) => before.or(after),
        }
    }

    /// The steps from tooth to tooth, each with the log of the mean speed around it.
    pub fn steps(&self, marks: &Marks) -> impl Iterator<Item = (Stride, f64)> {
        self.teeth.windows(2).map(|pair| marks.step(&pair[0], &pair[1]))
    }

    /// Negative log density of its steps under these habits, less a constant.
    pub fn surprise(&self, marks: &Marks, habits: Habits) -> f64 {
        habits.cost(self.steps(marks).map(Some)).surprise
    }

    /// Roughness under these habits, missed and extra teeth, in nats per turn.
    pub fn cost_per_turn(&self, marks: &Marks, habits: Habits) -> f64 {
        let rough = habits.cost(self.steps(marks).map(Some)).nats;
        (rough + self.price_of_wrong()) / (self.degrees(marks) / TURN_DEG).max(0.5)
    }

    /// Habits as it was searched with, missed and extra teeth in nats.
    pub fn nats(&self) -> f64 {
        let rough: f64 = self.teeth.iter().map(|tooth| f64::from(tooth.rough)).sum();
        rough + self.price_of_wrong()
    }

    /// Missed and extra teeth in nats.
    pub fn price_of_wrong(&self) -> f64 {
        EXTRA_PRICE * (self.missed() + self.extra()) as f64
    }

    /// Teeth that should have been there and were not.
    pub fn missed(&self) -> usize {
        self.teeth.iter().map(|tooth| usize::from(tooth.missed)).sum()
    }

    /// Edges that are no tooth.
    pub fn extra(&self) -> usize {
        self.teeth.iter().map(|tooth| usize::from(tooth.extra)).sum()
    }
}

/// Joins stretches parted by a hole short enough that the number of turns in it is sure.
pub(super) fn join(stretches: Vec<Stretch>, marks: &Marks) -> Vec<Stretch> {
    let mut joined: Vec<Stretch> = Vec::new();
    for next in stretches {
        match joined.last_mut() {
            Some(last) => match bridge(last, &next, marks) {
                Some(periods) => last.teeth.extend(next.teeth.into_iter().map(|tooth| Tooth {
                    periods: tooth.periods.wrapping_add_signed(periods),
                    ..tooth
                })),
                None => joined.push(next),
            },
            None => joined.push(next),
        }
    }
    joined
}

/// How many periods to add to the angles of `next` so that they go on from `last`.
fn bridge(last: &Stretch, next: &Stretch, marks: &Marks) -> Option<i32> {
    let period = marks.pattern.period;
    if last.degrees(marks) < period || next.degrees(marks) < period {
        return None;
    }
    let (from, to) = (last.teeth.last()?, next.teeth.first()?);
    let before = speed(&last.teeth[last.teeth.len().saturating_sub(8)..], marks);
    let after = speed(&next.teeth[..next.teeth.len().min(8)], marks);
    if before.max(after) > HOLE_SPEED_RATIO * before.min(after) {
        return None;
    }
    let expected = before.midpoint(after) * (marks.at(to) - marks.at(from)).0;
    if expected > LONGEST_HOLE * period {
        return None;
    }
    let plain = marks.turned(to).since(marks.turned(from)).0;
    let periods = ((expected - plain) / period).round();
    let agrees = (plain + periods * period - expected).abs() < HOLE_AGREEMENT * period;
    (agrees && plain + periods * period > 0.0).then_some(periods as i32)
}

fn speed(teeth: &[Tooth], marks: &Marks) -> f64 {
    marks.between(&teeth[0], &teeth[teeth.len() - 1]).1
}
