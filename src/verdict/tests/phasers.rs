//! What a description says of phasers, and what of it may be wrong (*common practice, no source*).

use super::bench::*;
use crate::compression::ExpectedChange;
use crate::verdict::{Caveat, CompressionEvidence, Kind, PhaserSaid, Reason, State, Weighed};

#[test]
fn a_phaser_that_is_left_out_is_possible_and_one_that_is_ruled_out_is_not_beyond_doubt() {
    // An intake 30° early: no whole number of teeth. Once "jumped", no word of a phaser.
    let text = V6_FOUR.replace("PHASER", "");
    let off = [-30.0, 0.2, 0.1, -0.3];
    let open = Bench::new(open_about_phasers(&text), &off).confirmed().weigh();
    assert_ne!(open.state, State::Jumped, "{}", told(&open));
    assert_eq!(open.explanations[0].kind, Kind::PhaserOffRest, "{}", told(&open));
    let caveat = Caveat::PhaserPossible(vec![0, 1, 2, 3]);
    assert!(open.caveats.contains(&caveat), "{:?}", open.caveats);
    let none = Bench::new(four_cams(false), &off).confirmed().weigh();
    assert!(!none.caveats.iter().any(|one| matches!(one, Caveat::PhaserPossible(_))));
    // A line that says there is none is wrong now and then, and a wheel that slips is as rare.
    assert_state(&none, State::OffNotJumped);
    let ruled_out = odds(&none, Kind::PhaserOffRest);
    assert!(ruled_out > 0.05 && ruled_out < 0.8, "{}", told(&none));
    // Once "the trigger wheel moved" at 0.99 though the bank's compression is up by what the valves
    // of a cam 30° early make of it, and now a wheel only where compression is even.
    let with = |described: bool, difference: f64| {
        let mut bench = Bench::new(four_cams(described), &off).confirmed();
        bench.compression = Some(CompressionEvidence {
            difference,
            sd: 0.005,
            per_degree: vec![-0.006, 0.0, 0.006, 0.0],
            expected: Some(ExpectedChange { difference: 0.18, sd: 0.01, least_of_all: 0.0 }),
            unnamed: false,
            turn_by_cams: false,
            stands_out: true,
        });
        bench.weigh()
    };
    let moved = with(false, 0.18);
    let leading = &moved.explanations[0];
    assert_eq!(leading.kind, Kind::PhaserOffRest, "{}", told(&moved));
    let said = PhaserSaid::Absent { line: None };
    assert!(matches!(leading.reason, Reason::PhaserOffRest { said: of, .. } if of == said));
    let even = with(false, 0.0);
    assert_eq!(even.explanations[0].kind, Kind::CamWheelMoved, "{}", told(&even));
    // One that is described moves its valves as well.
    let described = with(true, 0.18);
    assert!(odds(&described, Kind::PhaserOffRest) > 0.99, "{}", told(&described));
    let even = with(true, 0.0);
    assert!(odds(&even, Kind::PhaserOffRest) < 0.9, "{}", told(&even));
}

#[test]
fn a_phaser_that_is_described_wrongly_is_told_with_what_differs() {
    // `rest` the wrong way round: 30° late where only early is described; and 70° early where the
    // travel of 50° was typed for one of 100°. No wheel of an intake moves both its valves.
    for stands in [30.0, -70.0] {
        let verdict = Bench::new(four_cams(true), &[stands, 0.2, 0.1, -0.3]).confirmed().weigh();
        let mut phasers = verdict.explanations.iter().filter(|one| one.kind == Kind::PhaserOffRest);
        let told_so = |one: &Weighed| {
            matches!(one.reason, Reason::PhaserOffRest { said: PhaserSaid::Otherwise { .. }, .. })
        };
        assert!(phasers.any(|one| one.probability > 0.02 && told_so(one)), "{}", told(&verdict));
    }
    let within = Bench::new(four_cams(true), &[-30.0, 0.2, 0.1, -0.3]).confirmed().weigh();
    let Reason::PhaserOffRest { said, .. } = within.explanations[0].reason else {
        panic!("{}", told(&within));
    };
    assert_eq!(said, PhaserSaid::Described);
}
