//! What engines usually have where a description is silent.

use super::{CamShaft, Engine, PhaserRest};
use crate::units::CrankDeg;

/// Intake closing, crank degrees after firing TDC: 60° after bottom dead centre (common practice, no source: 50 to 75).
const INTAKE_CLOSES: f64 = 600.0;
/// Of an intake cam whose phaser is parked late: 67° after bottom dead centre (common practice, no source: 60 to 75).
const INTAKE_CLOSES_PARKED_LATE: f64 = 607.0;

impl Engine {
    /// Where the intake closes on engines like this one, cams at rest: what the measurement reckons with and what practice
    /// makes where the description does not say.
    #[must_use]
    pub fn usual_intake_closing(&self) -> CrankDeg {
        let parked_late = self.cams.iter().any(|cam| {
            cam.shaft != CamShaft::Exhaust
                && cam.phaser.is_some_and(|phaser| phaser.rest == PhaserRest::Retarded)
        });
        CrankDeg::new(if parked_late { INTAKE_CLOSES_PARKED_LATE } else { INTAKE_CLOSES })
    }
}
