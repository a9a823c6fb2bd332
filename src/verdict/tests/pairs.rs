//! Two faults at once. Each test is a pair of which one alone was once said to be sure
//! (calibration, "two faults at once").

use super::bench::*;
use crate::cam::SwappedFit;
use crate::units::CrankDelta;
use crate::verdict::{Kind, Reason, SecondFault, State, Verdict};

/// The leads of both banks crossed: what each shows with the leads put right is `true_off`.
fn crossed(true_off: [f64; 2]) -> Bench {
    // The banks' wheels stand 240° apart: read on the other's lead, one seems 240° late and the
    // other early.
    let mut bench = Bench::new(engine(V6), &[240.0 + true_off[1], -240.0 + true_off[0]]);
    let place = |cam: usize, off: f64| {
        let at = bench.engine.expected(cam).expect("absolute").0 + CrankDelta(off);
        position(&bench.engine, cam, at)
    };
    let positions = (place(0, true_off[0]), place(1, true_off[1]));
    bench.swapped = vec![SwappedFit { cams: (0, 1), positions }];
    bench
}

fn skips(verdict: &Verdict) -> f64 {
    let skip = |one: &&crate::verdict::Weighed| one.kind == Kind::Skip;
    verdict.explanations.iter().filter(skip).map(|one| one.probability).sum()
}

#[test]
fn crossed_leads_do_not_clear_an_engine_that_jumped() {
    let verdict = crossed([TOOTH + 0.3, 0.1]).weigh();
    assert!(skips(&verdict) > 0.9, "{}", told(&verdict));
    // Told as the leads put right show it.
    let first = &verdict.explanations[0];
    assert_eq!(first.second_fault, SecondFault::Crossed(0, 1));
    let Reason::Skip { stand, .. } = &first.reason else { panic!("{}", told(&verdict)) };
    assert!((stand[0].deviation.0 - 17.44).abs() < 0.01, "{stand:?}");
    // What crosses nothing is told as the leads stand.
    let plain = verdict.explanations.iter().find(|one| one.kind == Kind::InTime).expect("weighed");
    let Reason::InTime { furthest } = &plain.reason else { panic!("{}", told(&verdict)) };
    assert!(furthest.is_some_and(|cam| cam.deviation.0.abs() > 200.0), "{furthest:?}");
    // And crossed leads alone are still only that.
    let verdict = crossed([0.3, 0.1]).weigh();
    assert_eq!(verdict.state, State::OffNotJumped, "{}", told(&verdict));
    assert_eq!(verdict.explanations[0].kind, Kind::LeadsCrossed);
}

#[test]
fn a_cam_wheel_far_off_does_not_hide_the_other_bank_a_tooth_late() {
    // 101° is no skip and no phaser: the wheel of B2 moved. B1 a tooth late is a skip all the same.
    // On confirmed places: a description that is not of this engine is likelier than two such
    // faults.
    let verdict = Bench::new(engine(V6), &[TOOTH + 0.2, 101.0]).confirmed().weigh();
    assert_ne!(verdict.state, State::OffNotJumped, "{}", told(&verdict));
    let first = &verdict.explanations[0];
    assert_eq!((first.kind, first.on.as_deref(), first.teeth), (Kind::Skip, Some("B1"), Some(1)));
    assert_eq!(first.second_fault, SecondFault::CamWheel(1));
}

#[test]
fn a_moved_crank_wheel_and_a_moved_cam_wheel_are_no_skip() {
    // All 63° late but B2, which is 40° early of that: nothing here is a whole number of teeth.
    let verdict = Bench::new(engine(V6), &[63.0, 23.0]).weigh();
    assert_ne!(verdict.state, State::Jumped, "{}", told(&verdict));
}

#[test]
fn skips_at_two_places_are_not_something_else() {
    // One tooth late on one bank, two on the other.
    let verdict = Bench::new(engine(V6), &[TOOTH + 0.2, 2.0 * TOOTH - 0.2]).weigh();
    assert!(skips(&verdict) > 0.9, "{}", told(&verdict));
    assert_ne!(verdict.state, State::OffNotJumped, "{}", told(&verdict));
}

#[test]
fn without_a_described_chain_a_phaser_does_not_hide_a_skip() {
    // B1 20° late, which no phaser that rests retarded makes, and B2 37° early, which one does.
    let (from, _) = V6.split_once("[[chain]]").expect("the chain stands last");
    let phaser = from.replace("shaft = \"single\"", &format!("shaft = \"single\"\n{PHASER}"));
    let verdict = Bench::new(engine(&phaser), &[19.8, -36.8]).confirmed().weigh();
    assert!(skips(&verdict) > 0.9, "{}", told(&verdict));
    // It jumped; how far cannot be counted without a chain.
    assert_eq!((verdict.state, verdict.teeth), (State::Jumped, None), "{}", told(&verdict));
    assert!(verdict.place_is_open() && !verdict.places.is_empty(), "{}", told(&verdict));
}
