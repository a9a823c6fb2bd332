//! A chain over both banks that has grown longer strand by strand: practice adds up what each
//! strand has lengthened by where the engine file gives the order, and the program reads it so.
//! Geometry: the shaft furthest along the pull hangs on all the strands before it.

use std::path::Path;

use camwitness::analysis::{Options, analyse};
use camwitness::engine::Engine;
use camwitness::practice::{Fault, Practice, Scenario, generate};
use camwitness::verdict::{Kind, State};

const DEMO: &str = include_str!("../demo-data/engine.toml");

fn engine(order: &str) -> Engine {
    let text = DEMO.replace("kind   = \"chain\"", &format!("kind   = \"chain\"\n{order}"));
    Engine::parse(&text, Path::new("engine.toml")).expect("an engine")
}

fn worn(order: &str, fault: &str) -> Practice {
    let faults: Vec<Fault> = vec![fault.parse().expect("a fault")];
    generate(&Scenario { faults, exact: true, seed: 3, ..Scenario::new(engine(order)) })
        .expect("a practice capture")
}

#[test]
fn wear_adds_up_along_the_chain_where_its_order_is_known() {
    let late = |order: &str| -> Vec<f64> {
        let made = worn(order, "wear:primary:6");
        made.truth.cams.iter().map(|cam| cam.parts.wear).collect()
    };
    // (what the engine file says of the order, how late bank 1 and bank 2 are)
    for (order, want) in [("", [6.0, 6.0]), ("order = \"pulled\"", [6.0, 12.0])] {
        assert_eq!(late(order), want, "{order:?}");
    }
    // The swing grows with it: the far cam hangs on more of the slack.
    let made = worn("order = \"pulled\"", "wear:primary:6");
    assert!(made.truth.skips.is_empty());
}

#[test]
fn six_and_twelve_degrees_along_a_chain_are_wear_and_no_jump() {
    for order in ["", "order = \"pulled\""] {
        // The same capture with the order told and not: without it both are weighed.
        let made = worn("order = \"pulled\"", "wear:primary:6");
        let found = analyse(&[made.capture], &engine(order), &Options::default());
        let verdict = found.expect("a capture that locks").verdict;
        let said = || format!("{order:?}: {:?}", &verdict.explanations[..3]);
        assert_ne!(verdict.state, State::Jumped, "{}", said());
        assert_ne!(verdict.state, State::InTime, "{}", said());
        assert_eq!(verdict.explanations[0].kind, Kind::Wear, "{}", said());
    }
}

#[test]
fn one_worn_strand_makes_late_what_lies_beyond_it() {
    // (strand, how late bank 1 and bank 2 are): the first lies before both, the second before the
    // farther one alone.
    for (strand, want) in [(1, [8.0, 8.0]), (2, [0.0, 8.0])] {
        let made = worn("order = \"pulled\"", &format!("worn-strand:primary:{strand}:8"));
        let late: Vec<f64> = made.truth.cams.iter().map(|cam| cam.parts.wear).collect();
        assert_eq!(late, want, "strand {strand}");
    }
    // Without the order a chain is one strand, and no chain has more than its sprockets part it in.
    for (order, strand) in [("", 2), ("order = \"pulled\"", 3), ("order = \"pulled\"", 0)] {
        let fault: Fault = format!("worn-strand:primary:{strand}:8").parse().expect("a fault");
        let scenario = Scenario { faults: vec![fault], ..Scenario::new(engine(order)) };
        let refused = generate(&scenario).expect_err("no such strand").to_string();
        assert!(refused.contains("for the strand"), "{refused}");
    }
}
