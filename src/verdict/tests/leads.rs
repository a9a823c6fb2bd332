//! Exchanged leads, from the trade (*common practice, no source*).

use super::bench::*;
use crate::cam::{LeadOrder, SwappedFit};
use crate::units::CrankDelta;
use crate::verdict::{Caveat, Kind, State, Test};

#[test]
fn crossed_bank_leads_are_found() {
    // Same wheel 240° later: crossed, one shows 240 late and the other 240 early. No skip is so
    // large; with the leads exchanged both stand in place.
    let mut bench = Bench::new(engine(V6), &[240.2, -239.8]);
    let place = |cam: usize, off: f64| {
        let at = bench.engine.expected(cam).expect("absolute").0 + CrankDelta(off);
        position(&bench.engine, cam, at)
    };
    let positions = (place(0, 0.2), place(1, 0.2));
    bench.swapped = vec![SwappedFit { cams: (0, 1), positions }];
    let verdict = bench.weigh();
    assert_state(&verdict, State::OffNotJumped);
    assert_eq!(verdict.explanations[0].kind, Kind::LeadsCrossed, "{}", told(&verdict));
    assert_eq!(verdict.moves, ["B1", "B2"]);
}

#[test]
fn two_leads_exchanged_or_all_of_them_are_leads_either_way() {
    // Leads of bank 1's exhaust and bank 2's intake exchanged; with all four on other sensors the
    // cams would stand in their places as well. No chain skipped, whichever it is.
    let engine = four_cams(false);
    let at = |cam: usize| engine.expected(cam).expect("absolute").0;
    let exchanged = at(2) - at(1);
    let mut bench = Bench::new(four_cams(false), &[0.2, exchanged.0, -exchanged.0, 0.2]);
    let place = |cam: usize| position(&engine, cam, at(cam) + CrankDelta(0.2));
    bench.swapped = vec![SwappedFit { cams: (1, 2), positions: (place(1), place(2)) }];
    let on = vec![(0, 2), (1, 0), (2, 3), (3, 1)];
    bench.reordered = vec![LeadOrder { on, positions: (0..4).map(place).collect() }];
    let verdict = bench.weigh();
    assert_state(&verdict, State::OffNotJumped);
    assert_eq!(verdict.explanations[0].kind, Kind::LeadsCrossed, "{}", told(&verdict));
    assert!(odds(&verdict, Kind::LeadsCrossed) < 0.99, "{}", told(&verdict));
}

#[test]
fn banks_half_a_cycle_apart_cannot_show_crossed_leads() {
    // One wheel 360° later on the other bank: exchanged leads give the same picture a turn on. That
    // does not hold "in time" back, but it is said.
    let text = V6.replace("later = 240.0", "later = 360.0");
    let mut bench = Bench::new(engine(&text), &[0.3, 0.1]);
    let mut positions = (bench.cams[1].measured.clone(), bench.cams[0].measured.clone());
    (positions.0.cam, positions.1.cam) = (0, 1);
    bench.swapped = vec![SwappedFit { cams: (0, 1), positions }];
    let verdict = bench.weigh();
    assert_state(&verdict, State::InTime);
    assert!(verdict.caveats.contains(&Caveat::FitEitherWay(0, 1)), "{:?}", verdict.caveats);
}

#[test]
fn a_wheel_that_fits_only_the_other_lead_means_crossed_leads() {
    let mut bench = Bench::new(engine(V6), &[0.0, 0.0]);
    let placed = |cam: usize| bench.cams[cam].measured.clone();
    bench.swapped = vec![SwappedFit { cams: (0, 1), positions: (placed(0), placed(1)) }];
    bench.cams.clear();
    let verdict = bench.weigh();
    assert_eq!(verdict.explanations[0].kind, Kind::LeadsCrossed, "{}", told(&verdict));
}

#[test]
fn two_kinds_of_wheel_show_which_lead_is_whose() {
    // A tooth late on one bank. Exchanged the leads leave the largest deviation as it is, by chance,
    // and every edge somewhere else.
    let text = V6.replace("later = 240.0", "later = 360.0");
    let exchanged = |edges: [f64; 6]| {
        let mut bench = Bench::new(engine(&text), &[TOOTH, 0.1]);
        let mut positions = (bench.cams[1].measured.clone(), bench.cams[0].measured.clone());
        (positions.0.cam, positions.1.cam) = (0, 1);
        for (edge, off) in positions.0.edges.iter_mut().zip(edges) {
            edge.off = CrankDelta(off);
        }
        bench.swapped = vec![SwappedFit { cams: (0, 1), positions }];
        bench.weigh()
    };
    let other = exchanged([9.0, -7.0, 15.0, -11.0, 12.0, -14.0]);
    assert_eq!(other.either_way().count(), 0);
    assert_ne!(other.next_test, Some(Test::TraceLeads));
    // Of one kind they do not.
    let same = exchanged([0.2, -0.1, 0.3, 0.0, -0.2, 0.1]);
    assert_eq!(same.either_way().collect::<Vec<_>>(), [(0, 1)]);
    assert_eq!(same.next_test, Some(Test::TraceLeads));
}
