//! Slider-crank volume, and what a cylinder traps.
//!
//! Source of the volume: Heywood, *Internal Combustion Engine Fundamentals*, eq. 2.6. Angles here
//! are crank degrees from the cylinder's own firing TDC, negative before it.

use crate::engine::Engine;
use crate::units::{CYCLE_DEG, CrankDelta};

/// Polytropic exponent of compression while cranking. Air that loses no heat has 1.4, air that
/// keeps the wall's temperature 1; for gauge readings at cranking speed a public encyclopaedia
/// (article on the compression ratio) has "generally between 1.2 and 1.3". The upper end is taken:
/// the compression of a warm engine, as they come into a workshop. It hardly matters to what is
/// compared here: an intake that closes 17° late takes 14.9 % at 1.3 and 13.9 % at 1.2.
pub(super) const POLYTROPIC: f64 = 1.3;
/// Compression ratio when the engine file gives none; most spark-ignition engines lie
/// between 9 and 12 (common practice, no source). It cancels in relative compression.
const USUAL_COMPRESSION_RATIO: f64 = 10.0;
/// Connecting-rod length over crank radius when not given: Heywood names 3 to 4 for small
/// and medium engines.
const USUAL_ROD_RATIO: f64 = 3.5;
/// How far before TDC an intake closing can be believed in; outside it the file's valve events are
/// counted from somewhere else, and a usual one is taken: 60° after bottom dead centre (common
/// practice, no source).
const USUAL_CLOSING_BEFORE_TDC: f64 = 120.0;
const CLOSING_RANGE: std::ops::RangeInclusive<f64> = 60.0..=220.0;

/// Shape of one cylinder, as far as it matters to its compression.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CylinderShape {
    /// Compression ratio r_c.
    pub compression_ratio: f64,
    /// Connecting-rod length over crank radius, R.
    pub rod_ratio: f64,
    /// Crank degrees from intake closing to firing TDC, positive.
    pub closes_before_tdc: CrankDelta,
}

impl CylinderShape {
    /// Shape from the engine file, usual values where it is silent.
    #[must_use]
    pub fn of(engine: &Engine) -> Self {
        let before = CYCLE_DEG - engine.intake_closing().get();
        let believed = CLOSING_RANGE.contains(&before);
        CylinderShape {
            compression_ratio: engine.geometry.compression_ratio.unwrap_or(USUAL_COMPRESSION_RATIO),
            rod_ratio: engine.geometry.rod_ratio.unwrap_or(USUAL_ROD_RATIO),
            closes_before_tdc: CrankDelta(if believed { before } else { USUAL_CLOSING_BEFORE_TDC }),
        }
    }

    /// Cylinder volume over clearance volume at a crank angle from TDC: Heywood eq. 2.6.
    #[must_use]
    pub fn volume(&self, from_tdc: CrankDelta) -> f64 {
        let (sine, cosine) = from_tdc.0.to_radians().sin_cos();
        let rod = self.rod_ratio;
        let travel = rod + 1.0 - cosine - (rod * rod - sine * sine).sqrt();
        1.0 + 0.5 * (self.compression_ratio - 1.0) * travel
    }

    /// Pressure at TDC over pressure at intake closing: (V(IVC) / Vc)^n.
    #[must_use]
    pub fn trapped_pressure_ratio(&self) -> f64 {
        self.volume(self.closes_before_tdc).powf(POLYTROPIC)
    }

    /// How much larger a change is in pressure over the atmosphere, as a gauge shows it, than
    /// in absolute pressure.
    #[must_use]
    pub fn gauge_factor(&self) -> f64 {
        let ratio = self.trapped_pressure_ratio();
        ratio / (ratio - 1.0)
    }

    /// Relative change of compression when the intake cam stands later by `late`: −0.1 is a tenth
    /// less.
    ///
    /// Clamped to closing angles between bottom and top dead centre: closing *before* bottom
    /// dead centre traps less as well, which volume alone would not show rightly.
    #[must_use]
    pub fn change_for(&self, late: CrankDelta) -> f64 {
        let closing = (self.closes_before_tdc.0 - late.0).clamp(0.0, 180.0);
        let volume = self.volume(CrankDelta(closing));
        let trapped = (volume / self.volume(self.closes_before_tdc)).powf(POLYTROPIC) - 1.0;
        trapped * self.gauge_factor()
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// A cylinder whose intake closes so many crank degrees before TDC.
    pub(in crate::compression) fn shape(
        compression_ratio: f64,
        rod_ratio: f64,
        closes: f64,
    ) -> CylinderShape {
        CylinderShape { compression_ratio, rod_ratio, closes_before_tdc: CrankDelta(closes) }
    }

    #[test]
    fn volume_follows_heywood_eq_2_6() {
        // (r_c, R, θ, V/Vc). 0° and 180° by definition: 1 and r_c. At 90°, worked by hand:
        // r_c = 9, R = 3: 1 + 4 (4 − √8) = 5.686292; r_c = 10, R = 4: 1 + 4.5 (5 − √15) = 6.071575.
        let rows = [
            (10.0, 3.5, 0.0, 1.0),
            (10.0, 3.5, 180.0, 10.0),
            (9.0, 3.0, 90.0, 5.686_291_501),
            (9.0, 3.0, -90.0, 5.686_291_501),
            (10.0, 4.0, 90.0, 6.071_574_945),
        ];
        for (ratio, rod, at, want) in rows {
            let got = shape(ratio, rod, 130.0).volume(CrankDelta(at));
            assert!((got - want).abs() < 1e-8, "r_c {ratio} R {rod} at {at}: {got}, want {want}");
        }
    }

    #[test]
    fn closing_later_traps_less_and_nothing_moved_changes_nothing() {
        let sound = shape(10.0, 3.5, 130.0);
        assert_eq!(sound.change_for(CrankDelta(0.0)), 0.0);
        // By hand at 130° and 113° before TDC, R = 3.5: travel = R + 1 − cos θ − √(R² − sin² θ)
        // 130°: 4.5 + 0.642788 − √(12.25 − 0.586824) = 1.727663, V = 8.774483
        // 113°: 4.5 + 0.390731 − √(12.25 − 0.847329) = 1.513947, V = 7.812763
        // (7.812763 / 8.774483)^1.3 − 1 = −0.14008; over the atmosphere, at 8.774483^1.3 = 16.829
        // atmospheres: −0.14008 · 16.829 / 15.829 = −0.14893.
        assert!((sound.change_for(CrankDelta(17.0)) + 0.148_93).abs() < 3e-4);
        assert!(sound.change_for(CrankDelta(-17.0)) > 0.0);
    }

    #[test]
    fn a_shift_is_a_curve_steeper_where_the_intake_closes_late() {
        // By hand as above, r_c = 10, R = 3.5, a tooth of 17°: (closes before TDC, late by,
        // change). 147°: travel 4.5 + 0.838671 − √(12.25 − 0.296632) = 1.881336, V = 9.466010 105°:
        // travel 4.5 + 0.258819 − √(12.25 − 0.933013) = 1.394742, V = 7.276339 88°: travel 4.5 −
        // 0.034899 − √(12.25 − 0.998782) = 1.110810, V = 5.998645 (9.466010 / 8.774483)^1.3 − 1 =
        // 0.10367; · 16.829 / 15.829 = 0.11022. (5.998645 / 7.276339)^1.3 − 1 = −0.22201;
        // 7.276339^1.3 = 13.201, · 13.201 / 12.201 = −0.24021.
        let rows = [(130.0, 17.0, -0.148_93), (130.0, -17.0, 0.110_2), (105.0, 17.0, -0.240_2)];
        for (closes, late, want) in rows {
            let got = shape(10.0, 3.5, closes).change_for(CrankDelta(late));
            assert!((got - want).abs() < 1e-3, "{closes} {late}: {got}, want {want}");
        }
    }

    #[test]
    fn where_the_file_is_silent_the_closing_goes_by_where_the_phaser_parks() {
        let closes = |cam: &str, valves: &str| {
            let text = format!(
                "name = \"four\"\nfiring_order = [1, 3, 4, 2]\n[crank]\nwheel = \"36-2\"\nsensor = \"hall\"\n{cam}{valves}"
            );
            let engine = Engine::parse(&text, std::path::Path::new("engine.toml")).expect("four");
            CylinderShape::of(&engine).closes_before_tdc.0
        };
        let cam = |shaft: &str, rest: &str| {
            format!(
                "[[cam]]\nname = \"one\"\nbank = 1\nshaft = \"{shaft}\"\nwheel = \"three-uneven\"\nsensor = \"hall\"\n\
                 phaser = {{ rest = \"{rest}\", travel = 40.0 }}\n"
            )
        };
        assert_eq!(closes("", ""), 120.0);
        assert_eq!(closes(&cam("intake", "advanced"), ""), 120.0);
        assert_eq!(closes(&cam("exhaust", "retarded"), ""), 120.0);
        // Parked late: 60 to 75° after bottom dead centre.
        let late = closes(&cam("intake", "retarded"), "");
        assert!((105.0..120.0).contains(&late), "{late}");
        assert_eq!(closes(&cam("intake", "retarded"), "[valves]\nintake_closes = 590.0\n"), 130.0);
    }

    #[test]
    fn trapped_pressure_is_the_polytrope() {
        // Closing at bottom dead centre traps the whole volume: 10^1.3 = 19.9526.
        assert!((shape(10.0, 3.5, 180.0).trapped_pressure_ratio() - 19.952_623).abs() < 1e-5);
    }
}
