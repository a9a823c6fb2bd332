//! Every finding, and every thing that is left open.

use super::*;

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
            open(vec![in_time(), skip()], Open::Moved(0)),
            "Cannot tell. B1 intake moved out of its tolerance during the capture, so that it was not in its place all the \
             while. Check what can move it, and capture steady cranking alone."
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
