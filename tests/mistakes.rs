//! The worst mistakes of description and leads, each made on a whole capture and put through the whole program: none of them may
//! end in a finding on the engine. The long run is `cargo bench --bench mistakes`, its table `docs/mistakes.md`.

// The benchmark uses more of it.
#[allow(dead_code)]
#[path = "../benches/mistakes/harness/mod.rs"]
mod harness;

use harness::spec::engines;
use harness::trial::{Condition, Outcome, Trial, trials};

/// An engine with four cams of two kinds of wheel, so that each mistake can be made on it.
const ENGINE: &str = "V6, four cams, two kinds of wheel";
/// Seeds far from those of the table.
const SEED: u64 = 9_001;

/// (mistake, whether it has to be named on a sound engine)
const ROWS: [(&str, bool); 12] = [
    ("`at` counted from TDC", true),
    ("`at` in cam degrees", true),
    ("every `at` 27 too high", false),
    ("every `at` half a turn off", true),
    ("`later` left at 0", false),
    ("gap described one slot early", false),
    ("leads of the banks exchanged wholesale", true),
    ("leads of intake and exhaust exchanged on both banks", true),
    ("leads shifted by one", true),
    ("one sensor on two channels", false),
    ("phaser left out, the cam off rest", false),
    ("a cam's lead delayed by a filter, 10 ms", false),
];

#[test]
fn no_mistake_condemns_or_clears_an_engine_from_the_capture_on() {
    let engine = engines().into_iter().find(|one| one.name == ENGINE).expect("an engine");
    let wanted = |kind: &str| ROWS.iter().any(|row| row.0 == kind);
    let made: Vec<Trial> = [Condition::Sound, Condition::Skipped(1)]
        .into_iter()
        .flat_map(|condition| trials(&engine, condition, SEED, wanted))
        .collect();
    for (mistake, named) in ROWS {
        let own = || made.iter().filter(move |one| one.kind == mistake);
        assert!(own().count() > 0, "{mistake} was not made");
        for one in own() {
            let said = format!("{mistake}, {:?}: {:?}, {}", one.condition, one.outcome, one.said);
            assert!(!matches!(one.outcome, Outcome::Wrong | Outcome::Alike), "{said}");
            if named && one.condition == Condition::Sound {
                assert_eq!(one.outcome, Outcome::Named, "{said}");
            }
        }
    }
}
