//! The starter motor and the battery behind it, both seen from the crankshaft.

/// Time in which the motor's current follows a change of load, in seconds
/// (inductance over resistance of a starter circuit, order of magnitude, from memory).
const CURRENT_FOLLOWS_S: f64 = 0.008;
/// Current of the motor without load, in amperes (common practice, no source).
const FREE_AMPS: f64 = 45.0;
/// Amperes per newton metre at the crank (common practice, no source: some 200 A
/// for the 60 N·m a three-litre engine takes).
const AMPS_PER_NEWTON_METRE: f64 = 2.4;

/// A series of battery, cable and motor: torque falls straight with speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Starter {
    /// Torque at standstill in newton metres at the crank.
    pub stall: f64,
    /// Crank speed without load, radians per second.
    pub free: f64,
    /// Share of strength lost per second of cranking, as the battery tires.
    pub tires: f64,
    /// Battery voltage at rest.
    pub rest_volts: f64,
    /// Resistance of battery and cables in ohms.
    pub ohms: f64,
}

impl Starter {
    /// A starter that holds `speed` (radians per second) against `load` newton metres, its free speed
    /// `spare` times that speed, or less where it takes that to have `least_stall` at rest.
    pub(super) fn sized(speed: f64, load: f64, spare: f64, least_stall: f64) -> Self {
        let stall = (load / (1.0 - 1.0 / spare)).max(least_stall);
        let free = speed / (1.0 - load / stall);
        Self { stall, free, tires: 0.0, rest_volts: 12.6, ohms: 0.007 }
    }

    /// Torque it settles to at a speed. Never negative: a one-way clutch lets the engine overrun.
    pub(super) fn settled(&self, speed: f64, cranking_for: f64) -> f64 {
        let strength = (1.0 - self.tires * cranking_for).max(0.5);
        (self.stall * (strength - speed / self.free)).clamp(0.0, self.stall)
    }

    /// Torque after `seconds` more, following the settled one.
    pub(super) fn follow(torque: f64, settled: f64, seconds: f64) -> f64 {
        torque + (settled - torque) * (1.0 - (-seconds / CURRENT_FOLLOWS_S).exp())
    }

    /// Current in amperes that goes with a torque.
    pub(super) fn amps(torque: f64, engaged: bool) -> f64 {
        let free = if engaged { FREE_AMPS } else { 0.0 };
        free + AMPS_PER_NEWTON_METRE * torque
    }

    /// Voltage at the battery under a current, after so long cranking.
    pub(super) fn volts(&self, amps: f64, cranking_for: f64) -> f64 {
        self.rest_volts * (1.0 - 0.3 * self.tires * cranking_for) - self.ohms * amps
    }
}
