//! What is measured beside the cams' sensors is weighed: pressure, strands that add up, what the
//! controller shows, a phaser locked in the middle, compression without names, a drive just put
//! together. *Common practice, no source*, unless a line says otherwise.

use super::bench::*;
use crate::engine::Engine;
use crate::units::{CrankDeg, CrankDelta};
use crate::verdict::{
    CompressionEvidence, ControllerReading, Kind, State, TdcEvidence, Test, ValveEvidence, Verdict,
};

fn tdc_late(off: f64) -> Option<TdcEvidence> {
    Some(TdcEvidence { off: CrankDelta(off), sd: CrankDelta(0.1), known_modulo: CrankDelta(720.0) })
}

/// Intake closing of a cylinder, `late` against the description.
fn closes(cylinder: u32, late: f64, placed: bool) -> ValveEvidence {
    ValveEvidence {
        cylinder,
        intake: true,
        at: CrankDeg::new(590.0 + late),
        off: placed.then_some(CrankDelta(late)),
        scatter: CrankDelta(0.3),
    }
}

#[test]
fn top_dead_centre_by_pressure_tells_a_skip_at_the_crank_from_a_moved_crank_wheel() {
    // Every cam a tooth early: the crank wheel late by as much puts TDC early too, a skip at the
    // crank leaves it.
    let with = |tdc: Option<TdcEvidence>| {
        let mut bench = Bench::new(engine(V6), &[-TOOTH, -TOOTH]).confirmed();
        bench.pressure_tdc = tdc;
        bench.weigh()
    };
    let (without, moved, placed) = (with(None), with(tdc_late(-TOOTH)), with(tdc_late(0.3)));
    assert_ne!(without.state, State::Jumped, "{}", told(&without));
    assert_state(&placed, State::Jumped);
    assert_eq!(placed.on.as_deref(), Some("crank"));
    assert_state(&moved, State::OffNotJumped);
    assert_eq!(moved.explanations[0].kind, Kind::CrankReferenceMoved, "{}", told(&moved));
    // Made already, it is not asked for again.
    for verdict in [&moved, &placed] {
        assert_ne!(verdict.next_test, Some(Test::Pressure), "{}", told(verdict));
    }
    // 17.4° late where every cam stands in its place: that does not go together, and counts.
    let late = {
        let mut bench = Bench::new(engine(V6), &[0.2, -0.1]);
        bench.pressure_tdc = tdc_late(17.4);
        bench.weigh()
    };
    let sound = Bench::new(engine(V6), &[0.2, -0.1]).weigh();
    let odds_in_time = |verdict: &Verdict| odds(verdict, Kind::InTime);
    let against = |odds: f64| odds / (1.0 - odds);
    let (now, before) = (against(odds_in_time(&late)), against(odds_in_time(&sound)));
    assert!(now < before / 3.0, "{now} of {before}: {}", told(&late));
}

#[test]
fn the_valves_themselves_tell_a_late_shaft_from_a_slipped_wheel() {
    let with = |valves: Vec<ValveEvidence>| {
        let mut bench = Bench::new(engine(V6), &[TOOTH + 3.6, 0.0]);
        bench.valves = valves;
        bench.weigh()
    };
    let ratio = |verdict: &Verdict| {
        odds(verdict, Kind::Skip) / odds(verdict, Kind::CamWheelMoved).max(1e-12)
    };
    // Cylinder 1 is of bank 1, whose cam reads late; cylinder 2 is of the other.
    let (silent, late, placed) =
        (with(vec![]), with(vec![closes(1, TOOTH, true)]), with(vec![closes(1, 0.0, true)]));
    assert!(ratio(&late) > 10.0 * ratio(&silent), "{}", told(&late));
    assert!(ratio(&placed) < ratio(&silent) / 10.0, "{}", told(&placed));
    // Without a place in the description one cylinder says next to nothing, bank against bank all
    // there is.
    let alone = with(vec![closes(1, TOOTH, false)]);
    assert!((ratio(&alone) / ratio(&silent) - 1.0).abs() < 0.5, "{}", told(&alone));
    let apart = with(vec![closes(1, TOOTH, false), closes(2, 0.0, false)]);
    let alike = with(vec![closes(1, 0.0, false), closes(2, 0.0, false)]);
    assert!(ratio(&apart) > 10.0 * ratio(&silent), "{}", told(&apart));
    assert!(ratio(&alike) < ratio(&silent) / 10.0, "{}", told(&alike));
}

#[test]
fn a_phaser_that_is_away_takes_its_valves_along() {
    let engine =
        || {
            engine(&V6.replace(
                "at_sd = 1.0",
                "at_sd = 1.0\nphaser = { rest = \"retarded\", travel = 50.0 }",
            ))
        };
    let with = |valves: Vec<ValveEvidence>| {
        let mut bench = Bench::new(engine(), &[-26.0, 0.1]);
        bench.valves = valves;
        bench.weigh()
    };
    let (along, stay) = (with(vec![closes(1, -26.0, true)]), with(vec![closes(1, 0.0, true)]));
    assert_eq!(along.explanations[0].kind, Kind::PhaserOffRest, "{}", told(&along));
    let ratio =
        |verdict: &Verdict| odds(verdict, Kind::PhaserOffRest) / odds(verdict, Kind::CamWheelMoved);
    assert!(ratio(&stay) < ratio(&along) / 1000.0, "{}\n{}", told(&stay), told(&along));
}

/// The same drive with its order said.
fn in_order() -> Engine {
    engine(&V6.replace("kind = \"chain\"", "kind = \"chain\"\norder = \"pulled\""))
}

#[test]
fn wear_adds_up_along_the_chain_and_is_no_skip() {
    for engine in [engine(V6), in_order()] {
        let verdict = Bench::new(engine.clone(), &[6.0, 12.0]).weigh();
        assert_eq!(verdict.explanations[0].kind, Kind::Wear, "{}", told(&verdict));
        assert!(odds(&verdict, Kind::Skip) < 0.05, "{}", told(&verdict));
        let far = Bench::new(engine, &[7.0, 14.0]).weigh();
        assert_ne!(far.state, State::Jumped, "{}", told(&far));
        assert_eq!(far.explanations[0].kind, Kind::Wear, "{}", told(&far));
    }
    // The other way round: where the order is said, the first of it cannot be the latest by wear
    // that adds up.
    let either = odds(&Bench::new(engine(V6), &[12.0, 6.0]).weigh(), Kind::Wear);
    let against = odds(&Bench::new(in_order(), &[12.0, 6.0]).weigh(), Kind::Wear);
    assert!(against < 0.8 * either, "{against} of {either}");
    // Nor where it has added up to more than a tooth.
    let long = Bench::new(engine(V6), &[9.0, 18.0]).confirmed().weigh();
    assert_ne!(long.state, State::Jumped, "{}", told(&long));
}

#[test]
fn what_the_controller_shows_is_weighed() {
    let engine = || four_cams(true);
    let with = |phaser: Option<f64>, learned: Option<f64>, off: [f64; 4]| {
        let mut bench = Bench::new(engine(), &off);
        bench.controller = vec![ControllerReading {
            cam: 0,
            phaser: phaser.map(CrankDelta),
            learned: learned.map(CrankDelta),
        }];
        bench.weigh()
    };
    // One tooth early, within the phaser's reach.
    let off = [-TOOTH, -TOOTH, 0.1, 0.0];
    let of = |verdict: &Verdict| odds(verdict, Kind::PhaserOffRest) / odds(verdict, Kind::Skip);
    let (silent, rest, away) =
        (with(None, None, off), with(Some(0.0), None, off), with(Some(-17.0), None, off));
    // By hand from the two likelihoods: 0.3 / 0.9 and 0.7 / 0.1, the second fault beside a skip
    // apart.
    assert!((of(&rest) / of(&silent) * 3.0 - 1.0).abs() < 0.1, "{}", told(&rest));
    assert!((of(&away) / of(&silent) / 7.0 - 1.0).abs() < 0.1, "{}", told(&away));
    // 9° late on bank 1: learned late is wear, learned nothing speaks against it.
    let off = [9.0, 9.0, 0.1, 0.0];
    let wear = |learned: Option<f64>| odds(&with(None, learned, off), Kind::Wear);
    let (silent, crept, none) = (wear(None), wear(Some(4.8)), wear(Some(0.0)));
    assert!(crept > silent && none < silent, "{crept} {silent} {none}");
}

#[test]
fn a_phaser_that_rests_in_the_middle_may_take_its_cam_either_way() {
    let engine =
        || {
            engine(&V6.replace(
                "at_sd = 1.0",
                "at_sd = 1.0\nphaser = { rest = \"middle\", travel = 25.0 }",
            ))
        };
    for off in [-10.0, 10.0, 25.0, -25.0] {
        let verdict = Bench::new(engine(), &[off, 0.1]).weigh();
        assert_eq!(verdict.explanations[0].kind, Kind::PhaserOffRest, "{off}: {}", told(&verdict));
    }
    // At the stop more than beside it.
    let at = |off: f64| {
        let verdict = Bench::new(engine(), &[off, 0.1]).weigh();
        odds(&verdict, Kind::PhaserOffRest) / odds(&verdict, Kind::CamWheelMoved)
    };
    assert!(at(25.0) > 3.0 * at(22.0), "{} {}", at(25.0), at(22.0));
    // One that rests late cannot be late of rest, but for a description that is wrong of it (0.05
    // before that was weighed).
    let late = Bench::new(four_cams(true), &[25.0, 0.1, 0.2, 0.0]).weigh();
    assert!(odds(&late, Kind::PhaserOffRest) < 0.1, "{}", told(&late));
}

/// A bank that is down, named or not.
fn down(difference: f64, unnamed: bool) -> Option<CompressionEvidence> {
    Some(CompressionEvidence {
        difference,
        sd: 0.01,
        per_degree: vec![-0.008, 0.008],
        expected: None,
        unnamed,
        turn_by_cams: false,
        stands_out: true,
    })
}

#[test]
fn a_low_bank_without_a_name_is_weighed_as_either() {
    let of = |off: [f64; 2], compression: Option<CompressionEvidence>| {
        let mut bench = Bench::new(engine(V6), &off);
        bench.compression = compression;
        bench.weigh()
    };
    let ratio = |verdict: &Verdict| odds(verdict, Kind::Skip) / odds(verdict, Kind::CamWheelMoved);
    // Which bank is down is not known: whichever cam is late, it goes with it.
    for off in [[TOOTH + 2.6, 0.0], [0.0, TOOTH + 2.6]] {
        let (silent, either) = (of(off, None), of(off, down(-0.15, true)));
        assert!(ratio(&either) > 2.0 * ratio(&silent), "{}", told(&either));
        let even = of(off, down(0.0, true));
        assert!(ratio(&even) < ratio(&silent) / 2.0, "{}", told(&even));
    }
    // Named, it goes with one of them only.
    let (with, against) =
        (of([TOOTH + 2.6, 0.0], down(-0.15, false)), of([0.0, TOOTH + 2.6], down(-0.15, false)));
    assert!(ratio(&with) > 5.0 * ratio(&against), "{}\n{}", told(&with), told(&against));
}

#[test]
fn compression_counts_where_no_place_is_known() {
    // Held against each other only: bank 1 late or bank 2 early look the same; the bank that is
    // down is the late one.
    let text = V6.replace("at = 113.0\nat_sd = 1.0\n", "");
    let place = |verdict: &Verdict, on: &str| -> f64 {
        let is = |one: &&crate::verdict::Weighed| {
            one.kind == Kind::Skip && one.on.as_deref() == Some(on)
        };
        verdict.explanations.iter().filter(is).map(|one| one.probability).sum()
    };
    let of = |compression: Option<CompressionEvidence>| {
        let mut bench = Bench::new(engine(&text), &[TOOTH, 0.0]);
        bench.compression = compression;
        let verdict = bench.weigh();
        place(&verdict, "B1") / place(&verdict, "B2")
    };
    // B1 late leaves bank 1 lower by about 0.14; B2 early would leave bank 2 higher by as much: the
    // same difference, so nothing tells those two apart; a difference the other way speaks against
    // both.
    let (silent, lower) = (of(None), of(down(-0.14, false)));
    assert!((lower / silent - 1.0).abs() < 0.3, "{lower} of {silent}");
    let skipped = |compression: Option<CompressionEvidence>| {
        let mut bench = Bench::new(engine(&text), &[TOOTH, 0.0]);
        bench.compression = compression;
        bench.weigh().questions.skipped
    };
    let (agrees, contradicts) = (skipped(down(-0.14, false)), skipped(down(0.14, false)));
    assert!(agrees > contradicts, "{agrees} {contradicts}");
    // With one cam alone a skip at the crank moves both banks alike and puts neither down.
    let one = Bench::new(engine(&text), &[0.0, 0.0]);
    let alone = |compression: Option<CompressionEvidence>| {
        let mut bench =
            Bench { cams: one.cams[..1].to_vec(), ..Bench::new(engine(&text), &[0.0, 0.0]) };
        bench.compression = compression;
        let verdict = bench.weigh();
        (place(&verdict, "crank"), place(&verdict, "B1") + place(&verdict, "B2"))
    };
    let ((crank, banks), (crank_low, banks_low)) = (alone(None), alone(down(-0.14, true)));
    assert!(
        crank_low / banks_low < crank / banks / 3.0,
        "{crank_low} {banks_low}, {crank} {banks}"
    );
}

#[test]
fn after_a_repair_a_chain_laid_on_wrongly_is_likelier_and_wear_is_not() {
    let of = |off: [f64; 2], after_repair: bool| {
        let mut bench = Bench::new(engine(V6), &off);
        bench.after_repair = after_repair;
        bench.weigh()
    };
    let nine = |repair: bool| {
        let verdict = of([9.0, 0.2], repair);
        odds(&verdict, Kind::Wear) / odds(&verdict, Kind::CamWheelMoved)
    };
    assert!(nine(true) < nine(false) / 10.0, "{} {}", nine(true), nine(false));
    let verdict = of([TOOTH + 0.3, 0.1], true);
    assert_state(&verdict, State::Jumped);
    assert!(verdict.after_repair);
    assert_state(&of([0.3, -0.2], true), State::InTime);
    // Two sprockets laid on wrongly by different amounts: one pair of hands did both.
    let two = |repair: bool| of([TOOTH, -2.0 * TOOTH], repair).questions.skipped;
    assert!(two(true) >= two(false) - 1e-3, "{} {}", two(true), two(false));
}
