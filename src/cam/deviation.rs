//! A position held against where it should be: degrees, interval, teeth.

use super::phase::DatumChoice;
use super::{CamPosition, CamResult, ExpectedFrom};
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

/// Judges nothing: subtracts, wraps, counts teeth. `step` is that of the chain nearest the cam.
#[must_use]
pub fn deviation(
    mut measured: CamPosition,
    expected: Option<Expected>,
    datum: &DatumChoice,
    step: Option<CrankDelta>,
) -> CamResult {
    measured.position = measured.position + datum.shift;
    for edge in &mut measured.edges {
        edge.at = edge.at + datum.shift;
    }
    let known_modulo = common_period(datum.known_modulo, measured.known_modulo);
    let deviation = expected
        .map(|expected| CrankDelta(measured.position.get() - expected.at.get()).wrap(known_modulo));
    let mut result = CamResult {
        expected: expected.map(|expected| (expected.at, expected.from)),
        expected_sd: expected.and_then(|expected| expected.sd),
        deviation,
        ci95: None,
        known_modulo,
        step,
        nearest_teeth: None,
        left_over: None,
        measured,
    };
    result.recount();
    result
}

impl CamResult {
    /// Counts whole teeth in the step of another chain on the way to this cam.
    pub fn count_in(&mut self, step: CrankDelta) {
        self.step = Some(step);
        self.recount();
    }

    /// Works out interval, whole teeth and what is left over from the deviation.
    pub fn recount(&mut self) {
        let half_width = self.measured.half_width95;
        self.ci95 =
            self.deviation.map(|deviation| (deviation - half_width, deviation + half_width));
        let teeth = self.deviation.zip(self.step).map(|(deviation, step)| {
            let teeth = (deviation.0 / step.0).round();
            (teeth as i32, CrankDelta(deviation.0 - teeth * step.0))
        });
        self.nearest_teeth = teeth.map(|(teeth, _)| teeth);
        self.left_over = teeth.map(|(_, left)| left);
    }
}

/// The period in which an angle is known when two things each repeat: both divide a cycle a whole number
/// of times, so it is the cycle over the least common multiple's inverse, found by Euclid's rule.
pub(crate) fn common_period(a: CrankDelta, b: CrankDelta) -> CrankDelta {
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
}
