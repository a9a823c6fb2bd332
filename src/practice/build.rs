//! From an engine description and faults to one engine as it stands: where each cam really is.

use crate::engine::{CamShaft, Engine, Reference};
use crate::units::{CYCLE_DEG, CrankDelta};
use crate::wheel::Form;

use super::clamp::ClampTrouble;
use super::error::PracticeError;
use super::faults::{Fault, MOST_STRIKES, Trap};
use super::leads::{PracticeLead, find_lead};
use super::named::{check_cylinder, find_cam, find_chain, find_coil, require, unknown};
use super::random::Random;

/// TDC of cylinder 1 after the datum where the description gives none, in crank
/// degrees. Any place would do; the truth states it.
const UNSTATED_TDC_DEG: f64 = 80.0;
/// Spread of sound engines about the stated place of a cam where the description gives none, in
/// crank degrees (common practice, no source: wheel, key and chain tolerances of about a degree).
const UNSTATED_AT_SD_DEG: f64 = 1.0;
/// Swing of a worn chain as a share of its lateness, from cycle to cycle (ours: slack
/// taken up and let go by the cam torque; no source).
const WEAR_SWING: f64 = 0.08;
/// Most a fault may turn anything, in crank degrees: half a cycle.
const MOST_DEG: f64 = 360.0;

/// Where one cam stands and why. All in crank degrees, positive late.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct CamStand {
    /// Where the description puts it, if it does.
    pub expected: Option<f64>,
    /// Where this engine's maker put it: the description's place and a drawn error.
    pub sound: f64,
    pub skip: f64,
    pub wear: f64,
    pub phaser: f64,
    pub wheel: f64,
    /// Standard deviations of movement during the capture.
    pub wear_swing: f64,
    pub wander: f64,
    /// Limits of a wandering phaser.
    pub phaser_limits: (f64, f64),
}

impl CamStand {
    /// How late the camshaft itself is, and with it its valves.
    pub(super) fn valves_late(&self) -> f64 {
        self.skip + self.wear + self.phaser
    }
}

/// One skip that was made, for the truth.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Skip {
    pub on: String,
    pub chain: String,
    pub teeth: i32,
    pub step: f64,
    pub moves: Vec<usize>,
}

/// The engine as it stands.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Build {
    /// TDC of cylinder 1 after the place where the crank wheel's datum belongs.
    pub tdc: f64,
    /// How late the crank wheel sits.
    pub crank_wheel: f64,
    pub cams: Vec<CamStand>,
    pub skips: Vec<Skip>,
    /// Damaged teeth: cam, tooth from 0.
    pub damaged: Vec<(usize, usize)>,
    /// Crank teeth left out, as indices into the wheel's teeth in the order of their marks.
    pub missing: Vec<usize>,
    /// Compression left, by cylinder.
    pub weak: Vec<(u32, f64)>,
    /// Cylinders that compress nothing.
    pub dead: Vec<u32>,
    /// Share of the usual charge trapped, by cylinder.
    pub starved: Vec<(u32, f64)>,
    /// Coils that strike several times, and how many.
    pub strikes: Vec<(PracticeLead, usize)>,
    /// Coils that spark every turn.
    pub every_turn: Vec<PracticeLead>,
    /// Troubles of the clamp, in the order in which they were given.
    pub clamp: Vec<ClampTrouble>,
    pub crossed: Vec<(PracticeLead, PracticeLead)>,
    pub reversed: Vec<PracticeLead>,
    /// Habits of square-wave leads.
    pub traps: Vec<(PracticeLead, Trap)>,
    /// Volts that the battery falls to, where that was asked for.
    pub weak_battery: Option<f64>,
}

impl Build {
    /// Puts the engine together. `exact` leaves the drawn errors out.
    pub(super) fn new(
        engine: &Engine,
        faults: &[Fault],
        leads: &[PracticeLead],
        seed: u64,
        exact: bool,
    ) -> Result<Self, PracticeError> {
        let mut build = Build {
            tdc: engine.crank.tdc.map_or(UNSTATED_TDC_DEG, CrankDelta::get),
            crank_wheel: 0.0,
            cams: sound_cams(engine, seed, exact),
            skips: Vec::new(),
            damaged: Vec::new(),
            missing: Vec::new(),
            weak: Vec::new(),
            dead: Vec::new(),
            starved: Vec::new(),
            strikes: Vec::new(),
            every_turn: Vec::new(),
            clamp: Vec::new(),
            crossed: Vec::new(),
            reversed: Vec::new(),
            traps: Vec::new(),
            weak_battery: None,
        };
        for fault in faults {
            build.apply(engine, leads, fault)?;
        }
        Ok(build)
    }

    /// How late the valves of a cylinder are: (intake, exhaust). The cam that serves its bank
    /// counts; a shaft the description does not list is in time.
    pub(super) fn valves_late(&self, engine: &Engine, cylinder: u32) -> (f64, f64) {
        let bank = engine.bank_of(cylinder);
        let late = |shaft: CamShaft| {
            let fits = |of: CamShaft| of == shaft || of == CamShaft::Single;
            let mut cams = engine.cams.iter().zip(&self.cams);
            cams.find(|(cam, _)| {
                bank.is_some_and(|bank| cam.banks.contains(&bank)) && fits(cam.shaft)
            })
            .map_or(0.0, |(_, stand)| stand.valves_late())
        };
        (late(CamShaft::Intake), late(CamShaft::Exhaust))
    }

    fn apply(
        &mut self,
        engine: &Engine,
        leads: &[PracticeLead],
        fault: &Fault,
    ) -> Result<(), PracticeError> {
        match fault {
            Fault::Skip { shaft, chain, teeth } => {
                self.skip(engine, fault, shaft, chain, *teeth)?
            }
            Fault::Wear { chain, degrees } => {
                let index = find_chain(engine, fault, chain)?;
                let strands = engine.drive.strands(index);
                require(fault, *degrees * strands as f64, 0.0, 90.0, "crank degrees late in all")?;
                for (cam, stand) in engine.cams.iter().zip(&mut self.cams) {
                    let Some(strand) = engine.drive.strand_to(index, &cam.name) else { continue };
                    // Where the order is known each strand adds its own to those before it.
                    let late = degrees * strand as f64;
                    stand.wear += late;
                    stand.wear_swing = stand.wear_swing.hypot(WEAR_SWING * late);
                }
            }
            Fault::WornStrand { chain, strand, degrees } => {
                let index = find_chain(engine, fault, chain)?;
                let strands = engine.drive.strands(index) as f64;
                require(fault, *strand as f64, 1.0, strands, "for the strand")?;
                require(fault, *degrees, 0.0, 90.0, "crank degrees late")?;
                for (cam, stand) in engine.cams.iter().zip(&mut self.cams) {
                    let to = engine.drive.strand_to(index, &cam.name);
                    if to.is_some_and(|to| to >= *strand) {
                        stand.wear += degrees;
                        stand.wear_swing = stand.wear_swing.hypot(WEAR_SWING * degrees);
                    }
                }
            }
            Fault::Phaser { cam, degrees, wander } => {
                self.phaser(engine, fault, cam, *degrees, *wander)?;
            }
            Fault::CrankWheel { degrees } => {
                require(fault, *degrees, -MOST_DEG, MOST_DEG, "crank degrees")?;
                self.crank_wheel += degrees;
            }
            Fault::CamWheel { cam, degrees } => {
                require(fault, *degrees, -MOST_DEG, MOST_DEG, "crank degrees")?;
                let index = find_cam(engine, fault, cam)?;
                self.cams[index].wheel += degrees;
            }
            Fault::DamagedTooth { cam, tooth } => {
                let index = find_cam(engine, fault, cam)?;
                let teeth = engine.cams[index].wheel.tooth_count();
                require(fault, *tooth as f64, 1.0, teeth as f64, "for the tooth")?;
                self.damaged.push((index, tooth - 1));
            }
            Fault::WeakCylinder { cylinder, left } => {
                require(fault, *left, 0.0, 1.0, "of its compression left")?;
                check_cylinder(engine, fault, *cylinder)?;
                self.weak.push((*cylinder, *left));
            }
            Fault::DeadCylinder { cylinder } => {
                check_cylinder(engine, fault, *cylinder)?;
                self.dead.push(*cylinder);
            }
            Fault::StarvedCylinder { cylinder, left } => {
                require(fault, *left, 0.1, 1.0, "of its charge")?;
                check_cylinder(engine, fault, *cylinder)?;
                self.starved.push((*cylinder, *left));
            }
            Fault::MultiSpark { lead, strikes } => {
                require(fault, *strikes as f64, 1.0, MOST_STRIKES as f64, "strikes")?;
                self.strikes.push((find_coil(engine, leads, fault, lead)?, *strikes));
            }
            Fault::WasteSpark { lead } => {
                self.every_turn.push(find_coil(engine, leads, fault, lead)?);
            }
            Fault::Clamp(trouble) => {
                let (form, size) = trouble.parts();
                let (_, of, (least, most)) = ClampTrouble::FORMS[form];
                require(fault, size, least, most, of)?;
                find_lead(engine, leads, &fault.to_string(), "starter")?;
                self.clamp.push(*trouble);
            }
            Fault::CrossedLeads { first, second } => {
                let pair = (
                    find_lead(engine, leads, &fault.to_string(), first)?,
                    find_lead(engine, leads, &fault.to_string(), second)?,
                );
                self.crossed.push(pair);
            }
            Fault::Reversed { lead } => {
                self.reversed.push(find_lead(engine, leads, &fault.to_string(), lead)?);
            }
            Fault::Trap { trap, lead } => {
                self.traps.push((find_lead(engine, leads, &fault.to_string(), lead)?, *trap));
            }
            Fault::WeakBattery { volts } => {
                require(fault, *volts, 5.0, 11.0, "volts")?;
                self.weak_battery = Some(*volts);
            }
            Fault::MissingTooth { tooth } => self.missing_tooth(engine, fault, *tooth)?,
        }
        Ok(())
    }

    fn skip(
        &mut self,
        engine: &Engine,
        fault: &Fault,
        shaft: &str,
        chain: &str,
        teeth: i32,
    ) -> Result<(), PracticeError> {
        let index = find_chain(engine, fault, chain)?;
        let chain = &engine.drive.chains[index];
        let shafts: Vec<String> =
            [&chain.driver].into_iter().chain(&chain.driven).map(|s| s.on.clone()).collect();
        let Some(on) = shafts.iter().find(|on| on.eq_ignore_ascii_case(shaft)) else {
            return Err(unknown(fault, "shaft on that chain", shaft, &shafts));
        };
        let step = chain.step().0;
        require(fault, f64::from(teeth) * step, -MOST_DEG, MOST_DEG, "crank degrees in all")?;
        // A skip at the driving sprocket moves all the chain drives; at a driven one, that shaft
        // and what hangs on it.
        let drives = *on == chain.driver.on;
        let moves: Vec<usize> = (0..engine.cams.len())
            .filter(|&cam| {
                let name = &engine.cams[cam].name;
                if drives {
                    engine.drive.path_to(name).contains(&index)
                } else {
                    engine.drive.hangs_on(name, on)
                }
            })
            .collect();
        for &cam in &moves {
            self.cams[cam].skip += f64::from(teeth) * step;
        }
        self.skips.push(Skip { on: on.clone(), chain: chain.name.clone(), teeth, step, moves });
        Ok(())
    }

    fn phaser(
        &mut self,
        engine: &Engine,
        fault: &Fault,
        cam: &str,
        degrees: f64,
        wander: f64,
    ) -> Result<(), PracticeError> {
        let index = find_cam(engine, fault, cam)?;
        let Some(phaser) = engine.cams[index].phaser else {
            let has: Vec<String> = engine
                .cams
                .iter()
                .filter(|cam| cam.phaser.is_some())
                .map(|cam| cam.name.clone())
                .collect();
            return Err(unknown(fault, "phaser on a cam", cam, &has));
        };
        let (early, late) = phaser.range();
        let limits = (early.0, late.0);
        require(fault, degrees, limits.0, limits.1, "crank degrees from rest")?;
        require(fault, wander, 0.0, 30.0, "crank degrees of wandering")?;
        let stand = &mut self.cams[index];
        (stand.phaser, stand.wander, stand.phaser_limits) = (degrees, wander, limits);
        Ok(())
    }

    fn missing_tooth(
        &mut self,
        engine: &Engine,
        fault: &Fault,
        tooth: usize,
    ) -> Result<(), PracticeError> {
        let wheel = &engine.crank.wheel;
        let index = match wheel.form() {
            Form::Teeth(teeth) => (1..=teeth.len()).contains(&tooth).then(|| tooth - 1),
            Form::Slots { slots, missing, .. } => (1..=*slots)
                .filter(|slot| missing.binary_search(slot).is_err())
                .position(|slot| slot as usize == tooth),
        };
        match index {
            Some(index) if wheel.tooth_count() > 1 => {
                self.missing.push(index);
                Ok(())
            }
            _ => Err(PracticeError::FaultOutOfRange {
                fault: fault.to_string(),
                why: format!(
                    "there is no tooth {tooth} to break off the wheel \"{}\"",
                    wheel.name()
                ),
                advice: "Count slots, or the listed teeth, from 1; one tooth must remain",
            }),
        }
    }
}

/// The cams of a sound engine of this kind, with the errors of this one specimen.
fn sound_cams(engine: &Engine, seed: u64, exact: bool) -> Vec<CamStand> {
    let mut random = Random::new(seed, "cam places");
    // Drawn for every cam in order, whether used or not, so that one cam's
    // description does not change another's draw.
    let draws: Vec<(f64, f64)> =
        engine.cams.iter().map(|_| (random.normal(), random.between(0.0, CYCLE_DEG))).collect();
    (0..engine.cams.len())
        .map(|index| {
            let expected = engine.expected(index).map(|(at, _)| at.get());
            let sound = place(engine, &draws, index, exact);
            CamStand { expected, sound, ..CamStand::default() }
        })
        .collect()
}

/// Where a cam stands on this engine: a relation is kept up to its own error.
fn place(engine: &Engine, draws: &[(f64, f64)], index: usize, exact: bool) -> f64 {
    let (normal, anywhere) = draws[index];
    let error = |sd: Option<CrankDelta>| {
        let sd = sd.map_or(UNSTATED_AT_SD_DEG, CrankDelta::get);
        if exact { 0.0 } else { sd * normal }
    };
    match engine.cams[index].reference {
        Reference::At { at, sd } => at.get() + error(sd),
        Reference::SameAs { cam, later, sd, .. } => {
            place(engine, draws, cam, exact) + later.0 + error(sd)
        }
        Reference::Unknown => anywhere,
    }
}
