//! The crank's angle as the compression stage takes it.

use crate::compression::AngleClock;
use crate::crank::{CrankAngle, Mark};
use crate::units::{CrankDelta, CrankTurned, Seconds};

impl AngleClock for CrankAngle {
    fn angle_at(&self, time: Seconds) -> Option<CrankTurned> {
        CrankAngle::angle_at(self, time)
    }
    fn time_at(&self, angle: CrankTurned) -> Option<Seconds> {
        CrankAngle::time_at(self, angle)
    }
    fn span(&self) -> (CrankTurned, CrankTurned) {
        self.turned_span()
    }
    fn marks(&self) -> &[Mark] {
        CrankAngle::marks(self)
    }
    fn known_modulo(&self) -> CrankDelta {
        CrankAngle::known_modulo(self)
    }
}
