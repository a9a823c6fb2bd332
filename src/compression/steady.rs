//! Which part of a capture is steady cranking: after the inrush, before anything fires.

use super::curve::Curve;
use super::input::LEAST_CYCLES;
use super::withheld::Withheld;
use crate::units::{CYCLE_DEG, CrankTurned, Rpm};

/// Above this mean speed a starter is no longer turning the engine. Real starters turn warm engines
/// at up to about 300 rpm (common practice, no source; 140 to 300 in the recordings); half as much
/// again is running.
const CRANKING_MOST: Rpm = Rpm(450.0);
/// Mean speeds of the cycles of one steady stretch agree within this share: compressions taken at
/// unlike speeds would not compare, and a charged battery droops less than this in ten seconds.
const STEADY_SPREAD: f64 = 0.10;
/// A firing interval this much faster than the same interval of other cycles was pushed by
/// combustion. Tooth errors and a weak cylinder repeat every cycle and do not count.
const FIRED: f64 = 1.12;

/// Firing pushes the crank and never holds it back: where intervals are as much too slow as others
/// are too fast, this share of those or more, it was the cranking that was uneven.
const HELD_BACK: f64 = 0.5;

/// The stretch used, and what was left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steady {
    /// Where steady cranking begins, on the crank stretch's own scale.
    pub from: CrankTurned,
    /// Where it ends.
    pub to: CrankTurned,
    /// Whole and begun cycles before it, while the starter ran up.
    pub before: usize,
    /// Whole and begun cycles after it in which the engine fired or ran.
    pub fired: usize,
    /// Whole and begun cycles after it for another reason: slowing down.
    pub after: usize,
    /// Mean speed in it.
    pub rpm: Rpm,
}

/// Finds the longest stretch of steady cranking.
pub(super) fn find(curve: &Curve, cylinders: usize) -> Result<Steady, Withheld> {
    let (Some(&first), Some(&last)) = (curve.from.first(), curve.to.last()) else {
        return Err(Withheld::FewerThanThreeCycles { whole: 0 });
    };
    let interval = CYCLE_DEG / cylinders as f64;
    let means: Vec<f64> = (0..((last - first) / interval).floor() as usize)
        .map(|i| {
            let from = first + i as f64 * interval;
            curve.mean_speed(from, from + interval).unwrap_or(0.0)
        })
        .collect();
    let cycles: Vec<f64> = means
        .windows(cylinders)
        .map(|window| window.iter().sum::<f64>() / cylinders as f64)
        .collect();
    let most = CRANKING_MOST.degrees_per_second().to_radians();
    let (begin, end) = longest_even_run(&cycles, most);
    if begin == end {
        let runs = cycles.iter().any(|&speed| speed > most);
        return Err(if runs {
            Withheld::EngineStarted { cycles: 0 }
        } else {
            Withheld::FewerThanThreeCycles { whole: 0 }
        });
    }
    let even = (begin, end - 1 + cylinders);
    let (begin, end) = without_firing(&means, even.0, even.1, cylinders);
    if end - begin < LEAST_CYCLES * cylinders && jerky(&means[even.0..even.1], cylinders) {
        return Err(Withheld::UnevenCranking);
    }
    let plateau = means[begin..end].iter().sum::<f64>() / (end - begin).max(1) as f64;
    let to = first + end as f64 * interval;
    let later_cycles = ((last - to) / CYCLE_DEG).ceil().max(0.0) as usize;
    let fired = means[end..].iter().any(|&speed| speed > FIRED * plateau);
    Ok(Steady {
        from: CrankTurned(first + begin as f64 * interval),
        to: CrankTurned(to),
        before: (begin as f64 * interval / CYCLE_DEG).ceil() as usize,
        fired: if fired { later_cycles } else { 0 },
        after: if fired { 0 } else { later_cycles },
        rpm: Rpm(plateau.to_degrees() / 6.0),
    })
}

/// Longest run of cranking speeds whose spread stays in bounds, as begin and end.
fn longest_even_run(speeds: &[f64], most: f64) -> (usize, usize) {
    let mut best = (0, 0);
    for begin in 0..speeds.len() {
        if best.1 - best.0 >= speeds.len() - begin {
            break;
        }
        let (mut low, mut high) = (f64::INFINITY, 0.0_f64);
        let mut end = begin;
        while end < speeds.len() && speeds[end] > 0.0 && speeds[end] <= most {
            (low, high) = (low.min(speeds[end]), high.max(speeds[end]));
            if high > low * (1.0 + STEADY_SPREAD) {
                break;
            }
            end += 1;
        }
        if end - begin > best.1 - best.0 {
            best = (begin, end);
        }
    }
    best
}

/// Speed of each place in the cycle, as it is in most cycles.
fn typical(means: &[f64], cylinders: usize) -> Vec<f64> {
    (0..cylinders)
        .map(|phase| {
            let same: Vec<f64> = means.iter().skip(phase).step_by(cylinders).copied().collect();
            super::stats::median(&same).unwrap_or(f64::INFINITY)
        })
        .collect()
}

/// Whether intervals too slow for their place in the cycle stand beside those too fast.
fn jerky(means: &[f64], cylinders: usize) -> bool {
    let typical = typical(means, cylinders);
    let each = || means.iter().enumerate().map(|(i, speed)| speed / typical[i % cylinders]);
    let fast = each().filter(|&share| share > FIRED).count();
    let slow = each().filter(|&share| share < 1.0 / FIRED).count();
    fast > 0 && slow as f64 >= HELD_BACK * fast as f64
}

/// Longest part of a run in which no interval outruns the same interval of the other cycles.
fn without_firing(means: &[f64], begin: usize, end: usize, cylinders: usize) -> (usize, usize) {
    let typical = typical(&means[begin..end], cylinders);
    let (mut best, mut start) = ((begin, begin), begin);
    for i in begin..=end {
        if i == end || means[i] > FIRED * typical[(i - begin) % cylinders] {
            if i - start > best.1 - best.0 {
                best = (start, i);
            }
            start = i + 1;
        }
    }
    best
}
