//! How many cylinders an engine has, by how often its speed dips in a cycle.

use std::f64::consts::TAU;

use crate::crank::CrankLock;
use crate::units::CYCLE_DEG;

/// Numbers of cylinders looked for: engines with fewer turn over without an even beat, with more
/// they are rare.
const COUNTS: [u32; 8] = [3, 4, 5, 6, 8, 10, 12, 16];
/// The beat must be so much stronger than that of any other count (judgement; one plug out of four
/// leaves twice).
const STRONGER: f64 = 1.5;
/// Teeth that a beat needs: two would be its own limit.
const LEAST_STEPS: f64 = 3.0;

/// The number of cylinders; `None` when no beat stands out.
pub(super) fn cylinders(lock: &CrankLock) -> Option<u32> {
    let marks = lock.angle.marks();
    let steps: Vec<(f64, f64, f64)> = marks
        .windows(2)
        .filter_map(|pair| {
            let travel = pair[1].turned.since(pair[0].turned).0;
            let time = (pair[1].at - pair[0].at).0;
            let middle = pair[0].turned.0 + travel / 2.0;
            (travel > 0.0 && time > 0.0).then_some((middle, travel, (travel / time).ln()))
        })
        .collect();
    let whole = ((steps.last()?.0 - steps.first()?.0) / CYCLE_DEG).floor() * CYCLE_DEG;
    let end = steps.first()?.0 + whole;
    // Run-up weighs less in the later cycles; whole cycles alone keep it from leaking into every
    // beat.
    let used: Vec<_> = steps.into_iter().filter(|step| step.0 < end).collect();
    let length: f64 = used.iter().map(|step| step.1).sum();
    let mean = used.iter().map(|step| step.1 * step.2).sum::<f64>() / length;
    let per_cycle = used.len() as f64 * CYCLE_DEG / length;
    let strength = |count: u32| {
        let part = |wave: fn(f64) -> f64| {
            used.iter()
                .map(|(at, travel, speed)| {
                    travel * (speed - mean) * wave(TAU * f64::from(count) * at / CYCLE_DEG)
                })
                .sum::<f64>()
        };
        part(f64::sin).hypot(part(f64::cos))
    };
    let mut beats: Vec<(u32, f64)> = COUNTS
        .into_iter()
        .filter(|&count| per_cycle >= LEAST_STEPS * f64::from(count))
        .map(|count| (count, strength(count)))
        .collect();
    beats.sort_by(|a, b| b.1.total_cmp(&a.1));
    let next = beats.get(1).map_or(0.0, |beat| beat.1);
    let (count, strongest) = beats.first().copied()?;
    (strongest > 0.0 && strongest >= STRONGER * next).then_some(count)
}
