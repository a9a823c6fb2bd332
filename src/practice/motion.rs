//! The crank's motion, integrated in time from rest.
//!
//! Fixed step, midpoint rule (second order): J dω/dt = starter + gas − friction. The
//! angle between steps is a straight line in time; at the 10 000 °/s² of strong
//! ripple that errs by α dt² / 8 = 1.3e-5°.

use crate::units::{CYCLE_DEG, Rpm, TURN_DEG};

use super::gas::Gas;
use super::mechanics::Mechanics;
use super::random::Random;
use super::starter::{Battery, Starter};

/// Step in seconds.
const STEP_S: f64 = 1.0e-4;
/// Spark before TDC, crank degrees (common practice: 5 to 10 at cranking speed).
const SPARK_BEFORE_TDC: f64 = 8.0;
/// Friction wanders by this share with this time constant, so that no two turns are alike (ours).
const FRICTION_SWING: f64 = 0.03;
const FRICTION_SWING_S: f64 = 0.05;
/// Pressure rise of a burning charge: the factor on the gas at constant volume
/// (Heywood gives an ideal of 3 to 4 for full charge; less is left after heat loss).
const BURNT_FACTOR: f64 = 3.0;
/// Idle speed the running engine is governed to, its least manifold pressure, and how fast
/// the manifold follows (common practice, no source).
const IDLE_RPM: f64 = 780.0;
const LEAST_MANIFOLD: f64 = 0.26;
const GOVERNOR_PER_RPM: f64 = 1.5e-3;
const IDLE_MANIFOLD: f64 = 0.44;
const MANIFOLD_FOLLOWS_S: f64 = 0.2;
/// Speed at which the starter is let go once the engine fires, in rpm.
const RELEASE_RPM: f64 = 450.0;
/// Below this speed, radians per second, dry friction may hold the crank.
const STANDSTILL: f64 = 1.0e-3;

/// What happens during a capture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Course {
    /// When the starter engages and when it is let go, seconds.
    pub starter: (f64, f64),
    /// When it is engaged once more, to the end.
    pub again: Option<f64>,
    /// When the mixture begins to burn, if it does.
    pub fires: Option<f64>,
    /// Length of the capture in seconds.
    pub seconds: f64,
}

/// The motion on a grid of [`Motion::STEP`] seconds.
#[derive(Debug, Clone, Default)]
pub(super) struct Motion {
    /// Crank degrees after a place where the datum belongs; not wrapped.
    pub angle: Vec<f64>,
    /// Crank degrees per second.
    pub speed: Vec<f64>,
    /// Starter current in amperes.
    pub amps: Vec<f32>,
    /// Battery volts.
    pub volts: Vec<f32>,
    /// Pressure over the atmosphere, one list per cylinder asked for.
    pub pressures: Vec<Vec<f32>>,
    /// Index of the cylinder, time and peak over the atmosphere of each compression.
    pub peaks: Vec<(usize, f64, f64)>,
    /// Index of the cylinder and time of each spark.
    pub sparks: Vec<(usize, f64)>,
}

/// One cylinder while it moves.
struct Moving {
    phase: f64,
    gas: Gas,
    peak: f64,
}

impl Motion {
    /// Seconds between entries.
    pub(super) const STEP: f64 = STEP_S;

    /// Runs the engine. `watched` lists the cylinders (indices) whose pressure is kept.
    pub(super) fn run(
        mechanics: &Mechanics,
        course: &Course,
        watched: &[usize],
        seed: u64,
    ) -> Self {
        let steps = (course.seconds / STEP_S).ceil() as usize + 2;
        let mut motion = Motion {
            angle: Vec::with_capacity(steps),
            speed: Vec::with_capacity(steps),
            pressures: vec![Vec::with_capacity(steps); watched.len()],
            ..Motion::default()
        };
        let mut runner = Runner::new(mechanics, course, seed);
        for step in 0..steps {
            let time = step as f64 * STEP_S;
            motion.angle.push(runner.angle);
            motion.speed.push(runner.speed.to_degrees());
            let (amps, volts) = runner.electrics(time);
            motion.amps.push(amps as f32);
            motion.volts.push(volts as f32);
            for (list, &cylinder) in motion.pressures.iter_mut().zip(watched) {
                let moving = &runner.cylinders[cylinder];
                list.push((moving.gas.torque(&mechanics.chamber, moving.phase).1 - 1.0) as f32);
            }
            runner.step(time, &mut motion);
        }
        motion
    }

    /// Angle at a time, a straight line between steps.
    pub(super) fn angle_at(&self, time: f64) -> f64 {
        between(&self.angle, time)
    }

    /// Speed at a time, in crank degrees per second.
    pub(super) fn speed_at(&self, time: f64) -> f64 {
        between(&self.speed, time)
    }

    /// Times at which the crank passed a place within the turn, going forwards.
    pub(super) fn passes(&self, place: f64) -> Vec<f64> {
        let turns = |angle: f64| ((angle - place) / TURN_DEG).floor();
        let mut times = Vec::new();
        for (step, pair) in self.angle.windows(2).enumerate() {
            if turns(pair[1]) > turns(pair[0]) {
                let at = place + TURN_DEG * turns(pair[1]);
                times.push((step as f64 + (at - pair[0]) / (pair[1] - pair[0])) * STEP_S);
            }
        }
        times
    }

    /// Grid entries between two times.
    pub(super) fn entries(&self, from: f64, to: f64) -> std::ops::Range<usize> {
        let entry = |time: f64| ((time / STEP_S).round().max(0.0) as usize).min(self.angle.len());
        entry(from)..entry(to).max(entry(from))
    }
}

/// Straight line between entries of a list on the motion's grid.
pub(super) fn between(list: &[f64], time: f64) -> f64 {
    let place = (time / STEP_S).max(0.0);
    let entry = (place as usize).min(list.len() - 2);
    list[entry] + (list[entry + 1] - list[entry]) * (place - entry as f64)
}

/// As [`between`], for single precision.
pub(super) fn between32(list: &[f32], time: f64) -> f64 {
    let place = (time / STEP_S).max(0.0);
    let entry = (place as usize).min(list.len() - 2);
    let (low, high) = (f64::from(list[entry]), f64::from(list[entry + 1]));
    low + (high - low) * (place - entry as f64)
}

struct Runner<'a> {
    mechanics: &'a Mechanics,
    course: &'a Course,
    random: Random,
    cylinders: Vec<Moving>,
    angle: f64,
    /// Radians per second.
    speed: f64,
    starter_torque: f64,
    battery: Battery,
    manifold: f64,
    friction_swing: f64,
    released: bool,
}

impl<'a> Runner<'a> {
    fn new(mechanics: &'a Mechanics, course: &'a Course, seed: u64) -> Self {
        let mut random = Random::new(seed, "motion");
        let rest_at = random.between(0.0, CYCLE_DEG);
        let cylinders = mechanics
            .cylinders
            .iter()
            .map(|cylinder| {
                let phase = (rest_at - cylinder.tdc).rem_euclid(CYCLE_DEG);
                let gas = Gas::at_rest(&mechanics.chamber, phase, cylinder.leak, cylinder.valves);
                Moving { phase, gas, peak: 0.0 }
            })
            .collect();
        Runner {
            mechanics,
            course,
            random,
            cylinders,
            angle: rest_at,
            speed: 0.0,
            starter_torque: 0.0,
            battery: mechanics.battery,
            manifold: mechanics.manifold,
            friction_swing: 0.0,
            released: false,
        }
    }

    fn engaged(&self, time: f64) -> bool {
        let first = (self.course.starter.0..self.course.starter.1).contains(&time);
        let again = self.course.again.is_some_and(|again| time >= again);
        (first || again) && !self.released
    }

    /// Starter current and battery volts one step after the last.
    fn electrics(&mut self, time: f64) -> (f64, f64) {
        let amps = Starter::amps(self.starter_torque, self.engaged(time));
        (amps, self.battery.follow(amps, STEP_S))
    }

    fn step(&mut self, time: f64, motion: &mut Motion) {
        self.drive(time);
        let half = self.speed.to_degrees() * STEP_S / 2.0;
        let first = self.acceleration(0.0, self.speed);
        let middle_speed = self.speed + first * STEP_S / 2.0;
        let second = self.acceleration(half, middle_speed);
        let turned = middle_speed.to_degrees() * STEP_S;
        let next = self.speed + second * STEP_S;
        // Dry friction brings the crank to rest; it does not push it the other way.
        self.speed = if self.speed != 0.0 && next * self.speed < 0.0 { 0.0 } else { next };
        self.angle += turned;
        self.pass(time, turned, motion);
    }

    /// Starter, friction and manifold at this step.
    fn drive(&mut self, time: f64) {
        let starter = &self.mechanics.starter;
        let firing = self.course.fires.is_some_and(|fires| time >= fires);
        self.released |= firing && Rpm(RELEASE_RPM).degrees_per_second() < self.speed.to_degrees();
        let settled = if self.engaged(time) {
            starter.settled(self.speed.max(0.0), time - self.course.starter.0)
        } else {
            0.0
        };
        self.starter_torque = Starter::follow(self.starter_torque, settled, STEP_S);
        let keep = (-STEP_S / FRICTION_SWING_S).exp();
        let stir = FRICTION_SWING * (1.0 - keep * keep).sqrt();
        self.friction_swing = self.friction_swing * keep + stir * self.random.normal();
        if firing {
            let rpm = self.speed.to_degrees() / 6.0;
            let wanted = (IDLE_MANIFOLD + GOVERNOR_PER_RPM * (IDLE_RPM - rpm))
                .clamp(LEAST_MANIFOLD, self.mechanics.manifold);
            self.manifold += (wanted - self.manifold) * STEP_S / MANIFOLD_FOLLOWS_S;
        }
    }

    /// Radians per second squared with every phase moved on by `ahead` degrees.
    fn acceleration(&self, ahead: f64, speed: f64) -> f64 {
        let gas: f64 = self
            .cylinders
            .iter()
            .map(|moving| {
                let phase = fold(moving.phase + ahead);
                moving.gas.torque(&self.mechanics.chamber, phase).0
            })
            .sum();
        let (dry, wet) = self.mechanics.friction;
        let dry = dry * (1.0 + self.friction_swing);
        let pushed = gas + self.starter_torque;
        let torque = if speed.abs() < STANDSTILL {
            if pushed.abs() <= dry { -speed } else { pushed - dry * pushed.signum() }
        } else {
            pushed - dry * speed.signum() - wet * speed
        };
        torque / self.mechanics.inertia
    }

    /// Moves every cylinder on and lets its gas live through the step.
    fn pass(&mut self, time: f64, turned: f64, motion: &mut Motion) {
        let firing = self.course.fires.is_some_and(|fires| time >= fires);
        for (index, moving) in self.cylinders.iter_mut().enumerate() {
            let before = moving.phase;
            moving.gas.pass(
                &self.mechanics.chamber,
                fold(before + turned / 2.0),
                self.manifold * self.mechanics.cylinders[index].fill,
                STEP_S,
            );
            moving.phase = fold(before + turned);
            let pressure = moving.gas.torque(&self.mechanics.chamber, moving.phase).1 - 1.0;
            if moving.phase > CYCLE_DEG / 2.0 {
                moving.peak = moving.peak.max(pressure);
            }
            let spark = CYCLE_DEG - SPARK_BEFORE_TDC;
            if before < spark && before > CYCLE_DEG / 2.0 && moving.phase >= spark {
                motion.sparks.push((index, time));
            }
            if before > CYCLE_DEG / 2.0 && moving.phase < CYCLE_DEG / 4.0 {
                motion.peaks.push((index, time, moving.peak.max(pressure)));
                moving.peak = 0.0;
                if firing {
                    moving.gas.charge *= BURNT_FACTOR;
                }
            }
        }
    }
}

/// Into 0..720, for an angle at most one cycle outside.
fn fold(phase: f64) -> f64 {
    if phase >= CYCLE_DEG {
        phase - CYCLE_DEG
    } else if phase < 0.0 {
        phase + CYCLE_DEG
    } else {
        phase
    }
}
