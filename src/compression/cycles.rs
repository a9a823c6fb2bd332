//! The cycles of a curve, and what the starter's pull adds up to in each and in the mean of all.

use super::alike::Alike;
use super::curve::{Curve, Window, windows};
use super::orders::{FOLD_POINTS, fold};
use crate::units::CYCLE_DEG;

/// Whole cycles of a curve.
///
/// Friction is never twice the same. It slows the crank, and the starter answers: within one cycle
/// the starter's pull goes with the very noise a fit has to look past, and a fit of the one on the
/// other makes the pull too weak, by half on an eight-cylinder engine (a regressor that depends on
/// the noise; Wooldridge, *Introductory Econometrics*, ch. 15). What repeats from cycle to cycle is
/// free of that: the mean over the cycles is the instrument (of that book) by which the strength of
/// the pull is fitted. With the strength known, each cycle's own pull is taken out of it.
pub(super) struct Cycles<'a> {
    /// The curve.
    pub curve: &'a Curve,
    /// Its whole cycles.
    pub windows: Vec<Window>,
    /// Which of them are alike.
    pub alike: Vec<Alike>,
    /// ∫ speed dθ from the start of its cycle to the middle of each step, θ in radians.
    pub pulled: Vec<f64>,
    /// Mean of that over all cycles, at the same angle.
    pub typical: Vec<f64>,
    /// What is known of the pull before the mean cycle is fitted; without it a fit is by each
    /// cycle's own pull.
    pub anchor: Option<Anchor>,
}

/// One equation for the strength of the starter's pull.
#[derive(Debug, Clone, Copy)]
pub(super) struct Anchor {
    /// The strength, per unit of ∫ speed dθ.
    pub strength: f64,
    /// Weight of the equation.
    pub weight: f64,
}

impl<'a> Cycles<'a> {
    /// Adds up the pull of each cycle and takes their mean.
    pub fn of(curve: &'a Curve, windows: Vec<Window>) -> Self {
        let mut pulled = vec![0.0; curve.len()];
        for window in &windows {
            let mut sum = 0.0;
            for step in window.steps.clone() {
                let travel = curve.speed[step] * (curve.to[step] - curve.from[step]).to_radians();
                pulled[step] = sum + 0.5 * travel;
                sum += travel;
            }
        }
        let mean = fold(curve, &windows, &pulled, FOLD_POINTS);
        let mut typical = vec![0.0; curve.len()];
        for window in &windows {
            for step in window.steps.clone() {
                typical[step] = read(&mean, curve.middle(step) - window.start);
            }
        }
        let alike = Alike::of(curve, &windows);
        Cycles { curve, windows, alike, pulled, typical, anchor: None }
    }
}

/// Speed within the mean cycle.
pub(super) struct Pace {
    start: f64,
    /// Time a crank degree takes over its mean, by angle from the start; empty when no cycle is
    /// whole.
    slowness: Vec<f64>,
}

impl Pace {
    /// Of the whole cycles between two angles.
    pub fn of(speed: &Curve, start: f64, to: f64) -> Self {
        let cycle = fold(speed, &windows(speed, start, to), &speed.speed, FOLD_POINTS);
        let mean = super::stats::mean(&cycle);
        let turns = cycle.iter().all(|speed| *speed > 0.0);
        let slowness =
            if turns { cycle.iter().map(|speed| mean / speed).collect() } else { Vec::new() };
        Pace { start, slowness }
    }

    /// Time a crank degree takes at an angle, over the mean.
    pub fn slowness(&self, angle: f64) -> f64 {
        if self.slowness.is_empty() {
            return 1.0;
        }
        read(&self.slowness, (angle - self.start).rem_euclid(CYCLE_DEG))
    }
}

/// A folded cycle at an angle from its start; straight lines between points, level beyond the first
/// and the last.
fn read(cycle: &[f64], angle: f64) -> f64 {
    let last = cycle.len() - 1;
    let place = (angle * cycle.len() as f64 / CYCLE_DEG - 0.5).clamp(0.0, last as f64);
    let index = (place as usize).min(last.saturating_sub(1));
    let share = place - index as f64;
    cycle[index] + share * (cycle[(index + 1).min(last)] - cycle[index])
}

#[cfg(test)]
mod tests {
    use super::super::curve::Step;
    use super::*;

    /// Two cycles of 10° steps, the second at twice the speed of the first.
    fn two() -> Curve {
        let mut curve = Curve::default();
        for i in 0..144 {
            let (from, speed) = (10.0 * f64::from(i), if i < 72 { 1.0 } else { 2.0 });
            let raw = speed;
            curve.push(Step { from, to: from + 10.0, square: speed, speed, weight: 1.0, raw });
        }
        curve
    }

    #[test]
    fn the_pull_is_the_mean_of_what_adds_up_in_each_cycle() {
        let curve = two();
        let cycles = Cycles::of(&curve, windows(&curve, 0.0, 1440.0));
        // 355° into a cycle: 355 · π / 180 at speed 1, twice that at 2.
        let want = 355.0_f64.to_radians();
        assert!((cycles.pulled[35] - want).abs() < 1e-9);
        assert!((cycles.pulled[72 + 35] - 2.0 * want).abs() < 1e-9);
        assert!((cycles.typical[35] - 1.5 * want).abs() < 1e-9);
        assert!((cycles.typical[72 + 35] - 1.5 * want).abs() < 1e-9);
    }

    #[test]
    fn an_even_pace_is_one_and_a_slow_place_takes_longer() {
        let mut curve = two();
        assert!((Pace::of(&curve, 0.0, 1440.0).slowness(100.0) - 1.0).abs() < 1e-9);
        for step in [10, 11, 12, 82, 83, 84] {
            curve.speed[step] *= 0.5;
        }
        let pace = Pace::of(&curve, 0.0, 1440.0);
        assert!(pace.slowness(115.0) > 1.9 && pace.slowness(115.0 + 720.0) > 1.9);
        assert_eq!(Pace::of(&curve, 0.0, 100.0).slowness(115.0), 1.0, "no whole cycle");
    }
}
