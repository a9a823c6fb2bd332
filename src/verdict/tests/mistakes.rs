//! Mistakes of the description and the leads (*common practice, no source*): each was once a confident verdict on the
//! engine.

use super::bench::*;
use crate::cam::{Expected, ExpectedFrom};
use crate::units::CrankDelta;
use crate::verdict::{Kind, Mistake, Reason, State, Verdict};

/// The likeliest mistake.
fn mistake(verdict: &Verdict) -> Option<&Mistake> {
    verdict.explanations.iter().find_map(|one| match &one.reason {
        Reason::DoesNotFit { mistake, .. } => Some(mistake),
        _ => None,
    })
}

/// The places confirmed on sound engines of the type.
fn confirmed(mut bench: Bench) -> Bench {
    for cam in &mut bench.cams {
        cam.expected = cam.expected.map(|expected| Expected {
            from: ExpectedFrom::KnownGood,
            sd: Some(CrankDelta(1.0)),
            ..expected
        });
    }
    bench
}

#[test]
fn a_usual_slip_is_named_with_its_line() {
    // `tdc` of the engine is 74; `at` of B1 is 113 (cam degrees: 113 more), `later` of B2 240.
    // (how far the cams seem late, what is wrong, line of the file)
    let rows = [
        ([74.2, 73.9], Mistake::FromTdc { missing: CrankDelta(74.0) }, 15),
        ([-74.2, -73.9], Mistake::FromTdc { missing: CrankDelta(-74.0) }, 15),
        ([112.8, 113.3], Mistake::Scaled { factor: 2.0, later_too: false }, 15),
        ([112.8, 353.3], Mistake::Scaled { factor: 2.0, later_too: true }, 15),
        ([179.8, 180.3], Mistake::HalfTurn { missing: CrankDelta(180.0) }, 15),
        ([0.2, 359.8], Mistake::Later { cam: 1, missing: Some(CrankDelta(360.0)) }, 21),
        ([0.2, 240.1], Mistake::Later { cam: 1, missing: Some(CrankDelta(240.0)) }, 21),
    ];
    for (off, wrong, line) in rows {
        for codes in [vec!["P0016".to_owned()], vec![]] {
            let bench = Bench { codes, ..Bench::new(engine(V6), &off) };
            let verdict = bench.weigh();
            assert_state(&verdict, State::DoesNotFit);
            assert_eq!(mistake(&verdict), Some(&wrong), "{off:?}: {}", told(&verdict));
            assert_eq!(wrong.line(&bench.engine), Some(line), "{wrong:?}");
        }
    }
}

#[test]
fn every_place_off_alike_condemns_no_engine() {
    // 27° on every cam: no whole tooth of 17.1°, once a skip with a worn chain. And ten degrees: the gap one slot early.
    for off in [27.0, -27.0, 10.0, -10.0, 40.0, 85.0, -130.0] {
        let verdict = Bench::new(engine(V6), &[off, off + 0.3]).weigh();
        assert_ne!(verdict.state, State::Jumped, "{off}: {}", told(&verdict));
        assert_ne!(verdict.state, State::OffNotJumped, "{off}: {}", told(&verdict));
    }
}

#[test]
fn a_whole_tooth_on_all_cams_is_never_sure_by_typed_figures_alone() {
    for tooth in [1.0, -1.0, 2.0] {
        let bench = || Bench::new(engine(V6), &[tooth * TOOTH + 0.3, tooth * TOOTH - 0.2]);
        let skips = odds(&bench().weigh(), Kind::Skip) + odds(&bench().weigh(), Kind::Wear);
        assert!((0.5..=0.95).contains(&skips), "{}", told(&bench().weigh()));
        // Confirmed on sound engines, only the crank's wheel is left beside it.
        let verdict = confirmed(bench()).weigh();
        assert!(odds(&verdict, Kind::DoesNotFit) < 0.01, "{}", told(&verdict));
    }
}

#[test]
fn bank_against_bank_stays_strong_on_typed_figures() {
    let verdict = Bench::new(engine(V6), &[TOOTH + 0.7, 0.2]).weigh();
    assert_state(&verdict, State::Jumped);
    let verdict = Bench::new(engine(V6), &[TOOTH + 0.7, 0.2]).without_code().weigh();
    assert!(odds(&verdict, Kind::DoesNotFit) < 0.005, "{}", told(&verdict));
}

#[test]
fn another_engines_file_fits_nothing() {
    // Cams 87° and 170° off: once "off, not jumped", sure.
    let verdict = Bench::new(engine(V6), &[87.0, -170.0]).weigh();
    assert_state(&verdict, State::DoesNotFit);
    let verdict = confirmed(Bench::new(four_cams(true), &[87.0, -170.0, 60.0, 301.0])).weigh();
    assert_state(&verdict, State::DoesNotFit);
    assert_eq!(mistake(&verdict), Some(&Mistake::OtherEngine), "{}", told(&verdict));
}

#[test]
fn a_right_description_is_not_doubted() {
    for bench in [
        Bench::new(engine(V6), &[0.4, -0.3]),
        Bench::new(four_cams(true), &[1.4, -0.3, 0.8, 1.9]),
        confirmed(Bench::new(four_cams(true), &[1.4, -0.3, 0.8, 1.9])),
    ] {
        let verdict = bench.without_code().weigh();
        assert_state(&verdict, State::InTime);
        assert!(odds(&verdict, Kind::DoesNotFit) < 1e-3, "{}", told(&verdict));
    }
}
