//! What is decided beside the odds of single places: codes as evidence, the price of cranking, what
//! is asked next.

use super::bench::*;
use crate::verdict::{Caveat, Cranking, Kind, State, Test};

/// V6 known only against each other, a tooth between the banks.
fn apart() -> Bench {
    let text = V6.replace("at = 113.0\nat_sd = 1.0\n", "");
    Bench::new(engine(&text), &[0.0, TOOTH])
}

#[test]
fn the_bank_that_a_code_accuses_is_ten_times_likelier() {
    // Bank 2 late or bank 1 early: the readings are the same, 55 to 45 by the side alone.
    let ratio = |codes: &[&str], counts: bool| {
        let mut bench = apart();
        bench.codes = codes.iter().map(|&code| code.to_owned()).collect();
        bench.code_evidence = counts;
        let verdict = bench.weigh();
        let place = |on: &str, teeth: i32| {
            let is = |one: &&crate::verdict::Weighed| {
                one.kind == Kind::Skip && one.on.as_deref() == Some(on) && one.teeth == Some(teeth)
            };
            verdict.explanations.iter().find(is).map_or(0.0, |one| one.probability)
        };
        (place("B2", 1) / place("B1", -1), verdict.accused)
    };
    let (none, banks) = ratio(&["P0018"], false);
    assert!(banks.is_empty());
    // (codes, what they multiply by, banks accused)
    let rows: [(&[&str], f64, &[u32]); 5] = [
        (&["P0018"], 10.0, &[2]),
        (&["P0009"], 10.0, &[2]),
        (&["P0016"], 0.1, &[1]),
        (&["P0016", "P0018"], 1.0, &[1, 2]),
        (&["P0335"], 1.0, &[]),
    ];
    for (codes, factor, accused) in rows {
        let (got, banks) = ratio(codes, true);
        assert!((got / none / factor - 1.0).abs() < 1e-6, "{codes:?}: {got} of {none}");
        assert_eq!(banks, accused, "{codes:?}");
    }
}

#[test]
fn both_banks_accused_point_at_the_crank() {
    let of = |counts: bool| {
        let mut bench = Bench::new(engine(V6), &[TOOTH, TOOTH]);
        bench.codes = vec!["P0016".into(), "P0018".into()];
        bench.code_evidence = counts;
        let verdict = bench.weigh();
        let crank = |one: &&crate::verdict::Weighed| one.on.as_deref() == Some("crank");
        verdict.explanations.iter().filter(crank).map(|one| one.probability).sum::<f64>()
    };
    assert!(of(true) >= of(false), "{} {}", of(true), of(false));
}

#[test]
fn a_code_of_a_bank_the_engine_has_not_is_said_and_counts_for_nothing() {
    let one_bank = V6.replace("2 = [2, 4, 6]", "3 = [2, 4, 6]").replace("bank = 2", "bank = 3");
    let mut bench = Bench::new(engine(&one_bank), &[0.2, 0.1]);
    bench.code_evidence = true;
    bench.codes = vec!["p0018".into()];
    let verdict = bench.weigh();
    assert!(verdict.accused.is_empty());
    let said = Caveat::CodeOfNoBank { code: "P0018".into(), bank: 2 };
    assert!(verdict.caveats.contains(&said), "{:?}", verdict.caveats);
}

#[test]
fn an_engine_is_not_cranked_again_by_its_odds_and_degrees() {
    let with = |off: [f64; 2], interference: Option<bool>| {
        let text = match interference {
            None => V6.to_owned(),
            Some(is) => V6.replace("[banks]", &format!("interference = {is}\n[banks]")),
        };
        Bench::new(engine(&text), &off).weigh()
    };
    assert_eq!(with([0.1, 0.2], None).cranking, Cranking::Free);
    assert_eq!(with([0.1, TOOTH], None).cranking, Cranking::NotAgain);
    // Sure is sure, whether valves can meet pistons or not.
    assert_eq!(with([0.1, TOOTH], Some(false)).cranking, Cranking::NotAgain);
    // Likely and far off, though not sure: a phaser reaches as far. The starter is left alone where
    // valves can meet pistons.
    let early = |interference: &str| {
        let text = V6
            .replace("[banks]", &format!("{interference}\n[banks]"))
            .replace("at_sd = 1.0", "at_sd = 1.0\nphaser = { rest = \"retarded\", travel = 50.0 }");
        Bench::new(engine(&text), &[-2.0 * TOOTH, 0.1]).weigh()
    };
    let verdict = early("");
    let by_odds = verdict.questions.skipped * 2.0 * TOOTH;
    assert!(verdict.questions.skipped < 0.99, "{}", told(&verdict));
    assert_eq!(verdict.cranking == Cranking::NotAgain, by_odds >= 20.0, "{}", told(&verdict));
    if verdict.cranking == Cranking::NotAgain {
        assert!(verdict.next_test.is_none_or(|test| !test.cranks()), "{}", told(&verdict));
    }
    assert_eq!(early("interference = false").cranking, Cranking::Free);
}

#[test]
fn what_has_jumped_is_not_held_against_a_sound_engine_and_all_left_open_has_a_test() {
    let text = V6.replace("at_sd = 1.0\n", "");
    let verdict = Bench::new(engine(&text), &[TOOTH, 0.1]).weigh();
    assert_state(&verdict, State::Jumped);
    assert_ne!(verdict.next_test, Some(Test::KnownGood), "{}", told(&verdict));
    for off in [[0.0, 5.0], [8.0, 0.0], [-9.0, -9.0], [TOOTH, TOOTH], [60.0, 3.0], [-5.0, 6.0]] {
        let verdict = Bench::new(engine(V6), &off).weigh();
        let open = verdict.state == State::CannotTell;
        assert!(!open || verdict.next_test.is_some(), "{off:?}: {}", told(&verdict));
    }
}

#[test]
fn a_worn_or_skipped_drive_is_due_though_which_is_open() {
    // Between a tooth and what wear reaches: neither alone, both together.
    let due = (100..=165).map(f64::from).map(|tenths| tenths / 10.0).find_map(|off| {
        let verdict = Bench::new(engine(V6), &[off, 0.1]).weigh();
        (verdict.state == State::DriveDue).then_some(verdict)
    });
    let verdict = due.expect("somewhere between the two");
    assert!(verdict.questions.drive_due >= 0.99 && verdict.questions.skipped < 0.99);
    assert!(verdict.is_decided(false) && verdict.teeth.is_none() && verdict.on.is_none());
    assert!(!verdict.places.is_empty(), "{}", told(&verdict));
}
