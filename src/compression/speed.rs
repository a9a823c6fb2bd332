//! Crank speed alone as a sign of compression.
//!
//! Kinetic energy goes with the square of speed, so the dip of speed² at a compression is the
//! energy its gas took.

use super::curve::{Curve, Step};
use crate::crank::Mark;
use crate::units::Rpm;

/// Crank speed from identified marks. Each step between neighbours gives the mean speed over
/// it; marks that do not grow are skipped.
///
/// A misplaced tooth changes a short step's speed more than a long one's, hence the weight.
pub(super) fn from_marks(marks: &[Mark]) -> Curve {
    let mut curve = Curve::default();
    for pair in marks.windows(2) {
        let (turned, took) = (pair[1].turned.0 - pair[0].turned.0, pair[1].at.0 - pair[0].at.0);
        if turned > 0.0 && took > 0.0 {
            let speed = turned.to_radians() / took;
            curve.push(Step {
                from: pair[0].turned.0,
                to: pair[1].turned.0,
                square: speed * speed,
                speed,
                weight: turned,
                raw: turned / took / Rpm(1.0).degrees_per_second(),
            });
        }
    }
    curve
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{CrankTurned, Seconds};

    #[test]
    fn two_hundred_rpm_from_tooth_times() {
        // 10° at 200 rpm (1200 degrees a second) takes 8.3333 ms.
        let mark = |i: f64| Mark { at: Seconds(i / 120.0), turned: CrankTurned(10.0 * i) };
        let curve = from_marks(&[mark(0.0), mark(1.0), mark(3.0)]);
        assert!(curve.raw.iter().all(|rpm| (rpm - 200.0).abs() < 1e-9));
        assert_eq!(curve.weight, [10.0, 20.0]);
        let stopped = [mark(0.0), mark(0.0)];
        assert_eq!(from_marks(&stopped).len(), 0);
    }
}
