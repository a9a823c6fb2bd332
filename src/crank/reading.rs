//! The crank signal read with one kind of edge as the mark.

use std::ops::Range;

use super::angle::Mark;
use super::cycle::{COARSE, by_cycles};
use super::habits::Habits;
use super::identify::{confidence, identify};
use super::marks::Marks;
use super::pattern::pattern;
use super::stretch::{Stretch, join};
use crate::edges::{EdgeTrain, SignalShape};
use crate::engine::{Crank, Sensor};
use crate::stats::median;
use crate::units::{Seconds, TURN_DEG};
use crate::wheel::EdgeKind;

/// Least turns that can be judged.
pub(super) const LEAST_TURNS: f64 = 2.0;
/// Least share of the telling steps that must look as the wheel says. A wrong wheel shows its gaps
/// elsewhere and reaches almost none; the right one in a bad capture loses a few.
pub(super) const LEAST_TELLING_SHARE: f64 = 0.6;
/// A tooth less likely than this to be the one it was taken for is not sure: the same bound as for
/// the verdict.
pub(super) const SURE: f64 = 0.99;
/// A wheel that stands so as likely as not.
const LIKELIER_THAN_NOT: f64 = 0.5;
/// Places along a stretch whose odds are worked out where those of the middle are not sure.
const PLACES: usize = 5;
/// Turns on each side of a place over which the confidence is worked out.
const CONFIDENCE_TURNS: usize = 2;
/// The same on a coarse wheel, together one cycle. Its steps span whole compressions, whose swing
/// comes again every cycle: more of them are the same evidence once more, and not more evidence.
const COARSE_CONFIDENCE_TURNS: usize = 1;
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
    /// Of each tooth, whether it may be another one: see [`Reading::points`].
    pub(super) doubted: Vec<bool>,
    /// Probability that the wheel stands so, where it is what comes again every cycle that tells.
    pub by_cycles: Option<f64>,
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
    let read_anew = || Marks::of(train, pattern(crank, train.shape, marked_by));
    let marks = read_anew();
    let lasting = || lasting(train, crank, &marks);
    let cycles = by_cycles(&marks, lasting);
    let by_steps = read_by_steps(marks, marked_by);
    let reads = |reading: &Reading| reading.shows_the_wheel() && !reading.is_noise();
    // What the cycles leave open stands where the steps show nothing: the wheel may be the one that
    // is described, and how likely it stands so is said.
    let least = if by_steps.as_ref().is_some_and(reads) { SURE } else { LIKELIER_THAN_NOT };
    match (by_steps, cycles.filter(|(_, odds)| *odds >= least)) {
        (Some(reading), Some((stretch, odds)))
            if reading.stands_as(&stretch) && reads(&reading) =>
        {
            Some(Reading { by_cycles: Some(odds), ..reading })
        }
        (by_steps, Some((stretch, odds))) => {
            let marks = by_steps.map_or_else(read_anew, |reading| reading.marks);
            let (doubted, by_cycles) = (Vec::new(), Some(odds));
            let habits = Habits::WILD;
            let mut reading = Reading { marked_by, marks, habits, stretch, doubted, by_cycles };
            reading.doubted = reading.teeth_unlike_other_cycles();
            Some(reading)
        }
        (by_steps, None) => by_steps,
    }
}

/// For each mark how long the level that begins with it lasts, in seconds. Nothing where it tells
/// nothing of teeth: where both edges of a tooth are marks, an output pulse is as long at any
/// speed, or a voltage that comes and goes with the speed passes zero elsewhere.
fn lasting(train: &EdgeTrain, crank: &Crank, marks: &Marks) -> Vec<Option<f64>> {
    let marking = marks.pattern.kinds[0];
    let of_one_kind = marks.pattern.kinds.iter().all(|kind| *kind == marking);
    if !of_one_kind || train.shape != SignalShape::Square || crank.sensor == Sensor::Pulse {
        return Vec::new();
    }
    let edges = &train.edges;
    (0..edges.len())
        .filter(|&at| edges[at].kind == marking)
        .map(|at| Some((edges.get(at + 1)?.at - edges[at].at).0))
        .collect()
}

fn read_by_steps(marks: Marks, marked_by: EdgeKind) -> Option<Reading> {
    let (stretches, habits) = identify(&marks);
    let mut parts: Vec<Stretch> = stretches
        .into_iter()
        .flat_map(|stretch| stretch.split_at_stops(&marks))
        .flat_map(|stretch| stretch.split_where_unseen(&marks))
        .collect();
    parts.retain(|stretch| stretch.teeth.len() >= 2);
    let can_be_judged = |stretch: &Stretch| {
        stretch.degrees(&marks) >= LEAST_TURNS * TURN_DEG
            && stretch.telling_share(&marks) >= least_telling_share(habits)
    };
    let (_, _, stretch) = join(parts, &marks)
        .into_iter()
        .map(|stretch| stretch.without_unproven_ends(&marks).without_leap(&marks))
        .map(|stretch| stretch.without_unsure_ends(&marks, habits))
        .map(|stretch| (can_be_judged(&stretch), stretch.degrees(&marks), stretch))
        .max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)))?;
    let (doubted, by_cycles) = (Vec::new(), None);
    let mut reading = Reading { marked_by, marks, habits, stretch, doubted, by_cycles };
    reading.doubted = reading.doubtful_teeth();
    Some(reading.without_unsure_holes())
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

    /// Whether its teeth are the same as those of a stretch, by the middle one of that.
    fn stands_as(&self, other: &Stretch) -> bool {
        let middle = &other.teeth[other.teeth.len() / 2];
        self.stretch
            .teeth
            .iter()
            .any(|tooth| (tooth.edge, tooth.slot) == (middle.edge, middle.slot))
    }

    /// The identified teeth as time and angle, but for those near slips that may be others.
    pub fn points(&self) -> Vec<Mark> {
        self.points_of(0..self.stretch.teeth.len())
    }

    /// Those between two instants, and so many on each side that a curve through them is as it
    /// would be through all: each knot further off counts for a quarter of the one before.
    pub fn points_around(&self, from: Seconds, to: Seconds) -> Vec<Mark> {
        const BESIDE: usize = 64;
        let teeth = &self.stretch.teeth;
        let first = teeth.partition_point(|tooth| self.marks.at(tooth) < from);
        let last = teeth.partition_point(|tooth| self.marks.at(tooth) <= to);
        self.points_of(first.saturating_sub(BESIDE)..(last + BESIDE).min(teeth.len()))
    }

    fn points_of(&self, teeth: Range<usize>) -> Vec<Mark> {
        let mark = |tooth| Mark { at: self.marks.at(tooth), turned: self.marks.turned(tooth) };
        let doubted = &self.doubted[teeth.clone()];
        let kept = self.stretch.teeth[teeth].iter().zip(doubted).filter(|(_, doubted)| !**doubted);
        let mut points = Vec::with_capacity(doubted.iter().filter(|doubted| !**doubted).count());
        points.extend(kept.map(|(tooth, _)| mark(tooth)));
        points
    }

    /// Probability that the slots are identified rightly: the odds of a typical tooth.
    ///
    /// That of the middle one stands where it is sure. Where not, it may only be that one edge that
    /// came late, or a tooth beside one that was missed: the middle one of several places says what
    /// the stretch is like.
    pub fn confidence(&self) -> f64 {
        if let Some(odds) = self.by_cycles {
            return odds;
        }
        // A single mark fits any even train: what speaks for it is that an even wheel explains the
        // steps and chance does not, and that no tooth is missed where another wheel has a gap.
        // How rough its steps are is no measure: an engine that springs from compression to
        // compression, or an edge that jitters, makes one step in ten a rough one.
        if self.marks.pattern.len() == 1 {
            return self.stretch.whole_share() / (1.0 + (-self.better_than_noise()).exp());
        }
        let count = self.stretch.teeth.len();
        let middle = self.confidence_at(count / 2);
        if middle >= SURE {
            return middle;
        }
        let place = |part: usize| self.confidence_at(count * part / (PLACES + 1));
        let odds: Vec<f64> = (1..=PLACES).map(place).collect();
        median(&odds).unwrap_or(middle)
    }

    /// Probability that one tooth is the one it was taken for.
    fn confidence_at(&self, tooth: usize) -> f64 {
        let teeth = &self.stretch.teeth;
        let middle = &teeth[tooth];
        let coarse = self.marks.pattern.common_step() > COARSE;
        let turns = if coarse { COARSE_CONFIDENCE_TURNS } else { CONFIDENCE_TURNS };
        let reach =
            (turns * self.marks.per_turn()).min(MOST_CONFIDENCE_STATES / self.marks.pattern.len());
        let at = middle.edge as usize;
        let from = at.saturating_sub(reach).max(teeth[0].edge as usize);
        let to = (at + reach).min(teeth[teeth.len() - 1].edge as usize);
        confidence(
            &self.marks.edges.part(from..to + 1),
            &self.marks.pattern,
            self.habits,
            at - from,
            usize::from(middle.slot),
        )
    }

    /// Whether enough of the steps that tell the wheel's parts apart look as the wheel says.
    pub fn shows_the_wheel(&self) -> bool {
        self.by_cycles.is_some() || self.telling_share() >= least_telling_share(self.habits)
    }
}

/// Least share of the telling steps that must look as the wheel says. An engine that springs from
/// its compressions hides a gap that passes with one of them: where the compressions stand in one
/// turn of a cycle they need not stand in the other, so that half the gaps may be hidden.
fn least_telling_share(habits: Habits) -> f64 {
    if habits.is_wild() { LEAST_TELLING_SHARE / 2.0 } else { LEAST_TELLING_SHARE }
}
