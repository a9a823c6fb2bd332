//! What goes wrong with a clamp and a coil: said and withheld, or put right. Practice makes the
//! trouble; the truth is its engine's own.

use camwitness::analysis::CrankingTest;
use camwitness::compression::{NamedBy, Withheld};
use camwitness::practice::{Ending, ExtraLead, Fault, Practice, Scenario, generate};
use camwitness::verdict::{CompressionState, WhyWithheld};

use super::two_leads::{FOUR, V6, made, tested};

use ExtraLead::{Ignition, Pressure, Starter};

/// The weak cylinder of a six, found in spite of a trouble.
fn found(trouble: &[&str], seed: u64) -> CrankingTest {
    let faults = [&["weak-cylinder:3:0.55"], trouble].concat();
    let practice = made(V6, &faults, &[Starter, Ignition(1)], seed);
    tested(&practice.capture, V6).expect("a finding")
}

/// Why nothing is said.
fn withheld(test: &CrankingTest) -> Withheld {
    match test.finding.withheld {
        Some(WhyWithheld::NotMeasured(_, why)) => why,
        other => panic!("{:?} {other:?}", test.finding.state),
    }
}

#[test]
fn what_does_not_change_the_peaks_is_put_right() {
    for trouble in [
        &["clamp-offset:35"][..],
        &["clamp-volts:100"],
        &["multi-spark:ignition 1:4"],
        &["clamp-slow:25"],
    ] {
        let test = found(trouble, 11);
        assert_eq!(test.finding.cylinders, [3], "{trouble:?}: {:?}", test.finding);
    }
    // Several sparks an event are no waste spark.
    let test = found(&["multi-spark:ignition 1:4"], 11);
    let measured = test.main().compression.measured.as_ref().expect("measured");
    assert_eq!(measured.named_by, NamedBy::Ignition { cylinder: 1, waste_spark: false });
    assert!(test.main().found.strikes.as_ref().expect("marks").in_bursts > 10);
}

#[test]
fn what_spoils_the_peaks_is_said() {
    assert_eq!(withheld(&found(&["reversed:starter"], 12)), Withheld::Reversed);
    assert_eq!(withheld(&found(&["clamp-ac:0.8"], 12)), Withheld::AcCoupled);
    let practice = made(V6, &[], &[Starter, Ignition(1)], 12);
    let mut amps = practice.capture.channels[0].values.to_vec();
    amps.sort_by(f32::total_cmp);
    let limit = amps[amps.len() * 17 / 20];
    let test = found(&[&format!("clamp-clipped:{limit:.0}")], 12);
    assert_eq!(withheld(&test), Withheld::Clipped);
}

#[test]
fn a_clamp_off_the_range_for_most_of_the_time_says_to_choose_a_wider_one() {
    let mut practice = made(V6, &[], &[Starter, Ignition(1)], 12);
    let amps = practice.capture.channels[0].values.to_mut();
    let highest = amps.iter().copied().fold(f32::MIN, f32::max);
    let limit = 0.02 * highest;
    amps.iter_mut().for_each(|amp| *amp = amp.min(limit));
    let message = tested(&practice.capture, V6).expect_err("off the range");
    assert!(message.contains("at the limit of the scope's range"), "{message}");
    assert!(message.contains("choose a wider range"), "{message}");
}

#[test]
fn a_coil_and_a_pressure_lead_serve_without_a_clamp() {
    let practice = made(V6, &[], &[Ignition(1), Pressure(1)], 18);
    let test = tested(&practice.capture, V6).expect("a finding");
    // One cylinder's own pressure compares no cylinder with another: that is said, and nobody is
    // accused.
    assert_eq!(test.finding.state, CompressionState::Withheld, "{:?}", test.finding);
    let text = camwitness::report::cranking::write(&test, 200);
    assert!(text.contains("a clamp on the starter cable"), "{text}");
}

#[test]
fn a_trigger_that_drops_out_costs_its_cycles_and_is_said() {
    let mut practice = made(V6, &["weak-cylinder:3:0.55"], &[Starter, Ignition(1)], 13);
    let coil = practice.capture.channels[1].values.to_mut();
    let third = coil.len() / 3;
    coil[third..2 * third].fill(0.05);
    let test = tested(&practice.capture, V6).expect("a finding");
    assert_eq!(test.finding.cylinders, [3], "{:?}", test.finding);
    let said = test.warnings.iter().any(|one| one.text.contains("Many of its pulses are missing"));
    assert!(said, "{:?}", test.warnings);
}

#[test]
fn a_coil_that_sparks_every_turn_names_a_pair() {
    let practice =
        made(V6, &["weak-cylinder:3:0.55", "waste-spark:ignition 1"], &[Starter, Ignition(1)], 14);
    let test = tested(&practice.capture, V6).expect("a finding");
    let measured = test.main().compression.measured.as_ref().expect("measured");
    assert_eq!(measured.named_by, NamedBy::Ignition { cylinder: 1, waste_spark: true });
    assert_eq!(test.finding.state, CompressionState::CylinderLow);
    assert!(test.finding.cylinders.is_empty(), "{:?}", test.finding);
    let text = camwitness::report::cranking::write(&test, 200);
    assert!(text.contains("cylinder 1 or its companion"), "{text}");
}

fn cranked(ending: Ending, seconds: f64) -> Practice {
    let faults: Vec<Fault> = vec!["weak-cylinder:3:0.55".parse().expect("a fault")];
    let engine =
        camwitness::Engine::parse(FOUR, std::path::Path::new("engine.toml")).expect("four");
    generate(&Scenario {
        faults,
        seed: 15,
        seconds,
        rate: 4000.0,
        sensors: Some(Vec::new()),
        leads: vec![Starter, Ignition(1)],
        ending,
        ..Scenario::new(engine)
    })
    .expect("a capture")
}

#[test]
fn two_attempts_in_one_file_are_both_judged() {
    let practice = cranked(Ending::StopsAndRestarts, 12.0);
    let test = tested(&practice.capture, FOUR).expect("a finding");
    assert_eq!(test.attempts.len(), 2);
    assert_eq!(test.finding.cylinders, [3], "{:?}", test.finding);
    // The two agree within what each is known to.
    assert!(test.agreement().expect("both measured") < 0.06, "{:?}", test.agreement());
}

#[test]
fn an_engine_that_starts_half_way_accuses_nobody_else() {
    let practice = cranked(Ending::Starts, 8.0);
    match tested(&practice.capture, FOUR) {
        Ok(test) => {
            let low = &test.finding.cylinders;
            assert!(low.is_empty() || low == &[3], "{:?}", test.finding);
            assert_ne!(test.finding.state, CompressionState::BankLow);
        }
        Err(message) => assert!(message.contains("crank for five seconds"), "{message}"),
    }
}

#[test]
fn too_short_is_one_plain_message() {
    let practice = cranked(Ending::Cranking, 1.1);
    match tested(&practice.capture, FOUR) {
        Ok(test) => {
            assert_eq!(test.finding.state, CompressionState::Withheld, "{:?}", test.finding)
        }
        Err(message) => assert!(message.contains("three are needed"), "{message}"),
    }
}

#[test]
fn two_clamps_are_one_too_many() {
    let mut practice = made(FOUR, &[], &[Starter, Ignition(1)], 16);
    practice.capture.channels[1].name = "starter".into();
    let message = tested(&practice.capture, FOUR).expect_err("twice");
    assert!(message.contains("starter"), "{message}");
}
