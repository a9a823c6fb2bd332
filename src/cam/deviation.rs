//! Deviation: how much later a place is than where it belongs. Nowhere else is a place subtracted
//! from a place to say where a cam stands.

use crate::units::{CrankDeg, CrankDelta};

/// How much later a place is than where it is expected, where the angle repeats every `period`;
/// positive is late.
#[must_use]
pub fn late(place: CrankDeg, expected: CrankDeg, period: CrankDelta) -> CrankDelta {
    (place - expected).wrap(period)
}

/// How much later one cam stands than another, each a place and where it is expected. Expected
/// places may count from a zero that is not known, as long as it is the same.
#[must_use]
pub fn difference(
    first: (CrankDeg, CrankDeg),
    second: (CrankDeg, CrankDeg),
    period: CrankDelta,
) -> CrankDelta {
    ((first.0 - first.1) - (second.0 - second.1)).wrap(period)
}

/// Whole teeth of so many crank degrees nearest to a shift, and what is left over.
#[must_use]
pub fn whole_teeth(shift: CrankDelta, step: CrankDelta) -> (i32, CrankDelta) {
    let teeth = (shift.0 / step.0).round();
    (teeth as i32, CrankDelta(shift.0 - teeth * step.0))
}

/// The period in which an angle is known when two things each repeat: the greatest that divides
/// both, by Euclid's rule.
#[must_use]
pub fn common_period(a: CrankDelta, b: CrankDelta) -> CrankDelta {
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
