//! Learning from practice captures: sound ones are learned, faulty ones caught.

use std::path::Path;

use super::*;
use crate::practice::{ExtraLead, Scenario, generate};
use crate::report::words::finding;
use crate::verdict::State;

fn engine(without_places: bool) -> Engine {
    let text = include_str!("../../demo-data/engine.toml");
    let text = if without_places {
        text.replace("at     = 137.0\n", "").replacen("at_sd  = 0.8\n", "", 1)
    } else {
        text.to_owned()
    };
    Engine::parse(&text, Path::new("engine.toml")).expect("the demonstration engine")
}

/// A capture of the demonstration engine; its places are always those of the full description.
fn capture(seed: u64, faults: &[&str]) -> Capture {
    let scenario = Scenario {
        faults: faults.iter().map(|fault| fault.parse().expect(fault)).collect(),
        seed,
        seconds: 5.0,
        leads: vec![ExtraLead::Starter, ExtraLead::Ignition(1)],
        ..Scenario::new(engine(false))
    };
    let mut capture = generate(&scenario).expect("a practice capture").capture;
    capture.source = format!("seed-{seed}.csv");
    capture
}

fn learned(seeds: &[u64]) -> KnownGood {
    let captures: Vec<Capture> = seeds.iter().map(|&seed| capture(seed, &[])).collect();
    let options = LearnOptions { several_engines: true, ..LearnOptions::default() };
    learn(&captures, &engine(true), None, &options).expect("sound engines")
}

fn refused(captures: &[Capture], without_places: bool) -> String {
    let options = LearnOptions { several_engines: true, ..LearnOptions::default() };
    learn(captures, &engine(without_places), None, &options).expect_err("refused").to_string()
}

#[test]
fn sound_engines_are_learned_and_another_narrows_it() {
    let two = learned(&[11, 12]);
    assert!(two.pass_known, "the ignition lead tells the pass");
    let three =
        learn(&[capture(13, &[])], &engine(true), Some(two.clone()), &LearnOptions::default())
            .expect("a third");
    for cam in ["B1 intake", "B2 intake"] {
        let (before, after) = (two.figures(cam).expect(cam), three.figures(cam).expect(cam));
        assert_eq!((before.engines, after.engines), (2, 3));
        assert!(after.predicts < before.predicts, "{before:?} {after:?}");
    }
    // 137, the description's own, within the scatter of two engines (at_sd 0.8).
    let at = two.figures("B1 intake").expect("learned").at.get();
    assert!((at - 137.0).abs() < 2.5, "{at}");
}

#[test]
fn without_a_spark_the_pass_stays_open_until_a_later_capture_has_one() {
    let mut bare = capture(14, &[]);
    bare.channels.retain(|channel| channel.name != "ignition 1");
    let options = LearnOptions::default();
    let open = learn(&[bare], &engine(true), None, &options).expect("sound");
    assert!(!open.pass_known);
    let settled = learn(&[capture(15, &[])], &engine(true), Some(open), &options).expect("sound");
    assert!(settled.pass_known);
    for seen in settled.captures.iter().flat_map(|one| &one.cams) {
        let want = if seen.cam == "B1 intake" { 137.0 } else { 497.0 };
        assert!((seen.at.get() - want).abs() < 4.0, "{seen:?}");
    }
}

#[test]
fn a_reference_that_was_learned_judges_faulty_engines() {
    let known = learned(&[21, 22]);
    let options = Options { known: Some(known), ..Options::default() };
    let rows = [
        (31, "skip:B1 intake@primary:+1", State::Jumped, Some(1)),
        (32, "skip:B2 intake@primary:+1", State::Jumped, Some(1)),
        (33, "skip:B1 intake@primary:+2", State::Jumped, Some(2)),
        (34, "skip:B2 intake@primary:+2", State::Jumped, Some(2)),
    ];
    for (seed, fault, state, teeth) in rows {
        let faulty = capture(seed, &[fault]);
        let analysis =
            analyse(std::slice::from_ref(&faulty), &engine(true), &options).expect(fault);
        let verdict = &analysis.verdict;
        assert_eq!(
            (verdict.state, verdict.teeth),
            (state, teeth),
            "{fault}: {}",
            finding(&analysis.engine, verdict)
        );
    }
    let sound = capture(35, &[]);
    let analysis = analyse(std::slice::from_ref(&sound), &engine(true), &options).expect("sound");
    assert_eq!(
        analysis.verdict.state,
        State::InTime,
        "{}",
        finding(&analysis.engine, &analysis.verdict)
    );
}

#[test]
fn learning_from_a_faulty_capture_is_caught() {
    let skip = "skip:B1 intake@primary:+1";
    // By the relation between the banks, with no place to go by.
    let alone = refused(&[capture(41, &[skip])], true);
    assert!(alone.contains("looks faulty") && alone.contains("--accept-faulty"), "{alone}");
    // By the engine file's places.
    let stated = refused(&[capture(42, &["skip:crank@primary:+1"])], false);
    assert!(stated.contains("looks faulty"), "{stated}");
    // By disagreement with a sound capture: both cams off alike, so no relation shows it.
    let mixed = refused(&[capture(43, &[]), capture(44, &["skip:crank@primary:+1"])], true);
    assert!(mixed.contains("disagree") || mixed.contains("looks faulty"), "{mixed}");
}

#[test]
fn the_same_capture_is_not_learned_twice() {
    let one = capture(51, &[]);
    let again = refused(&[one.clone(), one], true);
    assert!(again.contains("in this reference already"), "{again}");
}

#[test]
fn another_engine_is_refused_in_one_message() {
    let text = include_str!("../../demo-data/engine.toml").replace("\"36-2\"", "\"60-2\"");
    let other = Engine::parse(&text, Path::new("other.toml")).expect("another engine");
    let scenario = Scenario { seed: 61, ..Scenario::new(other) };
    let strange = generate(&scenario).expect("a capture").capture;
    let message = refused(&[capture(62, &[]), strange], true);
    assert!(message.contains("never locks to the wheel"), "{message}");
}
