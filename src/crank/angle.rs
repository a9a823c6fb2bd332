//! Time ↔ crank angle over one unbroken stretch of rotation.

use super::interpolate::{hermite, pchip_slopes, spline_slopes_through};
use crate::units::{CrankDelta, CrankTurned, Rpm, Seconds};

/// A tooth edge that was identified: when it passed and what angle it stands at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// When.
    pub at: Seconds,
    /// Crank degrees since the first datum of the stretch.
    pub turned: CrankTurned,
}

/// Time ↔ crank angle over one unbroken stretch of rotation.
///
/// Angle 0 is a datum pass. Which of the datum passes of a cycle it is (two, or more on a
/// crank wheel that repeats) is not known here: every angle may be off by one
/// multiple of [`CrankAngle::known_modulo`], the same for the whole stretch.
#[derive(Debug, Clone, PartialEq)]
pub struct CrankAngle {
    marks: Vec<Mark>,
    /// Degrees per second at each mark.
    slopes: Vec<f64>,
    known_modulo: CrankDelta,
    longest_bridge: CrankDelta,
}

/// The curve is trusted over this many of the wheel's longest steps: its gap, with one neighbour
/// missing. Over a longer hole the speed ripple is not known and no angle is given.
const TRUSTED_STEPS: f64 = 1.6;

/// Marks on each side that the slope at a mark is taken over where marks scatter.
const SCATTERED_AROUND: usize = 4;

/// Slope of the straight line through marks, by least squares, in degrees per second.
fn slope_through(marks: &[Mark]) -> f64 {
    let origin = marks[0];
    let of = |mark: &Mark| ((mark.at - origin.at).0, mark.turned.since(origin.turned).0);
    let count = marks.len() as f64;
    let (sum_t, sum_a) = marks.iter().map(of).fold((0.0, 0.0), |(t, a), (x, y)| (t + x, a + y));
    let (mut spread, mut both) = (0.0, 0.0);
    for (t, a) in marks.iter().map(of) {
        spread += (t - sum_t / count).powi(2);
        both += (t - sum_t / count) * (a - sum_a / count);
    }
    both / spread.max(f64::MIN_POSITIVE)
}

impl CrankAngle {
    /// Lays the curve through identified marks, strictly growing in time and angle; `None`
    /// under two marks. `longest_step` is the wheel's longest step from tooth to tooth.
    #[must_use]
    pub fn through(
        marks: Vec<Mark>,
        known_modulo: CrankDelta,
        longest_step: CrankDelta,
    ) -> Option<CrankAngle> {
        if marks.len() < 2 {
            return None;
        }
        // Time from the first mark keeps the digits of a long capture.
        let origin = marks[0].at;
        let point = |i: usize| ((marks[i].at - origin).0, marks[i].turned.0);
        let slopes = if marks.len() < 4 {
            let (times, angles): (Vec<f64>, Vec<f64>) = (0..marks.len()).map(point).unzip();
            pchip_slopes(&times, &angles)
        } else {
            spline_slopes_through(marks.len(), point)
        };
        Some(CrankAngle {
            marks,
            slopes,
            known_modulo,
            longest_bridge: longest_step * TRUSTED_STEPS,
        })
    }

    /// The same where single marks scatter by much, against the wheel's steps: a curve that follows
    /// every one of them swings wildly between two that came late and early, so that its slopes are
    /// those of a line through the marks around.
    #[must_use]
    pub(super) fn with_steady_slopes(mut self) -> CrankAngle {
        let marks = &self.marks;
        let secant = |i: usize| {
            marks[i + 1].turned.since(marks[i].turned).0 / (marks[i + 1].at - marks[i].at).0
        };
        self.slopes = (0..marks.len())
            .map(|i| {
                let from = i.saturating_sub(SCATTERED_AROUND);
                let to = (i + SCATTERED_AROUND + 1).min(marks.len());
                let beside = match i {
                    0 => secant(0),
                    _ if i + 1 == marks.len() => secant(i - 1),
                    _ => secant(i - 1).min(secant(i)),
                };
                // No steeper than keeps the curve monotone.
                slope_through(&marks[from..to]).clamp(0.0, 3.0 * beside)
            })
            .collect();
        self
    }

    /// The identified marks in order.
    #[must_use]
    pub fn marks(&self) -> &[Mark] {
        &self.marks
    }

    /// The crank wheel alone tells angles apart only modulo this: 360, or a divisor of it.
    #[must_use]
    pub fn known_modulo(&self) -> CrankDelta {
        self.known_modulo
    }

    /// First and last instant covered.
    #[must_use]
    pub fn span(&self) -> (Seconds, Seconds) {
        (self.marks[0].at, self.marks[self.marks.len() - 1].at)
    }

    /// First and last angle covered.
    #[must_use]
    pub fn turned_span(&self) -> (CrankTurned, CrankTurned) {
        (self.marks[0].turned, self.marks[self.marks.len() - 1].turned)
    }

    /// Angle turned at an instant; `None` outside the stretch and in holes too long to bridge.
    #[must_use]
    pub fn angle_at(&self, at: Seconds) -> Option<CrankTurned> {
        self.evaluate(at).map(|(angle, _)| CrankTurned(angle))
    }

    /// Speed at an instant; `None` outside the stretch and in holes too long to bridge.
    #[must_use]
    pub fn rpm_at(&self, at: Seconds) -> Option<Rpm> {
        self.evaluate(at).map(|(_, slope)| Rpm(slope / 6.0))
    }

    /// Instant at which an angle was reached, to better than a nanosecond; `None` outside the
    /// stretch and in holes too long to bridge.
    #[must_use]
    pub fn time_at(&self, turned: CrankTurned) -> Option<Seconds> {
        let after = self.marks.partition_point(|mark| mark.turned <= turned);
        let i = after.clamp(1, self.marks.len() - 1) - 1;
        let (mut low, mut high) = (self.marks[i].at.0, self.marks[i + 1].at.0);
        let reached = self.marks[i].turned..=self.marks[i + 1].turned;
        if !reached.contains(&turned) || self.too_far_apart(i) {
            return None;
        }
        // The curve is monotone between marks, so halving always closes in.
        while high - low > 1e-10 {
            let middle = low.midpoint(high);
            if middle <= low || middle >= high {
                break;
            }
            if self.between(i, Seconds(middle)).0 < turned.0 { low = middle } else { high = middle }
        }
        Some(Seconds(low.midpoint(high)))
    }

    fn evaluate(&self, at: Seconds) -> Option<(f64, f64)> {
        let (first, last) = self.span();
        if !(first..=last).contains(&at) {
            return None;
        }
        let after = self.marks.partition_point(|mark| mark.at <= at);
        let i = after.clamp(1, self.marks.len() - 1) - 1;
        (!self.too_far_apart(i)).then(|| self.between(i, at))
    }

    /// Whether no angle is given between a mark and the next.
    fn too_far_apart(&self, i: usize) -> bool {
        self.marks[i + 1].turned.since(self.marks[i].turned) > self.longest_bridge
    }

    /// Angle and speed between a mark and the next.
    fn between(&self, i: usize, at: Seconds) -> (f64, f64) {
        let (from, to) = (self.marks[i], self.marks[i + 1]);
        let h = (to.at - from.at).0;
        hermite(
            (0.0, from.turned.0, self.slopes[i]),
            (h, to.turned.0, self.slopes[i + 1]),
            (at - from.at).0,
        )
    }
}
