//! The crank wheel from the intervals alone, held against every other wheel of the library.

use std::fmt;

use super::period::{Beat, beats, period};
use super::steps::Turn;
use super::turns::repeats_per_cycle;
use super::wheel_text::{COARSE, Written, of_library_teeth, of_slots, of_teeth, rivals};
use crate::crank::{CrankLock, fit, lock};
use crate::edges::{EdgeTrain, SignalShape};
use crate::engine::{Crank, Sensor};
use crate::stats::upper_median;
use crate::wheel::{EdgeKind, Wheel};

/// A wheel that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct WheelGuess {
    /// Library name, notation or description.
    pub name: String,
    /// The wheel.
    pub wheel: Wheel,
    /// What to write after `wheel = ` in an engine file.
    pub value: String,
    /// Probability against the runner-up, 0..1.
    pub confidence: f64,
    /// The library wheel that explains the signal next best.
    pub runner_up: Option<String>,
    /// The kind of sensor.
    pub sensor: Sensor,
    /// Whether a cam told how many teeth make a turn; else the usual speeds did.
    pub turn_from_cam: bool,
}

/// Why no wheel is named.
#[derive(Debug, Clone, PartialEq)]
pub enum Doubt {
    /// No channel looks like a position sensor.
    NoSignal,
    /// Too few teeth, or a pattern that never repeats.
    NoPattern,
    /// The pattern is clear, but not how many of it make a turn.
    TeethPerTurn {
        /// Teeth after which the signal repeats.
        repeats_after: usize,
    },
    /// A wheel fits, but not well enough, or another about as well.
    NotSure {
        /// The likeliest.
        best: String,
        /// The next.
        runner_up: Option<String>,
    },
}

impl fmt::Display for Doubt {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Doubt::NoSignal => out.write_str("no channel shows a position sensor's signal"),
            Doubt::NoPattern => {
                out.write_str("no pattern repeats often enough; capture more turns of steady cranking")
            }
            Doubt::TeethPerTurn { repeats_after: 1 } => out.write_str(
                "the teeth are even, and how many make a turn cannot be seen without a cam's signal in the capture",
            ),
            Doubt::TeethPerTurn { repeats_after } => write!(
                out,
                "the signal repeats after {repeats_after} teeth, and how many of that make a turn cannot be seen without a cam's \
                 signal in the capture"
            ),
            Doubt::NotSure { best, runner_up: Some(other) } => {
                write!(out, "{best} is likeliest, but {other} fits about as well")
            }
            Doubt::NotSure { best, runner_up: None } => {
                write!(out, "{best} is likeliest, but it does not fit well")
            }
        }
    }
}

/// Without a cam a pattern is taken for one turn at mean speeds up to this: starters turn engines at 140 to 300 rpm, and a
/// pattern that comes two or three times a turn would show as 280 or more (common practice, no source).
const ONE_TURN_MOST_RPM: f64 = 270.0;
/// A wheel of this many slots is taken for one turn at any speed: a finer pattern that repeats would
/// have 60 slots and more.
const FINE_SLOTS: usize = 30;
/// Speeds an engine can have, rpm.
const SPEEDS: std::ops::Range<f64> = 50.0..9000.0;
/// Shares of plain steps that differ by more than this are of teeth of different width.
const WIDTH_CODED: f64 = 0.25;
/// Odds that a wheel must reach against the runner-up, and the lock within the wheel.
const SURE: f64 = 0.99;
/// Teeth missed and edges too many, as a share of the teeth, beyond which a wheel does not fit.
const MOST_WRONG: f64 = 0.1;
/// Turns the odds are worked out over: errors repeat every turn, so that more turns are not more evidence.
const ODDS_TURNS: f64 = 2.0;
/// Most edges the runners-up are tried on.
const MOST_EDGES: usize = 1200;

/// Finds the wheel of the crank's train; `others` are the capture's other position sensors.
pub(super) fn find(
    train: &EdgeTrain,
    others: &[&EdgeTrain],
) -> Result<(WheelGuess, CrankLock), Doubt> {
    let sensor = match train.shape {
        SignalShape::Square => Sensor::Hall,
        SignalShape::Alternating => Sensor::Reluctance,
    };
    let crank = |wheel: &Wheel| Crank {
        wheel: wheel.clone(),
        sensor,
        edge: None,
        tdc: None,
        described: true,
    };
    let middle = middle_of(train);
    // Either kind of edge may be read as the mark, and give a wheel: the simpler, then the
    // one that explains the signal better, stands.
    let readings = read(train, others)?;
    // The two slopes of a Hall signal show the same gaps; those of a conditioned reluctance signal do not.
    let reluctance = sensor == Sensor::Reluctance
        || readings.windows(2).any(|two| gaps(&two[0].turn) != gaps(&two[1].turn));
    let (own, reading, written) = readings
        .into_iter()
        .filter_map(|reading| {
            let written = describe(&reading, sensor)?;
            Some((fit(&middle, &crank(&written.wheel))?, reading, written))
        })
        .min_by(|a, b| gaps(&a.1.turn).cmp(&gaps(&b.1.turn)).then(a.0.nats.total_cmp(&b.0.nats)))
        .ok_or(Doubt::NoPattern)?;
    // The wheel read and those it could be mistaken for, by what they leave unexplained and how common they are.
    let cost =
        |nats: f64, wheel: &Written| ODDS_TURNS * nats / own.turns.max(1.0) - wheel.log_prior();
    let mut tried: Vec<(f64, Written)> = rivals(&written, is_even(&reading.turn), reluctance)
        .into_iter()
        .filter_map(|other| Some((cost(fit(&middle, &crank(&other.wheel))?.nats, &other), other)))
        .collect();
    tried.push((cost(own.nats, &written), written));
    // A stable sort: of equals, the order of the library.
    tried.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut tried = tried.into_iter();
    let (least, written) = tried.next().ok_or(Doubt::NoPattern)?;
    let next = tried.next();
    let unsure =
        |runner_up: Option<String>| Doubt::NotSure { best: written.name.clone(), runner_up };
    let locked = lock(train, &crank(&written.wheel), "crank").map_err(|_| unsure(None))?;
    let wrong = (locked.missed + locked.extra) as f64 / locked.teeth_seen.max(1) as f64;
    if locked.confidence < SURE || wrong > MOST_WRONG || !SPEEDS.contains(&locked.rpm_mean.0) {
        return Err(unsure(None));
    }
    let better = next.as_ref().map_or(f64::INFINITY, |(cost, _)| cost - least);
    let confidence = locked.confidence / (1.0 + (-better).exp());
    let runner_up = next.map(|(_, wheel)| wheel.name);
    if confidence < SURE {
        return Err(unsure(runner_up));
    }
    let guess = WheelGuess {
        name: written.name,
        wheel: written.wheel,
        value: written.value,
        confidence,
        runner_up,
        sensor,
        turn_from_cam: reading.from_cam,
    };
    Ok((guess, locked))
}

/// The signal read with one kind of edge as the mark.
struct Reading {
    marked_by: EdgeKind,
    turn: Turn,
    from_cam: bool,
}

/// Reads the signal by each kind of edge, falling first: those that give a turn.
fn read(train: &EdgeTrain, others: &[&EdgeTrain]) -> Result<Vec<Reading>, Doubt> {
    let mut readings = Vec::new();
    let mut doubt = Doubt::NoPattern;
    for marked_by in [EdgeKind::Falling, EdgeKind::Rising] {
        let beats = beats(train, marked_by);
        let Some(period) = period(&beats) else { continue };
        match teeth_per_turn(&beats, period, others) {
            Some((teeth, from_cam)) => {
                let turn = Turn::of(&beats, teeth);
                readings.extend(turn.map(|turn| Reading { marked_by, turn, from_cam }));
            }
            None => doubt = Doubt::TeethPerTurn { repeats_after: period },
        }
    }
    if readings.is_empty() { Err(doubt) } else { Ok(readings) }
}

/// Steps over missing teeth. On the wrong slope of a reluctance signal, conditioned to a square wave or not, the slow swing in a gap crosses zero half-way, and
/// one gap shows as two: the reading with fewer is the right one (captures README).
fn gaps(turn: &Turn) -> usize {
    turn.slots().map_or(0, |slots| slots.counts.iter().filter(|&&count| count > 1).count())
}

fn is_even(turn: &Turn) -> bool {
    turn.slots().is_some_and(|slots| slots.counts.iter().all(|&count| count == 1))
}

/// Teeth in a turn, and whether a cam told.
fn teeth_per_turn(beats: &[Beat], period: usize, others: &[&EdgeTrain]) -> Option<(usize, bool)> {
    let turn = Turn::of(beats, period)?;
    let all: usize = turn.slots().map_or(0, |slots| slots.counts.iter().sum());
    let repeats = others.iter().filter_map(|cam| repeats_per_cycle(beats, period, cam)).max();
    if let Some(repeats) = repeats {
        // Half a cycle holds whole periods; where it does not, the cam looks the same twice.
        let teeth = if repeats % 2 == 0 { repeats / 2 * period } else { repeats * period };
        // A fine pattern is one turn whatever a wandering cam suggests: twice of it would be finer than wheels are made.
        return Some(if all >= FINE_SLOTS { (period, teeth == period) } else { (teeth, true) });
    }
    if is_even(&turn) && !width_coded(&turn) {
        return None;
    }
    let seconds =
        beats.iter().map(|beat| beat.step).sum::<f64>() * period as f64 / beats.len() as f64;
    (all >= FINE_SLOTS || 60.0 / seconds <= ONE_TURN_MOST_RPM).then_some((period, false))
}

/// Whether teeth differ in width: among steps of the commonest length the other edge comes at different shares.
fn width_coded(turn: &Turn) -> bool {
    let Some(common) = upper_median(&mut turn.steps.clone()) else { return false };
    let shares: Vec<f64> = turn
        .steps
        .iter()
        .zip(&turn.shares)
        .filter(|(step, _)| (*step / common - 1.0).abs() < 0.3)
        .map(|(_, share)| *share)
        .collect();
    let most = shares.iter().copied().fold(0.0, f64::max);
    let least = shares.iter().copied().fold(1.0, f64::min);
    most - least > WIDTH_CODED
}

/// The simplest wheel that explains the turn: equal slots where they do, listed teeth where widths or places differ.
fn describe(reading: &Reading, sensor: Sensor) -> Option<Written> {
    let turn = &reading.turn;
    let slots = turn.slots();
    if sensor == Sensor::Reluctance {
        return slots.and_then(|slots| of_slots(&slots));
    }
    let mark_rises = reading.marked_by == EdgeKind::Rising;
    let edges: Vec<(f64, bool)> =
        turn.edges().into_iter().map(|(at, mark)| (at, mark == mark_rises)).collect();
    let paired = edges.len() == 2 * turn.steps.len();
    let coded = width_coded(turn);
    if paired
        && (coded || slots.is_none() || turn.steps.len() <= COARSE)
        && let Some(known) = of_library_teeth(&edges)
    {
        return Some(known);
    }
    match slots {
        Some(slots) if !coded => of_slots(&slots),
        _ if paired => of_teeth(&edges),
        _ => None,
    }
}

/// The middle of a train, short enough to try many wheels on.
fn middle_of(train: &EdgeTrain) -> EdgeTrain {
    let spare = train.edges.len().saturating_sub(MOST_EDGES) / 2;
    EdgeTrain { edges: train.edges[spare..train.edges.len() - spare].to_vec(), ..train.clone() }
}
