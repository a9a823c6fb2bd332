//! The worst mistakes of description and leads, each made on a whole capture and put through the
//! whole program: none of them may end in a finding on the engine. The long run is `cargo bench
//! --bench mistakes`, its table `docs/mistakes.md`.

// The benchmark uses more of it.
#[allow(dead_code)]
#[path = "../benches/mistakes/harness/mod.rs"]
mod harness;

use camwitness::analysis::{Options, analyse};
use camwitness::practice::{ExtraLead, Scenario, generate};
use camwitness::verdict::State;

use harness::spec::engines;
use harness::trial::{Condition, Outcome, Trial, trials};

/// An engine with four cams of two kinds of wheel, so that each mistake can be made on it.
const ENGINE: &str = "V6, four cams, two kinds of wheel";
const SEED: u64 = 1;

/// (mistake, whether it has to be named)
const ROWS: [(&str, bool); 11] = [
    ("`at` counted from TDC", true),
    ("`at` in cam degrees", true),
    ("every `at` 27 too high", false),
    ("every `at` half a turn off", true),
    ("`later` left at 0", true),
    ("gap described one slot early", false),
    ("leads of the banks exchanged wholesale", true),
    ("leads of intake and exhaust exchanged on both banks", false),
    ("leads shifted by one", false),
    ("one sensor on two channels", false),
    ("phaser left out, the cam off rest", false),
];

#[test]
fn no_mistake_condemns_a_sound_engine_from_the_capture_on() {
    let engine = engines().into_iter().find(|one| one.name == ENGINE).expect("an engine");
    let wanted = |kind: &str| ROWS.iter().any(|row| row.0 == kind);
    let made: Vec<Trial> = trials(&engine, Condition::Sound, SEED, wanted);
    for (mistake, named) in ROWS {
        let one = made.iter().find(|one| one.kind == mistake);
        let one = one.unwrap_or_else(|| panic!("{mistake} was not made"));
        let said = format!("{mistake}: {:?}, {}", one.outcome, one.said);
        assert!(!matches!(one.outcome, Outcome::Wrong | Outcome::Alike), "{said}");
        if named {
            assert_eq!(one.outcome, Outcome::Named, "{said}");
        }
    }
}

/// A lead behind a slow filter shows one turn of its wheel, too little to place its cam. Read as
/// another cam's it once fitted one, with every other lead somewhere else: a right description
/// doubted.
#[test]
fn a_lead_that_shows_one_turn_of_its_wheel_is_on_no_other_sensor() {
    const RATE: f64 = 10_000.0;
    const FILTER_S: f64 = 0.01;
    let spec = engines().into_iter().find(|one| one.name == "V8, four cams, phasers on all");
    let engine = spec.expect("an engine").engine().expect("it is described rightly");
    let scenario = Scenario {
        seed: 232,
        rate: RATE,
        seconds: 2.5,
        leads: vec![ExtraLead::Starter],
        ..Scenario::new(engine.clone())
    };
    let mut capture = generate(&scenario).expect("a capture").capture;
    let bad = capture.channels.iter_mut().find(|one| one.name == "B2 exhaust").expect("a lead");
    let share = 1.0 - (-1.0 / (RATE * FILTER_S)).exp() as f32;
    let mut level = bad.values[0];
    for volts in bad.values.to_mut() {
        level += share * (*volts - level);
        *volts = level;
    }
    let found = analyse(&[capture], &engine, &Options::default()).expect("an angle");
    let measured: Vec<usize> = found.cams.iter().map(|cam| cam.measured.cam).collect();
    assert_eq!(measured, [0, 1, 2], "the lead has to be unreadable for this");
    assert_eq!(found.verdict.state, State::InTime, "{:?}", found.verdict.explanations.first());
    assert_eq!(found.verdict.covers, [0, 1, 2]);
}
