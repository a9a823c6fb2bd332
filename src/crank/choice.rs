//! Which kind of edge marks the teeth, and how sure that is.
//!
//! The marking edge is the electrical edge of the signal as recorded. Stated, it is taken as
//! stated. On a real wheel the two kinds differ by 4 to 10 crank degrees, and usually only one is
//! evenly spaced: where that contradicts what is stated, the lead is inverted or the description is
//! of another car. Nothing is turned over for it; it is a finding, and every angle by the other
//! edge is given beside it. Only the zero crossing of a reluctance sensor is chosen by spacing
//! against the description: the other crossing is no tooth at all.

use super::angle::{CrankAngle, Mark};
use super::habits::Habits;
use super::polarity::from_gap;
use super::reading::Reading;
use super::stretch::Tooth;
use super::{EdgeDoubt, EdgeFrom, Polarity, WhyDoubted};
use crate::edges::{EdgeTrain, SignalShape};
use crate::engine::{Crank, Level, Sensor};
use crate::stats::median;
use crate::units::CrankDelta;
use crate::wheel::{EdgeKind, Form};

/// One edge is the marking edge without doubt when the other costs this much more per turn, in nats
/// (odds of 20 to 1 already after two turns).
const DECISIVE_PER_TURN: f64 = 1.5;
/// And this much more in proportion. Strong ripple costs both edges alike, a little more on the one
/// whose gap it meets rising; an edge that is no mark costs several times as much (recorded scatter
/// of the two: 0.041 and 0.108, 0.008 and 0.233).
const DECISIVE_SHARE: f64 = 0.5;
/// The two kinds stand as far from each other everywhere when most single distances, and the middle
/// one of every tooth, are within this share of the commonest step. Teeth as made are twice as good
/// (0.05, the scatter that the search takes for granted); recorded edges that are no marks stand
/// off by 0.14 of a step (a tooth of 30°) to half a step.
const ALIKE_SHARE: f64 = 0.1;
const MOST_ALIKE: f64 = 0.8;
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
    // Both are held to one measure: what jitters by one kind of edge and not by the other is read
    // by the other.
    let habits = readings.iter().map(|reading| reading.habits).reduce(Habits::stricter)?;
    let cost = |reading: &Reading| reading.cost_per_turn(habits) - reading.turns();
    readings.sort_by(|a, b| cost(a).total_cmp(&cost(b)));
    let by_spacing = readings.get(1).is_none_or(|other| {
        let least = readings[0].cost_per_turn(habits);
        cost(other) - cost(&readings[0]) > DECISIVE_PER_TURN.max(DECISIVE_SHARE * least)
            && !spaced_alike(&readings[0], other)
    });
    // Where spacing does not tell, the steeper passage of a reluctance sensor does, or the start of
    // an output pulse.
    let by_shape = train.marking().filter(|_| !by_spacing);
    let decisive = by_spacing || by_shape.is_some();
    let best = by_shape.unwrap_or(readings.first()?.marked_by);
    let as_teeth = matches!(crank.wheel.form(), Form::Teeth(_))
        && train.shape == SignalShape::Square
        && crank.sensor != Sensor::Pulse;
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
        let angle = other.as_ref().and_then(angle_of);
        let later = angle.as_ref().and_then(|angle| later_by_other(&reading, angle));
        EdgeDoubt { why, later, angle }
    });
    Some(Choice { reading, polarity, from, doubt })
}

/// Whether the gap shows the other level over a tooth than described, and the spacing does not say
/// that the stated edge is right all the same. Five of eight recorded cranks are low over a tooth,
/// so that the description may say which; where it does not, a signal is high, as wheels are drawn.
fn upside_down(crank: &Crank, decisive: bool, polarity: Option<Polarity>) -> bool {
    let described = match crank.level() {
        Level::Low => Polarity::Inverted,
        Level::High => Polarity::Normal,
    };
    crank.sensor == Sensor::Hall && !decisive && polarity.is_some_and(|seen| seen != described)
}

/// Which way up the signal is, where the description can be held against it.
fn polarity(
    reading: &Reading,
    train: &EdgeTrain,
    crank: &Crank,
    decisive: bool,
) -> Option<Polarity> {
    let way = |normal: bool| if normal { Polarity::Normal } else { Polarity::Inverted };
    // An output pulse is as long over a gap as anywhere.
    if crank.sensor == Sensor::Pulse {
        return None;
    }
    if train.shape == SignalShape::Alternating {
        return Some(way(crank.edge.is_none_or(|stated| stated == reading.marked_by)));
    }
    if matches!(crank.wheel.form(), Form::Teeth(_)) {
        return decisive.then(|| way(reading.marked_by == EdgeKind::Rising));
    }
    from_gap(&reading.stretch, &reading.marks, &train.edges, reading.marked_by)
}

/// Keeps the readings whose gaps are where the wheel has them, and one whose edges stand as far
/// from those of such a reading at every tooth: strong ripple that meets the gap of the one may
/// meet that of the other just so.
pub(super) fn keep_what_shows_the_wheel(readings: &mut Vec<Reading>) {
    let shows: Vec<bool> = readings.iter().map(Reading::shows_the_wheel).collect();
    let alike =
        readings.len() == 2 && shows[0] != shows[1] && spaced_alike(&readings[0], &readings[1]);
    let mut at = 0..;
    readings.retain(|_| alike || at.next().is_some_and(|at| shows[at]));
}

/// Whether both kinds of edge are spaced as the wheel is: each stands as far from its fellow at
/// every tooth. Then spacing cannot decide, whatever the two cost: strong ripple costs more by the
/// edge whose gap it meets rising.
fn spaced_alike(reading: &Reading, other: &Reading) -> bool {
    if !lost_alike(reading, other) {
        return false;
    }
    let teeth = middle_teeth(reading);
    let (Some(first), Some(last)) = (teeth.first(), teeth.last()) else { return false };
    let (from, to) = (reading.marks.at(first), reading.marks.at(last));
    let Some(angle) = laid_through(other, other.points_around(from, to)) else { return false };
    let common = reading.marks.pattern.common_step();
    let mut apart = apart(reading, &angle);
    let all: Vec<f64> = apart.iter().map(|(_, apart)| *apart).collect();
    let Some(middle) = median(&all) else { return false };
    let alike = |apart: f64| (apart - middle).abs() < ALIKE_SHARE * common;
    // Most single ones, and the middle of each tooth's.
    if all.iter().filter(|&&one| alike(one)).count() as f64 <= MOST_ALIKE * all.len() as f64 {
        return false;
    }
    apart.sort_by_key(|&(slot, _)| slot);
    apart.chunk_by(|a, b| a.0 == b.0).all(|tooth| {
        let tooth: Vec<f64> = tooth.iter().map(|(_, apart)| *apart).collect();
        median(&tooth).is_none_or(alike)
    })
}

/// Whether as many teeth are lost and edges too many by both, over what both read: one may go on
/// where the engine stopped and turned again, and teeth lost there say nothing about the two edges.
fn lost_alike(reading: &Reading, other: &Reading) -> bool {
    let span = |reading: &Reading| reading.stretch.span(&reading.marks);
    let (one, two) = (span(reading), span(other));
    let (from, to) = (one.0.0.max(two.0.0), one.1.0.min(two.1.0));
    let lost = |reading: &Reading| -> usize {
        let within = |tooth: &&Tooth| (from..=to).contains(&reading.marks.at(tooth).0);
        // The first one's losses lie before it.
        let teeth = reading.stretch.teeth.iter().filter(within).skip(1);
        teeth.map(|tooth| usize::from(tooth.missed) + usize::from(tooth.extra)).sum()
    };
    lost(reading) == lost(other)
}

/// The crank's angle by a reading.
fn angle_of(reading: &Reading) -> Option<CrankAngle> {
    laid_through(reading, reading.points())
}

/// The same by some of its teeth.
fn laid_through(reading: &Reading, points: Vec<Mark>) -> Option<CrankAngle> {
    let pattern = &reading.marks.pattern;
    CrankAngle::through(points, CrankDelta(pattern.period), pattern.longest_step())
}

/// How much later everything stands when the crank is read by the other edge, turned round. `None`
/// where the two never overlap.
fn later_by_other(reading: &Reading, other: &CrankAngle) -> Option<CrankDelta> {
    let apart: Vec<f64> = apart(reading, other).into_iter().map(|(_, apart)| apart).collect();
    median(&apart).map(|apart| CrankDelta(apart).wrap(CrankDelta(reading.marks.pattern.period)))
}

fn middle_teeth<'a>(reading: &'a Reading) -> &'a [Tooth] {
    let teeth = &reading.stretch.teeth;
    let spare = teeth.len().saturating_sub(MOST_TEETH) / 2;
    &teeth[spare..teeth.len() - spare]
}

/// Of teeth in the middle of a reading, the slot and how much later the other edge's marks have it
/// than its own.
fn apart(reading: &Reading, other: &CrankAngle) -> Vec<(u16, f64)> {
    let period = CrankDelta(reading.marks.pattern.period);
    let mut apart: Vec<(u16, f64)> = Vec::new();
    for tooth in middle_teeth(reading) {
        if let Some(by_other) = other.angle_at(reading.marks.at(tooth)) {
            let later = by_other.since(reading.marks.turned(tooth)).wrap(period).0;
            // Half a period apart wraps either way: counted from one of them they stay together.
            let first = apart.first().map_or(later, |(_, first)| *first);
            apart.push((tooth.slot, first + CrankDelta(later - first).wrap(period).0));
        }
    }
    apart
}
