//! One capture to make: engine, faults, dirt, leads.
//!
//! Three stocks. *As in the trade*: kinds, places, amounts and second faults drawn with the numbers
//! of `verdict::priors`, so that stated odds and observed shares must agree. *Faults alike*: every
//! class of fault equally often, so that rare ones are seen often enough to count errors. *Other
//! constants*: as in `elsewhere`. Beside them *two at once*: any two faults together, of which the
//! verdict lists only the likely pairs.

use camwitness::capture::CaptureKind;
use camwitness::engine::{CamShaft, ChainKind, Sensor};
use camwitness::practice::{Ending, ExtraLead, Fault, Preset, Scenario};
use camwitness::verdict::{Kind, errors, priors};

use super::chance::Chance;
pub use super::class::Class;
use super::class::{phasers, possible};
use super::elsewhere;
use super::engines::{self, Drawn};
use super::weights;

/// Which stock a case is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stock {
    /// Drawn with the prior table.
    Trade,
    /// Every class alike.
    Alike,
    /// Two faults of any two classes.
    Together,
    /// Drawn with other constants than the verdict's.
    Elsewhere,
}

/// A capture to make and what is asked about it.
#[derive(Debug, Clone)]
pub struct Case {
    pub drawn: Drawn,
    pub class: Class,
    /// The class of a second fault, where two were drawn.
    pub second: Option<Class>,
    pub scenario: Scenario,
    /// Index of a cam whose lead is left off.
    pub left_off: Option<usize>,
    pub codes: Vec<String>,
    /// How often the trade sees this class on such an engine, for each time it is drawn: 1 as in
    /// the trade.
    pub weight: f64,
}

impl Case {
    /// What was done, one or two of them.
    pub fn classes(&self) -> impl Iterator<Item = Class> {
        [self.class].into_iter().chain(self.second)
    }
}

/// Draws the case of a seed.
pub fn draw(seed: u64, stock: Stock) -> Case {
    let mut chance = Chance::new(seed);
    let chance = &mut chance;
    let mut drawn = engines::draw(chance);
    if stock == Stock::Elsewhere {
        drawn = elsewhere::engine(drawn, chance);
    }
    let coded = chance.yes(0.6);
    let codes = if coded { vec!["P0016".to_owned()] } else { vec![] };
    let cams = drawn.real.cams.len();
    let left_off = (cams > 1 && chance.yes(0.12)).then(|| chance.one(&[0, 1, cams - 1]));
    let mut second = None;
    let (class, mut faults, weight) = match stock {
        Stock::Trade => {
            let (class, faults) = as_in_the_trade(&drawn, coded, chance);
            (class, faults, 1.0)
        }
        Stock::Alike => {
            let (class, faults) = alike(&drawn, chance);
            (class, faults, weights::weight(&drawn, coded, class))
        }
        Stock::Elsewhere => {
            let (class, faults) = elsewhere::faults(&drawn, chance);
            (class, faults, 1.0)
        }
        Stock::Together => {
            let (class, other, faults) = together(&drawn, chance);
            second = Some(other);
            (class, faults, 1.0)
        }
    };
    faults.extend(beside(&drawn, chance));
    let mut scenario = scenario(&drawn, faults, seed, chance);
    if stock == Stock::Elsewhere {
        scenario = elsewhere::motion(scenario, chance);
    }
    Case { drawn, class, second, scenario, left_off, codes, weight }
}

/// Faults of the hook-up and the engine that have nothing to do with timing, on some captures.
fn beside(drawn: &Drawn, chance: &mut Chance) -> Vec<Fault> {
    let mut faults = Vec::new();
    if chance.yes(0.05) {
        let cams = drawn.real.cams.iter().map(|cam| cam.name.clone());
        let leads: Vec<String> = cams.chain(["crank".to_owned()]).collect();
        let lead =
            leads[((chance.unit() * leads.len() as f64) as usize).min(leads.len() - 1)].clone();
        faults.push(Fault::Reversed { lead });
    }
    if chance.yes(0.02) {
        faults.push(Fault::MissingTooth { tooth: 5 });
    }
    if chance.yes(0.08) {
        faults.push(Fault::WeakCylinder { cylinder: 3, left: chance.between(0.6, 0.9) });
    }
    faults
}

fn scenario(drawn: &Drawn, faults: Vec<Fault>, seed: u64, chance: &mut Chance) -> Scenario {
    let preset =
        [Preset::Clean, Preset::Workshop, Preset::Nasty][chance.weighted(&[0.25, 0.45, 0.3])];
    let starter = chance.yes(0.6);
    let hall = drawn.real.crank.sensor == Sensor::Hall
        && drawn.real.cams.iter().all(|cam| cam.sensor == Sensor::Hall);
    let logic = hall && !starter && chance.yes(0.35);
    let ending =
        [Ending::Cranking, Ending::RocksBack, Ending::Starts][chance.weighted(&[0.86, 0.1, 0.04])];
    Scenario {
        faults,
        preset,
        seed,
        kind: if logic { CaptureKind::Events } else { CaptureKind::Sampled },
        rate: chance.one(&[20_000.0, 20_000.0, 50_000.0]),
        seconds: chance.between(2.5, 5.0),
        leads: if starter { vec![ExtraLead::Starter] } else { vec![] },
        ending,
        ..Scenario::new(drawn.real.clone())
    }
}

fn as_in_the_trade(drawn: &Drawn, coded: bool, chance: &mut Chance) -> (Class, Vec<Fault>) {
    let weights: Vec<f64> = Kind::ALL
        .iter()
        .map(|&kind| match kind {
            Kind::PhaserOffRest if phasers(drawn).is_empty() => 0.0,
            Kind::LeadsCrossed if drawn.real.cams.len() < 2 => 0.0,
            _ => priors::base_rate(kind, coded),
        })
        .collect();
    let worn_too = chance.yes(priors::FAULT_WITH_WEAR);
    match Kind::ALL[chance.weighted(&weights)] {
        Kind::InTime if chance.yes(priors::SOUND_WITH_WEAR) => within_tolerance(drawn, chance),
        Kind::InTime => (Class::Sound, vec![]),
        Kind::Skip => {
            let away = priors::SKIP_WITH_PHASER * phasers(drawn).len() as f64;
            let worn = priors::SKIP_WITH_WEAR;
            let class = [Class::Skip, Class::SkipAndWear, Class::SkipAndPhaser]
                [chance.weighted(&[1.0 - worn - away, worn, away])];
            make(drawn, class, false, chance)
        }
        Kind::Wear => make(drawn, Class::Wear, false, chance),
        Kind::PhaserOffRest => {
            let alone = phasers(drawn).len() < 2 || chance.yes(priors::ONE_PHASER_CRANKING);
            let class = if !alone {
                Class::SeveralPhasers
            } else if chance.yes(errors::MOVING_SHOWS) {
                Class::PhaserWanders
            } else {
                Class::Phaser
            };
            make(drawn, class, alone && worn_too, chance)
        }
        Kind::CrankReferenceMoved => make(drawn, Class::CrankWheel, worn_too, chance),
        Kind::CamWheelMoved => make(drawn, Class::CamWheel, worn_too, chance),
        Kind::DamagedTooth => make(drawn, Class::DamagedTooth, worn_too, chance),
        Kind::LeadsCrossed => make(drawn, Class::CrossedLeads, worn_too, chance),
        // Its rate is nothing here: every description drawn is right.
        Kind::DoesNotFit => (Class::Sound, vec![]),
    }
}

/// Each of them equally often.
fn alike(drawn: &Drawn, chance: &mut Chance) -> (Class, Vec<Fault>) {
    let possible = possible(drawn);
    let class = chance.one(&possible);
    let worn_too = chance.yes(priors::FAULT_WITH_WEAR);
    match class {
        Class::Sound => (class, vec![]),
        Class::WornWithinTolerance => within_tolerance(drawn, chance),
        _ => make(drawn, class, worn_too, chance),
    }
}

/// Two faults of different kinds, or skips at two places.
fn together(drawn: &Drawn, chance: &mut Chance) -> (Class, Class, Vec<Fault>) {
    let single = |class: &Class| {
        !matches!(
            class,
            Class::Sound
                | Class::WornWithinTolerance
                | Class::SkipAndWear
                | Class::SkipAndPhaser
                | Class::SeveralPhasers
        )
    };
    let singles: Vec<Class> = possible(drawn).into_iter().filter(single).collect();
    let first = chance.one(&singles);
    let two_places = drawn.real.cams.len() > 1;
    let others: Vec<Class> = singles
        .into_iter()
        .filter(|other| other.kind() != first.kind() || (first == Class::Skip && two_places))
        .collect();
    let second = chance.one(&others);
    let (_, mut faults) = make(drawn, first, false, chance);
    let (_, mut more) = make(drawn, second, false, chance);
    while first == second && same_place(&faults, &more) {
        more = vec![skip(drawn, chance)];
    }
    faults.extend(more);
    (first, second, faults)
}

/// Whether two skips are at one sprocket.
fn same_place(one: &[Fault], other: &[Fault]) -> bool {
    let place = |faults: &[Fault]| match &faults[0] {
        Fault::Skip { shaft, chain, .. } => Some((shaft.clone(), chain.clone())),
        _ => None,
    };
    place(one) == place(other)
}

fn tolerance(drawn: &Drawn) -> f64 {
    drawn.real.cams.iter().map(|cam| cam.tolerance.get()).fold(f64::INFINITY, f64::min)
}

/// A chain that wears, by the kinds' rates.
fn chain(drawn: &Drawn, chance: &mut Chance) -> String {
    let chains = &drawn.real.drive.chains;
    let weights: Vec<f64> = chains
        .iter()
        .map(|chain| if chain.kind == ChainKind::Belt { priors::BELT_WEAR } else { 1.0 })
        .collect();
    chains[chance.weighted(&weights)].name.clone()
}

fn within_tolerance(drawn: &Drawn, chance: &mut Chance) -> (Class, Vec<Fault>) {
    let degrees = chance.fading(0.0, tolerance(drawn), priors::SOUND_WEAR_MEAN.0);
    (Class::WornWithinTolerance, vec![Fault::Wear { chain: chain(drawn, chance), degrees }])
}

fn wear(drawn: &Drawn, least: f64, chance: &mut Chance) -> Fault {
    let degrees = chance.fading(least, priors::STRAND_MOST.0, priors::WEAR_MEAN.0);
    Fault::Wear { chain: chain(drawn, chance), degrees }
}

/// Beyond tolerance, near or anywhere, either way.
fn either_way(drawn: &Drawn, near: f64, mean: f64, most: f64, chance: &mut Chance) -> f64 {
    let least = tolerance(drawn);
    let size = if chance.yes(near) {
        chance.fading(least, most, mean)
    } else {
        chance.between(least, most)
    };
    if chance.yes(0.5) { size } else { -size }
}

fn skip(drawn: &Drawn, chance: &mut Chance) -> Fault {
    let names: Vec<&str> = drawn.real.cams.iter().map(|cam| cam.name.as_str()).collect();
    let drive = &drawn.real.drive;
    let places = drive.skip_places(&names);
    let weights: Vec<f64> = places
        .iter()
        .map(|place| {
            let driver = place.on == drive.chains[place.chain].driver.on;
            if driver { priors::DRIVER_PLACE } else { 1.0 }
        })
        .collect();
    let place = &places[chance.weighted(&weights)];
    let teeth = chance.weighted(&priors::TEETH) as i32 + 1;
    let teeth = if chance.yes(priors::SKIP_LATE) { teeth } else { -teeth };
    Fault::Skip { shaft: place.on.clone(), chain: drive.chains[place.chain].name.clone(), teeth }
}

fn phaser(drawn: &Drawn, cam: usize, share: f64, wander: f64) -> Fault {
    let described = &drawn.real.cams[cam];
    let full = described.phaser.map_or(0.0, |phaser| phaser.full_travel().get());
    let least = described.tolerance.get();
    let size = least + share * (full.abs() - least).max(0.0);
    let degrees = (10.0 * size.min(full.abs())).round() / 10.0 * full.signum();
    Fault::Phaser { cam: described.name.clone(), degrees, wander }
}

pub(super) fn make(
    drawn: &Drawn,
    class: Class,
    worn_too: bool,
    chance: &mut Chance,
) -> (Class, Vec<Fault>) {
    let wander = chance.between(1.0, 3.0);
    let away = phasers(drawn);
    let mut faults = match class {
        Class::Sound | Class::WornWithinTolerance => vec![],
        Class::Skip => vec![skip(drawn, chance)],
        Class::SkipAndWear => vec![skip(drawn, chance), wear(drawn, 0.0, chance)],
        Class::SkipAndPhaser => {
            let skip = skip(drawn, chance);
            let wander = if chance.yes(errors::MOVING_SHOWS) { wander } else { 0.0 };
            let cam = elsewhere(drawn, &skip, &away, chance);
            vec![skip, phaser(drawn, cam, chance.unit(), wander)]
        }
        Class::Wear => vec![wear(drawn, tolerance(drawn), chance)],
        Class::Phaser => vec![phaser(drawn, chance.one(&away), chance.unit(), 0.0)],
        Class::PhaserWanders => vec![phaser(drawn, chance.one(&away), chance.unit(), wander)],
        Class::SeveralPhasers => several_phasers(drawn, &away, chance),
        Class::CrankWheel => {
            let (near, mean) = (priors::CRANK_MOVED_NEAR, priors::CRANK_MOVED_MEAN.0);
            let most = priors::CRANK_MOVED_MOST.0;
            vec![Fault::CrankWheel { degrees: either_way(drawn, near, mean, most, chance) }]
        }
        Class::CamWheel => {
            let cams = &drawn.real.cams;
            let cam = chance.weighted(&vec![1.0; cams.len()]);
            let most = 360.0 / f64::from(cams[cam].wheel.repeats());
            let (near, mean) = (priors::CAM_WHEEL_NEAR, priors::CAM_WHEEL_MEAN.0);
            let degrees = either_way(drawn, near, mean, most, chance);
            vec![Fault::CamWheel { cam: cams[cam].name.clone(), degrees }]
        }
        Class::DamagedTooth => {
            let cams = &drawn.real.cams;
            let cam = &cams[chance.weighted(&vec![1.0; cams.len()])];
            let tooth = 1 + chance.weighted(&vec![1.0; cam.wheel.tooth_count()]);
            vec![Fault::DamagedTooth { cam: cam.name.clone(), tooth }]
        }
        Class::CrossedLeads => {
            let cams = &drawn.real.cams;
            let first = chance.weighted(&vec![1.0; cams.len()]);
            let second = (first + 1 + chance.weighted(&vec![1.0; cams.len() - 1])) % cams.len();
            let name = |cam: usize| cams[cam].name.clone();
            vec![Fault::CrossedLeads { first: name(first), second: name(second) }]
        }
    };
    let takes_wear = matches!(
        class,
        Class::Phaser
            | Class::PhaserWanders
            | Class::CrankWheel
            | Class::CamWheel
            | Class::DamagedTooth
            | Class::CrossedLeads
    );
    if worn_too && takes_wear {
        faults.push(wear(drawn, 0.0, chance));
    }
    (class, faults)
}

/// A cam with a phaser that a skip does not move, if there is one: "skip on one bank, phaser on
/// another".
fn elsewhere(drawn: &Drawn, skip: &Fault, away: &[usize], chance: &mut Chance) -> usize {
    let Fault::Skip { shaft, .. } = skip else { return away[0] };
    let stays = |cam: &usize| !drawn.real.drive.hangs_on(&drawn.real.cams[*cam].name, shaft);
    let others: Vec<usize> = away.iter().copied().filter(stays).collect();
    chance.one(if others.is_empty() { away } else { &others })
}

/// Those of one kind alike, or two of any kind each on its own.
fn several_phasers(drawn: &Drawn, away: &[usize], chance: &mut Chance) -> Vec<Fault> {
    let wander = if chance.yes(errors::MOVING_SHOWS) { chance.between(1.0, 3.0) } else { 0.0 };
    let intake: Vec<usize> = away
        .iter()
        .copied()
        .filter(|&cam| drawn.real.cams[cam].shaft != CamShaft::Exhaust)
        .collect();
    if intake.len() > 1 && chance.yes(priors::PHASERS_ALIKE) {
        let share = chance.unit();
        return intake
            .iter()
            .map(|&cam| {
                let tracking = chance.between(-0.05, 0.05);
                phaser(drawn, cam, (share + tracking).clamp(0.0, 1.0), wander)
            })
            .collect();
    }
    away.iter().map(|&cam| phaser(drawn, cam, chance.unit(), wander)).collect()
}
