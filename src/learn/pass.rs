//! Which pass of the crank mark begins the cycle, told by an ignition lead.
//!
//! Cams without a stated place cannot say which of the passes comes before *firing* TDC of cylinder
//! 1; a spark can: it falls shortly before the firing TDC of its cylinder.

use crate::analysis::Analysis;
use crate::capture::Capture;
use crate::edges::find_pulses;
use crate::leads::{LeadRequest, Role, assign};
use crate::stats::median;
use crate::units::{CYCLE_DEG, CrankDelta};

/// Earliest and latest a spark falls after its TDC while cranking, in crank degrees (common
/// practice, no source: a few degrees before TDC, earlier where dwell is what the lead shows).
const SPARK_AFTER_TDC: (f64, f64) = (-60.0, 30.0);
/// Share of the sparks that must fall together; on a waste-spark system half of them fall a turn
/// away.
const TOGETHER: f64 = 0.8;
/// Sparks this near their median fall together, in crank degrees.
const NEAR: f64 = 40.0;
/// Fewest sparks to go by.
const LEAST_SPARKS: usize = 3;

/// What to add to the analysis' angles so that they count from the pass before firing TDC of
/// cylinder 1; `None` without a TDC figure, without an ignition lead, or with a waste spark.
pub(super) fn from_ignition(
    capture: &Capture,
    analysis: &Analysis,
    requests: &[LeadRequest],
) -> Option<CrankDelta> {
    let leads = assign(capture, &analysis.engine, requests).ok()?;
    leads.iter().find_map(|lead| {
        let Role::Ignition(cylinder) = lead.role else { return None };
        let tdc = analysis.engine.firing_tdc(cylinder)?;
        let off: Vec<CrankDelta> = find_pulses(capture, &capture.channels[lead.channel])
            .into_iter()
            .filter_map(|at| analysis.crank.angle.angle_at(at))
            .map(|turned| CrankDelta(turned.0 + analysis.datum_shift.0 - tdc.get()))
            .collect();
        shift(&off, analysis.crank.angle.known_modulo())
    })
}

/// The multiple of `modulo` that brings sparks before their TDC.
fn shift(off: &[CrankDelta], modulo: CrankDelta) -> Option<CrankDelta> {
    let first = off.first()?;
    let cycle = CrankDelta(CYCLE_DEG);
    // About the first, so that the median is not torn by the wrap.
    let about: Vec<f64> = off.iter().map(|&one| (one - *first).wrap(cycle).0).collect();
    let middle = median(&about)?;
    let together = about.iter().filter(|one| (*one - middle).abs() <= NEAR).count();
    if off.len() < LEAST_SPARKS || (together as f64) < TOGETHER * off.len() as f64 {
        return None;
    }
    let spark = *first + CrankDelta(middle);
    let passes = (CYCLE_DEG / modulo.0.max(1.0)).round() as usize;
    let mut fits = (0..passes).map(|pass| modulo * pass as f64).filter(|&by| {
        let after = (spark + by).wrap(cycle).0;
        (SPARK_AFTER_TDC.0..=SPARK_AFTER_TDC.1).contains(&after)
    });
    fits.next().filter(|_| fits.next().is_none())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sparks_choose_the_pass_and_waste_sparks_do_not() {
        let sparks = |at: &[f64]| at.iter().copied().map(CrankDelta).collect::<Vec<_>>();
        let turn = CrankDelta(360.0);
        let at = sparks(&[-9.0, 711.0, 1432.0]);
        assert_eq!(shift(&at, turn), Some(CrankDelta(0.0)));
        let other = sparks(&[351.0, 1071.0, 1792.0]);
        assert_eq!(shift(&other, turn), Some(CrankDelta(360.0)));
        let waste = sparks(&[-9.0, 351.0, 711.0, 1071.0]);
        assert_eq!(shift(&waste, turn), None);
        assert_eq!(shift(&at[..2], turn), None, "too few");
        let third = sparks(&[-129.0, 591.0, 1311.0]);
        assert_eq!(shift(&third, CrankDelta(120.0)), Some(CrankDelta(120.0)));
    }
}
