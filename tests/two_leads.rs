//! Compression by the leads a technician clamps first, without a crank signal: through the reader's
//! `Capture`, the angle, the measurement and the judgement. The truth is the practice engine's own
//! peak pressures.

use std::path::Path;

use camwitness::analysis::{Checked, CrankingTest, check};
use camwitness::batch::{captures_in, check_all};
use camwitness::capture::{Capture, ReadOptions};
use camwitness::compare::{Compared, Outcome, compare_checked};
use camwitness::practice::{
    Dialect, ExtraLead, Fault, Practice, Preset, Scenario, csv_text, generate,
};
use camwitness::report::batch::Found;
use camwitness::verdict::CompressionState;
use camwitness::{Engine, Options};

use ExtraLead::{Battery, Ignition, Injector, Starter};

/// The scenario of our own: fires 1-6-5-4-3-2, banks 1-2-3 and 4-5-6, no crank and no cam
/// described.
pub const V6: &str = "name = \"V6\"\nfiring_order = [1, 6, 5, 4, 3, 2]\n\
                  firing_angles = [0, 120, 240, 360, 480, 600]\n[banks]\n1 = [1, 2, 3]\n2 = [4, 5, 6]\n";
pub const FOUR: &str = "name = \"four\"\nfiring_order = [1, 3, 4, 2]\n";
pub const THREE: &str = "name = \"three\"\nfiring_order = [1, 3, 2]\n";

fn engine(text: &str) -> Engine {
    Engine::parse(text, Path::new("engine.toml")).expect("an engine without a crank")
}

pub fn made(text: &str, faults: &[&str], leads: &[ExtraLead], seed: u64) -> Practice {
    let faults: Vec<Fault> = faults.iter().map(|words| words.parse().expect("a fault")).collect();
    generate(&Scenario {
        faults,
        seed,
        seconds: 5.0,
        rate: 4000.0,
        preset: Preset::Workshop,
        sensors: Some(Vec::new()),
        leads: leads.to_vec(),
        ..Scenario::new(engine(text))
    })
    .expect("a capture")
}

pub fn tested(capture: &Capture, text: &str) -> Result<CrankingTest, String> {
    match check(std::slice::from_ref(capture), &engine(text), &Options::default()) {
        Ok(Checked::Compression(test)) => Ok(*test),
        Ok(Checked::Timing(_)) => Err("timing".into()),
        Err(error) => Err(error.to_string()),
    }
}

/// Largest distance of a named cylinder from the truth, in its own 95 % half widths.
fn farthest(test: &CrankingTest, practice: &Practice) -> f64 {
    let measured = test.main().compression.measured.as_ref().expect("measured");
    let off = measured.cylinders.iter().map(|one| {
        let true_one =
            practice.truth.cylinders.iter().find(|truth| Some(truth.cylinder) == one.cylinder);
        let half = (one.ci95.1 - one.ci95.0) / 2.0;
        (one.relative - true_one.expect("named").relative).abs() / half
    });
    off.fold(0.0, f64::max)
}

#[test]
fn a_weak_cylinder_is_named_by_the_coil_and_never_called_a_bank() {
    let practice = made(V6, &["weak-cylinder:3:0.6"], &[Starter, Ignition(3)], 1);
    let test = tested(&practice.capture, V6).expect("a finding");
    assert_eq!(test.finding.state, CompressionState::CylinderLow, "{:?}", test.finding);
    assert_eq!(test.finding.cylinders, [3]);
    assert_eq!(test.finding.bank, None);
    // Twice the 95 % half width of the farthest of six: one in some thousands by chance.
    assert!(farthest(&test, &practice) < 2.0, "{}", farthest(&test, &practice));
}

#[test]
fn without_a_coil_nothing_is_named() {
    let practice = made(FOUR, &["weak-cylinder:3:0.5"], &[Starter], 2);
    let test = tested(&practice.capture, FOUR).expect("a finding");
    assert_eq!(test.finding.state, CompressionState::CylinderLow, "{:?}", test.finding);
    assert!(test.finding.cylinders.is_empty() && test.finding.peaks.len() == 1);
}

#[test]
fn three_cylinders_an_injector_and_the_battery_serve() {
    let practice = made(THREE, &["weak-cylinder:2:0.6"], &[Battery, Injector(1)], 3);
    let test = tested(&practice.capture, THREE).expect("a finding");
    assert_eq!(test.finding.cylinders, [2], "{:?}", test.finding);
}

#[test]
fn a_sound_engine_is_even() {
    let practice = made(FOUR, &[], &[Starter, Ignition(1)], 4);
    let test = tested(&practice.capture, FOUR).expect("a finding");
    assert_eq!(test.finding.state, CompressionState::Even, "{:?}", test.finding);
    assert!(farthest(&test, &practice) < 2.0);
}

#[test]
fn an_engine_that_fires_unevenly_is_named_by_its_coil() {
    // Pairs on a common crank pin of a V of 90 degrees: 90 and 150° in turn.
    let uneven = V6.replace("[0, 120, 240, 360, 480, 600]", "[0, 90, 240, 330, 480, 570]");
    let practice = made(&uneven, &["weak-cylinder:5:0.55"], &[Starter, Ignition(3)], 6);
    let test = tested(&practice.capture, &uneven).expect("a finding");
    assert_eq!(test.finding.cylinders, [5], "{:?}", test.finding);
}

#[test]
fn files_of_two_channels_are_one_finding() {
    // The clamp and a coil first, then the crank and each bank's cam: the compression of the first,
    // the timing of the rest.
    let described =
        Engine::parse(include_str!("../demo-data/engine.toml"), Path::new("engine.toml"))
            .expect("an engine");
    let take = |sensors: &[&str], leads: &[ExtraLead]| {
        let scenario = Scenario {
            faults: vec!["weak-cylinder:3:0.55".parse().expect("a fault")],
            seed: 9,
            seconds: 5.0,
            rate: 10_000.0,
            sensors: Some(sensors.iter().map(ToString::to_string).collect()),
            leads: leads.to_vec(),
            ..Scenario::new(described.clone())
        };
        let mut capture = generate(&scenario).expect("a capture").capture;
        capture.source = format!("{} {}.csv", sensors.join(" "), leads.len());
        capture
    };
    let captures = [
        take(&[], &[Starter, Ignition(3)]),
        take(&["crank", "B1 intake"], &[]),
        take(&["crank", "B2 intake"], &[]),
    ];
    let Ok(Checked::Timing(analysis)) = check(&captures, &described, &Options::default()) else {
        panic!("timing")
    };
    assert_eq!(analysis.cams.len(), 2);
    assert_eq!(analysis.captures.len(), 3);
    assert_eq!(analysis.compression_finding.state, CompressionState::CylinderLow);
    assert_eq!(analysis.compression_finding.cylinders, [3]);
    let text = camwitness::report::text::write(&analysis);
    assert!(text.contains("cylinder 3 is about"), "{text}");
}

#[test]
fn before_and_after_are_compared_without_a_crank() {
    let of = |faults: &[&str], seed| {
        let practice = made(V6, faults, &[Starter, Ignition(3)], seed);
        Checked::Compression(Box::new(tested(&practice.capture, V6).expect("a finding")))
    };
    let (weak, sound) = (of(&["weak-cylinder:3:0.6"], 1), of(&[], 1));
    let Ok(Compared::Compression(compared)) = compare_checked(weak.clone(), sound.clone(), false)
    else {
        panic!("compared")
    };
    assert_eq!(compared.outcome, Outcome::AllBack);
    let third = compared.cylinders.iter().find(|one| one.cylinder == 3).expect("cylinder 3");
    assert!(third.change.0 > third.change.1, "{third:?}");
    let text = camwitness::report::compare::compression_text(&compared, 100);
    assert!(text.contains("Cylinder 3") && text.contains("higher"), "{text}");
    let error = compare_checked(sound, weak, false).expect_err("the wrong way round");
    assert!(error.to_string().contains("wrong way round"), "{error}");
}

#[test]
fn a_folder_takes_the_same_road() {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, faults) in [("a.csv", &["weak-cylinder:3:0.6"][..]), ("b.csv", &[])] {
        let practice = made(V6, faults, &[Starter, Ignition(3)], 1);
        let text = csv_text(&practice.capture, &practice.steps, Dialect::default());
        std::fs::write(folder.path().join(name), text.expect("a dialect")).expect("written");
    }
    let captures = captures_in(folder.path()).expect("two captures");
    let (reading, options) = (ReadOptions::default(), Options::default());
    let engine = engine(V6);
    let rows = check_all(&captures, &engine, &reading, &options, Found::of, |e| e.plain(), || ());
    let table = camwitness::report::batch::table(&engine, &rows);
    assert!(table.contains("CYLINDER LOW") && table.contains("cylinder 3"), "{table}");
    assert!(table.contains("cylinders even"), "{table}");
    let csv = camwitness::report::batch::csv(&engine, &rows).expect("in memory");
    let csv = String::from_utf8(csv).expect("UTF-8");
    assert!(csv.contains("cylinder_low") && csv.contains(",even,"), "{csv}");
}

#[test]
fn mistakes_are_said() {
    let mut practice = made(FOUR, &[], &[Starter, Ignition(1)], 4);
    let coil = practice.capture.channels.iter_mut().find(|one| one.name == "ignition 1");
    coil.expect("a coil").name = "ignition 7".into();
    let message = tested(&practice.capture, FOUR).expect_err("no cylinder 7");
    assert!(message.contains("cylinder 7") && message.contains("1-3-4-2"), "{message}");
    // The clamp that was never on the cable.
    practice.capture.channels.retain(|one| one.name == "starter");
    practice.capture.channels[0].values.to_mut().iter_mut().for_each(|value| *value = 0.0);
    let message = tested(&practice.capture, FOUR).expect_err("no rhythm");
    assert!(message.contains("no rhythm of compressions"), "{message}");
}

#[test]
fn an_engine_file_needs_no_crank_but_cams_do() {
    assert!(!engine(V6).crank.described);
    let with_cam = format!(
        "{V6}[[cam]]\nname = \"B1 intake\"\nbank = 1\nshaft = \"intake\"\nwheel = \"three-uneven\"\nsensor = \"hall\"\n"
    );
    let error = Engine::parse(&with_cam, Path::new("engine.toml")).expect_err("no crank");
    assert!(error.to_string().contains("no [crank]"), "{error}");
}
