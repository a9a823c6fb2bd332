//! The gas in the cylinders: slider-crank volume, polytropic compression, valves, leakage.
//!
//! Pressures are absolute and in multiples of the atmosphere; angles here are crank
//! degrees after the cylinder's own firing TDC, 0 up to 720.

use crate::units::CYCLE_DEG;

/// The atmosphere in pascals (standard atmosphere rounded to 1 bar).
pub(super) const ATMOSPHERE_PA: f64 = 1.0e5;
/// Polytropic exponent of compression and expansion (docs/sources.md, "Compression": n ≈ 1.3).
pub(super) const POLYTROPIC: f64 = 1.3;
/// Time in which an open valve lets the pressure settle to 1/e, in seconds. Short against
/// a stroke (0.15 s at 200 rpm), long enough that a pressure trace shows a rounded corner.
const VALVE_SETTLES_S: f64 = 0.0015;
/// Table entries per crank degree; a straight line between them errs by under 1e-5.
const PER_DEGREE: f64 = 10.0;
/// Steps per crank degree of the cycle at constant speed.
const CYCLE_STEPS_PER_DEGREE: usize = 2;

/// Geometry of one cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CylinderShape {
    /// Compression ratio rc.
    pub ratio: f64,
    /// Connecting-rod length over crank radius, Heywood's R.
    pub rod: f64,
    /// Swept volume in cubic metres.
    pub swept: f64,
}

impl CylinderShape {
    /// V/Vc at a crank angle after TDC. Heywood, *Internal Combustion Engine Fundamentals*, eq.
    /// 2.6.
    pub(super) fn volume_ratio(&self, degrees: f64) -> f64 {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let root = (self.rod * self.rod - sin * sin).sqrt();
        1.0 + 0.5 * (self.ratio - 1.0) * (self.rod + 1.0 - cos - root)
    }

    /// dV/dθ in cubic metres per radian: the derivative of eq. 2.6.
    pub(super) fn volume_slope(&self, degrees: f64) -> f64 {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let root = (self.rod * self.rod - sin * sin).sqrt();
        0.5 * self.swept * (sin + sin * cos / root)
    }
}

/// The shape as tables over a turn, because motion asks for them a million times.
#[derive(Debug, Clone)]
pub(super) struct Chamber {
    /// (V/Vc)^−n.
    squeeze: Vec<f64>,
    /// dV/dθ in cubic metres per radian.
    slope: Vec<f64>,
}

impl Chamber {
    pub(super) fn new(shape: &CylinderShape) -> Self {
        let entries = 0..=(360.0 * PER_DEGREE) as usize;
        let angle = |entry: usize| entry as f64 / PER_DEGREE;
        Self {
            squeeze: entries
                .clone()
                .map(|entry| shape.volume_ratio(angle(entry)).powf(-POLYTROPIC))
                .collect(),
            slope: entries.map(|entry| shape.volume_slope(angle(entry))).collect(),
        }
    }

    /// (V/Vc)^−n and dV/dθ at an angle of 0..720.
    pub(super) fn at(&self, phase: f64) -> (f64, f64) {
        let within = if phase >= 360.0 { phase - 360.0 } else { phase };
        let place = within.max(0.0) * PER_DEGREE;
        let entry = (place as usize).min(self.slope.len() - 2);
        let part = place - entry as f64;
        let between = |table: &[f64]| table[entry] + (table[entry + 1] - table[entry]) * part;
        (between(&self.squeeze), between(&self.slope))
    }
}

/// Valve events of one cylinder in crank degrees after its firing TDC.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ValveTimes {
    pub intake_opens: f64,
    pub intake_closes: f64,
    pub exhaust_opens: f64,
    pub exhaust_closes: f64,
}

impl ValveTimes {
    /// An exhaust valve that never shuts.
    pub(super) const HANGING_OPEN: ValveTimes = ValveTimes {
        intake_opens: 0.0,
        intake_closes: 0.0,
        exhaust_opens: 0.0,
        exhaust_closes: CYCLE_DEG,
    };

    /// The same events with the intake and the exhaust cam later by so many crank degrees.
    pub(super) fn shifted(&self, intake: f64, exhaust: f64) -> Self {
        let fold = |angle: f64| angle.rem_euclid(CYCLE_DEG);
        Self {
            intake_opens: fold(self.intake_opens + intake),
            intake_closes: fold(self.intake_closes + intake),
            exhaust_opens: fold(self.exhaust_opens + exhaust),
            exhaust_closes: fold(self.exhaust_closes + exhaust),
        }
    }

    /// Pressure outside the open valve; `None` while both are closed.
    fn outside(&self, phase: f64, manifold: f64) -> Option<f64> {
        if in_span(phase, self.intake_opens, self.intake_closes) {
            Some(manifold)
        } else if in_span(phase, self.exhaust_opens, self.exhaust_closes) {
            Some(1.0)
        } else {
            None
        }
    }
}

/// Whether an angle lies from `from` up to `to`, going round the cycle.
fn in_span(phase: f64, from: f64, to: f64) -> bool {
    if from <= to { (from..to).contains(&phase) } else { phase >= from || phase < to }
}

/// The gas of one cylinder: p = charge · (V/Vc)^−n.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gas {
    /// Pressure the gas would have at TDC, in atmospheres.
    pub charge: f64,
    /// Share of the charge lost per second at high pressure.
    pub leak: f64,
    /// Valve events.
    pub valves: ValveTimes,
}

impl Gas {
    /// Gas that has stood still long enough to be at the pressure of the atmosphere.
    pub(super) fn at_rest(chamber: &Chamber, phase: f64, leak: f64, valves: ValveTimes) -> Self {
        Self { charge: 1.0 / chamber.at(phase).0, leak, valves }
    }

    /// Lets `seconds` pass at a phase: through an open valve the pressure goes to that outside,
    /// behind closed ones some of the charge leaks.
    pub(super) fn pass(&mut self, chamber: &Chamber, phase: f64, manifold: f64, seconds: f64) {
        let (squeeze, _) = chamber.at(phase);
        match self.valves.outside(phase, manifold) {
            Some(outside) => {
                let share = 1.0 - (-seconds / VALVE_SETTLES_S).exp();
                self.charge += (outside / squeeze - self.charge) * share;
            }
            None => {
                let pressure = self.charge * squeeze;
                // Flow through a small hole grows with the pressure behind it once choked, so that
                // the share lost per second is constant; below that it fades with the overpressure.
                let drive = (pressure - 1.0) / pressure.max(1.0);
                self.charge *= (-self.leak * drive * seconds).exp();
            }
        }
    }

    /// Torque on the crank in newton metres at a phase, and the pressure.
    pub(super) fn torque(&self, chamber: &Chamber, phase: f64) -> (f64, f64) {
        let (squeeze, slope) = chamber.at(phase);
        let pressure = self.charge * squeeze;
        ((pressure - 1.0) * ATMOSPHERE_PA * slope, pressure)
    }
}

/// One cylinder's torque over a cycle at constant speed, for sizing starter and flywheel.
#[derive(Debug, Clone)]
pub(super) struct SteadyCycle {
    /// Newton metres, [`SteadyCycle::PER_DEGREE`] per degree after firing TDC.
    pub torque: Vec<f64>,
    /// Highest pressure over the atmosphere, in atmospheres.
    pub peak: f64,
}

impl SteadyCycle {
    pub(super) const PER_DEGREE: usize = CYCLE_STEPS_PER_DEGREE;

    /// Runs two cycles at `degrees_per_second` and keeps the second.
    pub(super) fn run(
        chamber: &Chamber,
        valves: ValveTimes,
        leak: f64,
        manifold: f64,
        degrees_per_second: f64,
    ) -> Self {
        let per_cycle = CYCLE_DEG as usize * CYCLE_STEPS_PER_DEGREE;
        let step = 1.0 / CYCLE_STEPS_PER_DEGREE as f64;
        let seconds = step / degrees_per_second;
        let mut gas = Gas::at_rest(chamber, 0.0, leak, valves);
        let mut cycle = SteadyCycle { torque: vec![0.0; per_cycle], peak: 0.0 };
        for index in 0..2 * per_cycle {
            let phase = (index % per_cycle) as f64 * step;
            gas.pass(chamber, phase, manifold, seconds);
            let (torque, pressure) = gas.torque(chamber, phase);
            cycle.torque[index % per_cycle] = torque;
            if index >= per_cycle {
                cycle.peak = cycle.peak.max(pressure - 1.0);
            }
        }
        cycle
    }

    /// Mean torque over the cycle; negative, because leaked gas does not push back.
    pub(super) fn mean_torque(&self) -> f64 {
        self.torque.iter().sum::<f64>() / self.torque.len() as f64
    }
}
