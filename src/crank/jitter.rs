//! How much single edges scatter about smooth motion.

use super::angle::Mark;
use crate::stats::{MAD_TO_SD, median};
use crate::units::CYCLE_DEG;

/// Marks on each side that a parabola is laid through to see whether there is jitter: over so few
/// the engine's own ripple leaves next to nothing.
const NEAR: usize = 2;
/// Marks on each side for how much there is: what scatters slowly, over several edges, is in it
/// then.
const FAR: usize = 8;
/// Most marks looked at, in the middle of the stretch.
const MOST_MARKS: usize = 4000;
/// Scatter below this, in crank degrees, is the wheel's own: recorded wheels show 0.05 to 0.12 away
/// from their gaps.
const NOTABLE: f64 = 0.4;
/// Longest step a parabola follows an engine's ripple over, in crank degrees.
const LONGEST_STEP: f64 = 15.0;
/// Cycles from which what repeats in each is told from what does not.
const LEAST_CYCLES: f64 = 3.0;

/// Standard deviation of one edge's place in crank degrees, by the distance of each mark from a
/// parabola of angle over time through its neighbours; `None` where it is small, or the wheel too
/// coarse to tell. What repeats from cycle to cycle is wheel or ripple and does not count.
pub(super) fn jitter(marks: &[Mark]) -> Option<f64> {
    let spare = marks.len().saturating_sub(MOST_MARKS) / 2;
    let marks = &marks[spare..marks.len() - spare];
    let near = distances(marks, NEAR);
    let sizes: Vec<f64> = near.iter().map(|(_, left)| left.abs()).collect();
    let scatter = MAD_TO_SD * median(&sizes)?;
    if scatter < NOTABLE {
        return None;
    }
    let cycles = marks.last()?.turned.since(marks.first()?.turned).0 / CYCLE_DEG;
    if cycles < LEAST_CYCLES {
        return Some(scatter);
    }
    Some(not_repeating(distances(marks, FAR)).unwrap_or(scatter))
}

/// Root mean square of what differs from the mean at the same place in other cycles.
fn not_repeating(mut distances: Vec<(f64, f64)>) -> Option<f64> {
    distances.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut squares, mut freedom) = (0.0, 0_usize);
    // Marks of one place differ by rounding only.
    for place in distances.chunk_by(|a, b| b.0 - a.0 < 1e-3) {
        let mean = place.iter().map(|(_, left)| left).sum::<f64>() / place.len() as f64;
        squares += place.iter().map(|(_, left)| (left - mean).powi(2)).sum::<f64>();
        freedom += place.len() - 1;
    }
    (freedom > 0).then(|| (squares / freedom as f64).sqrt())
}

/// Place in the cycle and distance from the parabola, in units of one edge's scatter, of every mark
/// among neighbours near enough.
fn distances(marks: &[Mark], reach: usize) -> Vec<(f64, f64)> {
    let most = LONGEST_STEP * 2.0 * reach as f64;
    marks
        .windows(2 * reach + 1)
        .filter(|window| window[2 * reach].turned.since(window[0].turned).0 <= most)
        .filter_map(|window| {
            Some((window[reach].turned.0.rem_euclid(CYCLE_DEG), distance(window, reach)?))
        })
        .collect()
}

/// Distance of the middle mark from the parabola.
fn distance(window: &[Mark], reach: usize) -> Option<f64> {
    let middle = window[reach];
    let scale = (window[2 * reach].at - window[0].at).0;
    // Least squares of 1, x, x² by the normal equations.
    let (mut s, mut t) = ([0.0_f64; 5], [0.0_f64; 3]);
    for mark in window {
        let x = (mark.at - middle.at).0 / scale;
        let y = mark.turned.since(middle.turned).0;
        let mut power = 1.0;
        for (i, sum) in s.iter_mut().enumerate() {
            *sum += power;
            if i < 3 {
                t[i] += power * y;
            }
            power *= x;
        }
    }
    // Cramer's rule for the value at x = 0; its weight on the middle mark is `lever`.
    let determinant = |a: [f64; 3]| {
        a[0] * (s[2] * s[4] - s[3] * s[3]) - s[1] * (a[1] * s[4] - s[3] * a[2])
            + s[2] * (a[1] * s[3] - s[2] * a[2])
    };
    let whole = determinant([s[0], s[1], s[2]]);
    let value = determinant(t) / whole;
    let lever = (s[2] * s[4] - s[3] * s[3]) / whole;
    // A residual of least squares keeps the share 1 − lever of its own scatter's variance.
    let kept = 1.0 - lever;
    (kept > 0.1 && value.is_finite()).then(|| -value / kept.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{CrankTurned, Seconds};

    /// Teeth ten degrees apart at 1500 degrees per second, each moved by up to √3 times the
    /// scatter.
    fn marks(scatter: f64) -> Vec<Mark> {
        let moved = |i: u32| {
            let fraction = (f64::from(i) * 0.754_877_666).fract();
            scatter * (fraction - 0.5) * 12.0_f64.sqrt()
        };
        (0..400)
            .map(|i| Mark {
                at: Seconds((10.0 * f64::from(i) + moved(i)) / 1500.0),
                turned: CrankTurned(10.0 * f64::from(i)),
            })
            .collect()
    }

    #[test]
    fn the_scatter_put_in_is_found() {
        assert_eq!(jitter(&marks(0.1)), None);
        let found = jitter(&marks(1.2)).expect("jitter");
        assert!((0.9..1.6).contains(&found), "{found}");
    }
}
