//! A fault that rests on typed figures alone, and one beside a figure that is wrong.

use super::bench::*;
use crate::units::CrankDelta;
use crate::verdict::{Contradiction, Kind, Mistake, SecondFault, State, TdcEvidence, Test};

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
