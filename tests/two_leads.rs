//! Compression by the leads a technician clamps first, without a crank signal: through the reader's `Capture`, the
//! angle, the measurement and the judgement. The truth is the practice engine's own peak pressures.

use std::path::Path;

use camwitness::analysis::{Checked, CrankingTest, check};
use camwitness::capture::Capture;
use camwitness::practice::{ExtraLead, Fault, Practice, Preset, Scenario, generate};
use camwitness::verdict::CompressionState;
use camwitness::{Engine, Options};

use ExtraLead::{Battery, Ignition, Injector, Starter};

/// The scenario of our own: fires 1-6-5-4-3-2, banks 1-2-3 and 4-5-6, no crank and no cam described.
const V6: &str = "name = \"V6\"\nfiring_order = [1, 6, 5, 4, 3, 2]\n\
                  firing_angles = [0, 120, 240, 360, 480, 600]\n[banks]\n1 = [1, 2, 3]\n2 = [4, 5, 6]\n";
const FOUR: &str = "name = \"four\"\nfiring_order = [1, 3, 4, 2]\n";
const THREE: &str = "name = \"three\"\nfiring_order = [1, 3, 2]\n";

fn engine(text: &str) -> Engine {
    Engine::parse(text, Path::new("engine.toml")).expect("an engine without a crank")
}

fn made(text: &str, faults: &[&str], leads: &[ExtraLead], seed: u64) -> Practice {
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

fn tested(capture: &Capture, text: &str) -> Result<CrankingTest, String> {
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
fn mistakes_are_said() {
    let mut practice = made(FOUR, &[], &[Starter, Ignition(1)], 4);
    let coil = practice.capture.channels.iter_mut().find(|one| one.name == "ignition 1");
    coil.expect("a coil").name = "ignition 7".into();
    let message = tested(&practice.capture, FOUR).expect_err("no cylinder 7");
    assert!(message.contains("cylinder 7") && message.contains("1-3-4-2"), "{message}");
    // The clamp that was never on the cable.
    practice.capture.channels.retain(|one| one.name == "starter");
    practice.capture.channels[0].values.iter_mut().for_each(|value| *value = 0.0);
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
