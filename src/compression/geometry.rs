//! Slider-crank volume, what a cylinder traps, and the energy it stores.
//!
//! Source of the volume: Heywood, *Internal Combustion Engine Fundamentals*, eq. 2.6. Angles here
//! are crank degrees from the cylinder's own firing TDC, negative before it.

use crate::engine::Engine;
use crate::units::{CYCLE_DEG, CrankDelta};

/// Polytropic exponent of air while cranking, between isothermal (1) and adiabatic
/// (1.4): about 1.3 (domain.md §9).
const POLYTROPIC: f64 = 1.3;
/// Compression ratio when the engine file gives none; most spark-ignition engines lie
/// between 9 and 12 (common practice, no source). It cancels in relative compression.
const USUAL_COMPRESSION_RATIO: f64 = 10.0;
/// Connecting-rod length over crank radius when not given: Heywood names 3 to 4 for small
/// and medium engines.
const USUAL_ROD_RATIO: f64 = 3.5;
/// Intake closing before firing TDC when not given: 50° after bottom dead centre (common
/// practice, no source).
const USUAL_CLOSING_BEFORE_TDC: f64 = 130.0;
/// How far before TDC an intake closing can be believed in; outside it the file's valve events are
/// counted from somewhere else.
const CLOSING_RANGE: std::ops::RangeInclusive<f64> = 60.0..=220.0;
/// Points of the stored-energy table: one per crank degree.
const TABLE: usize = CYCLE_DEG as usize;

/// Shape of one cylinder, as far as it matters to its compression.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CylinderShape {
    /// Compression ratio r_c.
    pub compression_ratio: f64,
    /// Connecting-rod length over crank radius, R.
    pub rod_ratio: f64,
    /// Crank degrees from intake closing to firing TDC, positive.
    pub closes_before_tdc: CrankDelta,
    /// Whether intake closing is the engine file's, rather than a usual value.
    pub closing_is_stated: bool,
}

impl CylinderShape {
    /// Shape from the engine file, usual values where it is silent.
    #[must_use]
    pub fn of(engine: &Engine) -> Self {
        let stated = engine
            .valves
            .intake_closes
            .map(|closes| CYCLE_DEG - closes.get())
            .filter(|before| CLOSING_RANGE.contains(before));
        CylinderShape {
            compression_ratio: engine.geometry.compression_ratio.unwrap_or(USUAL_COMPRESSION_RATIO),
            rod_ratio: engine.geometry.rod_ratio.unwrap_or(USUAL_ROD_RATIO),
            closes_before_tdc: CrankDelta(stated.unwrap_or(USUAL_CLOSING_BEFORE_TDC)),
            closing_is_stated: stated.is_some(),
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

    /// Relative change of compression when the intake cam stands later by `late`: −0.1 is a tenth less.
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

    /// Change of compression per crank degree of later intake closing, at rest position; negative.
    #[must_use]
    pub fn change_per_degree(&self) -> f64 {
        let half = CrankDelta(0.5);
        self.change_for(half) - self.change_for(-half)
    }
}

/// Energies of one cylinder between two crank angles, over the peak of `net`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Energies {
    /// Work against gas less the atmosphere behind the piston: what a tight cylinder stores.
    pub net: f64,
    /// The gas alone: what scales when a cylinder traps less.
    pub gross: f64,
    /// What leaking the whole charge by TDC, at a leak's own pace, changes in the first order.
    pub leaked: f64,
}

/// Energy that one cylinder's gas takes from the crank and gives back, over the cycle.
///
/// While the valves are shut the gas is a spring, and one that leaks: the share that leaks in a time
/// is that of a small hole, constant once the flow is choked (Heywood, appendix C). Less comes
/// back than went in, and the crank ends slower; that step is what tells a leak from a cylinder that traps less.
#[derive(Debug, Clone)]
pub struct StoredEnergy {
    /// Running integrals over crank degrees from 360° before TDC, one per degree, 721 long. Each energy's
    /// own rise over the cycle is taken out as a straight line, which the fit's slope stands for.
    net: Vec<f64>,
    gross: Vec<f64>,
    leaked: Vec<f64>,
    /// [`CylinderShape::gauge_factor`] of the cylinder.
    pub(super) gauge_factor: f64,
}

impl StoredEnergy {
    /// Tabulates the energies of a cylinder.
    ///
    /// Exhaust opening is taken as far after TDC as intake closing is before it, so that a tight spring
    /// gives back exactly what it took.
    #[must_use]
    pub fn of(shape: &CylinderShape) -> Self {
        let shut = shape.closes_before_tdc.0.min(180.0);
        let closing_volume = shape.volume(CrankDelta(shut));
        let pressure = |volume: f64| (closing_volume / volume).powf(POLYTROPIC);
        let angles = || (0..=TABLE).map(|degree| degree as f64 - CYCLE_DEG / 2.0);
        let volumes: Vec<f64> =
            angles().map(|angle| shape.volume(CrankDelta(angle.clamp(-shut, shut)))).collect();
        let drives: Vec<f64> = angles()
            .zip(&volumes)
            .map(|(angle, &volume)| if angle.abs() < shut { hole(pressure(volume)) } else { 0.0 })
            .collect();
        let by_tdc = drives[..TABLE / 2].iter().sum::<f64>() + 0.5 * drives[TABLE / 2];
        let (mut net, mut gross, mut leaked) = (vec![0.0], vec![0.0], vec![0.0]);
        let mut gone = 0.0;
        for degree in 0..TABLE {
            let change = volumes[degree + 1] - volumes[degree];
            let gas = 0.5 * (pressure(volumes[degree]) + pressure(volumes[degree + 1]));
            gone += 0.5 * (drives[degree] + drives[degree + 1]) / by_tdc;
            net.push(net[degree] - (gas - 1.0) * change);
            gross.push(gross[degree] - gas * change);
            leaked.push(leaked[degree] + gas * gone * change);
        }
        let peak = net[TABLE / 2];
        let table = |energy: Vec<f64>| running_integral(&energy, peak);
        StoredEnergy {
            net: table(net),
            gross: table(gross),
            leaked: table(leaked),
            gauge_factor: shape.gauge_factor(),
        }
    }

    /// Means between two crank angles for a cylinder whose TDC is at `tdc`. `from` < `to`, all on one
    /// unwrapped scale.
    pub(super) fn mean(&self, from: f64, to: f64, tdc: f64) -> Energies {
        let (a, b) = (Place::of(from - tdc), Place::of(to - tdc));
        let over = |table: &[f64]| (b.read(table) - a.read(table)) / (to - from);
        Energies { net: over(&self.net), gross: over(&self.gross), leaked: over(&self.leaked) }
    }
}

/// Share of a charge that a small hole lets out in a time, over that of choked flow, at an
/// absolute pressure in atmospheres: Heywood, eqs. C.8 and C.9, γ = 1.4.
fn hole(pressure: f64) -> f64 {
    const GAMMA: f64 = 1.4;
    const CRITICAL: f64 = 0.528;
    const CHOKED: f64 = 0.2588;
    let ratio = 1.0 / pressure.max(1.0);
    if ratio <= CRITICAL {
        return 1.0;
    }
    let flow = ratio.powf(2.0 / GAMMA) - ratio.powf((GAMMA + 1.0) / GAMMA);
    flow.max(0.0).sqrt() / CHOKED
}

/// Running integral of an energy over `peak`, its rise over the cycle taken out.
fn running_integral(energy: &[f64], peak: f64) -> Vec<f64> {
    let rise = energy[TABLE] / TABLE as f64;
    let mut sum = vec![0.0];
    for degree in 0..TABLE {
        let middle = 0.5 * (energy[degree] + energy[degree + 1]) - rise * (degree as f64 + 0.5);
        sum.push(sum[degree] + middle / peak);
    }
    sum
}

/// A place in a table that is continued periodically.
struct Place {
    cycles: f64,
    index: usize,
    share: f64,
}

impl Place {
    fn of(from_tdc: f64) -> Self {
        let shifted = from_tdc + CYCLE_DEG / 2.0;
        let cycles = (shifted / CYCLE_DEG).floor();
        let within = shifted - cycles * CYCLE_DEG;
        let index = (within as usize).min(TABLE - 1);
        Place { cycles, index, share: within - index as f64 }
    }

    fn read(&self, table: &[f64]) -> f64 {
        let step = table[self.index + 1] - table[self.index];
        self.cycles * table[TABLE] + table[self.index] + self.share * step
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shape(compression_ratio: f64, rod_ratio: f64, closes: f64) -> CylinderShape {
        CylinderShape {
            compression_ratio,
            rod_ratio,
            closes_before_tdc: CrankDelta(closes),
            closing_is_stated: true,
        }
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
        assert!(sound.change_per_degree() < -0.004 && sound.change_per_degree() > -0.012);
    }

    #[test]
    fn trapped_pressure_is_the_polytrope() {
        // Closing at bottom dead centre traps the whole volume: 10^1.3 = 19.9526.
        assert!((shape(10.0, 3.5, 180.0).trapped_pressure_ratio() - 19.952_623).abs() < 1e-5);
    }

    #[test]
    fn stored_energy_peaks_at_tdc_and_is_given_back() {
        let energy = StoredEnergy::of(&shape(10.0, 3.5, 130.0));
        let at_tdc = energy.mean(-0.5, 0.5, 0.0);
        assert!((at_tdc.net - 1.0).abs() < 1e-3 && at_tdc.gross > at_tdc.net);
        let (late, early) = (energy.mean(750.0, 751.0, 720.0), energy.mean(-31.0, -30.0, 0.0));
        assert!((late.net - early.net).abs() < 1e-9, "a spring gives back what it took");
        assert!(energy.mean(200.0, 300.0, 0.0).net.abs() < 1e-9);
        // Closed form of ∫ p dV from closing to TDC: V₁ⁿ (V₂^(1−n) − V₁^(1−n)) / (n − 1), over the same
        // less the atmosphere's V₁ − 1.
        let volume = shape(10.0, 3.5, 130.0).volume(CrankDelta(130.0));
        let gas = volume.powf(1.3) * (1.0 - volume.powf(-0.3)) / 0.3;
        assert!((at_tdc.gross - gas / (gas - volume + 1.0)).abs() < 3e-3, "{at_tdc:?}");
        // A leak stores less before TDC and returns less after it.
        let leak = |from: f64| energy.mean(from, from + 1.0, 0.0).leaked;
        assert!(leak(-150.0) - leak(0.0) > 0.0 && leak(150.0) > leak(0.0));
    }

    #[test]
    fn a_hole_chokes_at_the_critical_ratio() {
        // Heywood, appendix C: critical ratio (2/2.4)^3.5 = 0.5283 for γ = 1.4.
        assert_eq!(hole(1.0), 0.0);
        assert_eq!(hole(3.0), 1.0);
        assert!((hole(1.0 / 0.5283) - 1.0).abs() < 1e-3);
    }
}
