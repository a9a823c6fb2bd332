//! The technician's sentences, read whole: one row for each kind, reason and thing left open.

use std::path::Path;

use super::*;
use crate::engine::Engine;
use crate::units::CrankDelta;
use crate::verdict::{
    CamDeviation, Cranking, Kind, Mistake, Open, Place, Questions, Reason, SecondFault, SkipShift,
    State, Unobservable, Verdict, Weighed,
};

/// An invented V6 with four cams: a primary chain to the intakes, one of 28 on 28 teeth on each bank.
fn engine() -> Engine {
    let cam = |name: &str, bank: u32, shaft: &str, at: f64| {
        format!(
            "[[cam]]\nname = \"{name}\"\nbank = {bank}\nshaft = \"{shaft}\"\nsensor = \"hall\"\n\
             wheel = \"three-uneven\"\nat = {at}\nphaser = {{ rest = \"retarded\", travel = 50.0 }}\n"
        )
    };
    let chain = |name: &str, driver: &str, driven: &str| {
        format!(
            "[[chain]]\nname = \"{name}\"\nkind = \"chain\"\ndriver = {driver}\ndriven = [{driven}]\n"
        )
    };
    let on = |on: &str, teeth: u32| format!("{{ on = \"{on}\", teeth = {teeth} }}");
    let text = [
        "name = \"invented V6\"\nfiring_order = [1, 6, 5, 4, 3, 2]\n[banks]\n1 = [1, 2, 3]\n2 = [4, 5, 6]\n\
         [crank]\nwheel = \"36-2\"\nsensor = \"hall\"\nedge = \"falling\"\n"
            .to_owned(),
        cam("B1 intake", 1, "intake", 113.0),
        cam("B1 exhaust", 1, "exhaust", 173.0),
        cam("B2 intake", 2, "intake", 353.0),
        cam("B2 exhaust", 2, "exhaust", 413.0),
        chain("primary", &on("crank", 21), &[on("B1 intake", 42), on("B2 intake", 42)].join(", ")),
        chain("bank 1", &on("B1 intake", 28), &on("B1 exhaust", 28)),
        chain("bank 2 chain", &on("B2 intake", 28), &on("B2 exhaust", 28)),
    ];
    Engine::parse(&text.concat(), Path::new("engine.toml")).expect("a sound description")
}

fn at(cam: usize, late: f64) -> CamDeviation {
    CamDeviation { cam, deviation: CrankDelta(late), against: None }
}

fn weighed(kind: Kind, on: Option<&str>, moves: &[&str], reason: Reason) -> Weighed {
    Weighed {
        kind,
        on: on.map(str::to_owned),
        chain: None,
        teeth: None,
        links: None,
        moves: moves.iter().map(|&name| name.to_owned()).collect(),
        crossed_with: None,
        probability: 0.6,
        reason,
        second_fault: SecondFault::None,
    }
}

/// A tooth late at the intake of bank 1, by 25.1° and 24.6°.
fn skip() -> Weighed {
    let shift = Some(SkipShift { by: CrankDelta(17.142_857), tooth: CrankDelta(17.142_857) });
    let reason = Reason::Skip { stand: vec![at(0, 17.4), at(1, 16.9)], shift, same_as: vec![] };
    let moves = ["B1 intake", "B1 exhaust"];
    Weighed {
        chain: Some("primary".into()),
        teeth: Some(1),
        links: Some(1),
        ..weighed(Kind::Skip, Some("B1 intake"), &moves, reason)
    }
}

fn skip_of_unknown_size(moves: &[&str]) -> Weighed {
    let reason = Reason::Skip { stand: vec![at(3, -22.0)], shift: None, same_as: vec![] };
    weighed(Kind::Skip, None, moves, reason)
}

fn wear(chain: Option<&str>, moves: &[&str], scatter: Option<f64>) -> Weighed {
    let reason = Reason::Wear { stand: vec![at(0, 6.2)], scatter: scatter.map(CrankDelta) };
    Weighed { chain: chain.map(str::to_owned), ..weighed(Kind::Wear, None, moves, reason) }
}

fn phasers(on: Option<&str>, moves: &[&str], travel: Option<f64>) -> Weighed {
    let travel = travel.map(CrankDelta);
    let reason = Reason::PhaserOffRest { stand: vec![at(0, -20.0)], travel };
    weighed(Kind::PhaserOffRest, on, moves, reason)
}

const ALL: [&str; 4] = ["B1 intake", "B1 exhaust", "B2 intake", "B2 exhaust"];

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
            damaged(None),
            "a damaged tooth on the wheel of B2 intake",
            "Its edges were not measured.",
        ),
        (
            crossed,
            "the leads of B1 intake and B2 intake exchanged",
            "With the two leads exchanged both cams fit better.",
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

/// A verdict with these explanations; every field that the sentence reads can be changed.
fn verdict(state: State, explanations: Vec<Weighed>, open: Option<Open>) -> Verdict {
    Verdict {
        state,
        probability: 0.995,
        teeth: None,
        links: None,
        on: None,
        chain: None,
        moves: vec![],
        places: vec![],
        covers: vec![0, 1, 2, 3],
        covers_every_cam: true,
        accused: vec![],
        controller: vec![],
        after_repair: false,
        cranking: Cranking::Free,
        questions: Questions { skipped: 0.996, ..Questions::default() },
        open,
        deviations: vec![at(0, 17.4), at(1, 16.9), at(2, 0.3)],
        explanations,
        compression: None,
        next_test: None,
        contradictions: vec![],
        codes: vec![],
        caveats: vec![],
    }
}

#[test]
fn each_finding_is_told_with_what_it_rests_on() {
    let engine = engine();
    let in_time =
        || weighed(Kind::InTime, None, &[], Reason::InTime { furthest: Some(at(0, 17.4)) });
    let crossed = Weighed {
        crossed_with: Some("B2 intake".into()),
        ..weighed(
            Kind::LeadsCrossed,
            Some("B1 intake"),
            &["B1 intake", "B2 intake"],
            Reason::LeadsCrossed,
        )
    };
    let found = |state, explanations| verdict(state, explanations, None);
    let open = |explanations, open| verdict(State::CannotTell, explanations, Some(open));
    let hidden = |because| Open::Unobservable { fault: 1, because };
    let place = |on: &str, teeth, moves: &[&str], probability| Place {
        on: Some(on.into()),
        chain: Some("primary".into()),
        teeth: Some(teeth),
        links: Some(teeth),
        moves: moves.iter().map(|&name| name.to_owned()).collect(),
        probability,
    };
    let somewhere = |places| Verdict { places, ..found(State::Jumped, vec![skip(), in_time()]) };
    let part = Verdict {
        covers: vec![0, 2],
        covers_every_cam: false,
        ..found(State::InTime, vec![in_time(), skip()])
    };
    let against = CamDeviation { against: Some(0), ..at(2, 0.7) };
    let relative = Verdict {
        deviations: vec![CamDeviation { against: Some(0), ..at(0, 0.0) }, against],
        ..open(vec![in_time(), skip()], hidden(Unobservable::RelationsOnly))
    };
    let rows = [
        (
            found(State::InTime, vec![in_time(), skip()]),
            "In time. The largest deviation is B1 intake 17.4° late; the tolerance is 5.0°.".into(),
        ),
        (
            part,
            "In time for B1 intake and B2 intake; B1 exhaust and B2 exhaust were not measured. The largest deviation is B1 \
             intake 17.4° late; the tolerance is 5.0°. The primary chain at B1 intake, the primary chain at B2 intake and \
             the primary chain at crank did not skip, or a measured cam would have moved too; the bank 1 chain at B1 exhaust \
             and the bank 2 chain at B2 exhaust may have."
                .into(),
        ),
        (
            Verdict {
                on: Some("B1 intake".into()),
                teeth: Some(1),
                ..found(State::Jumped, vec![Weighed { second_fault: SecondFault::Wear(None), ..skip() }])
            },
            "The primary chain has very likely skipped at B1 intake: 1 tooth (1 link) late (17.1° late). B1 intake 17.4° late \
             and B1 exhaust 16.9° late. Displaced: B1 intake and B1 exhaust. Do not run this engine. The rest fits a worn \
             chain."
                .into(),
        ),
        (
            somewhere(vec![
                place("B2 intake", 1, &ALL[2..], 0.55),
                place("B1 intake", -1, &ALL[..2], 0.446),
            ]),
            "One bank has moved 1 tooth (1 link) against the other (99.6 %). Which: bank 2 late (55.0 %) and bank 1 early \
             (44.6 %). B1 intake 17.4° late, B1 exhaust 16.9° late and B2 intake 0.3° late. Do not run this engine."
                .into(),
        ),
        (
            somewhere(vec![
                place("B2 intake", 1, &ALL[2..], 0.55),
                place("B2 intake", 2, &ALL[2..], 0.446),
            ]),
            "A chain has very likely skipped (99.6 %). Where or how far is open: the primary chain at B2 intake, 1 tooth (1 \
             link) late (55.0 %); the primary chain at B2 intake, 2 teeth (2 links) late (44.6 %). B1 intake 17.4° late, B1 \
             exhaust 16.9° late and B2 intake 0.3° late. Do not run this engine."
                .into(),
        ),
        (
            found(State::DriveDue, vec![skip(), wear(Some("primary"), &ALL, None)]),
            "The timing drive is very likely due: a skip of the primary chain at B1 intake, 1 tooth (1 link) late (60.0 %) or a \
             worn primary chain (60.0 %). Which of the two is open; the same covers come off for either. B1 intake 17.4° \
             late, B1 exhaust 16.9° late and B2 intake 0.3° late. Do not run this engine."
                .into(),
        ),
        (
            found(State::OffNotJumped, vec![phasers(Some("B2 intake"), &["B2 intake"], None)]),
            "Something is off, and it is very likely not a skipped chain. Likeliest: the phaser of B2 intake away from rest. \
             B2 intake 0.3° late."
                .into(),
        ),
        (
            found(State::OffNotJumped, vec![crossed]),
            "Something is off, and it is very likely not a skipped chain. Likeliest: the leads of B1 intake and B2 intake \
             exchanged. With them put right the reading is B1 intake 17.4° late and B2 intake 0.3° late."
                .into(),
        ),
        (open(vec![in_time()], Open::NoCam), "Cannot tell: no cam was measured.".into()),
        (
            open(vec![in_time(), skip()], Open::Outlier(1)),
            "Cannot tell. One reading is out of place: B1 exhaust 16.9° late, tolerance 5.0°. It may be a faulty reading, but \
             that is not shown. Check the lead, sensor and wheel of B1 exhaust and the place its cam should have, then \
             capture again."
                .into(),
        ),
        (
            open(vec![in_time(), skip()], hidden(Unobservable::PlaceUncertain)),
            "Cannot tell. Nothing measured is out of place, but a skip of the primary chain at B1 intake, 1 tooth (1 link) late \
             would not show: where the cams belong is not known well enough. The largest deviation is B1 intake 17.4° late; \
             the tolerance is 5.0°."
                .into(),
        ),
        (
            relative,
            "The cams agree with each other: B2 intake 0.7° late against B1 intake. Whether all of them are in time cannot be \
             told: the cams are only known against each other, and a skip of the primary chain at B1 intake, 1 tooth (1 link) \
             late would not show."
                .into(),
        ),
        (
            open(vec![in_time(), skip()], Open::Repeats(2)),
            "Cannot tell. Nothing measured is out of place, but the wheels look alike several times a turn, and B2 intake alone \
             does not settle which time is which. The largest deviation is B1 intake 17.4° late; the tolerance is 5.0°."
                .into(),
        ),
        (
            open(vec![skip(), in_time()], Open::Odds),
            "Cannot tell. Likeliest is a skip of the primary chain at B1 intake, 1 tooth (1 link) late, then all in time. B1 \
             intake 17.4° late, B1 exhaust 16.9° late and B2 intake 0.3° late."
                .into(),
        ),
    ];
    for (verdict, said) in rows {
        let said: String = said;
        assert_eq!(finding(&engine, &verdict), said);
        assert!(!said.contains("  "), "{said}");
    }
}
