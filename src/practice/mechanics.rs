//! The moving parts of one engine: sizes of cylinders, friction, flywheel and starter.
//!
//! What the description leaves open is drawn from the seed within what engines of that
//! size have. Starter and flywheel are sized for the sound engine, so that a fault
//! changes speed and ripple as it would on the road.

use crate::engine::Engine;
use crate::units::{CYCLE_DEG, CrankDeg, Rpm};

use super::build::Build;
use super::gas::{Chamber, CylinderShape, SteadyCycle, ValveTimes};
use super::random::Random;
use super::starter::{Battery, Starter};

/// Swept litres of a cylinder where no displacement is given (common practice: half a litre).
const LITRES_PER_CYLINDER: f64 = 0.5;
/// Compression ratio where none is given (common practice).
const COMPRESSION_RATIO: f64 = 10.0;
/// Connecting-rod length over crank radius where none is given; Heywood gives 3 to 4 for small
/// engines.
const ROD_RATIO: f64 = 3.4;
/// Valve events where none are given, crank degrees after firing TDC (common practice: intake from
/// 10° before TDC, exhaust from 50° before BDC to 10° after TDC). Where the intake closes is
/// [`Engine::intake_closing`].
const INTAKE_OPENS: f64 = 350.0;
const EXHAUST_OPENS: f64 = 130.0;
const EXHAUST_CLOSES: f64 = 370.0;
/// Pressure in the manifold while cranking, in atmospheres.
const CRANKING_MANIFOLD: f64 = 0.96;
/// Dry and speed-dependent friction per litre: newton metres, and newton metres
/// per radian per second (from memory: 50 to 80 N·m to crank a warm three-litre engine).
const DRY_FRICTION_PER_LITRE: f64 = 13.0;
const WET_FRICTION_PER_LITRE: f64 = 0.1;
/// Smallest flywheel in kilogram square metres per litre, whatever the ripple asked for.
const LEAST_INERTIA_PER_LITRE: f64 = 0.03;
/// A starter must get the engine over its first compression from rest: stall torque over
/// the greatest torque against it.
const STALL_MARGIN: f64 = 1.1;
/// What a sound battery falls to when the starter engages, in volts (common practice: about 8.5, a
/// weak one lower).
const LOWEST_VOLTS: (f64, f64) = (8.2, 8.8);
/// How often the leak of a weak cylinder is halved in on; 2^-40 is beyond any need.
const LEAK_HALVINGS: usize = 40;
/// Leak beyond which nothing is left to compress, share per second.
const MOST_LEAK: f64 = 3000.0;

/// One cylinder.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cylinder {
    pub number: u32,
    /// Firing TDC, crank degrees after the place where the datum belongs, 0..720.
    pub tdc: f64,
    pub valves: ValveTimes,
    pub leak: f64,
    /// Share of the usual charge it traps.
    pub fill: f64,
    /// Peak pressure over the atmosphere of the same cylinder without any fault.
    pub sound_peak: f64,
}

/// Everything motion needs.
#[derive(Debug, Clone)]
pub(super) struct Mechanics {
    pub chamber: Chamber,
    pub cylinders: Vec<Cylinder>,
    /// Newton metres at any speed, and per radian per second.
    pub friction: (f64, f64),
    /// Kilogram square metres at the crank.
    pub inertia: f64,
    pub starter: Starter,
    pub battery: Battery,
    /// Manifold pressure while cranking, in atmospheres.
    pub manifold: f64,
}

impl Mechanics {
    /// Draws the engine of a seed. `rpm` fixes the cranking speed the starter is sized for,
    /// `ripple` the swing of speed the flywheel is sized for.
    pub(super) fn draw(
        engine: &Engine,
        build: &Build,
        seed: u64,
        rpm: Option<f64>,
        ripple: Option<f64>,
    ) -> Self {
        let mut random = Random::new(seed, "mechanics");
        let count = engine.firing_order.len() as f64;
        let litres = engine.geometry.displacement_litres.unwrap_or(LITRES_PER_CYLINDER * count);
        let shape = CylinderShape {
            ratio: engine.geometry.compression_ratio.unwrap_or(COMPRESSION_RATIO),
            rod: engine.geometry.rod_ratio.unwrap_or(ROD_RATIO),
            swept: litres / count / 1000.0,
        };
        let chamber = Chamber::new(&shape);
        let drawn_rpm = random.between(155.0, 280.0);
        let speed = Rpm(rpm.unwrap_or(drawn_rpm)).degrees_per_second();
        let manifold = CRANKING_MANIFOLD * random.between(0.98, 1.0);
        let friction = (
            DRY_FRICTION_PER_LITRE * litres * random.between(0.8, 1.2),
            WET_FRICTION_PER_LITRE * litres * random.between(0.8, 1.2),
        );
        let base_leak = random.between(0.5, 1.2);
        let drawn_ripple = random.between(0.09, 0.235);
        let spare = random.between(1.30, 1.55);
        let tires = random.between(0.0, 0.006);
        let rest_volts = random.between(12.3, 12.8);
        let valves = stated_valves(engine);
        let sound: Vec<(f64, SteadyCycle)> = engine
            .firing_order
            .iter()
            .map(|_| base_leak * random.between(0.85, 1.15))
            .map(|leak| (leak, SteadyCycle::run(&chamber, valves, leak, manifold, speed)))
            .collect();
        let cylinders: Vec<Cylinder> = engine
            .firing_order
            .iter()
            .zip(&engine.firing_angles)
            .zip(&sound)
            .map(|((&number, angle), (leak, cycle))| {
                let (intake, exhaust) = build.valves_late(engine, number);
                let left: f64 =
                    build.weak.iter().filter(|weak| weak.0 == number).map(|weak| weak.1).product();
                Cylinder {
                    number,
                    tdc: (build.tdc + angle.0).rem_euclid(CYCLE_DEG),
                    valves: if build.dead.contains(&number) {
                        ValveTimes::HANGING_OPEN
                    } else {
                        valves.shifted(intake, exhaust)
                    },
                    fill: build
                        .starved
                        .iter()
                        .filter(|starved| starved.0 == number)
                        .map(|starved| starved.1)
                        .product(),
                    leak: leak_leaving(left, &chamber, valves, *leak, manifold, speed),
                    sound_peak: cycle.peak,
                }
            })
            .collect();
        let swings = swings(&cylinders, &sound);
        let radians = speed.to_radians();
        let load = friction.0 + friction.1 * radians + swings.load;
        let least_stall = STALL_MARGIN * (swings.peak + friction.0);
        let mut starter = Starter::sized(radians, load, spare, least_stall);
        starter.tires = tires;
        let lowest = build.weak_battery.unwrap_or(random.between(LOWEST_VOLTS.0, LOWEST_VOLTS.1));
        let battery = Battery::sized(rest_volts, lowest, &starter);
        // Coefficient of speed fluctuation of a flywheel: ΔE = J ω² Cs (machine-design handbooks).
        let inertia = match ripple {
            Some(ripple) => swings.energy / (radians * radians * ripple),
            None => (swings.energy / (radians * radians * drawn_ripple))
                .max(LEAST_INERTIA_PER_LITRE * litres),
        };
        Self { chamber, cylinders, friction, inertia, starter, battery, manifold }
    }
}

/// The description's valve events, completed with the usual ones.
fn stated_valves(engine: &Engine) -> ValveTimes {
    let or = |stated: Option<CrankDeg>, usual: f64| stated.map_or(usual, CrankDeg::get);
    ValveTimes {
        intake_opens: or(engine.valves.intake_opens, INTAKE_OPENS),
        intake_closes: engine.intake_closing().get(),
        exhaust_opens: or(engine.valves.exhaust_opens, EXHAUST_OPENS),
        exhaust_closes: or(engine.valves.exhaust_closes, EXHAUST_CLOSES),
    }
}

/// The leak that leaves this share of the sound peak over the atmosphere at cranking speed.
fn leak_leaving(
    left: f64,
    chamber: &Chamber,
    valves: ValveTimes,
    sound: f64,
    manifold: f64,
    speed: f64,
) -> f64 {
    if left >= 1.0 {
        return sound;
    }
    let peak = |leak| SteadyCycle::run(chamber, valves, leak, manifold, speed).peak;
    let wanted = left * peak(sound);
    let (mut low, mut high) = (sound, MOST_LEAK);
    for _ in 0..LEAK_HALVINGS {
        // Leaks span four powers of ten: halve their ratio.
        let middle = (low * high).sqrt();
        if peak(middle) > wanted { low = middle } else { high = middle }
    }
    high
}

/// What the gas of the sound engine asks of starter and flywheel.
struct Swings {
    /// Mean torque it takes, newton metres.
    load: f64,
    /// Greatest torque against the motion.
    peak: f64,
    /// Energy that goes in and out of the flywheel within a cycle, joules.
    energy: f64,
}

fn swings(cylinders: &[Cylinder], sound: &[(f64, SteadyCycle)]) -> Swings {
    let per_cycle = sound.first().map_or(0, |(_, cycle)| cycle.torque.len());
    let mean: f64 = sound.iter().map(|(_, cycle)| cycle.mean_torque()).sum();
    let step = (1.0 / SteadyCycle::PER_DEGREE as f64).to_radians();
    let (mut energy, mut least, mut most, mut peak) = (0.0, 0.0_f64, 0.0_f64, 0.0_f64);
    for index in 0..per_cycle {
        let torque: f64 = cylinders
            .iter()
            .zip(sound)
            .map(|(cylinder, (_, cycle))| {
                let behind = (cylinder.tdc * SteadyCycle::PER_DEGREE as f64) as usize;
                cycle.torque[(index + per_cycle - behind % per_cycle) % per_cycle]
            })
            .sum();
        energy += (torque - mean) * step;
        peak = peak.max(-torque);
        (least, most) = (least.min(energy), most.max(energy));
    }
    Swings { load: -mean, peak, energy: most - least }
}
