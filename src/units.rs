//! One type per quantity, the unit in its name.
//!
//! Two scales of angle meet in this program and must never be mixed: degrees of
//! the crankshaft and degrees of some other shaft that carries a wheel. A cam
//! turns once while the crank turns twice; that factor of two lives in
//! [`CamDelta::to_crank`] and [`CrankDelta::to_cam`] and nowhere else.
//!
//! A *place* ([`CrankDeg`], [`ShaftDeg`]) is always inside its turn or cycle. A
//! *difference* ([`CrankDelta`], [`CamDelta`]) is signed, and positive means later
//! in the direction of rotation: late, retarded. [`CrankTurned`] is the angle the
//! crank has turned since a datum pass, without wrapping.

use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

/// Crank degrees in one four-stroke cycle.
pub const CYCLE_DEG: f64 = 720.0;
/// Degrees in one turn of any shaft.
pub const TURN_DEG: f64 = 360.0;
/// Crank turns per cam turn in a four-stroke engine.
const CRANK_PER_CAM: f64 = 2.0;

/// Defines a quantity that can be added to, subtracted from and scaled.
macro_rules! amount {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The bare number, in the unit the type is named for.
            #[must_use]
            pub fn get(self) -> f64 {
                self.0
            }
            /// The size without the sign.
            #[must_use]
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, by: f64) -> Self {
                Self(self.0 * by)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, by: f64) -> Self {
                Self(self.0 / by)
            }
        }
    };
}

amount!(
    /// Time on the capture's clock, or a span of it, in seconds.
    Seconds
);
amount!(
    /// Electrical potential in volts.
    Volts
);
amount!(
    /// Electrical current in amperes.
    Amperes
);
amount!(
    /// A signed difference of crank angle in crank degrees; positive is late (retarded).
    CrankDelta
);
amount!(
    /// A signed difference of cam angle in cam degrees; positive is late (retarded).
    CamDelta
);
amount!(
    /// Crank degrees turned since the datum pass a stretch of capture counts from.
    /// Not wrapped: 1090.0 is ten degrees into the second cycle.
    CrankTurned
);
amount!(
    /// Revolutions per minute of the crankshaft.
    Rpm
);

impl CamDelta {
    /// The same difference seen at the crank, which turns twice as fast.
    #[must_use]
    pub fn to_crank(self) -> CrankDelta {
        CrankDelta(self.0 * CRANK_PER_CAM)
    }
}

impl CrankDelta {
    /// The same difference seen at a cam, which turns half as fast.
    #[must_use]
    pub fn to_cam(self) -> CamDelta {
        CamDelta(self.0 / CRANK_PER_CAM)
    }

    /// Brings the difference into (−period/2, period/2], the range in which it
    /// can be known when the angle repeats every `period`.
    ///
    /// `period` must be positive.
    #[must_use]
    pub fn wrap(self, period: CrankDelta) -> CrankDelta {
        let folded = self.0.rem_euclid(period.0);
        if folded > period.0 / 2.0 { CrankDelta(folded - period.0) } else { CrankDelta(folded) }
    }

    /// [`CrankDelta::wrap`] by a cycle, where it is asked for hundreds of thousands of times.
    pub(crate) fn wrap_cycle(self) -> CrankDelta {
        let folded = within_cycle(self.0);
        if folded > CYCLE_DEG / 2.0 { CrankDelta(folded - CYCLE_DEG) } else { CrankDelta(folded) }
    }

    /// "late" for a positive difference, "early" for a negative one, "" for zero
    /// at the printed resolution of 0.1°.
    #[must_use]
    pub fn word(self) -> &'static str {
        if self.0 >= 0.05 {
            "late"
        } else if self.0 <= -0.05 {
            "early"
        } else {
            ""
        }
    }
}

/// `angle.rem_euclid(CYCLE_DEG)`, the same number without the long division that it calls: so few
/// whole cycles are exact, and so is what they leave of an angle.
fn within_cycle(angle: f64) -> f64 {
    const FEW: f64 = 1e9;
    if angle.abs() >= FEW || angle.is_nan() {
        return angle.rem_euclid(CYCLE_DEG);
    }
    let cycles = f64::from((angle / CYCLE_DEG) as i32);
    let left = angle - cycles * CYCLE_DEG;
    // A quotient that was rounded up to the next whole number is one too many.
    let left = if left < 0.0 && angle > 0.0 {
        angle - (cycles - 1.0) * CYCLE_DEG
    } else if left > 0.0 && angle < 0.0 {
        angle - (cycles + 1.0) * CYCLE_DEG
    } else {
        left
    };
    if left < 0.0 { left + CYCLE_DEG } else { left }
}

impl fmt::Display for CrankDelta {
    /// Size and word, never a bare sign: `18.2° late`, `3.0° early`, `0.0°`.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = self.word();
        let gap = if word.is_empty() { "" } else { " " };
        write!(out, "{:.1}°{gap}{word}", self.0.abs())
    }
}

impl CrankTurned {
    /// The place in the cycle this angle falls on.
    #[must_use]
    pub fn in_cycle(self) -> CrankDeg {
        CrankDeg::new(self.0)
    }
    /// How far this angle lies after `other`.
    #[must_use]
    pub fn since(self, other: CrankTurned) -> CrankDelta {
        CrankDelta(self.0 - other.0)
    }
    /// This angle moved later by `by`.
    #[must_use]
    pub fn later(self, by: CrankDelta) -> CrankTurned {
        CrankTurned(self.0 + by.0)
    }
}

impl Rpm {
    /// Speed from an angle turned in a time; `None` when no time passed.
    #[must_use]
    pub fn from_travel(turned: CrankDelta, took: Seconds) -> Option<Rpm> {
        (took.0 > 0.0).then(|| Rpm(turned.0 / took.0 / 6.0))
    }
    /// The same speed in crank degrees per second.
    #[must_use]
    pub fn degrees_per_second(self) -> f64 {
        self.0 * 6.0
    }
}

/// Defines a place that is folded into one period when it is made.
macro_rules! place {
    ($(#[$doc:meta])* $name:ident, $period:expr, $delta:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// Folds any finite angle into the period.
            #[must_use]
            pub fn new(degrees: f64) -> Self {
                let folded = degrees.rem_euclid($period);
                // rem_euclid of a tiny negative number rounds up to the period itself.
                Self(if folded >= $period { 0.0 } else { folded })
            }
            /// The bare number of degrees, from 0 up to but not including the period.
            #[must_use]
            pub fn get(self) -> f64 {
                self.0
            }
        }
        impl Add<$delta> for $name {
            type Output = Self;
            fn add(self, by: $delta) -> Self {
                Self::new(self.0 + by.0)
            }
        }
        impl Sub<$delta> for $name {
            type Output = Self;
            fn sub(self, by: $delta) -> Self {
                Self::new(self.0 - by.0)
            }
        }
        /// Place minus place: the shorter way round, in (−period/2, period/2].
        impl Sub for $name {
            type Output = $delta;
            fn sub(self, other: Self) -> $delta {
                let folded = (self.0 - other.0).rem_euclid($period);
                $delta(if folded > $period / 2.0 { folded - $period } else { folded })
            }
        }
    };
}

place!(
    /// A place in the four-stroke cycle: crank degrees after the datum, 0 up to 720.
    CrankDeg,
    CYCLE_DEG,
    CrankDelta
);
place!(
    /// A place on a wheel: degrees of the shaft that carries it, 0 up to 360, growing in
    /// the order in which the places pass the sensor.
    ShaftDeg,
    TURN_DEG,
    CamDelta
);

impl ShaftDeg {
    /// For a wheel on a cam: how many crank degrees after the wheel's zero this place passes.
    #[must_use]
    pub fn crank_after_zero(self) -> CrankDelta {
        CamDelta(self.0).to_crank()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cycle_is_wrapped_by_as_the_long_division_does() {
        let near = |angle: f64| [angle.next_down(), angle, angle.next_up()];
        let angles = (-2000..2000).flat_map(|i| near(f64::from(i) * 90.0));
        let odd = (0..100_000).map(|i| (f64::from(i) * 12.9898).sin() * 1e6);
        for angle in angles.chain(odd).chain([1e12, -3e15, 1e-300, -1e-300]) {
            let by_division = CrankDelta(angle).wrap(CrankDelta(CYCLE_DEG));
            assert_eq!(CrankDelta(angle).wrap_cycle(), by_division, "{angle:e}");
        }
        assert!(CrankDelta(f64::NAN).wrap_cycle().0.is_nan());
    }

    #[test]
    fn differences_wrap_into_half_a_period_either_side() {
        // (difference, period, wrapped): docs/sources.md, "Angles", (−P/2, P/2].
        let rows = [
            (0.0, 720.0, 0.0),
            (360.0, 720.0, 360.0),
            (-360.0, 720.0, 360.0),
            (361.0, 720.0, -359.0),
            (719.0, 720.0, -1.0),
            (61.0, 120.0, -59.0),
            (60.0, 120.0, 60.0),
            (-60.0, 120.0, 60.0),
        ];
        for (difference, period, want) in rows {
            let got = CrankDelta(difference).wrap(CrankDelta(period));
            assert_eq!(got, CrankDelta(want), "{difference} in {period}");
            assert_eq!(got.wrap(CrankDelta(period)), got, "wrapping twice equals once");
        }
    }

    #[test]
    fn a_cam_degree_is_two_crank_degrees() {
        assert_eq!(CamDelta(9.0).to_crank(), CrankDelta(18.0));
        assert_eq!(CrankDelta(18.0).to_cam(), CamDelta(9.0));
        assert_eq!(ShaftDeg::new(90.0).crank_after_zero(), CrankDelta(180.0));
    }

    #[test]
    fn places_stay_in_their_period() {
        assert_eq!(CrankDeg::new(-1.0).get(), 719.0);
        assert_eq!(CrankDeg::new(-1e-20).get(), 0.0);
        assert_eq!(CrankDeg::new(2.0) - CrankDeg::new(718.0), CrankDelta(4.0));
        assert_eq!((CrankDeg::new(719.0) + CrankDelta(2.0)).get(), 1.0);
    }

    #[test]
    fn a_deviation_always_carries_its_word() {
        assert_eq!(CrankDelta(18.24).to_string(), "18.2° late");
        assert_eq!(CrankDelta(-3.0).to_string(), "3.0° early");
        assert_eq!(CrankDelta(-0.04).to_string(), "0.0°");
    }

    #[test]
    fn two_hundred_rpm_is_1200_degrees_a_second() {
        // docs/sources.md, "Signals".
        assert_eq!(Rpm(200.0).degrees_per_second(), 1200.0);
        assert_eq!(Rpm::from_travel(CrankDelta(360.0), Seconds(0.3)), Some(Rpm(200.0)));
        assert_eq!(Rpm::from_travel(CrankDelta(360.0), Seconds(0.0)), None);
    }
}
