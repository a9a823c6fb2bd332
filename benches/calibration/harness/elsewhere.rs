//! A stock drawn with other constants than the verdict's: the same arithmetic is then not checked
//! against itself.
//!
//! Every number here is ours and none of them stands in `verdict::priors` or `verdict::errors`:
//! places typed with larger errors than stated, sensors that lag, starters and flywheels outside
//! what practice draws by itself, wear that adds up strand by strand and comes in other amounts,
//! other shares of teeth, sides and kinds.

use camwitness::capture::Capture;
use camwitness::engine::Reference;
use camwitness::practice::{Fault, Scenario};
use camwitness::units::CrankDelta;
use camwitness::verdict::Kind;

use super::case::make;
use super::chance::Chance;
use super::class::{Class, phasers};
use super::engines::Drawn;

/// A typed place is off by this many times the standard deviation stated beside it, or taken for
/// it.
const AT_ERROR: f64 = 1.5;
/// What is taken where none is stated, crank degrees.
const AT_SD_DEG: f64 = 1.5;
/// Seconds by which a cam sensor's output lags its tooth.
const LAG_S: (f64, f64) = (0.0, 4.0e-4);
/// Shares of one to four teeth.
const TEETH: [f64; 4] = [0.6, 0.25, 0.1, 0.05];
/// Share of skips that are late.
const LATE: f64 = 0.7;
/// Most that the last shaft of a chain is late by wear, crank degrees; any amount is as common.
const MOST_WEAR_DEG: f64 = 15.0;

/// How often each kind comes, with a code or without.
fn rate(kind: Kind) -> f64 {
    match kind {
        Kind::InTime => 0.45,
        Kind::Skip => 0.18,
        Kind::Wear => 0.16,
        Kind::PhaserOffRest => 0.12,
        Kind::CrankReferenceMoved => 0.03,
        Kind::CamWheelMoved => 0.01,
        Kind::DamagedTooth => 0.03,
        Kind::LeadsCrossed => 0.02,
        Kind::DoesNotFit => 0.0,
    }
}

/// The engine as it is, where the description is not quite of it.
pub fn engine(mut drawn: Drawn, chance: &mut Chance) -> Drawn {
    for cam in &mut drawn.real.cams {
        if let Reference::At { at, sd } = cam.reference {
            let off = AT_ERROR * sd.map_or(AT_SD_DEG, CrankDelta::get) * normal(chance);
            cam.reference = Reference::At { at: at + CrankDelta(off), sd: Some(CrankDelta(0.0)) };
        }
    }
    for chain in &mut drawn.real.drive.chains {
        chain.pulled_order = true;
    }
    drawn
}

/// Standard normal as the sum of twelve even numbers less six: other tails than the verdict's own.
fn normal(chance: &mut Chance) -> f64 {
    (0..12).map(|_| chance.unit()).sum::<f64>() - 6.0
}

/// What was done to it.
pub fn faults(drawn: &Drawn, chance: &mut Chance) -> (Class, Vec<Fault>) {
    let possible = |kind: Kind| match kind {
        Kind::PhaserOffRest => !phasers(drawn).is_empty(),
        Kind::LeadsCrossed => drawn.real.cams.len() > 1,
        _ => true,
    };
    let weights = Kind::ALL.map(|kind| if possible(kind) { rate(kind) } else { 0.0 });
    match Kind::ALL[chance.weighted(&weights)] {
        Kind::InTime if chance.yes(0.6) => {
            (Class::WornWithinTolerance, vec![wear(drawn, 0.0, tolerance(drawn) - 0.5, chance)])
        }
        Kind::InTime | Kind::DoesNotFit => (Class::Sound, vec![]),
        Kind::Skip if chance.yes(0.35) => {
            let skip = skip(drawn, chance);
            (Class::SkipAndWear, vec![skip, wear(drawn, 0.5, 8.0, chance)])
        }
        Kind::Skip => (Class::Skip, vec![skip(drawn, chance)]),
        Kind::Wear => (Class::Wear, vec![wear(drawn, tolerance(drawn), MOST_WEAR_DEG, chance)]),
        Kind::PhaserOffRest if chance.yes(0.5) => make(drawn, Class::Phaser, false, chance),
        Kind::PhaserOffRest => make(drawn, Class::PhaserWanders, false, chance),
        Kind::CrankReferenceMoved => make(drawn, Class::CrankWheel, false, chance),
        Kind::CamWheelMoved => make(drawn, Class::CamWheel, false, chance),
        Kind::DamagedTooth => make(drawn, Class::DamagedTooth, false, chance),
        Kind::LeadsCrossed => make(drawn, Class::CrossedLeads, false, chance),
    }
}

fn tolerance(drawn: &Drawn) -> f64 {
    drawn.real.cams.iter().map(|cam| cam.tolerance.get()).fold(f64::INFINITY, f64::min)
}

/// The last shaft of a chain late by anything between two amounts, those before it by their share.
fn wear(drawn: &Drawn, least: f64, most: f64, chance: &mut Chance) -> Fault {
    let chains = &drawn.real.drive.chains;
    let index = chance.weighted(&vec![1.0; chains.len()]);
    let last = chance.between(least, most.max(least + 0.1));
    let degrees = last / chains[index].driven.len() as f64;
    Fault::Wear { chain: chains[index].name.clone(), degrees }
}

fn skip(drawn: &Drawn, chance: &mut Chance) -> Fault {
    let names: Vec<&str> = drawn.real.cams.iter().map(|cam| cam.name.as_str()).collect();
    let drive = &drawn.real.drive;
    let places = drive.skip_places(&names);
    let place = &places[chance.weighted(&vec![1.0; places.len()])];
    let teeth = chance.weighted(&TEETH) as i32 + 1;
    let teeth = if chance.yes(LATE) { teeth } else { -teeth };
    Fault::Skip { shaft: place.on.clone(), chain: drive.chains[place.chain].name.clone(), teeth }
}

/// Another starter and another flywheel: slower or faster, and rougher, than practice draws by
/// itself (155 to 280 rpm, 0.09 to 0.235).
pub fn motion(scenario: Scenario, chance: &mut Chance) -> Scenario {
    let rpm =
        if chance.yes(0.5) { chance.between(115.0, 150.0) } else { chance.between(285.0, 330.0) };
    Scenario {
        kind: camwitness::capture::CaptureKind::Sampled,
        rpm: Some(rpm),
        ripple: Some(chance.between(0.25, 0.5)),
        ..scenario
    }
}

/// Every cam's signal later by its sensor's lag.
pub fn lag(capture: &mut Capture, drawn: &Drawn, rate: f64, seed: u64) {
    let mut chance = Chance::new(seed ^ 0x1a9);
    for cam in &drawn.real.cams {
        let rows = (chance.between(LAG_S.0, LAG_S.1) * rate).round() as usize;
        let of_cam = |name: &str| name.eq_ignore_ascii_case(&cam.name);
        for channel in capture.channels.iter_mut().filter(|channel| of_cam(&channel.name)) {
            let first = channel.values[0];
            let values = channel.values.to_mut();
            values.rotate_right(rows);
            values[..rows].fill(first);
        }
    }
}
