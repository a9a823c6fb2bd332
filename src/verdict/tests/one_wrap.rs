//! What a reader is told of a cam is the same degrees in the headline as in the tables.

use super::bench::*;
use crate::units::CrankDelta;

/// Two teeth alike, half a turn of the cam apart: the same again every 360° of the crank.
const TWICE_ALIKE: &str =
    "wheel = { teeth = [ { start = 0.0, end = 30.0 }, { start = 180.0, end = 210.0 } ] }";

#[test]
fn a_cam_beside_a_symmetric_wheel_is_known_no_further_than_that_wheel() {
    // No place is known, only that B2 belongs 240° after B1, whose wheel looks the same every 360°.
    let text = V6.replace("at = 113.0\nat_sd = 1.0\n", "").replacen(
        "wheel = \"three-uneven\"",
        TWICE_ALIKE,
        1,
    );
    // Half a cycle of the crank round and 0.9° less: nobody can tell it from 0.9° early.
    let verdict = Bench::new(engine(&text), &[0.0, 359.1]).weigh();
    let second = verdict.deviations[1];
    assert_eq!((second.cam, second.against), (1, Some(0)));
    assert!((second.deviation.0 + 0.9).abs() < 1e-9, "{second:?}");
}

#[test]
fn a_place_known_up_to_the_pass_of_the_crank_mark_is_told_so() {
    // The datum was not settled: the table has both cams modulo one turn of the crank.
    let mut bench = Bench::new(engine(V6), &[20.0, 359.1]);
    for cam in &mut bench.cams {
        cam.known_modulo = CrankDelta(360.0);
    }
    let verdict = bench.weigh();
    for (told, table) in verdict.deviations.iter().zip(&bench.cams) {
        let table = table.deviation().expect("a known place");
        assert!((told.deviation.0 - table.0).abs() < 1e-9, "{told:?} beside {table:?}");
    }
}
