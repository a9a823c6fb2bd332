//! Which exercises a class gets, where none are given.

use super::dice::Dice;
use super::exercise::Exercise;
use crate::engine::{Engine, Sensor};
use crate::leads::{Extra, Role};
use crate::practice::Fault;
use crate::units::CrankDelta;
use crate::wheel::Form;

/// Kinds of exercise that the signals can teach.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Sound,
    Skip,
    SkipOfAll,
    Wear,
    WornStrand,
    Phaser,
    CrankWheel,
    CamWheel,
    CrossedLeads,
    Supply,
    DeadCylinder,
    WrongEdge,
    WrongFile,
    LowRate,
}

impl Kind {
    const ALL: [Kind; 14] = [
        Kind::Sound,
        Kind::Skip,
        Kind::SkipOfAll,
        Kind::Wear,
        Kind::WornStrand,
        Kind::Phaser,
        Kind::CrankWheel,
        Kind::CamWheel,
        Kind::CrossedLeads,
        Kind::Supply,
        Kind::DeadCylinder,
        Kind::WrongEdge,
        Kind::WrongFile,
        Kind::LowRate,
    ];
}

/// A class of this many has a sound engine in it, so that nobody can take a fault for granted.
const SOUND_FROM: usize = 4;
/// How far a sensor wheel slips, as a share of a chain's tooth: nowhere near a whole number of them.
const SLIP: (f64, f64) = (0.38, 0.62);
/// How late a worn chain makes what it drives, in crank degrees beyond the cams' tolerance: enough
/// to be read off paper, and less than a tooth.
const WORN_DEG: (f64, f64) = (2.5, 5.0);
/// How far a phaser stands from its rest, as a share of its travel.
const PHASER: (f64, f64) = (0.4, 0.8);
/// What a bad battery falls to, in volts.
const BATTERY_V: (f64, f64) = (6.0, 7.0);
/// Degrees of a fault are drawn in these steps.
const STEP_DEG: f64 = 0.5;
/// A tooth, in crank degrees, where no chain is described.
const NO_CHAIN_DEG: f64 = 18.0;

/// What can be seen of an engine.
pub(super) struct Seen<'a> {
    pub engine: &'a Engine,
    /// The cams that are recorded, as indices.
    pub cams: Vec<usize>,
    /// The leads beside crank and cams.
    pub leads: &'a [Extra],
}

/// Exercises for so many students, each kind once before one comes again.
pub(super) fn draw(seen: &Seen, students: usize, dice: &mut Dice) -> Vec<Exercise> {
    // A kind is there when one exercise of it can be made.
    let mut kinds: Vec<Kind> =
        Kind::ALL.into_iter().filter(|kind| seen.exercise(*kind, dice).is_some()).collect();
    dice.shuffle(&mut kinds);
    let sound = kinds.iter().position(|kind| *kind == Kind::Sound);
    if let Some(sound) = sound.filter(|sound| students >= SOUND_FROM && *sound >= students) {
        kinds.swap(sound, dice.below(students));
    }
    let kinds = kinds.iter().cycle().take(students);
    kinds.filter_map(|kind| seen.exercise(*kind, dice)).collect()
}

impl Seen<'_> {
    /// One exercise of a kind; `None` where this engine, or what is recorded of it, has none.
    fn exercise(&self, kind: Kind, dice: &mut Dice) -> Option<Exercise> {
        let engine = self.engine;
        let fault = match kind {
            Kind::Sound => return Some(Exercise::Sound),
            Kind::LowRate => {
                // An edge is placed well enough at any rate that sees every tooth; a pulse is not.
                let pulses = engine.crank.sensor == Sensor::Pulse;
                return pulses.then_some(Exercise::LowRate);
            }
            Kind::WrongFile => return Some(Exercise::WrongFile),
            Kind::WrongEdge => {
                // On any other wheel the spacing of the teeth tells which edge marks them.
                let even = matches!(engine.crank.wheel.form(), Form::Slots { .. });
                let both = engine.crank.edge.is_some() && !self.cams.is_empty();
                let square = engine.crank.sensor == Sensor::Hall;
                return (even && both && square).then(|| Exercise::WrongEdge("crank".into()));
            }
            Kind::Skip => {
                let cam = *self.cams.get(dice.below(self.cams.len()))?;
                let name = &engine.cams[cam].name;
                let chain = self.chain_of(name)?;
                let teeth = [-2, -1, 1, 1, 2][dice.below(5)];
                Fault::Skip { shaft: name.clone(), chain: chain.to_owned(), teeth }
            }
            Kind::SkipOfAll => {
                let chain = engine.drive.chains.first().filter(|_| !self.cams.is_empty())?;
                let teeth = [-1, 1][dice.below(2)];
                let shaft = chain.driver.on.clone();
                Fault::Skip { shaft, chain: chain.name.clone(), teeth }
            }
            Kind::Wear => {
                let name = &engine.cams[*self.cams.first()?].name;
                let index = engine.drive.chain_driving(name)?;
                let chain = &engine.drive.chains[index];
                let strands = engine.drive.strands(index) as f64;
                let late = self.tolerance().0 + dice.between(WORN_DEG.0, WORN_DEG.1, STEP_DEG);
                Fault::Wear { chain: chain.name.clone(), degrees: late / strands }
            }
            Kind::WornStrand => {
                let strands = |&chain: &usize| engine.drive.strands(chain) > 1;
                let index = (0..engine.drive.chains.len()).find(strands)?;
                let chain = &engine.drive.chains[index];
                let hangs = |cam: &usize| engine.drive.strand_to(index, &engine.cams[*cam].name);
                // The strand before the last recorded cam: the others are in place.
                let strand = self.cams.iter().filter_map(hangs).max().filter(|to| *to > 1)?;
                let late = self.tolerance().0 + dice.between(WORN_DEG.0, WORN_DEG.1, STEP_DEG);
                Fault::WornStrand { chain: chain.name.clone(), strand, degrees: late }
            }
            Kind::Phaser => {
                let with: Vec<usize> = self.with_phaser();
                let cam = *with.get(dice.below(with.len()))?;
                let travel = engine.cams[cam].phaser?.full_travel().0;
                let degrees = dice.between(PHASER.0 * travel, PHASER.1 * travel, STEP_DEG);
                Fault::Phaser { cam: engine.cams[cam].name.clone(), degrees, wander: 0.0 }
            }
            Kind::CrankWheel => {
                self.cams.first()?;
                Fault::CrankWheel { degrees: self.slip(dice) }
            }
            Kind::CamWheel => {
                let cam = *self.cams.get(dice.below(self.cams.len()))?;
                Fault::CamWheel { cam: engine.cams[cam].name.clone(), degrees: self.slip(dice) }
            }
            Kind::CrossedLeads => {
                // Of two cams alike nothing else tells.
                let tells = |lead: &Extra| {
                    matches!(lead, Extra::Ignition(_) | Extra::Injector(_) | Extra::Pressure(_))
                };
                self.leads.iter().any(tells).then_some(())?;
                let first = self.cams.first()?;
                let second = self.cams.last().filter(|last| *last != first)?;
                let name = |cam: usize| engine.cams[cam].name.clone();
                Fault::CrossedLeads { first: name(*first), second: name(*second) }
            }
            Kind::Supply => {
                self.leads.contains(&Extra::Battery).then_some(())?;
                Fault::WeakBattery { volts: dice.between(BATTERY_V.0, BATTERY_V.1, 0.1) }
            }
            Kind::DeadCylinder => {
                self.leads.contains(&Extra::Starter).then_some(())?;
                let order = &engine.firing_order;
                Fault::DeadCylinder { cylinder: *order.get(dice.below(order.len()))? }
            }
        };
        Some(Exercise::Fault(fault))
    }

    /// The chain that turns a cam.
    fn chain_of(&self, cam: &str) -> Option<&str> {
        let drive = &self.engine.drive;
        drive.chain_driving(cam).map(|chain| drive.chains[chain].name.as_str())
    }

    fn with_phaser(&self) -> Vec<usize> {
        let has = |cam: &usize| self.engine.cams[*cam].phaser.is_some();
        self.cams.iter().copied().filter(has).collect()
    }

    /// The widest tolerance of a cam that is recorded.
    fn tolerance(&self) -> CrankDelta {
        let all = self.cams.iter().map(|cam| self.engine.cams[*cam].tolerance.0);
        CrankDelta(all.fold(0.0, f64::max))
    }

    /// How far a wheel slips, either way.
    fn slip(&self, dice: &mut Dice) -> f64 {
        let step = self.engine.drive.chains.first().map_or(NO_CHAIN_DEG, |chain| chain.step().0);
        let least = (SLIP.0 * step).max(self.tolerance().0 + WORN_DEG.0);
        dice.sign() * dice.between(least, (SLIP.1 * step).max(least), STEP_DEG)
    }
}

/// The cams among the leads of a capture, in the order of the engine.
pub(super) fn recorded(engine: &Engine, sensors: Option<&[String]>) -> Vec<usize> {
    let named = |cam: &usize| {
        sensors.is_none_or(|sensors| {
            sensors.iter().any(|name| Role::parse(name, engine) == Some(Role::Cam(*cam)))
        })
    };
    (0..engine.cams.len()).filter(named).collect()
}
