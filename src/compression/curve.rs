//! A quantity over crank angle, step by step: the form every lead is brought to.

use std::ops::Range;

use crate::units::CYCLE_DEG;

/// A quantity that follows the square of crank speed, averaged over steps of crank angle.
#[derive(Debug, Clone, Default)]
pub(super) struct Curve {
    /// First crank degree of each step.
    pub from: Vec<f64>,
    /// Last crank degree of each step.
    pub to: Vec<f64>,
    /// The quantity: ω² in (rad/s)², or an affine image of ω with the same sign.
    pub square: Vec<f64>,
    /// What the starter's and the friction's torque fall with: ω, or the same image.
    pub speed: Vec<f64>,
    /// Weight of each step in a fit.
    pub weight: Vec<f64>,
    /// What was measured, to draw: rpm, amperes or volts.
    pub raw: Vec<f64>,
}

/// One step of a [`Curve`].
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    pub from: f64,
    pub to: f64,
    pub square: f64,
    pub speed: f64,
    pub weight: f64,
    pub raw: f64,
}

impl Curve {
    /// Adds a step.
    pub fn push(&mut self, step: Step) {
        self.from.push(step.from);
        self.to.push(step.to);
        self.square.push(step.square);
        self.speed.push(step.speed);
        self.weight.push(step.weight);
        self.raw.push(step.raw);
    }

    /// Number of steps.
    pub fn len(&self) -> usize {
        self.from.len()
    }

    /// Middle of a step.
    pub fn middle(&self, step: usize) -> f64 {
        0.5 * (self.from[step] + self.to[step])
    }

    /// Steps whose middles lie in a range of angle; the angle grows from step to step.
    pub fn steps_in(&self, from: f64, to: f64) -> Range<usize> {
        let first = self.first_from(from);
        first..self.first_from(to).max(first)
    }

    /// The first step whose middle is at an angle or beyond it.
    fn first_from(&self, angle: f64) -> usize {
        let (mut low, mut high) = (0, self.len());
        while low < high {
            let middle = usize::midpoint(low, high);
            if self.middle(middle) < angle { low = middle + 1 } else { high = middle }
        }
        low
    }

    /// Mean speed over a range of angle, weighted by angle; `None` when no step lies in it.
    pub fn mean_speed(&self, from: f64, to: f64) -> Option<f64> {
        let steps = self.steps_in(from, to);
        let width: f64 = steps.clone().map(|step| self.to[step] - self.from[step]).sum();
        let sum: f64 = steps.map(|step| self.speed[step] * (self.to[step] - self.from[step])).sum();
        (width > 0.0).then(|| sum / width)
    }
}

/// One whole cycle of a curve.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Window {
    /// Crank angle it starts at.
    pub start: f64,
    /// Its steps.
    pub steps: Range<usize>,
}

/// A cycle is used when its steps cover at least this share of it; a wheel with a long
/// gap reaches it, a stretch of lost teeth does not.
const COVERED: f64 = 0.9;

/// Whole cycles between two angles, the first starting at `first`, that the curve covers.
pub(super) fn windows(curve: &Curve, first: f64, to: f64) -> Vec<Window> {
    let mut found = Vec::new();
    let mut start = first;
    while start + CYCLE_DEG <= to + 1e-9 {
        let steps = curve.steps_in(start, start + CYCLE_DEG);
        let covered: f64 = steps.clone().map(|step| curve.to[step] - curve.from[step]).sum();
        if covered >= COVERED * CYCLE_DEG {
            found.push(Window { start, steps });
        }
        start += CYCLE_DEG;
    }
    found
}
