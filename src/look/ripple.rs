//! What the speed's swing within a turn does to the steps of a wheel.

use statrs::function::erf::erf;

use super::places::SAME_PLACE;

/// Swing of the log of the speed within a turn while cranking, each way: ±15 % is usual (common
/// practice: ±10 to ±25 %).
const SWING: f64 = 0.15;
/// Speed, rpm, from which the same torque swings it less, by its square.
const SWINGS_TO: f64 = 250.0;
/// Swing that is left at any speed.
const LEAST_SWING: f64 = 0.02;
/// Compressions in a turn that the swing is counted at: three, of a six-cylinder engine.
const PER_TURN: f64 = 3.0;
/// Places of teeth on a wheel, in degrees.
const PLACE_DEG: f64 = 0.3;
/// Beside a gap a reluctance sensor's teeth are moved, by 0.05 to 0.15 of a step at each end
/// (measured on the recordings: gap steps of 3.1 to 3.3 slots, 0.7° on a wheel of 10°). Of 0.075
/// the gap's step is off its neighbours by 0.075 · (1 + 2/3) and theirs by 0.075 · (1 + 1/3).
const BESIDE_GAP: f64 = 0.11;

/// Swing of the log of the speed within a turn at a mean speed, each way.
fn swing(rpm: f64) -> f64 {
    SWING * (SWINGS_TO / rpm).powi(2).min(1.0) + LEAST_SWING
}

/// Probability that every tooth between steps of so many degrees is where a steady speed would put
/// it. A swing that comes again as the teeth do moves them by a·b / (a + b) of its height.
pub(super) fn places_known(steps: &[f64], rpm: f64) -> f64 {
    let moved = (0..steps.len())
        .map(|at| (steps[at], steps[(at + 1) % steps.len()]))
        .map(|(a, b)| a * b / (a + b) * swing(rpm))
        .fold(0.0, f64::max);
    erf(SAME_PLACE / (moved * std::f64::consts::SQRT_2))
}

/// How far the log of a step may be off the mean of its neighbours', turn after turn, for a step of
/// so many degrees at a mean speed, `reach` degrees from the middles of its neighbours: uneven
/// teeth, and the bend of the speed over that reach.
pub(super) fn systematic(degrees: f64, reach: f64, rpm: f64, beside_gap: bool) -> f64 {
    let swing = swing(rpm);
    let bend = 1.0 - (PER_TURN * reach).min(180.0).to_radians().cos();
    let gap = if beside_gap { BESIDE_GAP } else { 0.0 };
    (PLACE_DEG / degrees).hypot(swing * bend).hypot(gap)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn uneven_teeth_are_placed_by_an_engine_that_runs() {
        let steps = [70.0, 110.0, 70.0, 110.0];
        assert!(places_known(&steps, 200.0) < 0.9, "{}", places_known(&steps, 200.0));
        assert!(places_known(&steps, 640.0) > 0.99, "{}", places_known(&steps, 640.0));
    }
}
