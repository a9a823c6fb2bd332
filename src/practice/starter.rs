//! The starter motor and the battery behind it, both seen from the crankshaft.

/// Time in which the motor's current follows a change of load, in seconds
/// (inductance over resistance of a starter circuit, order of magnitude, from memory).
const CURRENT_FOLLOWS_S: f64 = 0.008;
/// Current of the motor without load, in amperes (common practice, no source).
const FREE_AMPS: f64 = 45.0;
/// Amperes per newton metre at the crank (common practice, no source: some 200 A
/// for the 60 N·m a three-litre engine takes).
const AMPS_PER_NEWTON_METRE: f64 = 2.4;

/// A battery under load loses at once what its resistance takes, and within some tenths of a second
/// about half as much again; it gets both back when the load goes (common practice, no source for
/// the figures).
const SLOW_SHARE: f64 = 0.5;
const SLOW_S: f64 = 0.3;
/// Share of the current at stall that flows at the deepest of the dip: by then the engine has begun
/// to turn.
const DIP_SHARE: f64 = 0.85;

/// A battery and its cables.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Battery {
    /// Voltage at rest.
    pub rest_volts: f64,
    /// Resistance of battery and cables in ohms.
    ohms: f64,
    /// Voltage lost slowly by now.
    slow: f64,
}

impl Battery {
    /// A battery that falls to about `lowest` volts when this starter is engaged.
    pub(super) fn sized(rest_volts: f64, lowest: f64, starter: &Starter) -> Self {
        let amps = DIP_SHARE * Starter::amps(starter.stall, true);
        Self { rest_volts, ohms: (rest_volts - lowest) / amps, slow: 0.0 }
    }

    /// Voltage under a current that has flown since `seconds` ago.
    pub(super) fn follow(&mut self, amps: f64, seconds: f64) -> f64 {
        let settled = SLOW_SHARE * self.ohms * amps;
        self.slow += (settled - self.slow) * (1.0 - (-seconds / SLOW_S).exp());
        self.rest_volts - self.ohms * amps - self.slow
    }
}

/// A starter motor: torque falls straight with speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Starter {
    /// Torque at standstill in newton metres at the crank.
    pub stall: f64,
    /// Crank speed without load, radians per second.
    pub free: f64,
    /// Share of strength lost per second of cranking, as the battery tires.
    pub tires: f64,
}

impl Starter {
    /// A starter that holds `speed` (radians per second) against `load` newton metres, its free
    /// speed `spare` times that speed, or less where it takes that to have `least_stall` at rest.
    pub(super) fn sized(speed: f64, load: f64, spare: f64, least_stall: f64) -> Self {
        let stall = (load / (1.0 - 1.0 / spare)).max(least_stall);
        let free = speed / (1.0 - load / stall);
        Self { stall, free, tires: 0.0 }
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
}
