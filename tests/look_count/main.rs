//! A short count of `look` over practice captures with the traps that recordings have. `cargo bench --bench look_count` counts over
//! any number.

mod case;
#[path = "../../benches/calibration/harness/chance.rs"]
#[allow(dead_code, reason = "the calibration draws more kinds of numbers")]
mod chance;
mod count;
mod judge;

use judge::Outcome;

/// Captures counted here; a longer run is asked for by `CAMWITNESS_SEEDS=200 CAMWITNESS_FIRST_SEED=1001`.
const CAPTURES: u64 = 10;

#[test]
fn none_of_a_few_practice_captures_is_named_wrongly() {
    let asked = |name: &str| std::env::var(name).ok().and_then(|number| number.parse().ok());
    let first: u64 = asked("CAMWITNESS_FIRST_SEED").unwrap_or(1);
    let counted = count::count(first..first + asked("CAMWITNESS_SEEDS").unwrap_or(CAPTURES));
    println!("{}", count::table(&counted));
    for one in counted.iter().filter(|one| one.outcome != Outcome::RightAndSure) {
        let (seed, wheel, outcome) = (one.seed, one.wheel, one.outcome);
        println!(
            "seed {seed} {wheel} {:?} decided {}: {outcome:?}: {}",
            one.traps, one.decided, one.said
        );
    }
    let of = |outcome| counted.iter().filter(|one| one.outcome == outcome).count();
    assert_eq!(of(Outcome::WrongAndSure), 0);
    assert!(of(Outcome::RightAndSure) * 10 >= counted.len() * 7);
}
