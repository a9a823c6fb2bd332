//! What cannot be told where a place is not known: a crank wheel that repeats, a cam without a
//! reference or without a lead. *Common practice, no source*.

use super::bench::*;
use crate::units::CrankDelta;
use crate::verdict::{Kind, State, Test};

#[test]
fn a_three_way_crank_wheel_needs_the_cams_to_settle_which_third() {
    // Crank angle modulo 120: all cams may read 120 off together. Together that is nothing; one
    // cam alone a tooth off is still a tooth.
    let three_way = |deviations: &[f64]| {
        let mut bench = Bench::new(engine(V6), deviations);
        bench.crank.known_modulo = CrankDelta(120.0);
        bench
    };
    assert_state(&three_way(&[120.3, 119.8]).weigh(), State::InTime);
    let verdict = three_way(&[-120.0, -120.0 + TOOTH]).weigh();
    assert_state(&verdict, State::Jumped);
    assert_eq!((verdict.on.as_deref(), verdict.teeth), (Some("B2"), Some(1)));
    // Four teeth late (68.6) on both and three early (-51.4) are 120 apart: the same reading.
    let both = three_way(&[4.0 * TOOTH, 4.0 * TOOTH]).weigh();
    assert_state(&both, State::CannotTell);
    assert!(odds(&both, Kind::Skip) > 0.5, "{}", told(&both));
    let teeth: Vec<Option<i32>> = both
        .explanations
        .iter()
        .filter(|e| e.on.as_deref() == Some("crank"))
        .take(3)
        .map(|e| e.teeth)
        .collect();
    assert!(teeth.contains(&Some(4)) && teeth.contains(&Some(-3)), "{}", told(&both));
}

#[test]
fn one_cam_and_no_reference_says_nothing() {
    // An angle with nothing to hold it against.
    let text = V6.replace("at = 113.0\nat_sd = 1.0\n", "");
    let mut bench = Bench::new(engine(&text), &[13.0, 13.0]);
    bench.cams.truncate(1);
    let verdict = bench.weigh();
    assert_state(&verdict, State::CannotTell);
    assert!(verdict.next_test.is_some());
    let mut none = Bench::new(engine(V6), &[0.0, 0.0]);
    none.cams.clear();
    let nothing = none.weigh();
    assert_state(&nothing, State::CannotTell);
    // The angle says nothing: a skip of this cam is as likely as one of the cam without a lead.
    let skip = |on: &str| {
        let found =
            verdict.explanations.iter().find(|e| e.on.as_deref() == Some(on) && e.teeth == Some(1));
        found.map_or(0.0, |e| e.probability)
    };
    assert!((skip("B1") / skip("B2") - 1.0).abs() < 0.1, "{}", told(&verdict));
}

#[test]
fn a_relation_alone_shows_one_bank_but_not_all() {
    let text = V6.replace("at = 113.0\nat_sd = 1.0\n", "");
    // Banks alike: a skip at the crank would look the same, so its prior odds stay.
    let verdict = Bench::new(engine(&text), &[0.2, 0.0]).weigh();
    assert_state(&verdict, State::CannotTell);
    assert_eq!(verdict.explanations[0].kind, Kind::InTime, "{}", told(&verdict));
    let calm = Bench::new(engine(&text), &[0.2, 0.0]).without_code().weigh();
    assert_state(&calm, State::CannotTell);
    // Banks a tooth apart: one late or the other early, the relation cannot say which.
    let verdict = Bench::new(engine(&text), &[TOOTH, 0.0]).weigh();
    // ... but that one has moved against the other is said.
    assert_state(&verdict, State::Jumped);
    assert_eq!((verdict.on.as_ref(), verdict.teeth), (None, None), "{}", told(&verdict));
    assert!(odds(&verdict, Kind::Skip) > 0.95, "{}", told(&verdict));
    let places: Vec<_> =
        verdict.explanations.iter().take(2).map(|e| (e.on.as_deref(), e.teeth)).collect();
    assert!(
        places.contains(&(Some("B1"), Some(1))) && places.contains(&(Some("B2"), Some(-1))),
        "{}",
        told(&verdict)
    );
}

#[test]
fn an_unmeasured_cam_is_not_covered_by_in_time() {
    let mut bench = Bench::new(engine(V6), &[0.0, 0.0]);
    bench.cams.truncate(1);
    let verdict = bench.weigh();
    assert_state(&verdict, State::InTime);
    assert_eq!((&verdict.covers[..], verdict.covers_every_cam), (&[0][..], false));
    assert_eq!(verdict.next_test, Some(Test::OtherCam(1)), "{}", told(&verdict));
    // The measured one may still have jumped.
    let mut bench = Bench::new(engine(V6), &[TOOTH, 0.0]);
    bench.cams.truncate(1);
    let verdict = bench.weigh();
    assert_ne!(verdict.state, State::InTime);
    assert!(odds(&verdict, Kind::Skip) > 0.8, "{}", told(&verdict));
}
