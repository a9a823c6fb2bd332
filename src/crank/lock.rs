//! From the edges of the crank lead to a [`CrankLock`]: which stretch of the capture is used, how
//! sure the slots are, how fast and how evenly it turned.

use super::angle::{CrankAngle, Mark};
use super::choice::{Choice, choose, keep_what_shows_the_wheel};
use super::jitter::jitter;
use super::pattern::period;
use super::reading::{LEAST_TURNS, Reading, read_both};
use super::search::FASTEST;
use super::{Condition, CrankError, CrankLock};
use crate::edges::EdgeTrain;
use crate::engine::Crank;
use crate::units::{CrankDelta, Rpm, TURN_DEG};

/// A tooth comes and goes.
const EDGES_A_TOOTH: usize = 2;
/// Above this the engine runs by itself: starters turn engines at 140 to 300 rpm, idle is 500 and
/// more (common practice, no source).
const STARTER_MOST_RPM: f64 = 400.0;
/// Marks that scatter by more than this share of the wheel's shortest step give no speed from one
/// to the next: it would be off by a quarter, as much as an engine's own ripple.
const SCATTERED_SHARE: f64 = 0.18;
/// Shorter speeds than this, in crank degrees, are tooth scatter rather than speed.
const SPEED_WINDOW_DEG: f64 = 90.0;

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
    // Two edges a tooth, at a speed no crank reaches.
    let most = 2.0 * crank.wheel.tooth_count() as f64 * FASTEST / TURN_DEG;
    let rate = train.edges.len() as f64 / length.max(1e-9);
    if rate > most {
        return Err(CrankError::TooManyEdges { lead: lead.to_owned(), per_second: rate });
    }
    let never = || CrankError::NeverLocks {
        lead: lead.to_owned(),
        wheel: crank.wheel.name().to_owned(),
        edges: train.edges.len(),
    };
    // A reading whose gaps are not where the wheel has them is none, however smooth its speed: on a
    // reluctance wheel the other passage has no long step at the gap, and bridging it can cost less
    // than the roughness of the right one.
    let mut readings = read_both(train, crank);
    readings.retain(|reading| !reading.is_noise());
    keep_what_shows_the_wheel(&mut readings);
    let choice = choose(readings, train, crank).ok_or_else(never)?;
    let turns = choice.reading.turns();
    if turns < LEAST_TURNS {
        // A signal of which most edges are not the wheel's is not too short: it is another one.
        if EDGES_A_TOOTH * choice.reading.stretch.teeth.len() < train.edges.len() / 2 {
            return Err(never());
        }
        return Err(CrankError::TooShort { turns });
    }
    describe(choice).ok_or_else(never)
}

/// Puts the chosen stretch into figures.
fn describe(choice: Choice) -> Option<CrankLock> {
    let Choice { reading, polarity, from, doubt } = choice;
    let marks = reading.points();
    let (rpm_mean, rpm_min, rpm_max) = speeds(&marks)?;
    let (first, last) = reading.stretch.span(&reading.marks);
    let Reading { marked_by, stretch, .. } = &reading;
    let pattern = &reading.marks.pattern;
    let shortest = (0..pattern.len()).map(|mark| pattern.advance(mark, 1)).fold(TURN_DEG, f64::min);
    let jitter = jitter(&marks);
    let scattered = jitter.is_some_and(|jitter| jitter > SCATTERED_SHARE * shortest);
    let angle = CrankAngle::through(marks, period(pattern), pattern.longest_step())?;
    Some(CrankLock {
        confidence: reading.confidence(),
        marking_edge: *marked_by,
        edge_from: from,
        edge_doubt: doubt,
        polarity,
        teeth_seen: stretch.teeth.len(),
        missed: stretch.missed(),
        extra: stretch.extra(),
        jitter: jitter.map(CrankDelta),
        rpm_mean,
        rpm_min,
        rpm_max,
        condition: condition(rpm_min, rpm_max),
        seconds_used: last - first,
        angle: if scattered { angle.with_steady_slopes() } else { angle },
    })
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
