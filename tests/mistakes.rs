//! The worst mistakes of description and leads, each made on a whole capture and put through the
//! whole program: none of them may end in a finding on the engine. The long run is `cargo bench
//! --bench mistakes`, its table `docs/mistakes.md`.

// The benchmark uses more of it.
#[allow(dead_code)]
#[path = "../benches/mistakes/harness/mod.rs"]
mod harness;

use harness::spec::engines;
use harness::trial::{Condition, Outcome, Trial, trials};

/// An engine with four cams of two kinds of wheel, so that each mistake can be made on it.
const ENGINE: &str = "V6, four cams, two kinds of wheel";
const SEED: u64 = 1;

/// (mistake, whether it has to be named)
const ROWS: [(&str, bool); 11] = [
    ("`at` counted from TDC", true),
    ("`at` in cam degrees", true),
    ("every `at` 27 too high", false),
    ("every `at` half a turn off", true),
    ("`later` left at 0", true),
    ("gap described one slot early", false),
    ("leads of the banks exchanged wholesale", true),
    ("leads of intake and exhaust exchanged on both banks", false),
    ("leads shifted by one", false),
    ("one sensor on two channels", false),
    ("phaser left out, the cam off rest", false),
];

#[test]
fn no_mistake_condemns_a_sound_engine_from_the_capture_on() {
    let engine = engines().into_iter().find(|one| one.name == ENGINE).expect("an engine");
    let wanted = |kind: &str| ROWS.iter().any(|row| row.0 == kind);
    let made: Vec<Trial> = trials(&engine, Condition::Sound, SEED, wanted);
    for (mistake, named) in ROWS {
        let one = made.iter().find(|one| one.kind == mistake);
        let one = one.unwrap_or_else(|| panic!("{mistake} was not made"));
        let said = format!("{mistake}: {:?}, {}", one.outcome, one.said);
        assert!(!matches!(one.outcome, Outcome::Wrong | Outcome::Alike), "{said}");
        if named {
            assert_eq!(one.outcome, Outcome::Named, "{said}");
        }
    }
}
