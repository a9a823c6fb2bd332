//! The energy a cylinder's gas takes from the crank and gives back.
//!
//! Angles are crank degrees from the cylinder's own firing TDC, negative before it.

use super::geometry::{CylinderShape, POLYTROPIC};
use crate::units::{CYCLE_DEG, CrankDelta};

/// Points of the tables: one per crank degree.
const TABLE: usize = CYCLE_DEG as usize;
/// A leak lowers the pressure that drives it; so often is the one worked out from the other. Each
/// round brings it ten times nearer, to a thousandth of the charge.
const LEAK_ROUNDS: usize = 4;

/// Energies of one cylinder between two crank angles, over the peak of a tight one's `net`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Energies {
    /// Work against gas less the atmosphere behind the piston.
    pub net: f64,
    /// The gas alone: what scales when a cylinder traps less.
    pub gross: f64,
    /// How `net` changes with the share that has leaked by TDC.
    pub leaked: f64,
}

/// Energy that one cylinder's gas takes from the crank and gives back, over the cycle.
///
/// While the valves are shut the gas is a spring, and one that leaks: the share that leaks in a
/// time is that of a small hole, constant once the flow is choked (Heywood, appendix C). Less comes
/// back than went in, and the crank ends slower; that step is what tells a leak from a cylinder
/// that traps less.
///
/// What has leaked goes exponentially with time, so the energy is not in proportion to the leak: of
/// a cylinder that loses a third by TDC more is left at the end of expansion than twice a third
/// less. A straight line from the tight cylinder reads such a leak a tenth too small.
#[derive(Debug, Clone)]
pub struct StoredEnergy {
    shape: CylinderShape,
    /// Share of the charge lost by TDC.
    pub(super) share: f64,
    /// Running integrals of the three energies over crank degrees from 360° before TDC, one per
    /// degree, 721 long. Each energy's own rise over the cycle is taken out as a straight line,
    /// which the fit's slope stands for.
    running: Vec<Energies>,
    /// [`CylinderShape::gauge_factor`] of the cylinder.
    pub(super) gauge_factor: f64,
}

impl StoredEnergy {
    /// Tabulates the energies of a tight cylinder.
    ///
    /// Exhaust opening is taken as far after TDC as intake closing is before it, so that a tight
    /// spring gives back exactly what it took.
    #[must_use]
    pub fn of(shape: &CylinderShape) -> Self {
        Self::tabulate(shape, 0.0, &|_| 1.0)
    }

    /// The same cylinder losing a share (below 1) of its charge by TDC. `slowness` is the time a
    /// crank degree takes over its mean, by angle from TDC: the crank is slowest where the pressure
    /// is highest, and what leaks goes with time.
    #[must_use]
    pub(super) fn leaking(&self, share: f64, slowness: &dyn Fn(f64) -> f64) -> Self {
        Self::tabulate(&self.shape, share, slowness)
    }

    fn tabulate(shape: &CylinderShape, share: f64, slowness: &dyn Fn(f64) -> f64) -> Self {
        let shut = shape.closes_before_tdc.0.min(180.0);
        let closing_volume = shape.volume(CrankDelta(shut));
        let angles: Vec<f64> = (0..=TABLE).map(|degree| degree as f64 - CYCLE_DEG / 2.0).collect();
        let volumes: Vec<f64> =
            angles.iter().map(|angle| shape.volume(CrankDelta(angle.clamp(-shut, shut)))).collect();
        let tight: Vec<f64> =
            volumes.iter().map(|volume| (closing_volume / volume).powf(POLYTROPIC)).collect();
        let paces: Vec<f64> = angles
            .iter()
            .map(|&angle| if angle.abs() < shut { slowness(angle) } else { 0.0 })
            .collect();
        let gone = gone(&tight, &paces, 1.0 - share);
        let (mut net, mut gross, mut leaked, mut spring) =
            (vec![0.0], vec![0.0], vec![0.0], vec![0.0]);
        for degree in 0..TABLE {
            let change = volumes[degree + 1] - volumes[degree];
            let sound = 0.5 * (tight[degree] + tight[degree + 1]);
            let gone = 0.5 * (gone[degree] + gone[degree + 1]);
            let gas = sound * (1.0 - share).powf(gone);
            spring.push(spring[degree] - (sound - 1.0) * change);
            net.push(net[degree] - (gas - 1.0) * change);
            gross.push(gross[degree] - gas * change);
            leaked.push(leaked[degree] + gas * gone / (1.0 - share) * change);
        }
        let peak = spring[TABLE / 2];
        let table = |energy: Vec<f64>| running_integral(&energy, peak);
        let (net, gross, leaked) = (table(net), table(gross), table(leaked));
        let running = (0..=TABLE)
            .map(|degree| Energies {
                net: net[degree],
                gross: gross[degree],
                leaked: leaked[degree],
            })
            .collect();
        StoredEnergy { shape: *shape, share, running, gauge_factor: shape.gauge_factor() }
    }

    /// The running integrals up to a crank angle from TDC. Their difference over a step is the mean
    /// energy in it times its length.
    pub(super) fn up_to(&self, from_tdc: f64) -> Energies {
        let at = Place::of(from_tdc);
        let (below, above) = (self.running[at.index], self.running[at.index + 1]);
        let whole = self.running[TABLE];
        let read = |of: fn(&Energies) -> f64| {
            at.cycles * of(&whole) + of(&below) + at.share * (of(&above) - of(&below))
        };
        Energies { net: read(|e| e.net), gross: read(|e| e.gross), leaked: read(|e| e.leaked) }
    }
}

impl Energies {
    /// Means over a step of this length, from the running integrals at its ends.
    pub(super) fn mean(from: Energies, to: Energies, length: f64) -> Energies {
        Energies {
            net: (to.net - from.net) / length,
            gross: (to.gross - from.gross) / length,
            leaked: (to.leaked - from.leaked) / length,
        }
    }
}

/// How far a leak has gone at each degree, 1 at TDC: what is left there is `left` (what is left at
/// TDC) to that power.
fn gone(tight: &[f64], paces: &[f64], left: f64) -> Vec<f64> {
    let mut gone = vec![0.0; tight.len()];
    for _ in 0..LEAK_ROUNDS {
        // Where no time counts, with the valves open, nothing is driven.
        let drive = |degree: usize| match paces[degree] {
            0.0 => 0.0,
            pace => hole(tight[degree] * left.powf(gone[degree])) * pace,
        };
        let mut sum = vec![0.0];
        let mut before = drive(0);
        for degree in 0..TABLE {
            let after = drive(degree + 1);
            sum.push(sum[degree] + 0.5 * (before + after));
            before = after;
        }
        let by_tdc = sum[TABLE / 2].max(f64::MIN_POSITIVE);
        gone = sum.iter().map(|value| value / by_tdc).collect();
    }
    gone
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
        // `floor` is a call where the processor is not known to round by itself.
        let cut = (shifted / CYCLE_DEG) as i64 as f64;
        let cycles = if cut > shifted / CYCLE_DEG { cut - 1.0 } else { cut };
        let within = shifted - cycles * CYCLE_DEG;
        let index = (within as usize).min(TABLE - 1);
        Place { cycles, index, share: within - index as f64 }
    }
}

#[cfg(test)]
mod tests {
    use super::super::geometry::tests::shape;
    use super::*;

    impl StoredEnergy {
        /// Means between two crank angles from TDC.
        fn mean(&self, from: f64, to: f64) -> Energies {
            Energies::mean(self.up_to(from), self.up_to(to), to - from)
        }
    }

    #[test]
    fn stored_energy_peaks_at_tdc_and_is_given_back() {
        let energy = StoredEnergy::of(&shape(10.0, 3.5, 130.0));
        let at_tdc = energy.mean(-0.5, 0.5);
        assert!((at_tdc.net - 1.0).abs() < 1e-3 && at_tdc.gross > at_tdc.net);
        let (late, early) = (energy.mean(30.0, 31.0), energy.mean(-31.0, -30.0));
        assert!((late.net - early.net).abs() < 1e-9, "a spring gives back what it took");
        assert!(energy.mean(200.0, 300.0).net.abs() < 1e-9);
        // Closed form of ∫ p dV from closing to TDC: V₁ⁿ (V₂^(1−n) − V₁^(1−n)) / (n − 1), over the
        // same less the atmosphere's V₁ − 1.
        let volume = shape(10.0, 3.5, 130.0).volume(CrankDelta(130.0));
        let gas = volume.powf(1.3) * (1.0 - volume.powf(-0.3)) / 0.3;
        assert!((at_tdc.gross - gas / (gas - volume + 1.0)).abs() < 3e-3, "{at_tdc:?}");
        // A leak stores less before TDC and returns less after it.
        let leak = |from: f64| energy.mean(from, from + 1.0).leaked;
        assert!(leak(-150.0) - leak(0.0) > 0.0 && leak(150.0) > leak(0.0));
    }

    #[test]
    fn a_hole_chokes_at_the_critical_ratio() {
        // Heywood, appendix C: critical ratio (2/2.4)^3.5 = 0.5283 for γ = 1.4.
        assert_eq!(hole(1.0), 0.0);
        assert_eq!(hole(3.0), 1.0);
        assert!((hole(1.0 / 0.5283) - 1.0).abs() < 1e-3);
    }

    #[test]
    fn the_change_with_a_leak_is_the_difference_of_two_leaks() {
        let energy = StoredEnergy::of(&shape(10.0, 3.5, 130.0));
        let of = |share: f64| energy.leaking(share, &|_| 1.0);
        let (less, at, more) = (of(0.299), of(0.3), of(0.301));
        for from in [-100.0, -30.0, 0.0, 30.0, 100.0, 200.0] {
            let mean = |energy: &StoredEnergy| energy.mean(from, from + 1.0);
            let slope = (mean(&more).net - mean(&less).net) / 0.002;
            // How the leak's own course changes with its size is of second order and left out.
            assert!((slope - mean(&at).leaked).abs() < 0.05, "{from}: {slope} {:?}", mean(&at));
        }
    }

    #[test]
    fn a_leak_goes_with_time() {
        // Choked throughout: the share that leaks in a time is constant, whatever the pressure.
        let (tight, half) = (vec![3.0; TABLE + 1], TABLE / 2);
        let even = gone(&tight, &vec![1.0; TABLE + 1], 0.8);
        assert!((even[half / 2] - 0.5).abs() < 1e-12 && (even[half] - 1.0).abs() < 1e-12);
        // A crank that takes twice as long for the second half of the way to TDC: a third has gone
        // by half way.
        let paces: Vec<f64> = (0..=TABLE).map(|i| if i <= half / 2 { 1.0 } else { 2.0 }).collect();
        let slow = gone(&tight, &paces, 0.8);
        assert!((slow[half / 2] - 1.0 / 3.0).abs() < 2e-3, "{}", slow[half / 2]);
    }
}
