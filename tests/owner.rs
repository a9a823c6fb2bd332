//! The owner's half page: which camshaft, what to agree to, what it costs, what was not looked at.

use camwitness::report::html;
use camwitness::report::job::Job;
use camwitness::report::words::finding;

use crate::report::{DEMO, measured, one_tooth_late, owner_part};

/// The owner reads which camshaft it is, one proposal, whether it may be driven, what a new sensor
/// would do and what was not measured; hours and parts are the job's.
#[test]
fn the_owner_reads_what_to_do_and_what_it_costs() {
    let place = "bank   = 1\nwhere  = \"front bank, towards the radiator\"";
    let engine = DEMO.replacen("bank   = 1", place, 1);
    assert!(engine.contains("towards the radiator"), "the description took it");
    let (analysis, captures) = measured(&engine, |asked| asked.faults = one_tooth_late());
    let job =
        Job::parse("hours.covers = 3.4\nhours.repair = 6\nparts = [\"chain kit\"]\n", "job.toml");
    let page = html::write(&analysis, &captures, &job.expect("a job")).expect("a report");
    let (_, owner) = page.split_once("aria-label=\"For the owner\"").expect("the half page");
    let owner = owner.split_once("</section>").expect("its end").0;
    for part in [
        "“B1 intake” is the camshaft that works the intake valves of bank 1: front bank, towards the radiator.",
        "Do not start it; have it towed.",
        "A new one would show the same.",
        "Agree to stage 1 below",
        "photograph them. 3.4 hours of labour.",
        "6 hours of labour. Parts: chain kit.",
        "Not looked at:",
        "held against where it should stand",
    ] {
        assert!(owner.contains(part), "{part}: {owner}");
    }
    assert_eq!(owner.matches("<dt>Proposed next</dt>").count(), 1);
    assert!(!owner.contains("One more measurement"), "{owner}");

    // Nothing is held against a place that nobody knows.
    let unknown: String = DEMO.replacen("at     = 137.0\nat_sd  = 0.8\n", "", 1);
    assert_ne!(unknown, DEMO);
    let (analysis, captures) = measured(&unknown, |_| {});
    assert!(analysis.cams.iter().all(|cam| cam.deviation().is_none()), "no place is known");
    let owner = owner_part(&analysis, &captures);
    assert!(!owner.contains("held against where it should stand"), "{owner}");
    assert!(owner.contains("where they should stand is not known"), "{owner}");
}

/// Where a chain has jumped for sure and only the place is open, the owner must not read that it
/// may not have; and the odds that are said are those of the explanations that are named.
#[test]
fn the_owner_reads_what_is_sure_and_how_sure_the_rest_is() {
    // Two faults: a skip, and the other bank's trigger wheel well away. With phasers, one of them and
    // typed places that are all off would do as well, and leave the chain in doubt.
    let without = DEMO.replace("{ rest = \"retarded\", travel = 46.0 }", "\"none\"");
    assert_ne!(without, DEMO);
    let (analysis, captures) = measured(&without, |asked| {
        asked.faults = one_tooth_late();
        asked.faults.push("cam-wheel:B2 intake:-9".parse().expect("a fault"));
        asked.seed = 3;
    });
    let verdict = &analysis.verdict;
    assert_eq!(verdict.state.word(), "jumped", "{}", finding(&analysis.engine, verdict));
    assert!(verdict.place_is_open(), "two places are left: {:?}", verdict.places);
    let skipped = verdict.questions.skipped;
    assert!(skipped >= 0.99, "a chain skipped, whichever way: {skipped}");
    let owner = owner_part(&analysis, &captures);
    for part in [
        "has very likely jumped; where or how far is not settled",
        "should not be started",
        "Stage 1: take the covers off",
        "Stage 2, only if",
    ] {
        assert!(owner.contains(part), "{part}: {owner}");
    }
    assert!(!owner.contains("cannot tell whether"), "{owner}");
    for explanation in &verdict.explanations[..2] {
        let odds = format!("{:.1} %", explanation.probability * 100.0);
        assert!(owner.contains(&odds), "{odds}: {owner}");
    }
    assert!(
        owner.contains("a jump of the timing chain, 1 tooth (1 link) late (camshaft B1 intake)"),
        "{owner}"
    );
}
