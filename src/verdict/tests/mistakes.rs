//! Mistakes of the description and the leads (*common practice, no source*): each was once a
//! confident verdict on the engine.

use super::bench::*;
use crate::cam::{LeadOrder, SwappedFit};
use crate::compression::ExpectedChange;
use crate::units::CrankDelta;
use crate::verdict::{
    CompressionEvidence, Contradiction, Kind, Mistake, Open, Reason, State, TdcEvidence, Test,
    Verdict,
};

/// The likeliest mistake.
fn mistake(verdict: &Verdict) -> Option<&Mistake> {
    verdict.explanations.iter().find_map(|one| match &one.reason {
        Reason::DoesNotFit { mistake, .. } => Some(mistake),
        _ => None,
    })
}

#[test]
fn a_usual_slip_is_named_with_its_line() {
    // `tdc` of the engine is 74; `at` of B1 is 113 (cam degrees: 113 more), `later` of B2 240.
    // (how far the cams seem late, what is wrong, line of the file)
    let rows = [
        ([74.2, 73.9], Mistake::FromTdc { missing: CrankDelta(74.0) }, 18),
        ([-74.2, -73.9], Mistake::FromTdc { missing: CrankDelta(-74.0) }, 18),
        ([112.8, 113.3], Mistake::Scaled { factor: 2.0, later_too: false }, 18),
        ([112.8, 353.3], Mistake::Scaled { factor: 2.0, later_too: true }, 18),
        ([179.8, 180.3], Mistake::HalfTurn { missing: CrankDelta(180.0) }, 18),
        ([0.2, 359.8], Mistake::Later { cam: 1, missing: Some(CrankDelta(360.0)) }, 24),
        ([0.2, 240.1], Mistake::Later { cam: 1, missing: Some(CrankDelta(240.0)) }, 24),
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
    // 27° on every cam: no whole tooth of 17.1°, once a skip with a worn chain. And ten degrees:
    // the gap one slot early.
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
        let verdict = bench().confirmed().weigh();
        assert!(odds(&verdict, Kind::DoesNotFit) < 0.01, "{}", told(&verdict));
    }
}

#[test]
fn tdc_typed_with_the_places_bears_no_crank_wheel_out() {
    // Cams and TDC all off alike, as a moved crank wheel has them and as figures copied off another
    // engine's sheet have them. The pressure would show the same TDC once more.
    for (off, tdc) in [(-100.0, 20.0), (-30.0, -30.0), (40.0, 40.0)] {
        let bench = || {
            let mut bench = Bench::new(engine(V6), &[off - 0.2, off + 0.1]);
            bench.tdc = Some(TdcEvidence {
                off: CrankDelta(tdc),
                sd: CrankDelta(3.0),
                known_modulo: CrankDelta(120.0),
            });
            bench
        };
        let typed = bench().weigh();
        assert_state(&typed, State::CannotTell);
        let moved = odds(&typed, Kind::CrankReferenceMoved);
        assert!((0.5..=0.96).contains(&moved), "{off}: {}", told(&typed));
        assert_eq!(typed.next_test, Some(Test::KnownGood), "{off}: {}", told(&typed));
        // Once a sound engine has shown where the cams belong, it is the wheel.
        let confirmed = bench().confirmed().weigh();
        assert_state(&confirmed, State::OffNotJumped);
        assert_eq!(confirmed.explanations[0].kind, Kind::CrankReferenceMoved);
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
    let verdict = Bench::new(four_cams(true), &[87.0, -170.0, 60.0, 301.0]).confirmed().weigh();
    assert_state(&verdict, State::DoesNotFit);
    assert_eq!(mistake(&verdict), Some(&Mistake::OtherEngine), "{}", told(&verdict));
}

#[test]
fn a_right_description_is_not_doubted() {
    for bench in [
        Bench::new(engine(V6), &[0.4, -0.3]),
        Bench::new(four_cams(true), &[1.4, -0.3, 0.8, 1.9]),
        Bench::new(four_cams(true), &[1.4, -0.3, 0.8, 1.9]).confirmed(),
    ] {
        let verdict = bench.without_code().weigh();
        assert_state(&verdict, State::InTime);
        assert!(odds(&verdict, Kind::DoesNotFit) < 1e-3, "{}", told(&verdict));
    }
}

#[test]
fn one_mistyped_number_is_no_slipped_wheel() {
    // The `later` of one cam, by anything: no commoner than a trigger wheel that slipped, and no
    // rarer.
    let verdict = Bench::new(four_cams(false), &[0.3, 0.1, 100.7, 0.2]).weigh();
    assert!(!matches!(verdict.state, State::OffNotJumped | State::Jumped), "{}", told(&verdict));
    assert!(odds(&verdict, Kind::DoesNotFit) > 0.3, "{}", told(&verdict));
    assert_eq!(mistake(&verdict), Some(&Mistake::Later { cam: 2, missing: None }));
    // One left at 0 that should be 360.
    let text = V6.replace("later = 240.0", "later = 0.0");
    let verdict = Bench::new(engine(&text), &[0.2, -359.7]).weigh();
    assert_state(&verdict, State::DoesNotFit);
    let slip = Mistake::Later { cam: 1, missing: Some(CrankDelta(360.0)) };
    assert_eq!(mistake(&verdict), Some(&slip), "{}", told(&verdict));
}

/// Four cams read with the leads in another order: where each stands when they are put right, all
/// within a degree.
fn reordered(on: [usize; 4]) -> Bench {
    let engine = four_cams(false);
    let at = |cam: usize| engine.expected(cam).expect("absolute").0.get();
    // The lead called `cam` is on the sensor of `on[cam]`.
    let off: Vec<f64> = (0..4).map(|cam| at(on[cam]) - at(cam)).collect();
    let mut bench = Bench::new(four_cams(false), &off);
    let positions =
        (0..4).map(|cam| position(&bench.engine, cam, crate::units::CrankDeg::new(at(cam) + 0.2)));
    let on = (0..4).map(|cam| (cam, on[cam])).collect();
    bench.reordered = vec![LeadOrder { on, positions: positions.collect() }];
    bench
}

#[test]
fn leads_in_another_order_are_seen_for_that() {
    // Banks exchanged wholesale; intake and exhaust on both banks; all shifted by one.
    for on in [[2, 3, 0, 1], [1, 0, 3, 2], [1, 2, 3, 0], [3, 0, 1, 2]] {
        for confirmed in [false, true] {
            let bench = reordered(on);
            let verdict = if confirmed { bench.confirmed() } else { bench }.weigh();
            assert_state(&verdict, State::DoesNotFit);
            let leads = (0..4).map(|cam| (cam, on[cam])).collect();
            assert_eq!(mistake(&verdict), Some(&Mistake::Leads(leads)), "{}", told(&verdict));
            assert_eq!(verdict.next_test, Some(Test::TraceLeads));
        }
    }
}

#[test]
fn one_sensor_on_two_leads_holds_every_verdict_back() {
    for off in [[0.3, 0.1], [TOOTH, 0.0]] {
        let mut bench = Bench::new(engine(V6), &off);
        assert!(bench.weigh().state.answers());
        bench.same_sensor = vec![(0, 1)];
        let verdict = bench.weigh();
        assert_state(&verdict, State::CannotTell);
        assert_eq!(verdict.contradictions, [Contradiction::SameSensor(0, 1)]);
        assert_eq!(verdict.open, Some(Open::Contradiction(0)));
    }
    // Nor is a figure of the file blamed for it.
    let mut bench = Bench::new(engine(V6), &[0.2, 359.8]);
    assert_state(&bench.weigh(), State::DoesNotFit);
    bench.same_sensor = vec![(0, 1)];
    assert_state(&bench.weigh(), State::CannotTell);
}

#[test]
fn two_unconnected_rare_faults_are_no_verdict() {
    // One tooth late on one bank, and the wheel of the other bank's cam 101° off: no chain does
    // that.
    let verdict = Bench::new(engine(V6), &[TOOTH + 0.2, 101.0]).confirmed().weigh();
    assert!(!matches!(verdict.state, State::Jumped | State::OffNotJumped), "{}", told(&verdict));
}

#[test]
fn compression_that_contradicts_holds_a_jump_back() {
    let mut bench = Bench::new(engine(V6), &[TOOTH + 2.6, 0.0]);
    let with = |difference: f64| CompressionEvidence {
        difference,
        sd: 0.005,
        per_degree: vec![-0.015, 0.015],
        expected: Some(ExpectedChange { difference: -0.29, sd: 0.01, least_of_all: 0.0 }),
        unnamed: false,
        turn_by_cams: false,
        stands_out: true,
    };
    bench.compression = Some(with(-0.28));
    assert_state(&bench.weigh(), State::Jumped);
    // The bank that should be 29 % down is as the other.
    bench.compression = Some(with(0.0));
    let verdict = bench.weigh();
    assert_ne!(verdict.state, State::Jumped, "{}", told(&verdict));
    assert!(matches!(verdict.contradictions[0], Contradiction::Compression { .. }));
}

#[test]
fn in_time_on_typed_places_says_so_and_asks_for_a_sound_engine() {
    let bench = || Bench::new(engine(V6), &[0.4, -0.3]);
    let typed = bench().weigh();
    assert_eq!(typed.never_confirmed(), [0, 1]);
    assert_eq!(typed.next_test, Some(Test::KnownGood));
    let confirmed = bench().confirmed().weigh();
    assert!(confirmed.never_confirmed().is_empty());
    assert_eq!(confirmed.next_test, None);
}

#[test]
fn a_known_good_that_contradicts_the_file_is_told() {
    let mut bench = Bench::new(engine(V6), &[0.4, -0.3]).confirmed();
    if let Some(expected) = &mut bench.cams[0].expected {
        expected.at = expected.at + CrankDelta(27.0);
    }
    let verdict = bench.weigh();
    let told = Contradiction::KnownGood { cam: 0, later: CrankDelta(27.0) };
    assert_eq!(verdict.contradictions, [told]);
}

#[test]
fn a_finding_that_hangs_on_leads_asks_to_follow_them_first() {
    // One wheel for both banks, half a cycle apart: the leads fit either way round.
    let text = V6.replace("later = 240.0", "later = 360.0");
    let mut bench = Bench::new(engine(&text), &[TOOTH + 0.3, 0.1]);
    let mut positions = (bench.cams[1].measured.clone(), bench.cams[0].measured.clone());
    (positions.0.cam, positions.1.cam) = (0, 1);
    bench.swapped = vec![SwappedFit { cams: (0, 1), positions }];
    let verdict = bench.weigh();
    assert_eq!(verdict.either_way().collect::<Vec<_>>(), [(0, 1)]);
    assert_eq!(verdict.next_test, Some(Test::TraceLeads), "{}", told(&verdict));
    let sentence = crate::report::words::finding(&bench.engine, &verdict);
    assert!(
        sentence.contains("fit either way round: exchanged, it is the other one."),
        "{sentence}"
    );
}

#[test]
fn compression_settles_which_way_round_leads_are_that_fit_either() {
    let text = V6.replace("later = 240.0", "later = 360.0");
    let named = |difference: f64, turn_by_cams: bool| {
        let mut bench = Bench::new(engine(&text), &[TOOTH + 0.3, 0.1]);
        let mut positions = (bench.cams[1].measured.clone(), bench.cams[0].measured.clone());
        (positions.0.cam, positions.1.cam) = (0, 1);
        bench.swapped = vec![SwappedFit { cams: (0, 1), positions }];
        bench.compression = Some(CompressionEvidence {
            difference,
            sd: 0.005,
            per_degree: vec![-0.015, 0.015],
            expected: Some(ExpectedChange { difference: -0.26, sd: 0.01, least_of_all: 0.0 }),
            stands_out: difference.abs() > 0.05,
            unnamed: false,
            turn_by_cams,
        });
        bench.weigh()
    };
    let with = |difference: f64| named(difference, false);
    // Bank 1 is down as its late cam leaves it: its lead is its own.
    let settled = with(-0.25);
    assert_state(&settled, State::Jumped);
    assert_eq!(settled.either_way().count(), 0);
    assert_ne!(settled.next_test, Some(Test::TraceLeads), "{}", told(&settled));
    // Exchanged, the cams would fit a turn on and the lower compressions be those of bank 2: where
    // nothing but the cams names the cylinders, that settles nothing.
    let circular = named(-0.25, true);
    assert_eq!(circular.either_way().collect::<Vec<_>>(), [(0, 1)]);
    assert_eq!(circular.next_test, Some(Test::TraceLeads), "{}", told(&circular));
    // Both alike, or the other bank down: the leads are what to look at.
    for difference in [0.0, 0.25] {
        let open = with(difference);
        assert_eq!(open.either_way().collect::<Vec<_>>(), [(0, 1)], "{difference}");
    }
}

#[test]
fn two_orders_of_the_leads_that_fit_alike_are_both_told() {
    let mut bench = reordered([2, 3, 0, 1]);
    let other = LeadOrder {
        on: [1, 0, 3, 2].into_iter().enumerate().collect(),
        positions: bench.reordered[0].positions.clone(),
    };
    bench.reordered.push(other);
    let verdict = bench.weigh();
    assert_state(&verdict, State::DoesNotFit);
    let sentence = crate::report::words::finding(&bench.engine, &verdict);
    assert!(sentence.contains("Nearly as likely: the lead called"), "{sentence}");
    assert!(!sentence.contains("With that put right"), "{sentence}");
    // One that fits alone is told alone.
    bench.reordered.pop();
    let sentence = crate::report::words::finding(&bench.engine, &bench.weigh());
    assert!(sentence.contains("With that put right every cam stands in its place."), "{sentence}");
    assert!(!sentence.contains("Nearly as likely"), "{sentence}");
}

#[test]
fn leads_of_two_kinds_of_wheel_exchanged_are_leads_and_not_two_wrong_wheels() {
    let mut bench = reordered([2, 3, 0, 1]);
    // On each other's sensors every wheel is read with its edges anywhere, and the library has one
    // that fits.
    for cam in &mut bench.cams {
        for (edge, off) in cam.measured.edges.iter_mut().zip([9.0, -7.0, 15.0, -11.0, 12.0, -14.0])
        {
            edge.off = CrankDelta(off);
        }
    }
    bench.other_wheels = (0..4).map(|cam| (cam, "four-plus-one".into())).collect();
    let verdict = bench.weigh();
    assert_state(&verdict, State::DoesNotFit);
    let leads = [2, 3, 0, 1].into_iter().enumerate().collect();
    assert_eq!(mistake(&verdict), Some(&Mistake::Leads(leads)), "{}", told(&verdict));
}

#[test]
fn a_skip_shows_bank_against_bank_though_every_place_is_off_alike() {
    // 74° is `tdc`: every `at` counted from TDC, and bank 2 a tooth late besides.
    let verdict = Bench::new(engine(V6), &[74.2, 74.0 + TOOTH]).weigh();
    assert_state(&verdict, State::Jumped);
    let is =
        |place: &crate::verdict::Place| place.on.as_deref() == Some("B2") && place.teeth == Some(1);
    assert!(verdict.places.iter().any(is), "{}", told(&verdict));
}

#[test]
fn a_wheel_of_the_library_that_fits_is_named() {
    // Read as the wheel described the cam is 87° off, its edges 3 to 15° from where they belong;
    // another one fits them all.
    let mut bench = Bench::new(engine(V6), &[0.2, 87.0]);
    for (edge, off) in
        bench.cams[1].measured.edges.iter_mut().zip([9.0, -7.0, 15.0, -11.0, 12.0, -14.0])
    {
        edge.off = CrankDelta(off);
    }
    bench.other_wheels = vec![(1, "four-plus-one".into())];
    let verdict = bench.weigh();
    assert_state(&verdict, State::DoesNotFit);
    let wheel = Mistake::Wheel { cam: 1, with: vec![], fits: Some("four-plus-one".into()) };
    assert_eq!(mistake(&verdict), Some(&wheel), "{}", told(&verdict));
}

/// A whole turn between two banks is a matter of the wheels and seldom comes of a wrong digit: of
/// two banks three teeth apart, held against each other by such a figure alone, one jumped. By a
/// figure that was read off somewhere it stays a question.
#[test]
fn a_whole_turn_between_banks_is_doubted_less_than_a_figure_that_was_read_off() {
    let text = V6.replace("at = 113.0\nat_sd = 1.0\n", "");
    let with = |later: &str| {
        let text = text.replace("later = 240.0", later);
        Bench::new(engine(&text), &[0.0, 3.0 * TOOTH]).without_code().weigh()
    };
    let (turn, read_off) = (with("later = 360.0"), with("later = 240.0"));
    assert!(turn.questions.skipped > read_off.questions.skipped);
    assert_state(&turn, State::Jumped);
    assert_ne!(read_off.state, State::Jumped, "{}", told(&read_off));
}
