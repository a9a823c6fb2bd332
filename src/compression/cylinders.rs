//! Which cylinder is which.
//!
//! With `tdc` and the cams' 720° phase every compression has its cylinder. Without the phase, or
//! without `tdc`, several places for cylinder 1 remain; an ignition lead on a named cylinder
//! strikes some out. What all remaining places agree on is known; the rest is said to be unknown.

use super::input::{Trigger, TriggerLead};
use crate::angle::{BURST_DEG, pointed_at};
use crate::engine::Engine;
use crate::units::{CYCLE_DEG, CrankDelta, TURN_DEG};

/// Two TDCs closer than this are the same one: below half the interval of any engine, above the
/// error of TDC found from the motion.
const SAME_TDC: f64 = 15.0;
/// A spark comes this many crank degrees before TDC of its cylinder: from a little after it (late,
/// while cranking) to well before (common practice, no source).
const SPARK_BEFORE_TDC: std::ops::RangeInclusive<f64> = -10.0..=60.0;

/// How the compressions were given their cylinders.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NamedBy {
    /// `tdc` of the engine file and the phase of the cams.
    Phase,
    /// The uneven firing itself, which fits the motion one way only.
    FiringPattern,
    /// The ignition lead of this cylinder.
    Ignition {
        /// The cylinder.
        cylinder: u32,
        /// It sparks every turn (waste spark), so it names the cylinder or its companion.
        waste_spark: bool,
    },
    /// The injector lead of this cylinder.
    Injector {
        /// The cylinder.
        cylinder: u32,
        /// It opens every turn, so it names the cylinder or its companion.
        every_turn: bool,
    },
    /// The pressure lead of this cylinder.
    Pressure {
        /// The cylinder.
        cylinder: u32,
    },
    /// Nothing: compressions are numbered in the order in which they come.
    Nothing,
}

/// Name of one compression.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Name {
    /// Its cylinder, where that is known.
    pub cylinder: Option<u32>,
    /// Its bank, where that is known.
    pub bank: Option<u32>,
    /// Which compressions share a bank: equal numbers do, though the bank may not be known. Absent
    /// when not even that is unambiguous.
    pub group: Option<u32>,
}

/// Rotations, in crank degrees, that bring the firing pattern onto itself; 0 first.
pub(super) fn symmetries(engine: &Engine) -> Vec<f64> {
    let angles: Vec<f64> = engine.firing_angles.iter().map(|angle| angle.0).collect();
    angles.iter().copied().filter(|&by| same_pattern(&angles, by)).collect()
}

/// Whether turning the firing pattern by an angle leaves a compression at each of the same places.
pub(super) fn same_pattern(angles: &[f64], by: f64) -> bool {
    angles.iter().all(|a| angles.iter().any(|b| wrap(a + by - b, CYCLE_DEG).abs() < 1.0))
}

/// Places of cylinder 1's firing TDC that an ignition lead allows; all of them when it allows none
/// or is absent.
pub(super) fn allowed_by_ignition(
    engine: &Engine,
    places: &[f64],
    trigger: Option<(&TriggerLead, &[f64])>,
) -> (Vec<f64>, Option<NamedBy>) {
    let keep_all = (places.to_vec(), None);
    let Some((lead, sparks)) = trigger else { return keep_all };
    let sparks = first_of_bursts(sparks);
    let Some(position) = engine.firing_order.iter().position(|&c| c == lead.cylinder) else {
        return keep_all;
    };
    let Some((every_turn, _)) = place_of(&sparks) else { return keep_all };
    let waste_spark = lead.waste_spark || every_turn;
    let period = if waste_spark { TURN_DEG } else { CYCLE_DEG };
    let fits = |place: &&f64| {
        let tdc = **place + engine.firing_angles[position].0;
        let before: Vec<f64> = sparks.iter().map(|spark| wrap(tdc - spark, period)).collect();
        super::stats::median(&before).is_some_and(|lead| SPARK_BEFORE_TDC.contains(&lead))
    };
    let kept: Vec<f64> = places.iter().filter(fits).copied().collect();
    if kept.is_empty() {
        return keep_all;
    }
    let cylinder = lead.cylinder;
    let by = match lead.of {
        Trigger::Coil => NamedBy::Ignition { cylinder, waste_spark },
        Trigger::Injector => NamedBy::Injector { cylinder, every_turn: waste_spark },
    };
    (kept, Some(by))
}

/// Places of cylinder 1's firing TDC by a trigger: its cylinder's TDC follows the middle of where
/// sparks come. Two of them where it marks every turn; `None` for a cylinder that the engine has
/// not got, or too few pulses.
pub(super) fn places_by_trigger(
    engine: &Engine,
    lead: &TriggerLead,
    angles: &[f64],
) -> Option<Vec<f64>> {
    let position = engine.firing_order.iter().position(|&c| c == lead.cylinder)?;
    let sparks = first_of_bursts(angles);
    let (every_turn, place) = place_of(&sparks)?;
    let every_turn = every_turn || lead.waste_spark;
    let middle = 0.5 * (SPARK_BEFORE_TDC.start() + SPARK_BEFORE_TDC.end());
    let tdc = place + middle;
    let place = tdc - engine.firing_angles[position].0;
    Some(if every_turn { vec![place, place + TURN_DEG] } else { vec![place] })
}

/// Whether sparks come every turn, and the crank angle that most of them come at.
fn place_of(sparks: &[f64]) -> Option<(bool, f64)> {
    let cycles: Vec<f64> = sparks.iter().map(|spark| spark / CYCLE_DEG).collect();
    let (every_turn, place) = pointed_at(&cycles)?;
    Some((every_turn, place * CYCLE_DEG))
}

/// Several strikes of one event are one.
fn first_of_bursts(sparks: &[f64]) -> Vec<f64> {
    let mut firsts: Vec<f64> = Vec::new();
    for &spark in sparks {
        if firsts.last().is_none_or(|first| spark - first >= BURST_DEG) {
            firsts.push(spark);
        }
    }
    firsts
}

/// Names the compressions at `base + firing angle`, given every place cylinder 1 may have.
pub(super) fn names(engine: &Engine, base: f64, places: &[f64]) -> Vec<Name> {
    let count = engine.firing_order.len();
    let readings: Vec<Vec<Option<u32>>> = places
        .iter()
        .map(|place| {
            (0..count).map(|position| cylinder_at(engine, base, *place, position)).collect()
        })
        .collect();
    let bank = |cylinder: Option<u32>| cylinder.and_then(|number| engine.bank_of(number));
    let grouped = readings.first().is_some_and(|first| {
        readings.iter().all(|other| {
            (0..count).all(|i| {
                (0..count).all(|j| {
                    (bank(first[i]) == bank(first[j])) == (bank(other[i]) == bank(other[j]))
                })
            })
        })
    });
    (0..count)
        .map(|position| {
            let all: Vec<Option<u32>> = readings.iter().map(|reading| reading[position]).collect();
            let agreed = |values: Vec<Option<u32>>| {
                let first = values.first().copied().flatten();
                first.filter(|_| values.iter().all(|value| *value == first))
            };
            Name {
                cylinder: agreed(all.clone()),
                bank: agreed(all.iter().map(|&cylinder| bank(cylinder)).collect()),
                group: all
                    .first()
                    .copied()
                    .flatten()
                    .and_then(|c| engine.bank_of(c))
                    .filter(|_| grouped),
            }
        })
        .collect()
}

fn cylinder_at(engine: &Engine, base: f64, place: f64, position: usize) -> Option<u32> {
    let at = base + engine.firing_angles[position].0;
    engine
        .firing_angles
        .iter()
        .position(|angle| wrap(place + angle.0 - at, CYCLE_DEG).abs() < SAME_TDC)
        .map(|found| engine.firing_order[found])
}

fn wrap(difference: f64, period: f64) -> f64 {
    CrankDelta(difference).wrap(CrankDelta(period)).0
}
