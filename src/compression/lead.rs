//! Starter current and battery voltage brought onto crank angle.
//!
//! The starter's current and the battery's voltage follow the crank's *speed*: the motor's
//! back-voltage falls when a compression slows it, and the current rises. The crank teeth give that
//! relation (offset, slope, lag, and a drift for the battery's droop); through it a current becomes
//! a speed free of tooth errors. Only common factors come from the teeth, nothing of one cylinder.

use std::ops::Range;

use rayon::prelude::*;

use super::curve::{Curve, Step};
use super::filter::LowPass;
use super::input::{SampledLead, Source};
use super::solve::Normal;
use super::withheld::Withheld;
use crate::capture::{Samples, Unit};
use crate::crank::CrankAngle;
use crate::units::{CrankTurned, Seconds};

/// Least width of an averaging step in crank degrees: a fiftieth of a compression, wide enough to
/// average a commutator's ripple.
const LEAST_STEP: f64 = 2.0;
/// Crank degrees of the shortest swing kept: pinion and commutator ripple are shorter, and a
/// compression's own shape, some 65° wide at half height, is not touched.
const SMOOTHING: f64 = 15.0;
/// Rows that a step should hold, so that an odd one does not stand alone.
const ROWS_PER_STEP: f64 = 4.0;
/// One part in so many of a step's rows is left out at either end: spikes last a few rows of some
/// thirty.
const TRIMMED: usize = 5;
/// Widest step that still follows a compression of a twelve-cylinder engine.
const WIDEST_STEP: f64 = 15.0;
/// The relation to speed is used when it explains this share of the lead's variation; below it the
/// lead itself stands in for the square of speed, which is its first-order form.
const RELATION_HOLDS: f64 = 0.5;
/// A lead that follows speed the wrong way by this share of its variation is connected the wrong
/// way round.
const FOLLOWS_BACKWARDS: f64 = 0.2;
/// Share of rows on one limit, and how many times more than on the level next to it, that make a
/// clipped lead: a real peak has no more rows at its very top than just below.
const CLIPPED_SHARE: f64 = 0.01;
const CLIPPED_PILE: usize = 3;
/// Mean cranking current outside this range is a wrong scale: cranking takes from some 50 A in a
/// small engine to over 1000 A in a large cold diesel (common practice, no source).
const PLAUSIBLE_AMPERES: Range<f64> = 15.0..2500.0;
/// A cranking current is never as small as this share of its own swings (of a sound engine its mean
/// is about twice them; common practice, no source): the level was taken out by an AC-coupled
/// input.
const NO_LEVEL: f64 = 0.25;
/// Standing reading of a zeroed clamp, as a share of cranking current.
const ZERO_SHARE: f64 = 0.10;
/// More than this share is no zero error: the starter was still, or already, turning.
const STILL_CRANKING: f64 = 0.60;
/// Time left around the rotation before a reading counts as standing still.
const STANDING_MARGIN: (Seconds, Seconds) = (Seconds(1.0), Seconds(0.5));
/// Shortest standing reading believed.
const STANDING_LEAST: Seconds = Seconds(0.05);

/// Brings a lead to a curve over the steady stretch.
pub(super) fn curve(
    lead: &SampledLead,
    source: Source,
    angle: &CrankAngle,
    speed: &Curve,
    span: (CrankTurned, CrankTurned),
) -> Result<Curve, Withheld> {
    let times = angle.time_at(span.0).zip(angle.time_at(span.1));
    let (from, to) = times.ok_or(Withheld::LeadTooShort)?;
    let rows = lead.rows(from, to);
    if lead.unit == Unit::Level || rows.len() < 2 {
        return Err(Withheld::LeadTooShort);
    }
    if is_clipped(lead, rows.clone()) {
        return Err(Withheld::Clipped);
    }
    let values = lead.values.slice(rows.clone());
    let mean = mean(values);
    let mut steps = averaged(lead, angle, span, rows.len())?;
    smoothed(&mut steps);
    let relation = Relation::find(&steps, speed).ok_or(Withheld::LeadTooShort)?;
    let sign = if source == Source::StarterCurrent { -1.0 } else { 1.0 };
    let backwards = relation.slope * sign < 0.0 && relation.by_speed > FOLLOWS_BACKWARDS;
    if mean.abs() < NO_LEVEL * swing(&steps) {
        return Err(Withheld::AcCoupled);
    }
    if mean < 0.0 || backwards {
        return Err(Withheld::Reversed);
    }
    if source == Source::StarterCurrent {
        if lead.unit == Unit::Amperes && !PLAUSIBLE_AMPERES.contains(&mean) {
            return Err(Withheld::WrongScale { mean });
        }
        if let Some(reading) = standing(lead, angle)
            .filter(|zero| (ZERO_SHARE..STILL_CRANKING).contains(&(zero.abs() / mean)))
        {
            return Err(Withheld::NotZeroed { reading });
        }
    }
    let mut curve = Curve::default();
    for (index, step) in steps.iter().enumerate() {
        let line = relation.speed_at(&steps, index);
        let square = if relation.explained > RELATION_HOLDS {
            line.max(0.0) * line.max(0.0)
        } else {
            sign * step.mean
        };
        // The starter's torque goes with its current, whatever the lag between that and speed.
        let (from, to, raw, speed) = (step.from, step.to, step.mean, sign * step.mean);
        curve.push(Step { from, to, square, speed, weight: 1.0, raw });
    }
    Ok(curve)
}

fn mean(values: Samples<'_>) -> f64 {
    /// Enough for one processor.
    const TOGETHER: usize = 1 << 16;
    let parts: Vec<Samples> = values.chunks(TOGETHER).collect();
    let sum = |part: Samples| part.iter().map(|&value| f64::from(value)).sum();
    let sums: Vec<f64> = parts.into_par_iter().map(sum).collect();
    sums.iter().sum::<f64>() / values.len() as f64
}

/// Range of the middle nine tenths of the steps.
fn swing(steps: &[Mean]) -> f64 {
    let mut values: Vec<f64> = steps.iter().map(|step| step.mean).collect();
    values.sort_by(f64::total_cmp);
    let rank = |share: f64| values.get((values.len() as f64 * share) as usize).copied();
    rank(0.95).zip(rank(0.05)).map_or(0.0, |(high, low)| high - low)
}

/// Mean of a lead over a step of crank angle.
struct Mean {
    from: f64,
    to: f64,
    /// Crank degrees per second over the step.
    pace: f64,
    mean: f64,
}

fn averaged(
    lead: &SampledLead,
    angle: &CrankAngle,
    span: (CrankTurned, CrankTurned),
    rows: usize,
) -> Result<Vec<Mean>, Withheld> {
    let turned = span.1.0 - span.0.0;
    let width = LEAST_STEP.max(ROWS_PER_STEP * turned / rows as f64);
    if width > WIDEST_STEP {
        return Err(Withheld::SampledTooSlowly);
    }
    let mut steps = Vec::with_capacity((turned / width) as usize + 1);
    let edges = (0..=(turned / width).floor() as usize).map(|i| span.0.0 + i as f64 * width);
    let mut last: Option<(f64, Seconds)> = None;
    for edge in edges {
        let Some(at) = angle.time_at(CrankTurned(edge)) else { continue };
        if let Some((from, since)) = last {
            let pace = (edge - from) / (at - since).0;
            steps.push((from, edge, pace, lead.rows(since, at)));
        }
        last = Some((edge, at));
    }
    // Of a deep capture a step holds tens of thousands of rows.
    let mean = |(from, to, pace, rows): (f64, f64, f64, Range<usize>)| {
        trimmed_mean(lead.values.slice(rows)).map(|mean| Mean { from, to, pace, mean })
    };
    Ok(steps.into_par_iter().filter_map(mean).collect())
}

/// Mean of the middle of the values: an ignition spike is not part of it.
fn trimmed_mean(values: Samples<'_>) -> Option<f64> {
    let (count, cut) = (values.len(), values.len() / TRIMMED);
    (count > 0).then(|| values.sum_of_middle(cut) / (count - 2 * cut) as f64)
}

/// lead = offset + slope · ω + drift · θ − lag · d(lead)/dt, fitted over the steady stretch. The
/// last is the time a motor's current takes to follow (inductance over resistance): a time,
/// whatever the crank turns in it.
struct Relation {
    offset: f64,
    slope: f64,
    drift: f64,
    /// In seconds; not negative.
    lag: f64,
    /// Share of the variation explained by all of it.
    explained: f64,
    /// Share explained by speed and lag, after drift.
    by_speed: f64,
}

impl Relation {
    fn find(steps: &[Mean], speed: &Curve) -> Option<Self> {
        let (mut normal, mut drift_only) = (Normal::new(4), Normal::new(2));
        let (first, last) = (steps.first()?, steps.last()?);
        let length = last.to - first.from;
        let level = super::stats::mean(&steps.iter().map(|step| step.mean).collect::<Vec<f64>>());
        let mut index = 0;
        for step in 0..speed.len() {
            let (from, to) = (speed.from[step], speed.to[step]);
            while index < steps.len() && steps[index].to <= from {
                index += 1;
            }
            let Some(mean) = over(&steps[index..], from, to) else { continue };
            let rise = slope_between(&steps[index.saturating_sub(1)..], from, to)
                * speed.speed[step].to_degrees();
            let along = (0.5 * (from + to) - first.from) / length;
            normal.add(&[rise, 1.0, along, speed.speed[step]], mean - level);
            drift_only.add(&[1.0, along], mean - level);
        }
        let mut solution = normal.solve()?;
        let mut left = normal.residual(&solution);
        if solution[0] > 0.0 {
            // Nothing follows before its cause.
            let held = normal.holding_first(0.0);
            let rest = held.solve()?;
            left = held.residual(&rest);
            solution = std::iter::once(0.0).chain(rest).collect();
        }
        let undrifted = drift_only.residual(&drift_only.solve()?);
        let drift = solution[2] / length;
        Some(Relation {
            offset: solution[1] + level - drift * first.from,
            slope: solution[3],
            drift,
            lag: -solution[0],
            explained: 1.0 - left / normal.square.max(f64::MIN_POSITIVE),
            by_speed: 1.0 - left / undrifted.max(f64::MIN_POSITIVE),
        })
    }

    /// Crank speed, in rad/s, that a step of the lead stands for.
    fn speed_at(&self, steps: &[Mean], index: usize) -> f64 {
        let step = &steps[index];
        let (before, after) = (index.saturating_sub(1), (index + 1).min(steps.len() - 1));
        let apart = steps[after].middle() - steps[before].middle();
        let rise = if apart > 0.0 { (steps[after].mean - steps[before].mean) / apart } else { 0.0 };
        (step.mean + self.lag * rise * step.pace - self.offset - self.drift * step.middle())
            / self.slope
    }
}

impl Mean {
    fn middle(&self) -> f64 {
        0.5 * (self.from + self.to)
    }
}

/// Mean over a range of angle; `None` unless the steps cover most of it.
fn over(steps: &[Mean], from: f64, to: f64) -> Option<f64> {
    let (mut sum, mut width) = (0.0, 0.0);
    for step in steps.iter().take_while(|step| step.from < to) {
        let overlap = step.to.min(to) - step.from.max(from);
        sum += overlap * step.mean;
        width += overlap;
    }
    (width > 0.9 * (to - from)).then(|| sum / width)
}

/// Rise per degree over a range of angle, from the steps nearest its ends.
fn slope_between(steps: &[Mean], from: f64, to: f64) -> f64 {
    let nearest = |angle: f64| {
        let place = steps.iter().position(|step| step.middle() >= angle).unwrap_or(steps.len());
        let (b, a) = (steps.get(place), steps.get(place.wrapping_sub(1)));
        match (a, b) {
            (Some(a), Some(b)) => {
                let share = (angle - a.middle()) / (b.middle() - a.middle());
                a.mean + share * (b.mean - a.mean)
            }
            (Some(one), None) | (None, Some(one)) => one.mean,
            (None, None) => 0.0,
        }
    };
    (nearest(to) - nearest(from)) / (to - from)
}

/// Takes out ripple shorter than a compression, without moving anything.
fn smoothed(steps: &mut [Mean]) {
    let Some(width) = steps.first().map(|step| step.to - step.from) else { return };
    let Some(filter) = LowPass::new(2, width / SMOOTHING) else { return };
    let series: Vec<f64> = steps.iter().map(|step| step.mean).collect();
    for (step, value) in steps.iter_mut().zip(filter.both_ways(&series)) {
        step.mean = value;
    }
}

fn is_clipped(lead: &SampledLead, rows: Range<usize>) -> bool {
    let over: usize = lead
        .over_range
        .iter()
        .map(|&(from, to)| to.min(rows.end).saturating_sub(from.max(rows.start)))
        .sum();
    let most = CLIPPED_SHARE * rows.len() as f64;
    if over as f64 > most {
        return true;
    }
    let values = lead.values.slice(rows);
    // Highest level, then lowest (as the highest of the signal turned over).
    [1.0, -1.0].into_par_iter().any(|side| {
        let (top, next) = highest_two(values, side);
        top as f64 > most && next > 0 && top >= CLIPPED_PILE * next
    })
}

/// How many values, times a side of 1 or −1, have the highest level, and how many the next below it.
/// Nearly every stretch has neither and is passed over whole.
fn highest_two(values: Samples<'_>, side: f32) -> (usize, usize) {
    const STRETCH: usize = 1024;
    let mut top = (f32::NEG_INFINITY, 0);
    let mut next = (f32::NEG_INFINITY, 0);
    for part in values.chunks(STRETCH) {
        let (least, most) = part.limits();
        if (least * side).max(most * side) < next.0 {
            continue;
        }
        for level in part.iter().map(|&value| value * side) {
            if level > top.0 {
                next = std::mem::replace(&mut top, (level, 1));
            } else if level == top.0 {
                top.1 += 1;
            } else if level > next.0 {
                next = (level, 1);
            } else if level == next.0 {
                next.1 += 1;
            }
        }
    }
    (top.1, next.1)
}

/// Median reading well before or after the rotation; `None` when the capture holds none.
fn standing(lead: &SampledLead, angle: &CrankAngle) -> Option<f64> {
    let (first, last) = angle.turned_span();
    let (begins, ends) = (angle.time_at(first)?, angle.time_at(last)?);
    let all = lead.values.len();
    let before = 0..lead.clock.row_at_or_after(begins - STANDING_MARGIN.0, all);
    let after = lead.clock.row_at_or_after(ends + STANDING_MARGIN.1, all)..all;
    [before, after].into_iter().find_map(|rows| {
        let lasts =
            lead.clock.at(rows.end.checked_sub(1)?) - lead.clock.at(rows.start.min(all - 1));
        if rows.len() < 2 || lasts.0 < STANDING_LEAST.0 {
            return None;
        }
        let values: Vec<f64> =
            lead.values.slice(rows).iter().map(|&value| f64::from(value)).collect();
        super::stats::median(&values)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_the_values_is_averaged() {
        let mean = |values: Vec<f32>| trimmed_mean(Samples::from(&values));
        // A fifth off either end: 2, 3 and 4 are left.
        assert_eq!(mean(vec![4.0, 900.0, 2.0, -900.0, 3.0]), Some(3.0));
        assert_eq!(mean(vec![1.0, 2.0]), Some(1.5));
        assert_eq!(mean(vec![]), None);
        let mut many: Vec<f32> = (0..1001).map(|i| ((i * 577) % 1001) as f32).collect();
        assert_eq!(mean(many.clone()), Some(500.0));
        many.fill(7.0);
        assert_eq!(mean(many), Some(7.0));
    }

    #[test]
    fn the_highest_two_levels_are_counted_as_one_by_one() {
        // More than one stretch, the highest late in it, ties, negatives and both zeros.
        let values: Vec<f32> =
            (0..5000_i32).map(|i| ((i * 7919) % 211 - 105) as f32 * 0.0).chain([-0.0]).collect();
        assert_eq!(highest_two((&values).into(), 1.0), (5001, 0));
        for many in [3, 1024, 5000] {
            let values: Vec<f32> = (0..many).map(|i| ((i * 7919) % 211 - 105) as f32).collect();
            for side in [1.0, -1.0] {
                let mut levels: Vec<f32> = values.iter().map(|&value| value * side).collect();
                levels.sort_unstable_by(|a, b| b.total_cmp(a));
                let top = levels.iter().filter(|&&level| level == levels[0]).count();
                let below = levels.get(top).copied();
                let next = levels.iter().filter(|&&level| Some(level) == below).count();
                assert_eq!(highest_two((&values).into(), side), (top, next), "{many}");
            }
        }
        assert_eq!(highest_two((&vec![]).into(), 1.0), (0, 0));
    }
}
