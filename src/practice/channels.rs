//! Every lead's signal, put together as a capture.

use crate::capture::{Capture, CaptureKind, Channel, Clock, Unit};
use crate::engine::{Engine, Level, Sensor};
use crate::units::Seconds;
use crate::wheel::EdgeKind;

use super::Scenario;
use super::build::Build;
use super::clamp::ClampTrouble;
use super::dirt::{Dirt, DirtDone, spoil};
use super::error::PracticeError;
use super::flux::Flux;
use super::leads::{ExtraLead, PracticeLead};
use super::levels::{Levels, SquareOutput};
use super::made::MadeWheel;
use super::mechanics::Mechanics;
use super::motion::{Motion, between32};
use super::random::Random;
use super::shaft::Shaft;

/// Seconds in which a swinging chain or a wandering phaser forgets where it was (ours).
const SWING_S: f64 = 0.25;
/// In-cylinder transducer: volts at the atmosphere and per atmosphere above it (ours).
const PRESSURE_VOLTS: (f64, f64) = (0.5, 0.2);
/// Ripple of the starter's commutator as a share of its current, and brushes' frequency at the
/// crank in cycles per degree (from memory: some ten armature turns with many bars per crank turn).
const COMMUTATOR: (f64, f64) = (0.025, 0.9);
/// Current at which the high level sags in full.
const SAG_AMPS: f64 = 500.0;
/// Peak of a reluctance sensor at 200 rpm, volts, crank and cam (common practice: 0.3 V at slow
/// cranking to a few volts).
pub(super) const RELUCTANCE_VOLTS: (f64, f64) = (0.8, 2.4);
/// A sensor is fed with regulated 5 V, or (this share of them) pulled up to the battery and sags
/// with it.
const REGULATED_VOLTS: f64 = 5.0;
const BATTERY_FED_SHARE: f64 = 0.3;

/// What [`make`] gives.
pub(super) struct Made {
    pub capture: Capture,
    pub carries: Vec<PracticeLead>,
    pub leads: Vec<PracticeLead>,
    pub dirt: Vec<Option<DirtDone>>,
    /// Mean movement of each cam is taken from here.
    pub cam_moves: Vec<Vec<f32>>,
    /// Damage of each cam's wheel: tooth, cam degrees.
    pub damage: Vec<Vec<(usize, f64)>>,
}

/// Indices of the cylinders whose pressure a lead shows.
pub(super) fn watched_cylinders(engine: &Engine, leads: &[PracticeLead]) -> Vec<usize> {
    leads
        .iter()
        .filter_map(|lead| match lead {
            PracticeLead::Extra(ExtraLead::Pressure(cylinder)) => {
                engine.firing_order.iter().position(|fires| fires == cylinder)
            }
            _ => None,
        })
        .collect()
}

/// Which edge marks the crank wheel's teeth, and which way a listed tooth's middle crosses zero.
pub(super) fn crank_edge(engine: &Engine) -> EdgeKind {
    engine.crank.edge.unwrap_or(EdgeKind::Falling)
}

/// Makes every channel of a capture.
pub(super) fn make(
    scenario: &Scenario,
    build: &Build,
    mechanics: &Mechanics,
    motion: &Motion,
    leads: &[PracticeLead],
) -> Result<Made, PracticeError> {
    let engine = &scenario.engine;
    let cam_moves: Vec<Vec<f32>> = (0..engine.cams.len())
        .map(|cam| movement(build, cam, motion, scenario.take_seed()))
        .collect();
    let maker = Maker { scenario, build, mechanics, motion, leads, dirt: scenario.preset.dirt() };
    let carries: Vec<PracticeLead> = leads.iter().map(|&lead| carried(build, lead)).collect();
    let damage = (0..engine.cams.len())
        .map(|cam| maker.wheel(PracticeLead::Cam(cam)).map_or_else(Vec::new, |wheel| wheel.damage))
        .collect();
    let source = |lead: PracticeLead| Source { lead, moves: lead_moves(lead, &cam_moves) };
    let (capture, dirt) = match scenario.kind {
        CaptureKind::Sampled => maker.sampled(leads, &carries, source),
        CaptureKind::Events => maker.events(leads, &carries, source)?,
    };
    Ok(Made { capture, carries, leads: leads.to_vec(), dirt, cam_moves, damage })
}

/// The lead whose signal comes out of a lead's column.
fn carried(build: &Build, lead: PracticeLead) -> PracticeLead {
    build.crossed.iter().fold(lead, |at, &(first, second)| {
        if at == first {
            second
        } else if at == second {
            first
        } else {
            at
        }
    })
}

fn lead_moves(lead: PracticeLead, cam_moves: &[Vec<f32>]) -> Vec<f32> {
    match lead {
        PracticeLead::Cam(index) => cam_moves[index].clone(),
        _ => Vec::new(),
    }
}

/// How a cam moves during the capture: a first-order random walk that keeps its spread.
fn movement(build: &Build, cam: usize, motion: &Motion, seed: u64) -> Vec<f32> {
    let stand = &build.cams[cam];
    let spread = stand.wear_swing.hypot(stand.wander);
    if spread == 0.0 {
        return Vec::new();
    }
    let mut random = Random::new(seed, &format!("movement of cam {cam}"));
    let keep = (-Motion::STEP / SWING_S).exp();
    let stir = spread * (1.0 - keep * keep).sqrt();
    let mut at = spread * random.normal();
    let (low, high) = stand.phaser_limits;
    let has_limits = stand.wander > 0.0;
    (0..motion.angle.len())
        .map(|_| {
            at = at * keep + stir * random.normal();
            let held = (stand.phaser + at).clamp(low.min(stand.phaser), high.max(stand.phaser));
            (if has_limits { held - stand.phaser } else { at }) as f32
        })
        .collect()
}

/// A position sensor to be made into a signal.
pub(super) struct Source {
    pub lead: PracticeLead,
    pub moves: Vec<f32>,
}

pub(super) struct Maker<'a> {
    pub scenario: &'a Scenario,
    pub build: &'a Build,
    pub mechanics: &'a Mechanics,
    pub motion: &'a Motion,
    /// Every lead of the capture, each once: the motion keeps a pressure for each of theirs, in
    /// this order.
    pub leads: &'a [PracticeLead],
    pub dirt: Dirt,
}

impl Maker<'_> {
    pub fn random(&self, what: &str, lead: PracticeLead) -> Random {
        let name = lead.name(&self.scenario.engine);
        Random::new(self.scenario.seed, &format!("{what} of {name}"))
    }

    pub fn dirt_random(&self, lead: PracticeLead) -> Random {
        let name = lead.name(&self.scenario.engine);
        Random::new(self.scenario.take_seed(), &format!("dirt of {name}"))
    }

    /// The wheel a position sensor looks at, as made and as damaged.
    pub fn wheel(&self, lead: PracticeLead) -> Option<MadeWheel> {
        let engine = &self.scenario.engine;
        let mut random = self.random("wheel", lead);
        match lead {
            PracticeLead::Crank => {
                let crank = &engine.crank;
                let work = self.dirt.crank_work;
                let edge = crank_edge(engine);
                // Low over a tooth, the edge that begins one falls.
                let upright = match crank.level() {
                    Level::Low => edge.opposite(),
                    Level::High => edge,
                };
                let mut made = MadeWheel::new(&crank.wheel, upright, true, work, &mut random);
                made.break_off(&self.build.missing);
                Some(made)
            }
            PracticeLead::Cam(index) => {
                let cam = &engine.cams[index];
                let work = self.dirt.cam_work;
                let mut made = MadeWheel::new(&cam.wheel, cam.edge, false, work, &mut random);
                for &(_, tooth) in self.build.damaged.iter().filter(|(of, _)| *of == index) {
                    made.damage(tooth);
                }
                Some(made)
            }
            PracticeLead::Extra(_) => None,
        }
    }

    /// Sensor, gearing, marking edge and crank angle of the wheel's zero.
    pub fn mounting(&self, lead: PracticeLead) -> (Sensor, f64, EdgeKind, f64) {
        let engine = &self.scenario.engine;
        match lead {
            PracticeLead::Cam(index) => {
                let (cam, stand) = (&engine.cams[index], &self.build.cams[index]);
                let zero = stand.sound + stand.valves_late() + stand.wheel;
                (cam.sensor, 2.0, cam.edge, zero)
            }
            _ => (engine.crank.sensor, 1.0, crank_edge(engine), self.build.crank_wheel),
        }
    }

    fn sampled(
        &self,
        leads: &[PracticeLead],
        carries: &[PracticeLead],
        source: impl Fn(PracticeLead) -> Source,
    ) -> (Capture, Vec<Option<DirtDone>>) {
        let (rate, seconds) = (self.scenario.rate, self.scenario.seconds);
        let rows = ((rate * seconds).round() as usize).max(2);
        let sparks: Vec<f64> = self.motion.sparks.iter().map(|&(_, at)| at).collect();
        let mut channels = Vec::new();
        let mut done = Vec::new();
        for (position, (&lead, &carried)) in leads.iter().zip(carries).enumerate() {
            let reversed = self.build.reversed.contains(&lead);
            let mut values = self.volts(&source(carried), rows, reversed);
            let mut unit = match carried {
                PracticeLead::Extra(ExtraLead::Starter) => Unit::Amperes,
                _ => Unit::Volts,
            };
            let clamp = carried == PracticeLead::Extra(ExtraLead::Starter);
            let troubles = || self.build.clamp.iter().filter(|_| clamp);
            for trouble in troubles().filter(|trouble| !trouble.is_of_the_range()) {
                trouble.spoil(&mut values, rate);
                if matches!(trouble, ClampTrouble::Volts(_)) {
                    unit = Unit::Volts;
                }
            }
            let bits = self.scenario.bits.unwrap_or(self.dirt.bits);
            let mut random = self.dirt_random(lead);
            done.push(Some(spoil(&mut values, &self.dirt, bits, rate, &sparks, &mut random)));
            // The scope's range ends what reaches it, noise and all.
            for trouble in troubles().filter(|trouble| trouble.is_of_the_range()) {
                trouble.spoil(&mut values, rate);
            }
            channels.push(self.channel(lead, position, unit, values));
        }
        let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(1.0 / rate) };
        (self.capture(CaptureKind::Sampled, clock, channels), done)
    }

    pub fn channel(
        &self,
        lead: PracticeLead,
        position: usize,
        unit: Unit,
        values: Vec<f64>,
    ) -> Channel {
        Channel {
            name: lead.name(&self.scenario.engine),
            column: position + 2,
            unit,
            values: values.into_iter().map(|value| value as f32).collect(),
            over_range: Vec::new(),
        }
    }

    pub fn capture(&self, kind: CaptureKind, clock: Clock, channels: Vec<Channel>) -> Capture {
        Capture::new(format!("practice {}", self.scenario.seed), kind, clock, channels)
    }

    /// One lead without dirt.
    fn volts(&self, source: &Source, rows: usize, reversed: bool) -> Vec<f64> {
        let rate = self.scenario.rate;
        let times = (0..rows).map(|row| row as f64 / rate);
        let sign = if reversed { -1.0 } else { 1.0 };
        match source.lead {
            PracticeLead::Crank | PracticeLead::Cam(_) => self.position(source, rows, reversed),
            PracticeLead::Extra(ExtraLead::Starter) => {
                let (share, per_degree) = COMMUTATOR;
                times
                    .map(|time| {
                        let amps = between32(&self.motion.amps, time);
                        let turn = std::f64::consts::TAU * per_degree * self.motion.angle_at(time);
                        let share = if self.dirt.noise > COMMUTATOR_FROM { share } else { 0.0 };
                        sign * amps * (1.0 + share * turn.sin())
                    })
                    .collect()
            }
            PracticeLead::Extra(ExtraLead::Battery) => {
                times.map(|time| sign * between32(&self.motion.volts, time)).collect()
            }
            PracticeLead::Extra(ExtraLead::Pressure(cylinder)) => {
                let watched = watched_cylinders(&self.scenario.engine, self.leads);
                let order = &self.scenario.engine.firing_order;
                let of = order.iter().position(|&fires| fires == cylinder);
                let list = watched.iter().position(|&index| Some(index) == of).unwrap_or(0);
                let (zero, per) = PRESSURE_VOLTS;
                let pressures = &self.motion.pressures[list];
                times.map(|time| sign * (zero + per * between32(pressures, time))).collect()
            }
            PracticeLead::Extra(ExtraLead::Ignition(_) | ExtraLead::Injector(_)) => {
                let levels = self.levels(source);
                let levels = if reversed { levels.inverted() } else { levels };
                let output = SquareOutput { low: 0.05, high: 5.0, rise: 2.0e-6, fall: 2.0e-6 };
                levels.sampled(output, rate, rows, |_| 0.0)
            }
        }
    }

    /// A Hall signal with the level over a tooth that the description has.
    pub fn as_mounted(&self, levels: Levels, lead: PracticeLead) -> Levels {
        let low = lead == PracticeLead::Crank && self.scenario.engine.crank.level() == Level::Low;
        if low { levels.inverted() } else { levels }
    }

    /// A crank or cam sensor's voltage.
    fn position(&self, source: &Source, rows: usize, reversed: bool) -> Vec<f64> {
        let rate = self.scenario.rate;
        let mut random = self.random("sensor", source.lead);
        let (sensor, gearing, edge, zero_at) = self.mounting(source.lead);
        let Some(wheel) = self.wheel(source.lead) else { return vec![0.0; rows] };
        let shaft = Shaft { motion: self.motion, zero_at, gearing, moves: source.moves.clone() };
        match sensor {
            Sensor::Reluctance => {
                let peak = random.between(RELUCTANCE_VOLTS.0, RELUCTANCE_VOLTS.1);
                let flux = Flux::new(&wheel, edge, gearing, peak, &mut random);
                let sign = if reversed { -1.0 } else { 1.0 };
                (0..rows).map(|row| sign * flux.volts(&shaft, row as f64 / rate)).collect()
            }
            Sensor::Hall | Sensor::Pulse => {
                let levels = self.digital(&wheel, &shaft, sensor, edge, &mut random);
                let levels = self.as_mounted(levels, source.lead);
                let levels = self.trapped(self.scattered(levels, source.lead), source.lead);
                let levels = if reversed { levels.inverted() } else { levels };
                let battery = self.mechanics.battery.rest_volts;
                let battery_fed = random.uniform() < BATTERY_FED_SHARE;
                let supply = if battery_fed { battery } else { REGULATED_VOLTS };
                let output = SquareOutput {
                    low: supply * random.between(0.01, 0.08),
                    high: supply * random.between(0.93, 1.0),
                    rise: self.dirt.rise,
                    fall: self.dirt.fall,
                };
                let sag = |time| {
                    if battery_fed {
                        return 1.0 - between32(&self.motion.volts, time) / battery;
                    }
                    self.dirt.sag * between32(&self.motion.amps, time) / SAG_AMPS
                };
                levels.sampled(output, rate, rows, sag)
            }
        }
    }
}

/// Noise from which the commutator is seen; the clean preset has none.
const COMMUTATOR_FROM: f64 = 0.002;
