//! Top dead centre from the motion itself.
//!
//! Compressions slow the crank, so the motion shows where TDC is, modulo the firing
//! interval. Held against the engine file's `tdc` it tells whether the crank wheel, or
//! its key, stands where the file says: a moved wheel shifts every cam alike, and this as well.

use crate::units::CrankDelta;

/// Standard deviation of TDC found from a motion that the model explains wholly, in crank degrees.
/// It is a model error (starter torque, losses, lag), not scatter: over simulated engines with
/// other losses and exponents than the model's it stayed within 3°, see the tests.
const BEST_SD: f64 = 2.0;
/// What each part of the motion left unexplained adds, crank degrees per whole. A real starter's
/// drive swings between its teeth after TDC and blunts the picture; sized so that the one real
/// recording at hand (0.8 explained) is known to some 6°.
const SD_PER_UNEXPLAINED: f64 = 20.0;
/// Standard deviations between found and stated before the wheel is said to have moved: an
/// accusation, so more than chance of one capture in a thousand.
const MOVED_SDS: f64 = 4.0;

/// TDC by the motion against TDC by the engine file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TdcCheck {
    /// Crank degrees from the datum to a TDC, 0 up to `modulo`.
    pub found: CrankDelta,
    /// Found − stated; positive when TDC comes later after the datum than the file says, which is a
    /// crank wheel that stands early. Absent when the file states none.
    pub off: Option<CrankDelta>,
    /// Standard deviation of `found`.
    pub sd: CrankDelta,
    /// TDC is known only up to multiples of this.
    pub modulo: CrankDelta,
}

impl TdcCheck {
    /// Whether the crank wheel, its key or the stated `tdc` cannot be right.
    #[must_use]
    pub fn has_moved(&self) -> bool {
        self.off.is_some_and(|off| off.abs().0 > MOVED_SDS * self.sd.0)
    }
}

/// Compares.
pub(super) fn check(
    stated: Option<CrankDelta>,
    base: f64,
    shift: f64,
    modulo: f64,
    explained: f64,
) -> TdcCheck {
    let modulo = CrankDelta(modulo);
    TdcCheck {
        found: CrankDelta((base + shift).rem_euclid(modulo.0)),
        off: stated.map(|_| CrankDelta(shift).wrap(modulo)),
        sd: CrankDelta(BEST_SD + SD_PER_UNEXPLAINED * (1.0 - explained).clamp(0.0, 1.0)),
        modulo,
    }
}
