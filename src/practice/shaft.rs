//! A wheel on a shaft in motion: where it stands at any time.

use super::motion::{Motion, between32};

/// A wheel's place: shaft angle = (crank angle − `zero_at` − movement) / `gearing`.
#[derive(Debug, Clone)]
pub(super) struct Shaft<'a> {
    pub motion: &'a Motion,
    /// Crank angle at which the wheel's own zero passes the sensor.
    pub zero_at: f64,
    /// Crank turns per turn of this shaft: 1 for the crank, 2 for a cam.
    pub gearing: f64,
    /// How much later the shaft stands than usual, in crank degrees on the motion's
    /// grid; empty for a shaft that keeps its place.
    pub moves: Vec<f32>,
}

impl Shaft<'_> {
    /// Shaft angle at a step of the motion, in shaft degrees, not wrapped.
    pub(super) fn at_step(&self, step: usize) -> f64 {
        let late = self.moves.get(step).map_or(0.0, |&late| f64::from(late));
        (self.motion.angle[step] - self.zero_at - late) / self.gearing
    }

    /// Shaft angle at a time, in shaft degrees, not wrapped.
    pub(super) fn at(&self, time: f64) -> f64 {
        let late = if self.moves.is_empty() { 0.0 } else { between32(&self.moves, time) };
        (self.motion.angle_at(time) - self.zero_at - late) / self.gearing
    }

    /// Shaft degrees per second at a time. A moving phaser is too slow to count.
    pub(super) fn speed_at(&self, time: f64) -> f64 {
        self.motion.speed_at(time) / self.gearing
    }
}
