//! Edges of real recordings against the counts worked out independently (the captures folder's
//! README; it is read from `CAMWITNESS_CAPTURES`, without which these say so and check nothing),
//! and of practice captures that have the same traps.

use std::path::{Path, PathBuf};

use camwitness::analysis::{Analysis, AnalysisError, Options, analyse};
use camwitness::capture::{Capture, CaptureKind, ReadOptions, read};
use camwitness::edges::{EdgeTrain, SignalFault, find_edges};
use camwitness::engine::Engine;
use camwitness::practice::{Ending, Fault, Practice, Preset, Scenario, generate};
use camwitness::report::words::warnings;
use camwitness::units::CrankDelta;
use camwitness::wheel::EdgeKind::{Falling, Rising};

fn recording(file: &str) -> Option<Capture> {
    let folder = std::env::var_os("CAMWITNESS_CAPTURES").map(PathBuf::from);
    if folder.is_none() {
        println!("CAMWITNESS_CAPTURES is not set: the real recordings are NOT checked");
    }
    Some(read(&folder?.join(file), &ReadOptions::default()).expect(file))
}

fn train(capture: &Capture, channel: usize) -> EdgeTrain {
    find_edges(capture, &capture.channels[channel], None)
}

fn glitches(train: &EdgeTrain) -> usize {
    let of = |fault: &SignalFault| match fault {
        SignalFault::Glitches(told) => told.count,
        _ => 0,
    };
    train.faults.iter().map(of).sum()
}

#[test]
fn at_85_rpm_and_a_swing_of_four_tenths_of_a_volt_every_tooth_counts() {
    let Some(capture) = recording("sampled-crank-slow.csv") else { return };
    let found = train(&capture, 0);
    // README: crossings of 3.38 V, hysteresis 0.04 to 0.12 V.
    assert_eq!((found.of_kind(Falling).count(), found.of_kind(Rising).count()), (247, 247));
}

#[test]
fn short_lows_beside_long_ones_are_teeth() {
    let Some(capture) = recording("four-uneven-moving-cam.csv") else { return };
    let found = train(&capture, 0);
    // README: all 356 rises are teeth; lows of 0.4 to 0.7 ms beside lows to 91 ms are teeth, 711
    // edges in all.
    assert_eq!((found.edges.len(), found.of_kind(Rising).count()), (711, 356));
    assert_eq!(glitches(&found), 0);
}

#[test]
fn bounces_of_a_microsecond_go() {
    let Some(capture) = recording("three-cylinder-ripple.csv") else { return };
    let found = train(&capture, 0);
    // README: 205 teeth, none lost; two bounces on a rise.
    assert_eq!((found.of_kind(Rising).count(), glitches(&found)), (205, 2));
}

#[test]
fn crosstalk_goes_while_the_discs_turn() {
    let Some(capture) = recording("igniter-beside-discs.csv") else { return };
    let large = train(&capture, 1);
    // README: four starts with 48, 32, 31 and 43 falls of `large`; after each of the first three
    // stops both discs chatter.
    let starts = [(1.39, 3.625), (5.05, 6.385), (7.73, 9.095), (10.39, 12.49)];
    let counts = starts
        .map(|(from, to)| large.of_kind(Falling).filter(|at| (from..to).contains(&at.0)).count());
    assert_eq!(counts, [48, 32, 31, 43]);
    // One long high and one long low per four periods: no more than half as many edges, each start
    // with its ends.
    let small = train(&capture, 2);
    let turning = small
        .edges
        .iter()
        .filter(|edge| starts.iter().any(|&(from, to)| (from..to).contains(&edge.at.0)));
    assert!(turning.count() <= 154 / 2 + 8);
}

/// The demonstration engine with other words for its crank and cams.
pub fn engine(changes: &[(&str, &str)]) -> Engine {
    let text = include_str!("../demo-data/engine.toml");
    let changed = changes.iter().fold(text.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from} is in the demonstration engine");
        text.replace(from, to)
    });
    Engine::parse(&changed, Path::new("engine.toml")).expect("the description is sound")
}

const CRANK_RELUCTANCE: (&str, &str) =
    ("sensor = \"hall\"\nedge   = \"falling\"", "sensor = \"reluctance\"\nedge   = \"falling\"");
const CRANK_PULSE: (&str, &str) =
    ("sensor = \"hall\"\nedge   = \"falling\"", "sensor = \"pulse\"\nedge   = \"falling\"");
const ONE_TOOTH: (&str, &str) = (
    "wheel  = \"three-uneven\"\nsensor = \"hall\"",
    "wheel  = { name = \"one tooth\", teeth = [ { start = 0.0, end = 12.0 } ] }\nsensor = \"reluctance\"",
);

fn made(scenario: &Scenario) -> Practice {
    generate(scenario).expect("a scenario that can be made")
}

fn check(practice: &Practice, engine: &Engine) -> Result<Analysis, AnalysisError> {
    analyse(std::slice::from_ref(&practice.capture), engine, &Options::default())
}

/// Every cam was measured, and stands where it was put to within so many degrees.
fn assert_cams(name: &str, practice: &Practice, engine: &Engine, within: f64) -> Analysis {
    let analysis = check(practice, engine).unwrap_or_else(|error| panic!("{name}: {error}"));
    assert_eq!(analysis.cams.len(), engine.cams.len(), "{name}: a cam was not measured");
    for cam in &analysis.cams {
        let truth = &practice.truth.cams[cam.measured.cam];
        let off = CrankDelta(cam.measured.position.get() - truth.position_deg);
        let open =
            CrankDelta(cam.measured.known_modulo.0.min(analysis.crank.angle.known_modulo().0));
        let off = off.wrap(open).0;
        assert!(off.abs() <= within, "{name}, {}: {off:.2}° off", truth.cam);
    }
    analysis
}

#[test]
fn habits_of_square_wave_leads_move_no_cam() {
    let engine = engine(&[]);
    for words in ["bounce:crank", "crosstalk:crank", "crosstalk:B1 intake", "weak-battery:7.5"] {
        for kind in [CaptureKind::Events, CaptureKind::Sampled] {
            for seed in 1..=4 {
                let scenario = Scenario {
                    faults: vec![words.parse::<Fault>().expect(words)],
                    kind,
                    seed,
                    rate: 50_000.0,
                    leads: vec![],
                    ..Scenario::new(engine.clone())
                };
                let name = format!("{words}, {kind:?}, seed {seed}");
                let analysis = assert_cams(&name, &made(&scenario), &engine, 0.6);
                assert_eq!((analysis.crank.missed, analysis.crank.extra), (0, 0), "{name}");
            }
        }
    }
}

#[test]
fn a_long_standstill_before_a_reluctance_crank_is_no_refusal() {
    let engine = engine(&[CRANK_RELUCTANCE]);
    for preset in [Preset::Workshop, Preset::Nasty] {
        for seed in 1..=4 {
            let scenario = Scenario {
                preset,
                seed,
                seconds: 9.0,
                standstill: Some(6.0),
                leads: vec![],
                ..Scenario::new(engine.clone())
            };
            assert_cams(&format!("{preset:?}, seed {seed}"), &made(&scenario), &engine, 1.0);
        }
    }
}

#[test]
fn a_single_reluctance_tooth_is_timed_where_it_is_steep() {
    let engine = engine(&[ONE_TOOTH]);
    for seed in 1..=12 {
        let scenario = Scenario { seed, leads: vec![], ..Scenario::new(engine.clone()) };
        assert_cams(&format!("seed {seed}"), &made(&scenario), &engine, 1.0);
    }
}

#[test]
fn output_pulses_give_the_angle_and_tell_of_rocking_back() {
    let engine = engine(&[CRANK_PULSE]);
    for seed in 1..=4 {
        let scenario = Scenario {
            seed,
            rate: 100_000.0,
            ending: Ending::RocksBack,
            leads: vec![],
            ..Scenario::new(engine.clone())
        };
        let practice = made(&scenario);
        let analysis = assert_cams(&format!("seed {seed}"), &practice, &engine, 0.6);
        let told = analysis.warnings.iter().find(|notice| notice.text.contains("rocked back"));
        // Two teeth of the wheel, and one more to be sure that two were passed.
        if practice.truth.motion.rocked_back_deg > 30.0 {
            assert!(told.is_some(), "seed {seed}: {:#?}", analysis.warnings);
        }
    }
}

#[test]
fn a_rate_too_low_for_output_pulses_is_the_reason_that_is_given() {
    let engine = engine(&[CRANK_PULSE]);
    let scenario = Scenario { rate: 10_000.0, leads: vec![], ..Scenario::new(engine.clone()) };
    let said = match check(&made(&scenario), &engine) {
        Err(error) => error.to_string(),
        Ok(analysis) => warnings(&analysis).into_iter().map(|notice| notice.text).collect(),
    };
    assert!(said.contains("10000 samples per second"), "{said}");
    assert!(said.contains("56000"), "{said}");
}
