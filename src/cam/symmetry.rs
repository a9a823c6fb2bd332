//! Up to what multiple is a wheel's place known?
//!
//! A wheel that repeats exactly looks the same turned by a part of a turn. So does, to a sensor, a wheel that nearly
//! repeats: a real four-tooth wheel is even to 0.3°, and the edges of one capture lie 0.3 to 0.8° elsewhere in the next
//! (captures README, the two recordings of one engine). Which way round such a wheel fits best is then chance, and an
//! answer that rests on it is off by a whole part of a turn. So every such part is tried: the edges as measured are
//! given to the wheel turned by it, and what that costs at this signal's scatter decides.

use super::pattern::CamPattern;
use crate::stats::{huber_location, median};
use crate::units::{CYCLE_DEG, CrankDelta};

/// The wheel turned by a part of a turn is another answer only when it explains the edges this much worse, in nats:
/// 100,000 to one. Taken for another answer wrongly it reads as a skip of many teeth, so it must be rarer than anything
/// the verdict allows for; and one edge that moved by itself between two captures counts twice, at its own place and
/// at that of its image (1.7° on the recorded wheel: 7 nats), and must not decide alone.
const DECIDED: f64 = 11.5;
/// Most that an edge on its place can cost, in nats: that of one ten standard deviations off.
const MOST_OFF: f64 = 8.0;
/// Cost of an edge that the turned wheel has no place for, in nats: it comes in every cycle, and in each is one edge too many.
const NO_PLACE: f64 = 20.0;
/// Scatter of a wheel's edges about its pattern before any is seen, in crank degrees, and how many edges that is
/// worth: as in `measure`.
const EDGE_SD_PRIOR: (f64, f64) = (0.3, 6.0);
/// How far an edge lies elsewhere from one capture of an engine to the next, however steady it is within each: rms of the 18 edges
/// of both cams (captures README, column "one - all").
const BETWEEN_CAPTURES: f64 = 0.5;
/// An edge further off than this, in crank degrees, says nothing of the scatter of the others.
const EDGE_OUTLIER: f64 = 1.0;
/// Degrees of freedom of an edge's error: heavy tails, for the single edge that is off.
const TAIL: f64 = 4.0;

/// An edge as it was measured.
struct Measured {
    edge: usize,
    /// Crank degrees after its place on the wheel.
    late: f64,
    /// Standard error of that over cycles.
    error: f64,
}

/// The period in which the wheel's place is known: 720 over the most parts of a turn that all cost too little to be
/// told from no turn at all. `late` and `errors` are per edge of the pattern, `None` for one that was never seen.
pub(super) fn known_modulo(
    pattern: &CamPattern,
    late: &[Option<f64>],
    errors: &[f64],
) -> CrankDelta {
    let edges: Vec<Measured> = late
        .iter()
        .zip(errors)
        .enumerate()
        .filter_map(|(edge, (late, &error))| {
            let error = if error.is_finite() { error } else { 0.0 };
            Some(Measured { edge, late: (*late)?, error })
        })
        .collect();
    let sd = scatter(&edges).max(BETWEEN_CAPTURES);
    let plain = cost(pattern, &edges, 0.0, sd);
    let open = |parts: usize| {
        (1..parts).all(|part| {
            let turned = CYCLE_DEG * part as f64 / parts as f64;
            cost(pattern, &edges, turned, sd) - plain < DECIDED
        })
    };
    let parts = (2..=pattern.edges.len()).rev().find(|&parts| open(parts)).unwrap_or(1);
    CrankDelta(CYCLE_DEG / parts as f64)
}

/// Standard deviation of the edges about their places, with its prior.
fn scatter(edges: &[Measured]) -> f64 {
    let middle = median(&edges.iter().map(|edge| edge.late).collect::<Vec<f64>>()).unwrap_or(0.0);
    let squares: f64 = edges
        .iter()
        .map(|edge| (edge.late - middle).clamp(-EDGE_OUTLIER, EDGE_OUTLIER).powi(2))
        .sum();
    let (prior, worth) = EDGE_SD_PRIOR;
    ((squares + worth * prior * prior) / (edges.len().saturating_sub(1) as f64 + worth)).sqrt()
}

/// What it costs, in nats, to give the edges to the wheel turned by so many crank degrees.
fn cost(pattern: &CamPattern, edges: &[Measured], turned: f64, sd: f64) -> f64 {
    let mut taken = vec![false; pattern.edges.len()];
    let mut placed: Vec<(f64, f64)> = Vec::new();
    for one in edges {
        let place = pattern.edges[one.edge];
        let Some((to, late)) = pattern.nearest(place.after_zero + one.late + turned, place.kind)
        else {
            continue;
        };
        if late.abs() <= pattern.reach && !std::mem::replace(&mut taken[to], true) {
            placed.push((late, sd.hypot(one.error)));
        }
    }
    let lates: Vec<f64> = placed.iter().map(|(late, _)| *late).collect();
    let weights: Vec<f64> = placed.iter().map(|(_, sd)| 1.0 / (sd * sd)).collect();
    let middle = huber_location(&lates, &weights, EDGE_OUTLIER).unwrap_or(0.0);
    let off = |(late, sd): &(f64, f64)| {
        let z = (late - middle) / sd;
        (0.5 * (TAIL + 1.0) * (z * z / TAIL).ln_1p()).min(MOST_OFF)
    };
    placed.iter().map(off).sum::<f64>() + NO_PLACE * (edges.len() - placed.len()) as f64
}

#[cfg(test)]
mod tests {
    use super::super::pattern::PatternEdge;
    use super::*;
    use crate::wheel::EdgeKind::{Falling, Rising};

    /// Falls and rises in crank degrees.
    fn pattern(falls: &[f64], rises: &[f64]) -> CamPattern {
        let of = |places: &[f64], kind| -> Vec<PatternEdge> {
            places.iter().map(|&after_zero| PatternEdge { after_zero, kind }).collect()
        };
        CamPattern { edges: [of(falls, Falling), of(rises, Rising)].concat(), reach: 30.0 }
    }

    fn modulo(pattern: &CamPattern, late: &[f64]) -> f64 {
        let late: Vec<Option<f64>> = late.iter().map(|&late| Some(late)).collect();
        known_modulo(pattern, &late, &vec![0.03; late.len()]).0
    }

    #[test]
    fn a_real_four_tooth_wheel_is_known_modulo_180() {
        // Captures README, cam B with all plugs out, and how much later each edge came with one plug out (PCHIP).
        let falls = [113.93, 293.51, 473.50, 653.93];
        let rises = [134.59, 314.20, 494.30, 674.66];
        let wheel = pattern(&falls, &rises);
        let late = [0.10, -1.70, -0.09, -0.14, -0.31, 0.10, -0.40, -0.03];
        assert_eq!(modulo(&wheel, &[0.0; 8]), 180.0);
        assert_eq!(modulo(&wheel, &late), 180.0);
        // Read the other way round it is known as little.
        let turned: Vec<f64> =
            (0..8).map(|i| late[i] + [0.4, -0.4, 0.3, -0.3, 0.2, -0.2, 0.3, -0.1][i]).collect();
        assert_eq!(modulo(&wheel, &turned), 180.0);
    }

    #[test]
    fn a_wheel_that_tells_its_angles_apart_is_known_in_the_whole_cycle() {
        // Three uneven teeth of the wheel library, in crank degrees.
        let uneven = pattern(&[60.0, 300.0, 530.0], &[0.0, 180.0, 500.0]);
        assert_eq!(modulo(&uneven, &[0.3, -0.4, 0.1, 0.2, -0.2, 0.6]), 720.0);
        // Trailing edges 180 apart: the widths tell.
        let widths = pattern(&[40.0, 220.0, 400.0, 580.0], &[0.0, 180.0, 290.0, 470.0]);
        assert_eq!(modulo(&widths, &[0.1; 8]), 720.0);
        // Even but for one tooth that ends 4° later: 4° are thirteen standard deviations.
        let one = pattern(&[34.0, 210.0, 390.0, 570.0], &[0.0, 180.0, 360.0, 540.0]);
        assert_eq!(modulo(&one, &[0.0; 8]), 720.0);
        // One tooth repeats nowhere.
        assert_eq!(modulo(&pattern(&[20.0], &[0.0]), &[0.0; 2]), 720.0);
    }

    #[test]
    fn an_exact_repeat_leaves_its_part_open() {
        let three = pattern(&[192.0, 432.0, 672.0], &[0.0, 240.0, 480.0]);
        assert_eq!(modulo(&three, &[0.2, -0.1, 0.3, 0.0, 0.1, -0.3]), 240.0);
        // Two groups of two, alike: half a cycle and not a quarter.
        let pairs = pattern(&[30.0, 110.0, 390.0, 470.0], &[0.0, 80.0, 360.0, 440.0]);
        assert_eq!(modulo(&pairs, &[0.0; 8]), 360.0);
    }
}
