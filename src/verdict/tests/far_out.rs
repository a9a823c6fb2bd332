//! A reading far out of place is never "in time", however likely it is an outlier.

use super::bench::*;
use crate::verdict::{Open, State};

#[test]
fn one_cam_far_out_is_never_called_in_time() {
    // The odds of an outlier and of a wheel that slipped this far are alike: only looking decides.
    for off in [-170.0, -100.0, 100.0, 140.0, 170.0, 222.0, 300.0] {
        for without_code in [true, false] {
            let mut bench = Bench::new(four_cams(false), &[0.1, 0.2, off, -0.1]);
            if without_code {
                bench = bench.without_code();
            }
            let verdict = bench.weigh();
            assert_ne!(verdict.state, State::InTime, "{off}: {}", told(&verdict));
        }
    }
}

#[test]
fn an_outlier_is_named_and_its_check_asked_for() {
    // So poor a reading that the odds call it an outlier: edges that fit the wheel badly.
    let mut bench = Bench::new(four_cams(false), &[0.1, 0.2, 222.0, -0.1]).without_code();
    bench.cams[2].measured.fit = 0.02;
    bench.cams[2].measured.extra = 60;
    let verdict = bench.weigh();
    assert_eq!(verdict.state, State::CannotTell, "{}", told(&verdict));
    assert!(verdict.explanations[0].probability >= 0.99, "{:?}", verdict.explanations[0]);
    assert_eq!(verdict.open, Some(Open::Outlier(2)), "{}", told(&verdict));
    assert!((verdict.deviations[2].deviation.0 - 222.0).abs() < 1e-9, "{:?}", verdict.deviations);
    assert!(verdict.next_test.is_some());
}

#[test]
fn a_cam_at_the_edge_of_its_tolerance_may_still_be_in_time() {
    let mut bench = Bench::new(four_cams(false), &[0.1, 0.2, 0.0, -0.1]).without_code();
    assert_eq!(bench.weigh().state, State::InTime);
    bench = Bench::new(four_cams(false), &[1.0, 0.8, -1.1, -0.9]).without_code();
    assert_eq!(bench.weigh().state, State::InTime);
}
