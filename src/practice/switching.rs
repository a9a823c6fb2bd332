//! Leads as levels that change: square waves, pulses, and the rows of a logic analyser.

use crate::capture::{Capture, CaptureKind, Clock, Unit};
use crate::engine::Sensor;
use crate::units::{CYCLE_DEG, TURN_DEG};
use crate::wheel::EdgeKind;

use super::channels::{Maker, RELUCTANCE_VOLTS, Source};
use super::dirt::DirtDone;
use super::error::PracticeError;
use super::faults::Trap;
use super::flux::Flux;
use super::leads::{ExtraLead, PracticeLead, lead_names};
use super::levels::Levels;
use super::made::MadeWheel;
use super::random::Random;
use super::shaft::Shaft;

/// Dwell of the ignition trigger in seconds; it ends at the spark (common practice).
const DWELL_S: f64 = 3.0e-3;
/// Of a coil that strikes several times: dwell of each, and seconds from one to the next (common
/// practice, no source: some milliseconds).
const STRIKE_DWELL_S: f64 = 1.5e-3;
const STRIKES_APART_S: f64 = 4.0e-3;
/// Cylinders this near to a turn apart share a coil that sparks every turn.
const SAME_TDC_DEG: f64 = 1.0;
/// Below this speed, crank degrees per second, an edge's scatter does not grow any more: the crank
/// is stopping.
const SLOWEST_JITTERED: f64 = 300.0;
/// Output pulse of a direction-sensing sensor turning forward, in seconds; twice that turning back
/// (common practice, no source: tens of microseconds).
const FORWARD_PULSE_S: (f64, f64) = (40.0e-6, 60.0e-6);
/// Time stamps of a logic capture are whole microseconds.
const TICK_S: f64 = 1.0e-6;

impl Maker<'_> {
    /// Levels of a sensor that gives them itself. A direction-sensing one begins its pulses with
    /// the marking edge.
    pub fn digital(
        &self,
        wheel: &MadeWheel,
        shaft: &Shaft,
        sensor: Sensor,
        edge: EdgeKind,
        random: &mut Random,
    ) -> Levels {
        let seconds = self.scenario.seconds;
        if sensor != Sensor::Pulse {
            return Levels::of_wheel(wheel, shaft, seconds);
        }
        let forward = random.between(FORWARD_PULSE_S.0, FORWARD_PULSE_S.1);
        let pulses = Levels::of_pulses(wheel, shaft, seconds, (forward, 2.0 * forward));
        match edge {
            EdgeKind::Rising => pulses,
            EdgeKind::Falling => pulses.inverted(),
        }
    }

    /// With the habits that were asked for. Only square waves have them.
    pub fn trapped(&self, levels: Levels, lead: PracticeLead) -> Levels {
        let mut random = self.dirt_random(lead);
        let sparks: Vec<f64> = self.motion.sparks.iter().map(|&(_, at)| at).collect();
        let of_lead = self.build.traps.iter().filter(|(of, _)| *of == lead);
        of_lead.fold(levels, |levels, (_, trap)| match trap {
            Trap::Bounce => levels.bounced(&mut random),
            Trap::Crosstalk => levels.with_crosstalk(&sparks, &mut random),
            Trap::Flipping => levels.flipping(&mut random),
        })
    }

    /// A lead as levels: a square wave, a conditioned reluctance sensor or an ignition trigger.
    pub fn levels(&self, source: &Source) -> Levels {
        let seconds = self.scenario.seconds;
        if let PracticeLead::Extra(ExtraLead::Ignition(cylinder) | ExtraLead::Injector(cylinder)) =
            source.lead
        {
            return self.strikes(source.lead, cylinder);
        }
        let mut random = self.random("sensor", source.lead);
        let (sensor, gearing, edge, zero_at) = self.mounting(source.lead);
        let Some(wheel) = self.wheel(source.lead) else {
            return Levels { first: false, changes: Vec::new() };
        };
        let shaft = Shaft { motion: self.motion, zero_at, gearing, moves: source.moves.clone() };
        let levels = match sensor {
            Sensor::Hall | Sensor::Pulse => self.digital(&wheel, &shaft, sensor, edge, &mut random),
            Sensor::Reluctance => {
                let peak = random.between(RELUCTANCE_VOLTS.0, RELUCTANCE_VOLTS.1);
                Flux::new(&wheel, edge, gearing, peak, &mut random).conditioned(&shaft, seconds)
            }
        };
        self.scattered(levels, source.lead)
    }

    /// Pulses of a coil or an injector: one an event, or as many as the faults ask for.
    fn strikes(&self, lead: PracticeLead, cylinder: u32) -> Levels {
        let order = &self.scenario.engine.firing_order;
        let own = order.iter().position(|&fires| fires == cylinder);
        let tdc = |index: usize| self.mechanics.cylinders[index].tdc;
        // The companion of a waste spark is the cylinder a turn later, where there is one.
        let companion = own.filter(|_| self.build.every_turn.contains(&lead)).and_then(|own| {
            (0..order.len()).find(|&other| {
                let apart = (tdc(other) - tdc(own)).rem_euclid(CYCLE_DEG);
                (apart - TURN_DEG).abs() < SAME_TDC_DEG
            })
        });
        let asked = self.build.strikes.iter().find(|(of, _)| *of == lead);
        let count = asked.map_or(1, |(_, count)| *count);
        let dwell = if count > 1 { STRIKE_DWELL_S } else { DWELL_S };
        let starts: Vec<f64> = self
            .motion
            .sparks
            .iter()
            .filter(|(index, _)| Some(*index) == own || Some(*index) == companion)
            .flat_map(|&(_, at)| {
                (0..count).map(move |strike| at - dwell + strike as f64 * STRIKES_APART_S)
            })
            .collect();
        Levels::pulses(&starts, dwell)
    }

    /// Every edge moved by a scatter of its own, in crank degrees; none passes its neighbours.
    pub fn scattered(&self, mut levels: Levels, lead: PracticeLead) -> Levels {
        if self.scenario.jitter == 0.0 {
            return levels;
        }
        let name = lead.name(&self.scenario.engine);
        let mut random = Random::new(self.scenario.take_seed(), &format!("jitter of {name}"));
        let old: Vec<f64> = levels.changes.iter().map(|change| change.at).collect();
        for (index, change) in levels.changes.iter_mut().enumerate() {
            let speed = self.motion.speed_at(change.at).abs().max(SLOWEST_JITTERED);
            let room =
                |other: Option<&f64>| other.map_or(change.at, |other| change.at.midpoint(*other));
            let least = room(index.checked_sub(1).and_then(|before| old.get(before)));
            let most = room(old.get(index + 1));
            let moved = change.at + self.scenario.jitter * random.normal() / speed;
            change.at = moved.clamp(least, most);
        }
        levels
    }

    pub fn events(
        &self,
        leads: &[PracticeLead],
        carries: &[PracticeLead],
        source: impl Fn(PracticeLead) -> Source,
    ) -> Result<(Capture, Vec<Option<DirtDone>>), PracticeError> {
        let engine = &self.scenario.engine;
        let digital = |lead: &&PracticeLead| {
            !matches!(
                lead,
                PracticeLead::Extra(
                    ExtraLead::Starter | ExtraLead::Battery | ExtraLead::Pressure(_)
                )
            )
        };
        if let Some(lead) = leads.iter().find(|lead| !digital(lead)) {
            let fits = leads.iter().filter(digital).map(|lead| lead.name(engine));
            return Err(PracticeError::NoLevels {
                lead: lead.name(engine),
                fits: lead_names(&fits.collect::<Vec<_>>()),
            });
        }
        let all: Vec<Levels> = leads
            .iter()
            .zip(carries)
            .map(|(&lead, &carried)| {
                let levels = self.trapped(self.levels(&source(carried)), carried);
                let levels =
                    if self.build.reversed.contains(&lead) { levels.inverted() } else { levels };
                self.jittered(levels, &mut self.dirt_random(lead))
            })
            .collect();
        let (stamps, values) = merge(&all, self.scenario.seconds);
        let channels = leads
            .iter()
            .zip(values)
            .enumerate()
            .map(|(position, (&lead, values))| self.channel(lead, position, Unit::Level, values))
            .collect();
        let capture = self.capture(CaptureKind::Events, Clock::Stamped(stamps), channels);
        Ok((capture, vec![None; leads.len()]))
    }

    /// Noise at the threshold moves edges, none past the one before; glitches are pulses of a few
    /// ticks.
    fn jittered(&self, mut levels: Levels, random: &mut Random) -> Levels {
        let mut before = f64::NEG_INFINITY;
        for change in &mut levels.changes {
            change.at = before.max(change.at + self.dirt.jitter * random.normal());
            before = change.at;
        }
        for at in random.arrivals(self.dirt.glitches, self.scenario.seconds) {
            levels.disturb(at, random.between(2.0, 30.0) * TICK_S);
        }
        levels
    }
}

/// Rows of a logic capture: a time and every channel's level whenever one changed.
fn merge(all: &[Levels], seconds: f64) -> (Vec<f64>, Vec<Vec<f64>>) {
    let mut changes: Vec<(i64, usize, bool)> = all
        .iter()
        .enumerate()
        .flat_map(|(channel, levels)| {
            let tick = |at: f64| (at / TICK_S).round() as i64;
            levels.changes.iter().map(move |change| (tick(change.at), channel, change.high))
        })
        .filter(|(tick, _, _)| *tick > 0 && *tick as f64 * TICK_S < seconds)
        .collect();
    changes.sort_by_key(|change| change.0);
    let mut level: Vec<bool> = all.iter().map(|levels| levels.first).collect();
    let mut stamps = vec![0.0];
    let as_number = |high: &bool| f64::from(u8::from(*high));
    let mut values: Vec<Vec<f64>> = level.iter().map(|high| vec![as_number(high)]).collect();
    let mut index = 0;
    while index < changes.len() {
        let tick = changes[index].0;
        let before = level.clone();
        while let Some(&(_, channel, high)) = changes.get(index).filter(|change| change.0 == tick) {
            level[channel] = high;
            index += 1;
        }
        if level != before {
            stamps.push(tick as f64 * TICK_S);
            for (list, high) in values.iter_mut().zip(&level) {
                list.push(as_number(high));
            }
        }
    }
    (stamps, values)
}
