//! What the cams, standing where they were measured, should have made of the banks' compression.

use super::geometry::CylinderShape;
use crate::engine::CamShaft;
use crate::units::CrankDelta;

/// A measured deviation of a cam that moves intake closing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CamShift {
    /// Bank.
    pub bank: u32,
    /// Which valves it drives; only intake and single cams matter here.
    pub shaft: CamShaft,
    /// Measured deviation; positive is late.
    pub deviation: CrankDelta,
    /// Its standard deviation.
    pub sd: CrankDelta,
}

/// The change of relative compression that a bank's cams should have made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExpectedChange {
    /// Of the bank against the mean of the others: −0.1 is a tenth down.
    pub difference: f64,
    /// Standard deviation by the cams' own errors; how well the geometry is known is left out.
    pub sd: f64,
    /// The least change, up or down, that any of the banks should show against the same bank with
    /// its cam in place. *Relative* compression stays even when all change alike.
    pub least_of_all: f64,
}

impl ExpectedChange {
    /// By what share of the higher side the lower one is below it, whichever of the two that is:
    /// 0 to 1.
    #[must_use]
    pub fn lower_by(&self) -> f64 {
        lower_by(self.difference)
    }
}

/// A bank's difference against the others, −0.2 or +0.25, as the share by which the lower side is
/// below the higher one: 0.2 both times.
#[must_use]
pub fn lower_by(difference: f64) -> f64 {
    if difference > 0.0 { difference / (1.0 + difference) } else { -difference }
}

/// An exhaust cam farther off than this, over two teeth of any usual chain, lets the charge out
/// before the piston is down or keeps burnt gas in: what that does to compression is not modelled
/// here, so nothing is expected then.
const EXHAUST_FAR: CrankDelta = CrankDelta(45.0);

/// A bank that would keep less than this share of its compression traps next to nothing: what is
/// left is leaks and the warming of what little there is, which the trapped volume does not show.
/// Four teeth of 17° leave a good quarter. The share may come out as nothing at all, and a
/// difference against nothing is no number.
const LEAST_LEFT: f64 = 0.2;

/// What the cams should have made of the compression of `bank` against the others of `banks`;
/// `None` when a bank has no intake cam that was measured, an exhaust cam stands far off, or a bank
/// would trap next to nothing.
pub(super) fn expected(
    bank: u32,
    banks: &[u32],
    shifts: &[CamShift],
    shape: &CylinderShape,
) -> Option<ExpectedChange> {
    let far = |shift: &CamShift| {
        shift.shaft != CamShaft::Intake && shift.deviation.0.abs() > EXHAUST_FAR.0
    };
    if shifts.iter().any(far) {
        return None;
    }
    let changes: Vec<(u32, (f64, f64))> = banks
        .iter()
        .map(|&bank| Some((bank, change_of(bank, shifts, shape)?)))
        .collect::<Option<_>>()?;
    if changes.iter().any(|(_, (change, _))| 1.0 + change < LEAST_LEFT) {
        return None;
    }
    let (_, (own, own_sd)) = changes.iter().find(|(of, _)| *of == bank)?;
    let others = || changes.iter().filter(|(of, _)| *of != bank).map(|(_, change)| change);
    let n = others().count().max(1) as f64;
    let mean = others().map(|(change, _)| change).sum::<f64>() / n;
    let square = others().map(|(_, sd)| sd * sd).sum::<f64>() / (n * n);
    Some(ExpectedChange {
        difference: (1.0 + own) / (1.0 + mean) - 1.0,
        sd: (own_sd * own_sd + square).sqrt(),
        least_of_all: changes
            .iter()
            .map(|(_, (change, _))| change.abs())
            .fold(f64::INFINITY, f64::min),
    })
}

/// Change of a bank's compression by its intake cam and its standard deviation.
fn change_of(bank: u32, shifts: &[CamShift], shape: &CylinderShape) -> Option<(f64, f64)> {
    let shift = shifts.iter().find(|shift| {
        shift.bank == bank && matches!(shift.shaft, CamShaft::Intake | CamShaft::Single)
    })?;
    let change = shape.change_for(shift.deviation);
    let beside = shape.change_for(shift.deviation + shift.sd);
    Some((change, (beside - change).abs()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cam(bank: u32, shaft: CamShaft, late: f64) -> CamShift {
        CamShift { bank, shaft, deviation: CrankDelta(late), sd: CrankDelta(0.1) }
    }

    #[test]
    fn an_exhaust_cam_far_off_leaves_nothing_to_expect() {
        let shape = super::super::geometry::tests::shape(10.0, 3.5, 130.0);
        let with = |exhaust: f64| {
            let shifts = [
                cam(1, CamShaft::Intake, 0.0),
                cam(2, CamShaft::Intake, 17.0),
                cam(2, CamShaft::Exhaust, exhaust),
            ];
            expected(2, &[1, 2], &shifts, &shape)
        };
        // By hand in geometry.rs: 17° late from 130° takes 14.9 %.
        let change = with(17.0).expect("a change");
        assert!((change.difference + 0.148_93).abs() < 1e-3, "{change:?}");
        assert_eq!(with(52.0), None);
        assert_eq!(with(-52.0), None);
    }

    /// A cam that stands anywhere, as one does whose lead is on another sensor: what is expected is
    /// a number that a compression can have, or nothing.
    #[test]
    fn whatever_the_cams_read_no_absurd_difference_is_expected() {
        let shape = super::super::geometry::tests::shape(10.0, 3.5, 130.0);
        let mut asked = 0;
        for one in (-360..=360).step_by(5) {
            for other in [-360, -130, -70, -17, 0, 17, 70, 100, 130, 131, 360] {
                let shifts = [
                    cam(1, CamShaft::Intake, f64::from(one)),
                    cam(2, CamShaft::Intake, f64::from(other)),
                ];
                for bank in [1, 2] {
                    let Some(change) = expected(bank, &[1, 2], &shifts, &shape) else { continue };
                    asked += 1;
                    let lower = change.lower_by();
                    assert!((0.0..=1.0).contains(&lower), "{one} {other}: {change:?}");
                }
            }
        }
        // From closing at the bottom to four teeth late there is an answer.
        assert!(asked > 500, "{asked}");
        let four_teeth = [cam(1, CamShaft::Intake, 0.0), cam(2, CamShaft::Intake, 68.6)];
        assert!(expected(2, &[1, 2], &four_teeth, &shape).is_some());
        // 130° late it closes at top dead centre and traps nothing: no difference against nothing.
        let nothing = [cam(1, CamShaft::Intake, 0.0), cam(2, CamShaft::Intake, 130.0)];
        assert_eq!(expected(1, &[1, 2], &nothing, &shape), None);
    }
}
