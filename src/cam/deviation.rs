//! A position held against where it should be: degrees, interval, teeth. Nothing is judged here,
//! and nowhere else is a place subtracted from a place.

use super::pattern::upside_down_period;
use super::phase::DatumChoice;
use super::{CamPosition, CamResult, ExpectedFrom};
use crate::engine::Cam;
use crate::units::{CrankDeg, CrankDelta};

/// Where a cam should stand, and how that is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// The place.
    pub at: CrankDeg,
    /// Standard deviation of that knowledge, where stated.
    pub sd: Option<CrankDelta>,
    /// What says so.
    pub from: ExpectedFrom,
}

/// How much later a place is than where it is expected, where the angle repeats every `period`;
/// positive is late.
#[must_use]
pub fn late(place: CrankDeg, expected: CrankDeg, period: CrankDelta) -> CrankDelta {
    (place - expected).wrap(period)
}

/// How much later one cam stands than another, each against its own expected place. Both places may
/// count from a zero that is not known, as long as it is the same.
#[must_use]
pub fn difference(first: (&CamPosition, CrankDeg), second: (&CamPosition, CrankDeg)) -> CrankDelta {
    let period = common_period(first.0.known_modulo, second.0.known_modulo);
    let own = |(cam, expected): (&CamPosition, CrankDeg)| cam.position - expected;
    (own(first) - own(second)).wrap(period)
}

/// Whole teeth of so many crank degrees nearest to a shift, and what is left over.
#[must_use]
pub fn whole_teeth(shift: CrankDelta, step: CrankDelta) -> (i32, CrankDelta) {
    let teeth = (shift.0 / step.0).round();
    (teeth as i32, CrankDelta(shift.0 - teeth * step.0))
}

impl CamResult {
    /// Holds a position, as measured, against its expected place. `step` is that of the chain
    /// nearest the cam.
    #[must_use]
    pub fn against(
        cam: &Cam,
        mut measured: CamPosition,
        expected: Option<Expected>,
        datum: &DatumChoice,
        step: Option<CrankDelta>,
    ) -> CamResult {
        measured.position = measured.position + datum.shift;
        for edge in &mut measured.edges {
            edge.at = edge.at + datum.shift;
        }
        let repeats = common_period(datum.known_modulo, measured.known_modulo).0;
        let upside_down = upside_down_period(cam).map_or(repeats, |turn| turn.0);
        let known_modulo = CrankDelta(repeats.min(upside_down));
        CamResult { name: cam.name.clone(), measured, expected, known_modulo, step }
    }

    /// Measured − expected, wrapped to `known_modulo`; positive is late. Absent when no place is
    /// expected.
    #[must_use]
    pub fn deviation(&self) -> Option<CrankDelta> {
        let expected = self.expected?;
        Some(late(self.measured.position, expected.at, self.known_modulo))
    }

    /// 95 % interval of the deviation's measurement, without the reference's uncertainty.
    #[must_use]
    pub fn ci95(&self) -> Option<(CrankDelta, CrankDelta)> {
        let half_width = self.measured.half_width95;
        self.deviation().map(|deviation| (deviation - half_width, deviation + half_width))
    }

    /// Whole teeth nearest to the deviation, positive late, and the deviation less those. Absent
    /// without a deviation, or where no chain with its sprockets is described.
    #[must_use]
    pub fn teeth(&self) -> Option<(i32, CrankDelta)> {
        Some(whole_teeth(self.deviation()?, self.step?))
    }
}

/// The period in which an angle is known when two things each repeat: the greatest that divides
/// both, by Euclid's rule.
fn common_period(a: CrankDelta, b: CrankDelta) -> CrankDelta {
    let (mut a, mut b) = (a.0, b.0);
    while b > 1e-6 {
        (a, b) = (b, a.rem_euclid(b));
        // A remainder within rounding of the divisor is none.
        if (a - b).abs() < 1e-6 {
            b = 0.0;
        }
    }
    CrankDelta(a)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn periods_combine_to_what_both_leave_open() {
        let rows = [
            (720.0, 720.0, 720.0),
            (720.0, 360.0, 360.0),
            (360.0, 240.0, 120.0),
            (120.0, 180.0, 60.0),
            (15.0, 720.0, 15.0),
        ];
        for (a, b, want) in rows {
            let got = common_period(CrankDelta(a), CrankDelta(b));
            assert!((got.0 - want).abs() < 1e-9, "{a} and {b}: {got:?}");
        }
    }

    #[test]
    fn teeth_are_counted_both_ways() {
        // 21 teeth on the crank: 360/21 = 17.142857° a tooth; 18.2 − 17.142857 = 1.057143.
        let step = CrankDelta(360.0 / 21.0);
        let (teeth, left) = whole_teeth(CrankDelta(18.2), step);
        assert!(teeth == 1 && (left.0 - 1.057_143).abs() < 1e-6, "{teeth} {left:?}");
        let (teeth, left) = whole_teeth(CrankDelta(-33.0), step);
        assert!(teeth == -2 && (left.0 - 1.285_714).abs() < 1e-6, "{teeth} {left:?}");
    }
}
