//! One practice capture drawn from a seed, and whether its lock is right.

use std::path::Path;

use camwitness::capture::CaptureKind;
use camwitness::crank::{CrankError, CrankLock, Mark, lock};
use camwitness::edges::{SignalShape, find_edges};
use camwitness::engine::Engine;
use camwitness::practice::{Ending, Fault, Practice, Preset, Scenario, generate};
use camwitness::units::{CrankDelta, CrankTurned, Seconds};

const CRANK_WHEELS: [&str; 11] = [
    "60-2",
    "36-1",
    "36-2",
    "36-2-2-2-thirds",
    "36-2-2-2-uneven",
    "36-2-1",
    "24-even",
    "12-plus-1",
    "24-wide-narrow",
    // Four uneven teeth and two groups of teeth, as recorded.
    "{ slots = 36, missing = [2,3,4,5,6,7,9,10,11,12,13,14,15,16,17,18,20,21,22,23,24,25,27,28,29,30,31,32,33,34,35,36] }",
    "{ slots = 36, missing = [11, 12, 35, 36] }",
];
/// Firing orders with the cylinders of each bank.
const ORDERS: [(&str, &str); 4] = [
    ("[1, 2, 3]", "1 = [1, 2, 3]"),
    ("[1, 3, 4, 2]", "1 = [1, 2, 3, 4]"),
    ("[1, 6, 5, 4, 3, 2]", "1 = [1, 2, 3]\n2 = [4, 5, 6]"),
    ("[1, 5, 4, 8, 6, 3, 7, 2]", "1 = [1, 2, 3, 4]\n2 = [5, 6, 7, 8]"),
];

/// A trap a capture may have; one of them, or none.
const TRAPS: [&str; 9] = [
    "plain",
    "strong ripple",
    "one plug out",
    "jittery edges",
    "rocks back",
    "stops and restarts",
    "starts",
    "reversed lead",
    "slow",
];

/// Numbers from a seed, by a generator of the test's own (SplitMix64, Steele, Lea and Flood 2014).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
    fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[((self.next() * from.len() as f64) as usize).min(from.len() - 1)]
    }
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

pub struct Case {
    pub seed: u64,
    pub trap: &'static str,
    pub wheel: &'static str,
    pub scenario: Scenario,
}

impl Case {
    pub fn words(&self) -> String {
        let Scenario { preset, kind, rpm, ripple, jitter, rate, engine, .. } = &self.scenario;
        format!(
            "seed {}: {} on {}, {:?}, {:?}, {:?} at {rate}, rpm {rpm:?}, ripple {ripple:?}, jitter {jitter}, edge {:?}, {} cylinders",
            self.seed,
            self.trap,
            self.wheel,
            engine.crank.sensor,
            preset,
            kind,
            engine.crank.edge,
            engine.firing_order.len()
        )
    }
}

pub fn case(seed: u64) -> Case {
    let mut chance = Chance(seed);
    let wheel = chance.pick(&CRANK_WHEELS);
    let trap = chance.pick(&TRAPS);
    let (order, banks) = if trap == "strong ripple" { ORDERS[0] } else { chance.pick(&ORDERS) };
    let as_teeth = wheel == "24-wide-narrow";
    // Coarse wheels and wide teeth carry Hall sensors, and only square waves can be given jitter.
    let square = as_teeth || wheel.contains("2,3,4,5") || trap == "jittery edges";
    let sensor = if square || chance.next() < 0.6 { "hall" } else { "reluctance" };
    let stated = chance.next() < 0.7;
    let edge = if as_teeth || !stated { "" } else { "edge = \"falling\"" };
    let quoted = if wheel.starts_with('{') { wheel.to_owned() } else { format!("\"{wheel}\"") };
    let text = format!(
        "name = \"case {seed}\"\nfiring_order = {order}\n[banks]\n{banks}\n[crank]\nwheel = {quoted}\nsensor = \"{sensor}\"\n{edge}\n\
         tdc = {:.1}\n",
        chance.between(0.0, 359.0)
    );
    let engine = Engine::parse(&text, Path::new("engine.toml")).expect("a described case");
    let mut scenario = Scenario::new(engine);
    scenario.seed = seed;
    scenario.leads = Vec::new();
    scenario.seconds = chance.between(4.0, 8.0);
    scenario.preset =
        chance.pick(&[Preset::Clean, Preset::Workshop, Preset::Workshop, Preset::Nasty]);
    scenario.kind = chance.pick(&[CaptureKind::Sampled, CaptureKind::Sampled, CaptureKind::Events]);
    scenario.rate = chance.pick(&[10_000.0, 20_000.0, 50_000.0]);
    match trap {
        "strong ripple" => {
            scenario.ripple = Some(chance.between(1.0, 1.6));
            scenario.rpm = Some(chance.between(220.0, 280.0));
        }
        "one plug out" => {
            let cylinder = chance.pick(&scenario.engine.firing_order.clone());
            scenario.faults.push(Fault::WeakCylinder { cylinder, left: 0.0 });
            scenario.ripple = Some(chance.between(0.4, 0.9));
        }
        "jittery edges" => scenario.jitter = chance.between(0.5, 1.3),
        "rocks back" => scenario.ending = Ending::RocksBack,
        "stops and restarts" => scenario.ending = Ending::StopsAndRestarts,
        "starts" => scenario.ending = Ending::Starts,
        "reversed lead" => scenario.faults.push(Fault::Reversed { lead: "crank".into() }),
        "slow" => scenario.rpm = Some(chance.between(85.0, 140.0)),
        _ => {}
    }
    Case { seed, trap, wheel, scenario }
}

/// A lock that is less sure than this says itself that no angle is sure.
const SURE: f64 = 0.99;

/// What became of a case.
pub enum Outcome {
    /// Locked, and sure.
    Right,
    /// Refused, or not sure.
    Lost(String),
    /// Locked and sure, but not where the wheel was.
    Wrong(String),
    /// The practice engine could not be made to do this.
    NotMade,
}

pub fn decode(case: &Case) -> Outcome {
    let Ok(practice) = generate(&case.scenario) else { return Outcome::NotMade };
    let crank = practice.capture.channels.iter().find(|channel| channel.name == "crank");
    let sensor = Some(case.scenario.engine.crank.sensor);
    let train = find_edges(&practice.capture, crank.expect("a crank lead"), sensor);
    match lock(&train, &case.scenario.engine.crank, "crank") {
        Ok(lock) => held_against(case, &lock, &practice, train.shape),
        // Too few turns in one piece is no fault of the decoder where the engine hardly turned.
        Err(CrankError::TooShort { .. }) if practice.truth.motion.turns < 3.0 => Outcome::NotMade,
        Err(error) => Outcome::Lost(error.to_string()),
    }
}

/// Holds the angle at every true datum pass against a whole number of repeats.
fn held_against(case: &Case, lock: &CrankLock, practice: &Practice, shape: SignalShape) -> Outcome {
    let period = lock.angle.known_modulo();
    let doubtful =
        lock.edge_doubt.as_ref().and_then(|doubt| doubt.later).map_or(0.0, |later| later.0);
    let reversed = case.trap == "reversed lead" && shape == SignalShape::Square;
    let mut errors: Vec<f64> = Vec::new();
    let mut worst_at = (0.0, 0.0);
    for &at in &practice.truth.crank.datum_passes_s {
        let Some(turned) = lock.angle.angle_at(Seconds(at)) else { continue };
        let off =
            |turned: CrankTurned, later: f64| CrankDelta(turned.0 + later).wrap(period).0.abs();
        // Teeth that are taken for others are off by the curve and by all marks around; an edge
        // with a scatter of its own by the curve alone, and where the speed changes within the marks
        // around, the line through them alone.
        let error = |later: f64| match case.scenario.jitter > 0.0 {
            true => off(turned, later).min(off(around(lock, turned, Seconds(at)), later)),
            false => off(turned, later),
        };
        // A reversed square wave, or an edge that nobody stated, stands a tooth's width off; that
        // the lock says so is all that can be asked.
        let said = lock.edge_doubt.is_some();
        let by_other = if said { error(doubtful) } else { f64::INFINITY };
        let as_width =
            if reversed && case.scenario.engine.crank.edge.is_none() { 0.0 } else { f64::INFINITY };
        let off = error(0.0).min(by_other).min(as_width);
        if off > worst_at.0 {
            worst_at = (off, at);
        }
        errors.push(off);
    }
    if errors.is_empty() {
        let why = "no datum pass within the stretch".to_owned();
        let sure = lock.confidence >= SURE;
        return if sure { Outcome::Wrong(why) } else { Outcome::Lost(why) };
    }
    errors.sort_by(f64::total_cmp);
    let (middle, worst) = (errors[errors.len() / 2], errors[errors.len() - 1]);
    let shortest = shortest_step(&case.scenario.engine);
    if lock.confidence < SURE {
        let way = if worst < shortest / 2.0 { "right" } else { "wrong" };
        return Outcome::Lost(format!("{way}, odds {:.3}", lock.confidence));
    }
    if worst >= shortest / 2.0 {
        return Outcome::Wrong(format!(
            "off by {middle:.2}°, {worst:.2}° at worst, at {:.3} s, in {} passes from {:.3} to {:.3} s",
            worst_at.1,
            errors.len(),
            lock.angle.span().0.0,
            lock.angle.span().1.0
        ));
    }
    Outcome::Right
}

/// Crank degrees on each side over which an edge's own scatter is taken out.
const AROUND: f64 = 30.0;

/// The angle at an instant by all marks around it. An edge to which the case gave a scatter of its
/// own takes the curve with it, by up to three times that scatter in one pass of a hundred, and is
/// the tooth it was taken for all the same; where teeth are taken for others, all marks around are
/// off together.
fn around(lock: &CrankLock, turned: CrankTurned, at: Seconds) -> CrankTurned {
    let near = |mark: &&Mark| mark.turned.since(turned).0.abs() <= AROUND;
    let near: Vec<&Mark> = lock.angle.marks().iter().filter(near).collect();
    let (Some(first), Some(last)) = (near.first(), near.last()) else { return turned };
    if near.len() < 4 {
        return turned;
    }
    let speed = last.turned.since(first.turned).0 / (last.at - first.at).0;
    let mut then: Vec<f64> =
        near.iter().map(|mark| mark.turned.0 + speed * (at - mark.at).0).collect();
    then.sort_by(f64::total_cmp);
    CrankTurned(then[then.len() / 2])
}

/// Shortest step of the crank wheel from one marking edge to the next.
fn shortest_step(engine: &Engine) -> f64 {
    let marks: Vec<f64> = match engine.crank.wheel.slot_marks() {
        Some(marks) => marks.iter().map(|mark| mark.get()).collect(),
        None => engine
            .crank
            .wheel
            .teeth(camwitness::wheel::EdgeKind::Falling)
            .iter()
            .map(|t| t.start.get())
            .collect(),
    };
    (0..marks.len())
        .map(|i| (marks[(i + 1) % marks.len()] - marks[i]).rem_euclid(360.0))
        .fold(360.0, f64::min)
}
