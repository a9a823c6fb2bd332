//! Where the valves of an engine close, said or not.

use super::{CamShaft, Engine, PhaserRest};
use crate::units::CrankDeg;

/// Intake closing in crank degrees after firing TDC where the engine file gives none: 60° after
/// bottom dead centre; where the intake phaser parks late, 67°, in the middle of 60 to 75° (common
/// practice, no source). What `check` reckons with and `practice` draws.
const USUAL_CLOSING: f64 = 600.0;
const PARKED_LATE_CLOSING: f64 = 607.0;

impl Engine {
    /// Where the intake valves close while cranking: by the engine file, or as they usually do, by
    /// where the intake phasers rest.
    #[must_use]
    pub fn intake_closing(&self) -> CrankDeg {
        let parks_late = self.cams.iter().any(|cam| {
            let rests = cam.phaser.as_ref().map(|phaser| phaser.rest);
            cam.shaft != CamShaft::Exhaust && rests == Some(PhaserRest::Retarded)
        });
        let usual = if parks_late { PARKED_LATE_CLOSING } else { USUAL_CLOSING };
        self.valves.intake_closes.unwrap_or(CrankDeg::new(usual))
    }
}
