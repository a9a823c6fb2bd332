//! A class: its key is what is true of its captures, and what a check measures of them.

use camwitness::analysis::{Analysis, AnalysisError, Options, analyse};
use camwitness::class::{Cause, Class, Exercise, Key};
use camwitness::practice::{ExtraLead, Scenario};
use camwitness::units::CrankDelta;
use camwitness::{Engine, capture::Capture};
use std::path::Path;

const ENGINE: &str = "demo-data/engine.toml";

fn scenario() -> Scenario {
    let engine = Engine::read(Path::new(ENGINE)).expect("the demonstration");
    Scenario {
        rate: 10_000.0,
        seconds: 2.0,
        leads: vec![ExtraLead::Starter, ExtraLead::Battery, ExtraLead::Ignition(3)],
        ..Scenario::new(engine)
    }
}

fn make(given: &[&str], students: u32, seed: u64) -> Class {
    let given: Vec<Exercise> =
        given.iter().map(|words| words.parse().expect("an exercise")).collect();
    Class::make(&scenario(), Path::new(ENGINE), students, &given, Some(seed)).expect("a class")
}

/// What a check measures with the engine file of a student.
fn checked(capture: &Capture, engine: &Engine) -> Result<Analysis, AnalysisError> {
    analyse(std::slice::from_ref(capture), engine, &Options::default())
}

/// How far a check may measure beside the truth: a tenth of what an answer may lie beside, and room
/// for a worn chain that swings.
const MEASURED_WITHIN: f64 = 0.6;

#[test]
fn the_key_is_what_a_check_measures_and_what_is_true() {
    let given = [
        "sound",
        "skip:B2 intake@primary:+1",
        "skip:crank@primary:-1",
        "wear:primary:8",
        "phaser:B1 intake:-25",
        "crank-wheel:9",
        "cam-wheel:B1 intake:-9",
        "crossed-leads:B1 intake:B2 intake",
        "weak-battery:6.5",
        "dead-cylinder:4",
        "wrong-edge:crank",
        "wrong-file",
    ];
    let class = make(&given, 12, 41);
    let right = scenario().engine;
    let mut causes = Vec::new();
    for student in &class.students {
        let (answer, truth) = (&student.answer, &student.practice.truth);
        let what = student.exercise.to_string();
        causes.push(answer.cause);
        // What is true: teeth, cylinders and leads are told by the capture's own truth.
        let teeth: i32 = truth.skips.iter().map(|skip| skip.teeth).sum();
        let asked = !matches!(answer.cause, Cause::CrossedLeads | Cause::WrongFile);
        assert_eq!(answer.teeth, asked.then_some(teeth), "{what}");
        let dead: Vec<u32> = truth
            .cylinders
            .iter()
            .filter(|cylinder| cylinder.of_sound < 0.3)
            .map(|cylinder| cylinder.bank)
            .collect();
        if answer.cause == Cause::DeadCylinder {
            assert_eq!(answer.banks.as_deref(), Some(&dead[..]), "{what}");
        } else {
            assert!(dead.is_empty(), "{what}: {dead:?}");
        }
        let crossed: Vec<&str> = truth
            .leads
            .iter()
            .filter(|lead| lead.carries != lead.lead)
            .map(|lead| lead.lead.as_str())
            .collect();
        if answer.cause == Cause::CrossedLeads {
            assert_eq!(crossed, ["B1 intake", "B2 intake"], "{what}");
            assert_eq!((&answer.cams, answer.degrees), (&None, None), "{what}");
            continue;
        }
        assert!(crossed.is_empty(), "{what}: {crossed:?}");
        // What is measured with the file this student has.
        let analysis = match checked(&student.practice.capture, &student.engine) {
            Err(error) => {
                assert_eq!(answer.cause, Cause::WrongFile, "{what}: {error}");
                assert_eq!((&answer.cams, answer.degrees), (&None, None), "{what}");
                checked(&student.practice.capture, &right).expect("the right file reads it");
                continue;
            }
            Ok(analysis) => analysis,
        };
        let measured: Vec<(&str, CrankDelta, CrankDelta)> = analysis
            .cams
            .iter()
            .map(|cam| {
                let described = &student.engine.cams[cam.measured.cam];
                let off = cam.deviation().expect("its place is stated");
                (described.name.as_str(), off, described.tolerance)
            })
            .collect();
        assert_eq!(measured.len(), 2, "{what}");
        let furthest = measured
            .iter()
            .map(|(_, off, _)| off.0)
            .max_by(|a, b| a.abs().total_cmp(&b.abs()))
            .expect("cams");
        let cams = answer.cams.as_ref().expect("asked");
        let degrees = answer.degrees.expect("asked");
        if cams.is_empty() {
            assert!(degrees == 0.0 && furthest.abs() < 5.0, "{what}: {furthest}");
            continue;
        }
        assert!((furthest - degrees).abs() < MEASURED_WITHIN, "{what}: {furthest}, key {degrees}");
        if answer.cause != Cause::WrongEdge {
            let off: Vec<&str> = measured
                .iter()
                .filter(|(_, off, tolerance)| off.abs() > *tolerance)
                .map(|(name, ..)| *name)
                .collect();
            assert_eq!(cams.iter().map(String::as_str).collect::<Vec<_>>(), off, "{what}");
        }
    }
    for cause in [Cause::Jumped, Cause::WrongEdge, Cause::WrongFile, Cause::Supply] {
        assert!(causes.contains(&cause), "{cause:?}");
    }
}

#[test]
fn a_rate_that_is_too_low_is_one_at_which_a_check_cannot_see_the_pulses() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("engine.toml");
    let text = std::fs::read_to_string(ENGINE).expect("the demonstration");
    let pulsed = text.replacen("sensor = \"hall\"", "sensor = \"pulse\"", 1);
    assert!(pulsed.find("pulse").expect("changed") < pulsed.find("[[cam]]").expect("cams"));
    std::fs::write(&file, pulsed).expect("a file");
    let scenario = Scenario { engine: Engine::read(&file).expect("an engine"), ..scenario() };
    let class = Class::make(&scenario, &file, 1, &[Exercise::LowRate], Some(5)).expect("a class");
    let student = &class.students[0];
    assert_eq!((student.answer.cause, &student.answer.cams), (Cause::LowRate, &None));
    let refused = checked(&student.practice.capture, &student.engine);
    let refused = refused.expect_err("the pulses fall between the samples");
    assert!(matches!(refused, AnalysisError::PulsesMissed { .. }), "{refused}");
}

#[test]
fn the_same_seed_gives_the_same_class_and_another_another() {
    let one = make(&[], 3, 77);
    let again = make(&[], 3, 77);
    let other = make(&[], 3, 78);
    let key = |class: &Class| {
        let key = Key::of(class, &scenario().engine).expect("a key");
        key.sealed().expect("a text")
    };
    assert_eq!(key(&one), key(&again));
    assert_ne!(key(&one), key(&other));
    assert_ne!(one.name, other.name);
    for (a, b) in one.students.iter().zip(&again.students) {
        assert_eq!(a.practice.capture.channels, b.practice.capture.channels);
    }
    // Every capture is another engine's, none made with the seed of the class or one beside it.
    let seeds: Vec<u64> = one.students.iter().map(|student| student.practice.truth.seed).collect();
    for (at, seed) in seeds.iter().enumerate() {
        assert!(*seed > 1_000_000 && !seeds[..at].contains(seed), "{seeds:?}");
    }
}

#[test]
fn a_class_of_ten_has_ten_different_exercises_and_a_sound_engine_among_them() {
    let quick = Scenario { rate: 5_000.0, seconds: 1.6, ..scenario() };
    for seed in [1, 2] {
        let class = Class::make(&quick, Path::new(ENGINE), 10, &[], Some(seed)).expect("a class");
        let given: Vec<String> =
            class.students.iter().map(|student| student.exercise.to_string()).collect();
        let different: std::collections::BTreeSet<&String> = given.iter().collect();
        assert_eq!(different.len(), 10, "{given:?}");
        assert!(given.iter().any(|words| words == "sound"), "{given:?}");
        let numbers: Vec<u32> = class.students.iter().map(|student| student.number).collect();
        assert_eq!(numbers, (1..=10).collect::<Vec<u32>>());
    }
}

#[test]
fn exercises_that_the_engine_cannot_have_are_refused() {
    let rows = [
        ("wrong-edge:crankshaft", "It has: crank, B1 intake, B2 intake"),
        ("wrong-edge:B1 intake", "given as teeth"),
        ("skip:B3 intake@primary:+1", "B3 intake"),
        ("dead-cylinder:7", "1, 6, 5, 4, 3, 2"),
        ("low-rate", "gives no short pulses"),
    ];
    for (words, said) in rows {
        let given = [words.parse().expect("an exercise")];
        let refused = Class::make(&scenario(), Path::new(ENGINE), 1, &given, Some(1));
        let message = refused.expect_err(words).to_string();
        assert!(message.contains(said) && !message.contains('\n'), "{message}");
    }
    assert!("wrong-edge:".parse::<Exercise>().is_err());
    assert!("sounds".parse::<Exercise>().is_err());
}
