//! Crank speed alone as a sign of compression.
//!
//! Kinetic energy goes with the square of speed, so the dip of speed² at a compression is the energy
//! its gas took. A published service procedure compares speed at TDC with that about 30°
//! after it; [`drop_after_tdc`] is that reading, shown beside the fitted values.

use super::curve::{Curve, Step};
use crate::crank::Mark;
use crate::units::{CrankDelta, Rpm};

/// Where the published procedure reads the recovered speed, after TDC (docs/sources.md, "Compression").
const RECOVERED: CrankDelta = CrankDelta(30.0);

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

/// Speed about 30° after TDC less speed at TDC, from a cylinder's waveform in rpm by angle from
/// TDC in growing order; `None` when the waveform does not reach that far.
#[must_use]
pub fn drop_after_tdc(waveform: &[(CrankDelta, f64)]) -> Option<Rpm> {
    let at = |angle: f64| {
        let next = waveform.iter().position(|(from_tdc, _)| from_tdc.0 >= angle)?;
        let (b, high) = waveform[next];
        let (a, low) = waveform[next.checked_sub(1)?];
        Some(low + (angle - a.0) / (b.0 - a.0) * (high - low))
    };
    Some(Rpm(at(RECOVERED.0)? - at(0.0)?))
}

/// Share of the kinetic energy that a compression takes when speed falls from `before` to `at`; `None`
/// at a standstill.
#[must_use]
pub fn energy_share(before: Rpm, at: Rpm) -> Option<f64> {
    (before.0 > 0.0).then(|| 1.0 - (at.0 / before.0).powi(2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{CrankTurned, Seconds};

    #[test]
    fn the_published_example_is_twenty_rpm() {
        // Published service procedure (docs/sources.md, "Compression"): 200 rpm about 30° after TDC, 180 rpm at TDC,
        // 200 − 180 = 20 rpm.
        let waveform: Vec<(CrankDelta, f64)> = (-60..=60)
            .map(|i| (CrankDelta(f64::from(i)), 190.0 - 10.0 * f64::from(i * 6).to_radians().cos()))
            .collect();
        let drop = drop_after_tdc(&waveform).expect("it reaches 60°");
        assert!((drop.0 - 20.0).abs() < 1e-9, "{drop:?}");
        assert_eq!(drop_after_tdc(&waveform[..70]), None);
        // Kinetic energy: 1 − (180 / 200)² = 0.19.
        assert!((energy_share(Rpm(200.0), Rpm(180.0)).expect("it turns") - 0.19).abs() < 1e-12);
        assert_eq!(energy_share(Rpm(0.0), Rpm(0.0)), None);
    }

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
