//! Every kind of explanation and every reason, and what comes along with one.

use super::*;

#[test]
fn each_explanation_has_its_words_and_its_number() {
    let engine = engine();
    let in_time = |furthest| weighed(Kind::InTime, None, &[], Reason::InTime { furthest });
    let against = CamDeviation { against: Some(1), ..at(3, -0.9) };
    let nowhere = CamDeviation { against: Some(3), ..at(3, 0.0) };
    let stand = || vec![at(0, 9.0), at(2, 0.02)];
    let same_as = |names: &[&str]| {
        let mut skip = skip();
        if let Reason::Skip { same_as, .. } = &mut skip.reason {
            *same_as = names.iter().map(|&name| name.to_owned()).collect();
        }
        skip
    };
    let damaged = |worst_edge: Option<f64>| {
        let reason = Reason::DamagedTooth { worst_edge: worst_edge.map(CrankDelta) };
        weighed(Kind::DamagedTooth, Some("B2 intake"), &["B2 intake"], reason)
    };
    let crossed = Weighed {
        crossed_with: Some("B2 intake".into()),
        ..weighed(Kind::LeadsCrossed, Some("B1 intake"), &["B1 intake"], Reason::LeadsCrossed)
    };
    let crank = Reason::CrankReferenceMoved { stand: stand() };
    let wheel = Reason::CamWheelMoved { stand: vec![against] };
    // (explanation, what it is, why)
    let rows = [
        (
            in_time(Some(at(0, 1.04))),
            "all in time",
            "The largest deviation is B1 intake 1.0° late; the tolerance is 5.0°.",
        ),
        (in_time(None), "all in time", "No cam could be held against a known place."),
        (
            skip(),
            "a skip of the primary chain at B1 intake, 1 tooth (1 link) late",
            "1 tooth (1 link) late is 17.1° late (17.1° a tooth): B1 intake 17.4° late and B1 exhaust 16.9° late.",
        ),
        (
            same_as(&["crank"]),
            "a skip of the primary chain at B1 intake, 1 tooth (1 link) late",
            "1 tooth (1 link) late is 17.1° late (17.1° a tooth): B1 intake 17.4° late and B1 exhaust 16.9° late. A skip on crank \
             would look the same.",
        ),
        (
            skip_of_unknown_size(&["B2 exhaust"]),
            "a skipped chain that moves B2 exhaust",
            "A skip of unknown size, as no sprockets are described: B2 exhaust 22.0° early.",
        ),
        (
            wear(Some("primary"), &ALL, Some(0.84)),
            "a worn primary chain",
            "Wear makes cams late by less than a tooth: B1 intake 6.2° late; varying by 0.8° from cycle to cycle.",
        ),
        (
            wear(Some("primary"), &["B2 intake", "B2 exhaust"], Some(0.02)),
            "a worn primary chain on its way to B2 intake and B2 exhaust",
            "Wear makes cams late by less than a tooth: B1 intake 6.2° late; varying by less than 0.1° from cycle to cycle.",
        ),
        (
            wear(Some("bank 2 chain"), &["B2 exhaust"], None),
            "a worn bank 2 chain",
            "Wear makes cams late by less than a tooth: B1 intake 6.2° late.",
        ),
        (
            wear(None, &ALL, None),
            "a worn chain",
            "Wear makes cams late by less than a tooth: B1 intake 6.2° late.",
        ),
        (
            wear(None, &ALL[..2], None),
            "a worn chain on its way to B1 intake and B1 exhaust",
            "Wear makes cams late by less than a tooth: B1 intake 6.2° late.",
        ),
        (
            phasers(Some("B1 intake"), &["B1 intake"], Some(-50.0)),
            "the phaser of B1 intake away from rest",
            "B1 intake 20.0° early. Its phaser can take it 50.0° early.",
        ),
        (
            said(PhaserSaid::Nothing),
            "the phaser of B1 intake away from rest, if it has one: the engine file does not say",
            "B1 intake 20.0° early.",
        ),
        (
            said(PhaserSaid::Absent { line: Some(24) }),
            "the phaser of B1 intake away from rest, though none is described (line 24 of the engine file)",
            "B1 intake 20.0° early.",
        ),
        (
            said(PhaserSaid::Otherwise { line: None }),
            "the phaser of B1 intake away from rest, further or the other way than described",
            "B1 intake 20.0° early.",
        ),
        (
            phasers(None, &ALL[..3], Some(40.0)),
            "the phasers of B1 intake, B1 exhaust and B2 intake away from rest",
            "B1 intake 20.0° early. A phaser can take its cam 40.0° late.",
        ),
        (
            phasers(None, &ALL, None),
            "the phasers of all cams away from rest",
            "B1 intake 20.0° early.",
        ),
        (
            weighed(Kind::CrankReferenceMoved, Some("crank"), &ALL, crank),
            "crank wheel, key or TDC reference moved",
            "Every cam would be off alike: B1 intake 9.0° late and B2 intake in place.",
        ),
        (
            weighed(Kind::CamWheelMoved, Some("B2 exhaust"), &["B2 exhaust"], wheel),
            "the trigger wheel of B2 exhaust moved",
            "The wheel of this cam alone, by any amount: B2 exhaust 0.9° early against B1 exhaust.",
        ),
        (
            weighed(
                Kind::CamWheelMoved,
                Some("B2 exhaust"),
                &["B2 exhaust"],
                Reason::CamWheelMoved { stand: vec![nowhere] },
            ),
            "the trigger wheel of B2 exhaust moved",
            "The wheel of this cam alone, by any amount: B2 exhaust of unknown place.",
        ),
        (
            weighed(
                Kind::CamWheelMoved,
                Some("B2 exhaust"),
                &["B2 exhaust"],
                Reason::CamWheelMoved { stand: vec![] },
            ),
            "the trigger wheel of B2 exhaust moved",
            "The wheel of this cam alone, by any amount: not measured, so only its prior odds speak.",
        ),
        (
            damaged(Some(-7.0)),
            "a damaged tooth on the wheel of B2 intake",
            "The worst edge of its wheel lies 7.0° early of the rest.",
        ),
        (
            damaged(Some(0.04)),
            "a damaged tooth on the wheel of B2 intake",
            "Each edge of its wheel that was seen lies where the others do.",
        ),
        (
            damaged(None),
            "a damaged tooth on the wheel of B2 intake",
            "Its edges were not measured.",
        ),
        (
            crossed,
            "the leads of B1 intake and B2 intake exchanged",
            "With the two leads exchanged both cams fit better. Two places exchanged in the engine file would look the same.",
        ),
        (
            weighed(
                Kind::DoesNotFit,
                None,
                &ALL,
                Reason::DoesNotFit { mistake: Mistake::OtherEngine, stand: vec![] },
            ),
            "an engine file that is not right",
            "The engine file is of another engine, or the leads are elsewhere: all cams stand nowhere near their places.",
        ),
    ];
    for (one, name, reason) in &rows {
        assert_eq!(
            (explanation(&engine, one), why(&engine, one)),
            ((*name).into(), (*reason).into())
        );
    }
    for kind in Kind::ALL {
        assert!(rows.iter().any(|(one, ..)| one.kind == kind), "a row for {kind:?}");
    }
}

#[test]
fn what_comes_along_is_said_after_the_reason() {
    let engine = engine();
    let second = |chain: usize, teeth| SecondFault::Skip { on: "B2 intake".into(), chain, teeth };
    // (second fault, what is said)
    let rows = [
        (SecondFault::None, ""),
        (SecondFault::Wear(Some(0)), " The rest fits a worn primary chain."),
        (SecondFault::Wear(None), " The rest fits a worn chain."),
        (
            SecondFault::Phasers(vec![0, 2]),
            " The rest fits a phaser away from rest on B1 intake and B2 intake.",
        ),
        (SecondFault::CrankReference, " The rest fits a moved crank wheel, key or TDC reference."),
        (SecondFault::CamWheel(3), " The rest fits a moved trigger wheel of B2 exhaust."),
        (
            SecondFault::DamagedTooth(1),
            " The rest fits a damaged tooth on the wheel of B1 exhaust.",
        ),
        (
            second(0, -2),
            " The rest fits a second skip, of the primary chain at B2 intake, 2 teeth (2 links) early.",
        ),
        (
            SecondFault::Crossed(0, 2),
            " This is with the leads of B1 intake and B2 intake exchanged.",
        ),
    ];
    let alone = why(&engine, &skip());
    for (second_fault, said) in rows {
        let both = Weighed { second_fault, ..skip() };
        assert_eq!(why(&engine, &both), format!("{alone}{said}"));
    }
}
