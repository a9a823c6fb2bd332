//! The owner's half page: which camshaft, what to agree to, what it costs, what was not looked at.

use camwitness::report::html;
use camwitness::report::job::Job;

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
