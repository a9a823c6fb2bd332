//! From the edges of the crank lead to a [`CrankLock`]: which edge marks the teeth, which stretch
//! of the capture is used, how sure the slots are.

use rayon::prelude::*;

use super::angle::{CrankAngle, Mark};
use super::identify::{confidence, identify};
use super::pattern::{Pattern, pattern, period};
use super::polarity::from_gap;
use super::stretch::{Stretch, join, span};
use super::{Condition, CrankError, CrankLock, Polarity};
use crate::edges::{Edge, EdgeTrain};
use crate::engine::{Crank, Sensor};
use crate::units::{CrankDelta, Rpm, TURN_DEG};
use crate::wheel::{EdgeKind, Form};

/// Least share of the telling steps that must look as the wheel says. A wrong wheel shows its gaps
/// elsewhere and reaches almost none; the right one in a bad capture loses a few.
const LEAST_TELLING_SHARE: f64 = 0.6;
/// Least turns that can be judged.
const LEAST_TURNS: f64 = 2.0;
/// One edge is the marking edge without doubt when the other costs this much more per turn, in nats
/// (odds of 20 to 1 already after two turns).
const DECISIVE_PER_TURN: f64 = 1.5;
/// Above this the engine runs by itself: starters turn engines at 140 to 300 rpm, idle is 500 and more
/// (common practice, no source).
const STARTER_MOST_RPM: f64 = 400.0;
/// Turns on each side of the middle over which the confidence is worked out.
const CONFIDENCE_TURNS: usize = 2;
/// Shorter speeds than this, in crank degrees, are tooth scatter rather than speed.
const SPEED_WINDOW_DEG: f64 = 90.0;

/// A reading of the signal with the stretch it gives.
struct Reading {
    marked_by: EdgeKind,
    pattern: Pattern,
    edges: Vec<Edge>,
    stretch: Stretch,
}

/// Locks to the crank wheel. `lead` names the lead in messages.
///
/// # Errors
/// [`CrankError`] when the signal does not turn, never locks, or covers under two turns.
pub fn lock(train: &EdgeTrain, crank: &Crank, lead: &str) -> Result<CrankLock, CrankError> {
    let length = match (train.edges.first(), train.edges.last()) {
        (Some(first), Some(last)) => (last.at - first.at).0,
        _ => 0.0,
    };
    // Fewer edges than half a turn of teeth cannot hold two turns.
    if train.edges.len() < crank.wheel.tooth_count().max(4) {
        let edges = train.edges.len();
        return Err(CrankError::NoRotation { lead: lead.to_owned(), edges, seconds: length });
    }
    let readings: Vec<Reading> = [EdgeKind::Falling, EdgeKind::Rising]
        .into_par_iter()
        .filter_map(|marked_by| read(train, crank, marked_by))
        .collect();
    let never = || CrankError::NeverLocks {
        lead: lead.to_owned(),
        wheel: crank.wheel.name().to_owned(),
        edges: train.edges.len(),
    };
    // A reading whose gaps are not where the wheel has them is none, however smooth its speed: on a reluctance wheel
    // the other passage has no long step at the gap, and bridging it can cost less than the roughness of the right one.
    let readings: Vec<Reading> = readings
        .into_iter()
        .filter(|reading| reading.stretch.telling_share(&reading.pattern) >= LEAST_TELLING_SHARE)
        .collect();
    let choice = choose(readings, train, crank).ok_or_else(never)?;
    let turns = choice.reading.stretch.degrees() / TURN_DEG;
    if turns < LEAST_TURNS {
        return Err(CrankError::TooShort { turns });
    }
    describe(&choice).ok_or_else(never)
}

/// Reads the train with one kind of edge as the mark and keeps the longest stretch.
fn read(train: &EdgeTrain, crank: &Crank, marked_by: EdgeKind) -> Option<Reading> {
    let pattern = pattern(crank, train.shape, marked_by);
    let edges: Vec<Edge> =
        train.edges.iter().copied().filter(|edge| pattern.kinds.contains(&edge.kind)).collect();
    let mut stretches: Vec<Stretch> = identify(&edges, &pattern)
        .iter()
        .flat_map(|assigned| {
            Stretch::build(assigned, &edges, &pattern).split_at_stops(pattern.period)
        })
        .collect();
    stretches.retain(|stretch| stretch.teeth.len() >= 2);
    let stretch = join(stretches, pattern.period)
        .into_iter()
        .max_by(|a, b| a.degrees().total_cmp(&b.degrees()))?;
    Some(Reading { marked_by, pattern, edges, stretch })
}

/// The reading that stands, and how it was chosen.
struct Choice {
    reading: Reading,
    polarity: Option<Polarity>,
    edge_assumed: Option<CrankDelta>,
}

/// Chooses the marking edge: by fit when that decides; else as the description states it, the right way up;
/// else falling.
fn choose(mut readings: Vec<Reading>, train: &EdgeTrain, crank: &Crank) -> Option<Choice> {
    let cost =
        |reading: &Reading| reading.stretch.cost_per_turn() - reading.stretch.degrees() / TURN_DEG;
    readings.sort_by(|a, b| cost(a).total_cmp(&cost(b)));
    let mut readings = readings.into_iter();
    let best = readings.next()?;
    let other = readings.next();
    let decisive = other.as_ref().is_none_or(|other| cost(other) - cost(&best) > DECISIVE_PER_TURN);
    let as_teeth = matches!(crank.wheel.form(), Form::Teeth(_));
    // For teeth the reading itself says which way up the signal is.
    if as_teeth && crank.sensor == Sensor::Hall {
        let up =
            if best.marked_by == EdgeKind::Rising { Polarity::Normal } else { Polarity::Inverted };
        let polarity = decisive.then_some(up);
        return Some(Choice { reading: best, polarity, edge_assumed: None });
    }
    if crank.sensor == Sensor::Reluctance {
        let stated = crank.edge.unwrap_or(best.marked_by);
        return Some(match other {
            // A tie: what the description says.
            Some(other) if !decisive && other.marked_by == stated => {
                Choice { reading: other, polarity: Some(Polarity::Normal), edge_assumed: None }
            }
            _ => {
                let turned = best.marked_by != stated;
                let polarity = if turned { Polarity::Inverted } else { Polarity::Normal };
                Choice { reading: best, polarity: Some(polarity), edge_assumed: None }
            }
        });
    }
    let gap = from_gap(&best.stretch, &train.edges, &best.pattern, best.marked_by);
    let polarity = gap.map(|(polarity, _)| polarity);
    let upright = |edge: EdgeKind| match polarity {
        Some(Polarity::Inverted) => edge.opposite(),
        _ => edge,
    };
    let wanted = match crank.edge {
        Some(stated) => upright(stated),
        None if decisive => best.marked_by,
        None => upright(EdgeKind::Falling),
    };
    let assumed = crank.edge.is_none() && !decisive;
    let edge_assumed = assumed.then(|| CrankDelta(gap.map_or(f64::NAN, |(_, width)| width)));
    let edge_assumed = edge_assumed.filter(|width| width.0.is_finite());
    let reading = match other {
        Some(other) if other.marked_by == wanted => other,
        _ => best,
    };
    Some(Choice { reading, polarity, edge_assumed })
}

/// Puts the chosen stretch into figures.
fn describe(choice: &Choice) -> Option<CrankLock> {
    let Reading { marked_by, pattern, edges, stretch } = &choice.reading;
    let marks: Vec<Mark> = stretch.teeth.iter().map(|tooth| tooth.mark).collect();
    let (rpm_mean, rpm_min, rpm_max) = speeds(&marks)?;
    let (first, last) = span(stretch);
    Some(CrankLock {
        confidence: lock_confidence(stretch, edges, pattern),
        marking_edge: *marked_by,
        polarity: choice.polarity,
        edge_assumed: choice.edge_assumed,
        teeth_seen: marks.len(),
        missed: stretch.teeth.iter().map(|tooth| tooth.missed).sum(),
        extra: stretch.teeth.iter().map(|tooth| tooth.extra).sum(),
        rpm_mean,
        rpm_min,
        rpm_max,
        condition: condition(rpm_min, rpm_max),
        seconds_used: last - first,
        angle: CrankAngle::through(marks, period(pattern), longest_step(pattern))?,
    })
}

fn longest_step(pattern: &Pattern) -> CrankDelta {
    CrankDelta((0..pattern.len()).map(|mark| pattern.advance(mark, 1)).fold(0.0, f64::max))
}

fn condition(slowest: Rpm, fastest: Rpm) -> Condition {
    if fastest.0 < STARTER_MOST_RPM {
        Condition::Cranking
    } else if slowest.0 > STARTER_MOST_RPM {
        Condition::Running
    } else {
        Condition::Mixed
    }
}

/// The odds of the middle of the stretch, lowered by the share of telling steps that do not fit.
fn lock_confidence(stretch: &Stretch, edges: &[Edge], pattern: &Pattern) -> f64 {
    let middle = &stretch.teeth[stretch.teeth.len() / 2];
    let per_turn = pattern.len() * (TURN_DEG / pattern.period).round() as usize;
    let reach = CONFIDENCE_TURNS * per_turn;
    let from = middle.edge.saturating_sub(reach).max(stretch.teeth[0].edge);
    let to = (middle.edge + reach).min(stretch.teeth[stretch.teeth.len() - 1].edge);
    let odds = confidence(&edges[from..=to], pattern, middle.edge - from, middle.slot);
    let share = stretch.telling_share(pattern);
    // A single mark fits any even train: only its evenness speaks for it.
    if pattern.len() == 1 { share } else { odds }
}

/// Mean, least and greatest speed over windows of a quarter turn.
fn speeds(marks: &[Mark]) -> Option<(Rpm, Rpm, Rpm)> {
    let between = |a: &Mark, b: &Mark| Rpm::from_travel(b.turned.since(a.turned), b.at - a.at);
    let mean = between(marks.first()?, marks.last()?)?;
    let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
    let mut from = 0;
    for to in 1..marks.len() {
        while marks[to].turned.since(marks[from + 1].turned).0 >= SPEED_WINDOW_DEG {
            from += 1;
        }
        if marks[to].turned.since(marks[from].turned).0 >= SPEED_WINDOW_DEG
            && let Some(rpm) = between(&marks[from], &marks[to])
        {
            least = least.min(rpm.0);
            most = most.max(rpm.0);
        }
    }
    least.is_finite().then_some((mean, Rpm(least), Rpm(most)))
}
