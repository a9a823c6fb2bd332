//! A fault that rests on typed figures alone, and one beside a figure that is wrong.

use super::bench::*;
use crate::stats::standard_deviation;
use crate::units::{CrankDelta, Rpm};
use crate::verdict::decide::rank;
use crate::verdict::hypotheses::mistakes::rates;
use crate::verdict::hypotheses::priors;
use crate::verdict::{
    Contradiction, Kind, Mistake, Reason, SecondFault, State, TdcEvidence, Test, Verdict, Weighed,
};

/// TDC by the engine's motion, where the description has it.
fn tdc_in_place() -> Option<TdcEvidence> {
    Some(TdcEvidence { off: CrankDelta(0.4), sd: CrankDelta(1.5), known_modulo: CrankDelta(180.0) })
}

/// In line, one cam on a belt: 18° a tooth.
fn one_cam() -> String {
    let cam = V6.find("[[cam]]\nname = \"B2\"").expect("a second cam");
    let chain = V6.find("[[chain]]").expect("a chain");
    format!("{}{}", &V6[..cam], &V6[chain..])
        .replace("[1, 2, 3, 4, 5, 6]", "[1, 3, 4, 2]")
        .replace("1 = [1, 3, 5]\n2 = [2, 4, 6]", "1 = [1, 2, 3, 4]")
        .replace(
            "{ on = \"B1\", teeth = 42 }, { on = \"B2\", teeth = 42 }",
            "{ on = \"B1\", teeth = 42 }",
        )
}

#[test]
fn tdc_in_its_place_does_not_confirm_an_at() {
    // One cam, and two that stand alike: its `at` was read off an engine that had skipped, or this
    // one has. Where TDC is says nothing of that.
    for (text, off) in [(one_cam(), vec![TOOTH + 0.2]), (V6.to_owned(), vec![TOOTH + 0.3, TOOTH])] {
        for tdc in [None, tdc_in_place()] {
            let bench = || Bench { tdc, ..Bench::new(engine(&text), &off) };
            let typed = bench().weigh();
            assert_state(&typed, State::CannotTell);
            assert!(typed.questions.drive_due <= 0.95, "{}", told(&typed));
            assert!(typed.questions.skipped > 0.5, "{}", told(&typed));
            assert_eq!(typed.never_confirmed(), (0..off.len()).collect::<Vec<_>>());
            // Confirmed on sound engines it is a skip, with TDC to clear the crank's wheel.
            let confirmed = bench().confirmed().weigh();
            assert!(odds(&confirmed, Kind::DoesNotFit) < 0.01, "{}", told(&confirmed));
            if tdc.is_some() {
                assert_state(&confirmed, State::Jumped);
            }
        }
        let typed = Bench { tdc: tdc_in_place(), ..Bench::new(engine(&text), &off) }.weigh();
        // A sound engine confirms the figure; pressure shows the valves, which no figure moves.
        let settles = matches!(typed.next_test, Some(Test::KnownGood | Test::Pressure));
        assert!(settles, "{}", told(&typed));
    }
}

#[test]
fn what_comes_along_does_not_confirm_an_at_either() {
    // Two teeth early on every cam, and one of them 13° later than that: a phaser off its rest beside
    // a skip at the crank, or a wrong figure beside a skip at one sprocket.
    let text = V6
        .replace("same_as = { cam = \"B1\", later = 240.0 }", "wheel = \"three-uneven\"\nsensor = \"hall\"\nat = 353.0\nat_sd = 1.0\nphaser = { rest = \"advanced\", travel = 38.0 }");
    let off = [-2.0 * TOOTH, -2.0 * TOOTH + 13.0];
    for tdc in [None, tdc_in_place()] {
        let bench = || Bench { tdc, ..Bench::new(engine(&text), &off) };
        let typed = bench().without_code().weigh();
        let at_crank = typed.explanations.iter().filter(|one| one.on.as_deref() == Some("crank"));
        let at_crank: f64 = at_crank.map(|one| one.probability).sum();
        assert!(at_crank <= 0.95, "{}", told(&typed));
        assert_state(&typed, State::CannotTell);
    }
    // A worn strand comes along as a phaser does.
    let worn = [-2.0 * TOOTH, -2.0 * TOOTH + 8.0];
    let typed = Bench::new(engine(V6), &worn).without_code().weigh();
    assert_state(&typed, State::CannotTell);
}

#[test]
fn a_skip_beside_a_wrong_figure_is_no_verdict() {
    // `later` a whole turn off, and the first cam a tooth late: seen from the next pass, a cam wheel
    // that sits half a turn of the cam round.
    let verdict = Bench::new(engine(V6), &[TOOTH + 0.3, 360.2]).without_code().weigh();
    assert_state(&verdict, State::CannotTell);
    assert_eq!(verdict.contradictions, [Contradiction::TwoFaults], "{}", told(&verdict));
    let slip = Mistake::Later { cam: 1, missing: Some(CrankDelta(360.0)) };
    let leading = &verdict.explanations[0];
    assert_eq!(leading.second_fault, SecondFault::Figure(slip), "{}", told(&verdict));
    // Either by itself is what it is.
    let slip = Bench::new(engine(V6), &[0.3, 360.2]).without_code().weigh();
    assert_state(&slip, State::DoesNotFit);
    assert_state(&Bench::new(engine(V6), &[TOOTH + 0.3, 0.2]).weigh(), State::Jumped);
    // Every `at` in cam degrees (113 and 353 for 226 and 706), and two teeth early on the first.
    let text = V6.replace(
        "same_as = { cam = \"B1\", later = 240.0 }",
        "wheel = \"three-uneven\"\nsensor = \"hall\"\nat = 20.0\nat_sd = 1.0",
    );
    let off = [113.2 - 2.0 * TOOTH, 20.1];
    let verdict = Bench::new(engine(&text), &off).without_code().weigh();
    assert!(!verdict.state.answers() || verdict.state == State::DoesNotFit, "{}", told(&verdict));
}

#[test]
fn a_figure_that_is_a_little_off_takes_nothing_from_in_time() {
    // Both banks 3° early of five: as described, or every place typed 3° late and the cams in theirs.
    let verdict = Bench::new(engine(V6), &[-3.0, -3.2]).without_code().weigh();
    let alone = odds(&verdict, Kind::InTime);
    let figures: f64 = verdict
        .explanations
        .iter()
        .filter(|one| match &one.reason {
            Reason::DoesNotFit { mistake, .. } => {
                mistake.is_a_figure() && one.second_fault == SecondFault::None
            }
            _ => false,
        })
        .map(|one| one.probability)
        .sum();
    assert!(figures > 1e-4, "{}", told(&verdict));
    let both = verdict.questions.recorded_in_time;
    assert!((both - alone - figures).abs() < 1e-6, "{both}: {}", told(&verdict));
    // A whole turn is no little: each bank reads in its place by itself, on its own pass of the crank's
    // mark. It is the figure that is told.
    let turned = V6.replace("later = 240.0", "later = 600.0");
    let mut bench = Bench::new(engine(&turned), &[0.2, 359.7]).without_code();
    bench.cams.iter_mut().for_each(|cam| cam.known_modulo = CrankDelta(360.0));
    let verdict = bench.weigh();
    assert!(verdict.questions.figure_off <= 0.0, "{}", told(&verdict));
    assert_state(&verdict, State::DoesNotFit);
    // Beyond its tolerance a cam is not in time by what is said of it.
    let out = Bench::new(engine(V6), &[-6.5, -6.7]).without_code().weigh();
    let alone = odds(&out, Kind::InTime);
    assert!((out.questions.recorded_in_time - alone).abs() < 1e-6, "{}", told(&out));
}

/// How much faster than on the whole the crank turns before the edges of a wheel.
const FASTER: [f64; 6] = [0.12, 0.10, -0.05, -0.12, -0.10, 0.05];

/// Two banks, the second reading 12° late; its edges further out where the crank turned faster, by
/// this share of what a delay makes of them, and so are its cycles.
fn late_by_a_delay(share: f64) -> Bench {
    let mut bench = Bench::new(engine(V6), &[0.2, 12.0]);
    move_as_a_delay(&mut bench, 0, 0.0);
    move_as_a_delay(&mut bench, 1, share * 12.0);
    bench
}

/// Edges and cycles of a cam as a delay moves them that makes it this late on the whole.
fn move_as_a_delay(bench: &mut Bench, cam: usize, late: f64) {
    let cam = &mut bench.cams[cam];
    for (edge, faster) in cam.measured.edges.iter_mut().zip(FASTER) {
        edge.speed = Some(Rpm(200.0 * (1.0 + faster)));
        edge.speed_after = edge.speed;
        edge.off = CrankDelta(late * faster);
    }
    let cycles = &mut cam.measured.cycles;
    let mean = cycles.iter().map(|cycle| cycle.rpm.0).sum::<f64>() / cycles.len() as f64;
    for cycle in cycles.iter_mut() {
        cycle.off.0 += late * (cycle.rpm.0 / mean - 1.0);
    }
    let offs: Vec<f64> = cycles.iter().map(|cycle| cycle.off.0).collect();
    cam.measured.cycle_sd = standard_deviation(&offs).map(CrankDelta);
}

/// Odds that the lead of this cam is delayed, or the crank's.
fn odds_of_delay(verdict: &Verdict, of: Option<usize>) -> f64 {
    let is = |reason: &Reason| matches!(reason, Reason::DoesNotFit { mistake: Mistake::Delayed(lead), .. } if *lead == of);
    let all = verdict.explanations.iter().filter(|one| is(&one.reason));
    all.map(|one| one.probability).sum()
}

#[test]
fn a_lead_that_a_filter_delays_is_no_worn_chain() {
    let delayed = |verdict: &Verdict| odds_of_delay(verdict, Some(1));
    let verdict = late_by_a_delay(1.0).weigh();
    assert_state(&verdict, State::DoesNotFit);
    assert!(delayed(&verdict) > 0.5, "{}", told(&verdict));
    assert_eq!(verdict.next_test, Some(Test::Unfiltered));
    let sentence = crate::report::words::finding(&engine(V6), &verdict);
    assert!(sentence.contains("the lead of B2 comes late by 12.0° by a delay"), "{sentence}");
    assert!(sentence.contains("With that put right every cam stands in its place."), "{sentence}");
    // A chain moves every edge alike; edges the other way round are no delay either.
    for share in [0.0, -1.0] {
        let verdict = late_by_a_delay(share).weigh();
        assert!(delayed(&verdict) < 1e-4, "{share}: {}", told(&verdict));
    }
    // Where the speed was not seen the edges say nothing, and a delay is as rare as it is.
    let mut unseen = late_by_a_delay(0.0);
    let edges = unseen.cams.iter_mut().flat_map(|cam| &mut cam.measured.edges);
    edges.for_each(|edge| (edge.speed, edge.speed_after) = (None, None));
    assert!(delayed(&unseen.weigh()) < 0.02, "{}", told(&unseen.weigh()));
}

#[test]
fn a_crank_lead_that_a_probe_delays_is_no_skip() {
    // Every place confirmed, all cams one tooth early: a skip at the crank, if it were not that they
    // are the earlier the faster the crank turned.
    let early = |share: f64| {
        let mut bench = Bench::new(engine(V6), &[-TOOTH + 0.2, -TOOTH - 0.2]).confirmed();
        for cam in 0..2 {
            move_as_a_delay(&mut bench, cam, share * -TOOTH);
        }
        bench.weigh()
    };
    let delayed = |verdict: &Verdict| odds_of_delay(verdict, None);
    let verdict = early(1.0);
    assert_state(&verdict, State::DoesNotFit);
    assert!(delayed(&verdict) > 0.9, "{}", told(&verdict));
    assert_eq!(verdict.next_test, Some(Test::Unfiltered));
    let sentence = crate::report::words::finding(&engine(V6), &verdict);
    assert!(sentence.contains("so that every cam looks early by 17.1°"), "{sentence}");
    // Bank 2 a tooth late besides: bank 1 a tooth early is another bank than the one that skipped.
    let mut bench = Bench::new(engine(V6), &[-TOOTH + 0.2, 0.3]).confirmed();
    for cam in 0..2 {
        move_as_a_delay(&mut bench, cam, -TOOTH);
    }
    let verdict = bench.weigh();
    assert!(!verdict.state.answers(), "{}", told(&verdict));
    assert_eq!(verdict.explanations[0].on.as_deref(), Some("B2"), "{}", told(&verdict));
    assert_eq!(verdict.explanations[0].second_fault, SecondFault::Delayed(None));
    // Both banks' edges and cycles show the delay, bank 2's as far apart as if it read a tooth early. Were
    // they held against where it reads, one bank's skip beside its own lead's delay would be as likely.
    assert!(verdict.explanations[0].probability > 0.99, "{}", told(&verdict));
    // One that moves every edge alike is a skip as ever.
    let verdict = early(0.0);
    assert!(odds(&verdict, Kind::Skip) > 0.9, "{}", told(&verdict));
    assert!(delayed(&verdict) < 1e-4, "{}", told(&verdict));
}

#[test]
fn explanations_of_equal_odds_have_one_order() {
    let ranked = |odds: [f64; 5]| {
        let mut list: Vec<(usize, f64)> = odds.into_iter().enumerate().collect();
        // The second is of the kind that stands first.
        rank(&mut list, |one| one.1, |one| (u8::from(one.0 != 1), one.0));
        list.into_iter().map(|one| one.0).collect::<Vec<_>>()
    };
    let order = [3, 1, 0, 2, 4];
    assert_eq!(ranked([0.2, 0.2, 0.2, 0.4, 0.0]), order);
    for digit in [1e-15, -1e-15, 3e-11] {
        assert_eq!(ranked([0.2 + digit, 0.2, 0.2 - digit, 0.4, 0.0]), order);
        assert_eq!(ranked([0.2, 0.2 - digit, 0.2 + digit, 0.4, 0.0]), order);
    }
    assert_eq!(ranked([0.21, 0.19, 0.2, 0.4, 0.0]), [3, 0, 2, 1, 4]);
    assert_eq!(ranked([0.0; 5]), [1, 0, 2, 3, 4]);
}

/// Two cams, each with an `at` of its own.
fn two_figures() -> String {
    V6.replace(
        "same_as = { cam = \"B1\", later = 240.0 }",
        "wheel = \"three-uneven\"\nsensor = \"hall\"\nat = 353.0\nat_sd = 1.0",
    )
}

#[test]
fn one_at_among_right_ones_is_named_with_what_is_missing() {
    // Of the other pass, which may be either cam's; doubled; in cam degrees; from TDC.
    for missing in [360.0, -176.5, 353.0, 74.0] {
        let bench = Bench::new(engine(&two_figures()), &[0.3, missing + 0.2]).without_code();
        let verdict = bench.weigh();
        let turn = missing == 360.0;
        let named = |cam: usize| {
            let slip = Mistake::Place { cam, missing: Some(CrankDelta(missing)) };
            matches!(&verdict.explanations[0].reason, Reason::DoesNotFit { mistake, .. } if *mistake == slip)
        };
        assert!(named(1) || turn && named(0), "{missing}: {}", told(&verdict));
        assert_state(&verdict, State::DoesNotFit);
        assert_eq!(verdict.next_test, Some(Test::CorrectFile));
    }
}

#[test]
fn a_wheel_that_two_cams_have_by_one_line_is_wrong_of_both() {
    let mut bench = Bench::new(engine(V6), &[87.0, 87.4]);
    for cam in &mut bench.cams {
        for (edge, off) in cam.measured.edges.iter_mut().zip([9.0, -7.0, 15.0, -11.0, 12.0, -14.0])
        {
            edge.off = CrankDelta(off);
        }
    }
    bench.other_wheels = vec![(0, "four-plus-one".into()), (1, "four-plus-one".into())];
    let verdict = bench.weigh();
    assert_state(&verdict, State::DoesNotFit);
    let Reason::DoesNotFit { mistake, .. } = &verdict.explanations[0].reason else {
        panic!("{}", told(&verdict));
    };
    let wheel = Mistake::Wheel { cam: 0, with: vec![1], fits: Some("four-plus-one".into()) };
    assert_eq!(mistake, &wheel, "{}", told(&verdict));
}

#[test]
fn what_no_reading_tells_apart_has_the_odds_of_its_prior() {
    // By two teeth exactly: the first cam late; or the second early, and the one `at`, which both
    // hang on, typed in cam degrees (34.3 for 68.6). On gears, which do not wear besides.
    let text = V6.replace("kind = \"chain\"", "kind = \"gear\"");
    let text = text.replace("at = 113.0", &format!("at = {:.9}", 2.0 * TOOTH));
    let verdict = Bench::new(engine(&text), &[2.0 * TOOTH, 0.0]).weigh();
    let skip = |on: &str, teeth: i32| -> f64 {
        let is = |one: &&Weighed| one.on.as_deref() == Some(on) && one.teeth == Some(teeth);
        verdict.explanations.iter().filter(is).map(|one| one.probability).sum()
    };
    // Half of the slips have `later` right; and the second cam is early where the first is late.
    let scaled = rates::SCALED * rates::USUAL_WAY * 0.5;
    let early = (1.0 - priors::SKIP_LATE) / priors::SKIP_LATE;
    let stated = rates::WRONG_UNCONFIRMED * rates::ALL_PLACES * scaled * early;
    let odds = skip("B2", -2) / skip("B1", 2);
    // Any other shift of all places fits as well: the seventh part more.
    assert!((stated..1.25 * stated).contains(&odds), "{odds:.2e}: {}", told(&verdict));
}

#[test]
fn a_delay_is_fewer_degrees_in_a_slow_cycle() {
    // Before the first edges the crank turned 50 rpm slower than it does: of a delay of 12° at 200 rpm
    // 3° less. A slack chain that swings by as much does so whatever the speed.
    let odds = |slower: f64| {
        let mut bench = late_by_a_delay(1.0);
        let measured = &mut bench.cams[1].measured;
        for cycle in &mut measured.cycles {
            (cycle.off, cycle.faster) = (CrankDelta(0.0), Some(Rpm(0.0)));
        }
        measured.cycles[0].off = CrankDelta(-3.0);
        measured.cycles[0].faster = Some(Rpm(-slower));
        measured.cycle_sd = Some(CrankDelta(1.3));
        let delayed = odds_of_delay(&bench.weigh(), Some(1));
        delayed / (1.0 - delayed)
    };
    let (with_speed, without) = (odds(50.0), odds(0.0));
    assert!(with_speed > 100.0 && without < with_speed / 3.0, "{with_speed} and {without}");
}
