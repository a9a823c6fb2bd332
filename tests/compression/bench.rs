//! A cranked engine integrated step by step, sharing nothing with the decoder but the engine file.
//!
//! Each cylinder breathes at atmospheric pressure while a valve is open; shut, its gas follows p
//! V^1.32 with blow-by that grows with pressure. The starter is a motor on a battery with internal
//! resistance. Neither the exponent, the losses nor the motor is the decoder's.

use camwitness::capture::{Clock, Unit};
use camwitness::compression::SampledLead;
use camwitness::crank::{CrankAngle, Mark};
use camwitness::units::{CrankDelta, CrankTurned, Seconds};

/// Random numbers that are the same everywhere: SplitMix64 and Box-Muller.
pub struct Random(pub u64);

impl Random {
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform().max(1e-300), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }
}

/// One engine on the bench.
#[derive(Clone)]
pub struct Bench {
    /// Firing TDCs in firing order, crank degrees from the datum.
    pub tdcs: Vec<f64>,
    /// Share of the usual charge each traps, in firing order.
    pub charge: Vec<f64>,
    /// Crank degrees later than usual that each one's intake closes.
    pub late: Vec<f64>,
    pub compression_ratio: f64,
    pub rod_ratio: f64,
    pub closes_before_tdc: f64,
    pub opens_after_tdc: f64,
    pub cylinder_litres: f64,
    pub inertia: f64,
    pub friction: f64,
    /// Stall torque at the crank and the speed (rad/s) at which it is gone.
    pub stall_torque: f64,
    pub free_speed: f64,
    /// Blow-by: share of the charge lost per second and bar.
    pub blow_by: f64,
    /// Bends the torque curve: torque ∝ current^bend.
    pub bend: f64,
    pub seconds: f64,
    /// Relative drop of battery voltage over the capture.
    pub droop: f64,
    /// From this time a cylinder fires, with this extra pressure ratio.
    pub fires_at: Option<f64>,
}

impl Bench {
    pub fn even(cylinders: usize, tdc: f64) -> Self {
        let interval = 720.0 / cylinders as f64;
        Bench {
            tdcs: (0..cylinders).map(|i| tdc + i as f64 * interval).collect(),
            charge: vec![1.0; cylinders],
            late: vec![0.0; cylinders],
            compression_ratio: 10.5,
            rod_ratio: 3.4,
            closes_before_tdc: 128.0,
            opens_after_tdc: 138.0,
            cylinder_litres: 0.5,
            inertia: 0.22,
            friction: 22.0 + 4.0 * cylinders as f64,
            stall_torque: 130.0 + 10.0 * cylinders as f64,
            free_speed: 38.0,
            blow_by: 0.02,
            bend: 1.0,
            seconds: 5.5,
            droop: 0.04,
            fires_at: None,
        }
    }

    fn volume(&self, degrees: f64) -> f64 {
        let (s, c) = degrees.to_radians().sin_cos();
        let r = self.rod_ratio;
        1.0 + 0.5 * (self.compression_ratio - 1.0) * (r + 1.0 - c - (r * r - s * s).sqrt())
    }

    fn volume_slope(&self, degrees: f64) -> f64 {
        let (s, c) = degrees.to_radians().sin_cos();
        let r = self.rod_ratio;
        0.5 * (self.compression_ratio - 1.0) * (s + s * c / (r * r - s * s).sqrt())
    }

    /// True compression of each cylinder over the mean, as a gauge shows it (over the atmosphere),
    /// in firing order.
    pub fn truth(&self) -> Vec<f64> {
        let trapped: Vec<f64> = self
            .charge
            .iter()
            .zip(&self.late)
            .map(|(charge, late)| {
                charge * self.volume(self.closes_before_tdc - late).powf(1.32) - 1.0
            })
            .collect();
        let mean = trapped.iter().sum::<f64>() / trapped.len() as f64;
        trapped.iter().map(|value| value / mean).collect()
    }

    /// Runs it.
    pub fn crank(&self) -> Run {
        const STEP: f64 = 1e-4;
        let clearance = self.cylinder_litres * 1e-3 / (self.compression_ratio - 1.0);
        let (mut angle, mut speed) = (0.0_f64, 0.0_f64);
        // p V^n of each shut cylinder over that of atmosphere at intake closing.
        let mut held = vec![0.0_f64; self.tdcs.len()];
        let mut run = Run::default();
        for i in 0..(self.seconds / STEP) as usize {
            let time = i as f64 * STEP;
            let mut torque = 0.0;
            for (c, held) in held.iter_mut().enumerate() {
                let from_tdc = (angle - self.tdcs[c] + 360.0).rem_euclid(720.0) - 360.0;
                let closes = -self.closes_before_tdc + self.late[c];
                if from_tdc < closes || from_tdc > self.opens_after_tdc {
                    *held = self.charge[c] * self.volume(closes).powf(1.32);
                    continue;
                }
                let mut pressure = *held / self.volume(from_tdc).powf(1.32);
                *held *= 1.0 - self.blow_by * (pressure - 1.0).max(0.0) * STEP;
                if self.fires_at.is_some_and(|from| time > from) && from_tdc > 0.0 {
                    pressure *= 2.5;
                }
                torque -= (pressure - 1.0) * 1e5 * clearance * self.volume_slope(from_tdc);
            }
            // −∂(energy)/∂θ: pressure times volume slope drives the crank forwards.
            let gas = -torque;
            let supply = 1.0 - self.droop * time / self.seconds;
            let drive = (supply - speed / self.free_speed).max(0.0);
            let starter = self.stall_torque * drive.powf(self.bend);
            let rub = if speed > 0.0 { self.friction } else { 0.0 };
            speed = (speed + (starter + gas - rub) / self.inertia * STEP).max(0.0);
            angle += speed.to_degrees() * STEP;
            run.angle.push(angle);
            run.current.push(850.0 * drive);
        }
        run
    }
}

/// What the engine did, every tenth of a millisecond.
#[derive(Default)]
pub struct Run {
    pub angle: Vec<f64>,
    pub current: Vec<f64>,
}

/// Dirt on the leads.
#[derive(Clone, Copy)]
pub struct Dirt {
    /// Standard deviation of the crank wheel's tooth positions, degrees.
    pub tooth_deg: f64,
    /// Standard deviation of an edge's time, seconds.
    pub edge_seconds: f64,
    /// White noise on the clamp, amperes.
    pub white: f64,
    /// Pinion (132 a turn) and commutator ripple, mains hum, amperes.
    pub ripple: f64,
}

/// As a workshop's capture: a tooth off by a few hundredths of a degree, edges within a sample at
/// 20 kS/s, an 8-bit scope on a 1000 A range (4 A) with as much noise again.
pub const WORKSHOP: Dirt = Dirt { tooth_deg: 0.05, edge_seconds: 15e-6, white: 8.0, ripple: 8.0 };

/// A slotted wheel's marks.
pub fn marks(
    run: &Run,
    slots: usize,
    missing: &[usize],
    dirt: Dirt,
    random: &mut Random,
) -> Vec<Mark> {
    let pitch = 360.0 / slots as f64;
    let off: Vec<f64> = (0..slots).map(|_| dirt.tooth_deg * random.normal()).collect();
    let mut found = Vec::new();
    let mut next = slots;
    for (i, pair) in run.angle.windows(2).enumerate() {
        loop {
            if missing.contains(&(next % slots + 1)) {
                next += 1;
                continue;
            }
            let at = next as f64 * pitch + off[next % slots];
            if at > pair[1] {
                break;
            }
            let share = (at - pair[0]) / (pair[1] - pair[0]);
            let time = (i as f64 + 1.0 + share) * 1e-4 + dirt.edge_seconds * random.normal();
            found.push(Mark {
                at: Seconds(time),
                turned: CrankTurned((next - slots) as f64 * pitch),
            });
            next += 1;
        }
    }
    found
}

/// The starter clamp at 20 kS/s, as an 8-bit scope on a 1000 A range sees it.
pub fn clamp(run: &Run, dirt: Dirt, random: &mut Random) -> (Vec<f32>, Clock) {
    let rows = 2 * (run.current.len() - 1);
    let values = (0..rows)
        .map(|row| {
            let (i, half) = (row / 2, 0.5 * (row % 2) as f64);
            let blend = |series: &[f64]| series[i] + half * (series[i + 1] - series[i]);
            let (angle, time) = (blend(&run.angle), row as f64 * 5e-5);
            let ripple = (angle.to_radians() * 132.0).sin()
                + 0.5 * (angle.to_radians() * 290.0).sin()
                + 0.5 * (std::f64::consts::TAU * 50.0 * time).sin();
            let value = blend(&run.current) + dirt.white * random.normal() + dirt.ripple * ripple;
            ((value / 3.9).round() * 3.9) as f32
        })
        .collect();
    (values, Clock::Uniform { start: Seconds(0.0), step: Seconds(5e-5) })
}

/// A lead in amperes.
pub fn amperes<'a>(values: &'a [f32], clock: &'a Clock) -> SampledLead<'a> {
    SampledLead { values: values.into(), clock, unit: Unit::Amperes, over_range: &[] }
}

/// Longest step of the 36-2 wheel all captures here have: over its two missing teeth.
const LONGEST_STEP: CrankDelta = CrankDelta(30.0);

/// Crank angle through the marks of a 36-2 wheel, which tells angles apart within a turn.
pub fn angle(marks: Vec<Mark>) -> CrankAngle {
    CrankAngle::through(marks, CrankDelta(360.0), LONGEST_STEP).expect("two marks at least")
}
