//! The demonstration before and after a repair, and what must not be compared.

use std::path::Path;

use super::*;
use crate::analysis::{Options, analyse};
use crate::capture::Capture;
use crate::engine::Engine;
use crate::practice::{Ending, Scenario, generate};

fn engine() -> Engine {
    let text = include_str!("../../demo-data/engine.toml");
    Engine::parse(text, Path::new("engine.toml")).expect("the demonstration engine")
}

fn scenario(faults: &[&str]) -> Scenario {
    Scenario {
        faults: faults.iter().map(|fault| fault.parse().expect(fault)).collect(),
        seed: 7,
        seconds: 5.0,
        ..Scenario::new(engine())
    }
}

fn capture(scenario: &Scenario, name: &str) -> Capture {
    let mut capture = generate(scenario).expect("a practice capture").capture;
    capture.source = name.to_owned();
    capture
}

fn analysed(capture: &Capture) -> Analysis {
    analyse(std::slice::from_ref(capture), &engine(), &Options::default()).expect("it locks")
}

fn before() -> Analysis {
    analysed(&capture(&scenario(&["skip:B1 intake@primary:+1"]), "before.csv"))
}

fn after() -> Analysis {
    analysed(&capture(&scenario(&[]), "after.csv"))
}

#[test]
fn the_repair_of_a_skipped_tooth_is_what_a_rebuilder_signs() {
    let compared = compare(before(), after(), false).expect("in order");
    assert_eq!(compared.outcome, Outcome::AllBack, "{:?}", compared.cams);
    assert!(compared.differences.is_empty(), "{:?}", compared.differences);
    // The same engine (seed): the repair took out one tooth, 360/19 = 18.95°, and nothing else.
    let moved = compared.cams[0].change.expect("measured both times");
    assert!((moved.moved.0 + 360.0 / 19.0).abs() < 0.5, "{moved:?}");
    assert_eq!(moved.teeth.map(|(teeth, _)| teeth), Some(-1));
    let other = compared.cams[1].change.expect("measured both times");
    assert!(other.moved.0.abs() < other.half_width95.0.max(0.5), "{other:?}");
    let (was, is) = compared.balance;
    assert_eq!(was.expect("measured").bank, Some(1));
    assert!(was.expect("measured").relative < is.expect("measured").relative);
    assert_eq!(compared.banks_level, Some(true));
}

#[test]
fn the_wrong_order_is_one_message_unless_insisted_on() {
    let error = compare(after(), before(), false).expect_err("the wrong way round");
    assert!(error.to_string().contains("wrong way round"), "{error}");
    let insist = Remedy::Insist(Insistence::InOrder).only_if("they are in order");
    assert!(error.remedies().contains(&insist), "{error:?}");
    let compared = compare(after(), before(), true).expect("insisted on");
    assert_eq!(compared.outcome, Outcome::NotBack);
    assert_eq!(compared.cams[0].back, Back::Outside);
}

#[test]
fn running_against_cranking_is_said_and_not_signed() {
    let runs = Scenario { ending: Ending::Starts, ..scenario(&[]) };
    let compared =
        compare(before(), analysed(&capture(&runs, "runs.csv")), false).expect("a comparison");
    assert_ne!(compared.outcome, Outcome::AllBack);
    assert!(
        compared.differences.iter().any(|one| matches!(one, Difference::Condition { .. })),
        "{:?}",
        compared.differences
    );
}

#[test]
fn other_leads_are_said_and_not_signed() {
    let mut fewer = capture(&scenario(&[]), "after.csv");
    fewer.channels.retain(|channel| channel.name != "B2 intake");
    let compared = compare(before(), analysed(&fewer), false).expect("a comparison");
    assert_eq!(compared.outcome, Outcome::CannotTell);
    assert_eq!(compared.cams[1].back, Back::NotMeasured);
    assert_eq!(compared.differences, [Difference::BeforeOnly(vec![1])]);
}

/// The demonstration without a place of its own: its cams are known against each other.
fn related() -> Engine {
    let text = include_str!("../../demo-data/engine.toml");
    let without = |line: &&str| !line.starts_with("at ") && !line.starts_with("at_sd");
    let text: Vec<&str> = text.lines().filter(without).collect();
    Engine::parse(&text.join("\n"), Path::new("engine.toml")).expect("relations alone")
}

#[test]
fn a_repair_passes_against_the_other_bank_where_no_place_is_known() {
    let engine = related();
    assert!(engine.expected(0).is_none() && engine.relation_root(1).0 == 0);
    let analysed = |faults: &[&str], name: &str| {
        let capture = capture(&scenario(faults), name);
        analyse(&[capture], &engine, &Options::default()).expect("it locks")
    };
    let skipped = || analysed(&["skip:B1 intake@primary:+1"], "before.csv");
    let compared = compare(skipped(), analysed(&[], "after.csv"), false).expect("in order");
    assert_eq!(compared.outcome, Outcome::BanksAgree, "{:?}", compared.cams);
    let within = compared.agree_within.expect("they agree");
    assert!(within.0 < 5.0, "{within:?}");
    assert!(compared.cams.iter().all(|cam| cam.back == Back::Agrees), "{:?}", compared.cams);
    let text = crate::report::compare::text(&compared);
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("Moved back: B1 intake by 1 tooth earlier"), "{text}");
    assert!(text.contains("compression is level"), "{text}");
    // Nothing repaired, or a repair that left them apart, passes nothing.
    let same = compare(skipped(), skipped(), false).expect("in order");
    assert_ne!(same.outcome, Outcome::BanksAgree);
    let further = analysed(&["skip:B1 intake@primary:+2"], "after.csv");
    assert_ne!(compare(skipped(), further, false).expect("in order").outcome, Outcome::BanksAgree);
    let sound = || analysed(&[], "sound.csv");
    let never = compare(sound(), sound(), false).expect("in order");
    assert_ne!(never.outcome, Outcome::BanksAgree, "nothing was out of place before");
}
