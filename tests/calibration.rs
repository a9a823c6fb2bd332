//! The calibration in short: practice captures with known faults through the whole program. The
//! long run is `cargo bench --bench calibration`, its table `docs/calibration.md`.

// The benchmark uses more of it.
#[allow(dead_code)]
#[path = "../benches/calibration/harness/mod.rs"]
pub mod harness;

use harness::case::Stock;
use harness::run::{Outcome, run};
use harness::sums::Counts;
use harness::table::markdown;
use harness::trust::Trust;
use rayon::prelude::*;

/// Captures of each stock. Seeds far from those of the table.
const EACH: u64 = 75;
/// Captures drawn with other constants than the verdict's.
const OTHER_CONSTANTS: u64 = 20;
const FIRST_SEED: u64 = 900_000;

#[test]
#[ignore = "wide: .ci/run runs it"]
fn no_sound_engine_is_said_to_have_jumped_and_no_jumped_one_to_be_in_time() {
    let of = |stock: Stock| (FIRST_SEED..FIRST_SEED + EACH).map(move |seed| (seed, stock));
    let elsewhere = (FIRST_SEED..FIRST_SEED + OTHER_CONSTANTS).map(|seed| (seed, Stock::Elsewhere));
    let cases: Vec<(u64, Stock)> =
        of(Stock::Trade).chain(of(Stock::Alike)).chain(elsewhere).collect();
    let outcomes: Vec<Outcome> =
        cases.into_par_iter().map(|(seed, stock)| run(seed, stock, Trust::Typed)).collect();
    let tables = markdown(&outcomes);
    println!("{tables}");
    let counts = Counts::of(outcomes.iter());
    assert_eq!(counts.false_jumped_sound, 0, "{tables}");
    assert_eq!(counts.false_in_time, 0, "{tables}");
    // A program that never says anything would pass the above.
    assert!(counts.jumped >= 5 && counts.in_time >= 20, "{tables}");
    assert!(counts.tellable_open * 3 <= counts.tellable, "{tables}");
    // Nasty crank signals are refused now and then; one in twenty would be too many.
    assert!(counts.refused * 20 <= counts.captures, "{tables}");
}

#[test]
fn the_same_seed_gives_the_same_answer() {
    let told = |seed: u64| {
        let told = run(seed, Stock::Alike, Trust::Typed).told.expect("analysed");
        (told.state, told.probability.to_bits(), told.leading)
    };
    assert_eq!(told(FIRST_SEED), told(FIRST_SEED));
}
