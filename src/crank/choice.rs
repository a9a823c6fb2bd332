//! Which kind of edge marks the teeth, and how sure that is.
//!
//! The marking edge is the electrical edge of the signal as recorded. Stated, it is taken as stated. On a real wheel the
//! two kinds differ by 4 to 10 crank degrees, and usually only one is evenly spaced: where that contradicts what is
//! stated, the lead is inverted or the description is of another car. Nothing is turned over for it; it is a finding, and
//! every angle by the other edge is given beside it. Only the zero crossing of a reluctance sensor is chosen by
//! spacing against the description: the other crossing is no tooth at all.

use super::angle::CrankAngle;
use super::habits::Habits;
use super::polarity::from_gap;
use super::reading::Reading;
use super::{EdgeDoubt, EdgeFrom, Polarity, WhyDoubted};
use crate::edges::{EdgeTrain, SignalShape};
use crate::engine::{Crank, Sensor};
use crate::stats::median;
use crate::units::CrankDelta;
use crate::wheel::{EdgeKind, Form};

/// One edge is the marking edge without doubt when the other costs this much more per turn, in nats
/// (odds of 20 to 1 already after two turns).
const DECISIVE_PER_TURN: f64 = 1.5;
/// Teeth that the distance between the two kinds of edge is taken from, at most.
const MOST_TEETH: usize = 2000;

/// The reading that stands, and how it was chosen.
pub(super) struct Choice<'a> {
    pub reading: Reading<'a>,
    pub polarity: Option<Polarity>,
    pub from: EdgeFrom,
    pub doubt: Option<EdgeDoubt>,
}

/// Chooses between the readings by falling and by rising edges; `None` without any.
pub(super) fn choose<'a>(
    mut readings: Vec<Reading<'a>>,
    train: &EdgeTrain,
    crank: &Crank,
) -> Option<Choice<'a>> {
    // Both are held to one measure: what jitters by one kind of edge and not by the other is read by the other.
    let habits = readings.iter().map(|reading| reading.habits).reduce(Habits::stricter)?;
    let cost = |reading: &Reading| reading.cost_per_turn(habits) - reading.turns();
    readings.sort_by(|a, b| cost(a).total_cmp(&cost(b)));
    let by_spacing =
        readings.get(1).is_none_or(|other| cost(other) - cost(&readings[0]) > DECISIVE_PER_TURN);
    // Where spacing does not tell, the steeper passage of a reluctance sensor does, or the start of an output pulse.
    let by_shape = train.marking().filter(|_| !by_spacing);
    let decisive = by_spacing || by_shape.is_some();
    let best = by_shape.unwrap_or(readings.first()?.marked_by);
    let as_teeth =
        matches!(crank.wheel.form(), Form::Teeth(_)) && train.shape == SignalShape::Square;
    let alternating = train.shape == SignalShape::Alternating;
    // For teeth the reading itself says which way up the signal is: by rising edges as described.
    let described = if as_teeth { Some(EdgeKind::Rising) } else { crank.edge };
    let wanted = match described {
        Some(_) if decisive && (as_teeth || alternating) => best,
        Some(stated) => stated,
        None if decisive => best,
        None => EdgeKind::Falling,
    };
    let at = readings.iter().position(|reading| reading.marked_by == wanted).unwrap_or(0);
    let reading = readings.swap_remove(at);
    let other = readings.pop();
    let chosen = reading.marked_by;
    let polarity = polarity(&reading, train, crank, decisive);
    let why = match described {
        None if decisive => None,
        None => Some(WhyDoubted::Unstated),
        Some(_) if as_teeth => (!decisive).then_some(WhyDoubted::Unstated),
        Some(stated) if chosen != stated || (decisive && best != stated) => {
            let against = if alternating {
                WhyDoubted::WiresExchanged
            } else {
                WhyDoubted::SpacingContradicts
            };
            Some(against)
        }
        Some(_) if upside_down(crank, decisive, polarity) => Some(WhyDoubted::OtherWayUp),
        Some(_) => None,
    };
    let from = match described {
        _ if as_teeth => EdgeFrom::Wheel,
        Some(stated) if stated == chosen => EdgeFrom::Stated,
        _ if decisive => EdgeFrom::Spacing,
        _ => EdgeFrom::Assumed,
    };
    let doubt = why.map(|why| {
        let angle = other.and_then(|other| {
            CrankAngle::through(
                other.points(),
                CrankDelta(other.marks.pattern.period),
                other.marks.pattern.longest_step(),
            )
        });
        let later = angle.as_ref().and_then(|angle| later_by_other(&reading, angle));
        EdgeDoubt { why, later, angle }
    });
    Some(Choice { reading, polarity, from, doubt })
}

/// Whether the signal is low over a tooth where the description has it high, and the spacing does not say that the stated
/// edge is right all the same.
fn upside_down(crank: &Crank, decisive: bool, polarity: Option<Polarity>) -> bool {
    polarity == Some(Polarity::Inverted)
        && crank.sensor == Sensor::Hall
        && crank.wheel.has_widths()
        && !decisive
}

/// Which way up the signal is, where the description can be held against it.
fn polarity(
    reading: &Reading,
    train: &EdgeTrain,
    crank: &Crank,
    decisive: bool,
) -> Option<Polarity> {
    let way = |normal: bool| if normal { Polarity::Normal } else { Polarity::Inverted };
    if train.shape == SignalShape::Alternating {
        return Some(way(crank.edge.is_none_or(|stated| stated == reading.marked_by)));
    }
    if matches!(crank.wheel.form(), Form::Teeth(_)) {
        return decisive.then(|| way(reading.marked_by == EdgeKind::Rising));
    }
    from_gap(&reading.stretch, &reading.marks, &train.edges, reading.marked_by)
}

/// How much later everything stands when the crank is read by the other edge: its marks less this reading's, turned round.
/// `None` where the two never overlap.
fn later_by_other(reading: &Reading, other: &CrankAngle) -> Option<CrankDelta> {
    let teeth = &reading.stretch.teeth;
    let spare = teeth.len().saturating_sub(MOST_TEETH) / 2;
    let period = CrankDelta(reading.marks.pattern.period);
    let mut apart: Vec<f64> = Vec::new();
    for tooth in &teeth[spare..teeth.len() - spare] {
        if let Some(by_other) = other.angle_at(reading.marks.at(tooth)) {
            apart.push(by_other.since(reading.marks.turned(tooth)).wrap(period).0);
        }
    }
    // Half a period apart wraps either way: counted from one of them they stay together.
    let first = *apart.first()?;
    let near: Vec<f64> =
        apart.iter().map(|apart| first + CrankDelta(apart - first).wrap(period).0).collect();
    median(&near).map(|apart| CrankDelta(apart).wrap(period))
}
