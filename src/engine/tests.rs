//! Worked drive trees (docs/sources.md, "Drives") and the refusals of engine files.

use std::path::Path;

use super::*;
use crate::units::CrankDelta;

/// A V6 with one cam sensor per bank and a single primary chain.
const V6: &str = r#"
name = "invented V6"
firing_order = [1, 2, 3, 4, 5, 6]
[banks]
1 = [1, 3, 5]
2 = [2, 4, 6]
[crank]
wheel = "36-2"
sensor = "hall"
edge = "falling"
tdc = 74.0
[[cam]]
name = "B1 intake"
bank = 1
shaft = "intake"
wheel = "three-uneven"
sensor = "hall"
at = 113.0
at_sd = 1.0
phaser = { rest = "retarded", travel = 50.0 }
[[cam]]
name = "B2 intake"
bank = 2
shaft = "intake"
same_as = { cam = "B1 intake", later = 360.0 }
[[chain]]
name = "primary"
kind = "chain"
driver = { on = "crank", teeth = 21 }
driven = [ { on = "B1 intake", teeth = 42 }, { on = "B2 intake", teeth = 42 } ]
"#;

fn parse(text: &str) -> Result<Engine, crate::error::DescriptionError> {
    Engine::parse(text, Path::new("engine.toml"))
}

#[test]
fn the_example_reads_as_described() {
    let engine = parse(V6).expect("the example");
    assert_eq!(engine.firing_angles[1], CrankDelta(120.0));
    assert_eq!(engine.bank_of(4), Some(2));
    assert_eq!(engine.firing_tdc(2).map(|tdc| tdc.get()), Some(194.0));
    assert_eq!(engine.expected(1).map(|(at, _)| at.get()), Some(473.0));
    assert_eq!(engine.relation_root(1), (0, CrankDelta(360.0)));
    assert_eq!(engine.cams[0].tolerance, DEFAULT_TOLERANCE);
    assert_eq!(engine.cams[0].phaser.map(|p| p.full_travel()), Some(CrankDelta(-50.0)));
}

#[test]
fn a_21_tooth_crank_sprocket_steps_17_degrees_whichever_sprocket_skips() {
    // docs/sources.md, "Drives": crank sprocket N teeth: 360/N; cam sprocket 2N at ρ = 1/2: 720/2N,
    // the same.
    let engine = parse(V6).expect("V6");
    let places = engine.drive.skip_places(&["B1 intake", "B2 intake"]);
    assert_eq!(places.len(), 3);
    for place in &places {
        assert!((place.step.0 - 360.0 / 21.0).abs() < 1e-12);
    }
    let moves: Vec<_> =
        places.iter().map(|place| (place.on.as_str(), place.moves.clone())).collect();
    assert_eq!(moves, [("B1 intake", vec![0]), ("B2 intake", vec![1]), ("crank", vec![0, 1])]);
}

#[test]
fn a_two_stage_drive_has_a_step_per_chain() {
    // Worked: crank 24 → idler 32 (ρ = 3/4): step 360/24 = 15°. Idler 20 → cams 30
    // (ρ = 3/4 · 2/3 = 1/2): step 360/(20 · 3/4) = 24°. Intake 25 → exhaust 25: 360/(25/2) = 28.8°.
    let text = r#"
name = "two stages"
firing_order = [1, 3, 4, 2]
[crank]
wheel = "60-2"
sensor = "reluctance"
[[cam]]
name = "intake"
bank = 1
shaft = "intake"
wheel = "half-moon"
sensor = "hall"
[[cam]]
name = "exhaust"
bank = 1
shaft = "exhaust"
wheel = "half-moon"
sensor = "hall"
[[chain]]
name = "cam link"
kind = "chain"
driver = { on = "intake", teeth = 25 }
driven = [ { on = "exhaust", teeth = 25 } ]
[[chain]]
name = "primary"
kind = "chain"
driver = { on = "crank", teeth = 24 }
driven = [ { on = "idler", teeth = 32 } ]
[[chain]]
name = "secondary"
kind = "chain"
driver = { on = "idler", teeth = 20 }
driven = [ { on = "intake", teeth = 30 } ]
"#;
    let engine = parse(text).expect("two stages");
    let steps: Vec<(&str, f64)> =
        engine.drive.chains.iter().map(|chain| (chain.name.as_str(), chain.step().0)).collect();
    for ((name, got), (want_name, want)) in
        steps.iter().zip([("primary", 15.0), ("secondary", 24.0), ("cam link", 28.8)])
    {
        assert_eq!(*name, want_name);
        assert!((got - want).abs() < 1e-9, "{name}: want {want}, got {got}");
    }
    let places = engine.drive.skip_places(&["intake", "exhaust"]);
    let told: Vec<_> = places
        .iter()
        .map(|place| (place.on.as_str(), place.same_as.len(), place.moves.len()))
        .collect();
    // Either sprocket of a two-sprocket chain moves the same cams and is one place.
    assert_eq!(told, [("idler", 2, 2), ("intake", 2, 2), ("exhaust", 2, 1)]);
}

#[test]
fn the_level_over_a_tooth_belongs_to_a_hall_signal_of_slots() {
    let with = |extra: &str| V6.replacen("edge = \"falling\"", extra, 1);
    let stated = parse(&with("edge = \"falling\"\nover_tooth = \"low\"")).expect("a Hall signal");
    assert_eq!(stated.crank.over_tooth, Some(Level::Low));
    assert_eq!(parse(V6).expect("unsaid").crank.over_tooth, None);
    let reluctance = with("over_tooth = \"low\"").replacen("\"hall\"", "\"reluctance\"", 1);
    let middle = with("over_tooth = \"middle\"");
    for (text, word) in [(reluctance, "only a Hall signal"), (middle, "middle")] {
        let error = parse(&text).expect_err("refused").to_string();
        assert!(error.contains("over_tooth") && error.contains(word), "{error}");
    }
}

#[test]
fn contradictory_descriptions_are_refused_with_line_and_key() {
    let with = |from: &str, to: &str| V6.replacen(from, to, 1);
    let rows = [
        (with("teeth = 42 }, {", "teeth = 40 }, {"), "chain", "21/40"),
        (
            with("on = \"B2 intake\", teeth", "on = \"B1 intake\", teeth"),
            "chain \"primary\".driven",
            "driven twice",
        ),
        (with("on = \"crank\"", "on = \"idler\""), "chain \"primary\".driver", "nothing drives"),
        (with("cam = \"B1 intake\"", "cam = \"B2 intake\""), "cam \"B2 intake\".same_as", "ring"),
        (with("cam = \"B1 intake\"", "cam = \"B9\""), "cam \"B2 intake\".same_as", "B9"),
        (with("bank = 2", "bank = 7"), "cam \"B2 intake\".bank", "bank 7"),
        (with("travel = 50.0", "travel = -5.0"), "cam \"B1 intake\".phaser.travel", "-5"),
        // A phaser that rests outside its travel: none, more than the cam's cycle allows, or no
        // number.
        (with("travel = 50.0", "travel = 0.0"), "cam \"B1 intake\".phaser.travel", "0 is outside"),
        (with("travel = 50.0", "travel = 400.0"), "cam \"B1 intake\".phaser.travel", "400"),
        (with("travel = 50.0", "travel = nan"), "cam \"B1 intake\".phaser.travel", "NaN"),
        // Two cams that are each described by the other.
        (
            with(
                "wheel = \"three-uneven\"\nsensor = \"hall\"\nat = 113.0\nat_sd = 1.0",
                "same_as = { cam = \"B2 intake\", later = 360.0 }",
            ),
            "cam \"B1 intake\".same_as",
            "ring",
        ),
        // Chains that turn no cam of the description: a pump, and an idler that drives nothing.
        (
            format!(
                "{V6}[[chain]]\nname = \"pump\"\nkind = \"chain\"\ndriver = {{ on = \"crank\", teeth = 20 }}\n\
                 driven = [ {{ on = \"oil pump\", teeth = 25 }} ]\n"
            ),
            "chain \"pump\"",
            "drives no cam",
        ),
        (with("driven = [ {", "driven = [] #"), "chain \"primary\".driven", "drives nothing"),
        (with("name = \"B2 intake\"", "name = \"B1 intake\""), "cam.name", "twice"),
        (with("tdc = 74.0", "tdc = 374.0"), "crank.tdc", "374"),
        (with("firing_order = [1, 2", "firing_order = [2, 1"), "firing_order", "cylinder 1"),
        (with("2 = [2, 4, 6]", "2 = [2, 4]"), "banks", "cylinder 6"),
        (with("wheel = \"36-2\"", "wheel = \"36-2-2-2\""), "crank.wheel", "36-2-2-2"),
        (with("at = 113.0", "at = nan"), "cam \"B1 intake\".at", "NaN"),
        (with("sensor = \"hall\"\nat", "at"), "cam \"B1 intake\".sensor", "missing"),
        (
            with("wheel = \"three-uneven\"", "wheel = { slots = 4, missing = [9] }"),
            "cam \"B1 intake\".wheel.missing",
            "slot 9",
        ),
    ];
    for (text, key, shows) in rows {
        let error = parse(&text).expect_err(key);
        assert_eq!(error.key, key, "{error}");
        assert!(error.to_string().contains(shows), "{error} should show {shows}");
    }
    let unknown = parse(&with("tdc = 74.0", "tcd = 74.0")).expect_err("unknown key");
    assert_eq!(unknown.line, Some(11), "{unknown}");
    // An end of travel that does not exist is a word the reader does not know.
    let rest = parse(&with("rest = \"retarded\"", "rest = \"nowhere\"")).expect_err("rest");
    assert!(rest.to_string().contains("nowhere") && rest.line.is_some(), "{rest}");
    let missing = parse(&with("firing_order = [1, 2, 3, 4, 5, 6]", "")).expect_err("missing key");
    assert!(missing.to_string().contains("firing_order"), "{missing}");
}

#[test]
fn limits_have_their_message() {
    let cam = |number: usize| {
        format!(
            "[[cam]]\nname = \"cam {number}\"\nbank = 1\nshaft = \"single\"\nwheel = \"half-moon\"\nsensor = \"hall\"\n"
        )
    };
    let engine = |cylinders: usize, wheel: &str, cams: usize| {
        let order: Vec<String> = (1..=cylinders).map(|cylinder| cylinder.to_string()).collect();
        let cams: String = (0..cams).map(cam).collect();
        let order = order.join(", ");
        format!(
            "name = \"x\"\nfiring_order = [{order}]\n[crank]\nwheel = {wheel}\nsensor = \"hall\"\n{cams}"
        )
    };
    assert!(parse(&engine(24, "\"720-2\"", 16)).is_ok(), "the limits themselves");
    let teeth: Vec<String> = (0..721)
        .map(|tooth| {
            let start = f64::from(tooth) * 0.49;
            format!("{{ start = {start:.2}, end = {:.2} }}", start + 0.2)
        })
        .collect();
    let many_teeth = format!("{{ teeth = [{}] }}", teeth.join(", "));
    let rows = [
        (engine(25, "\"36-2\"", 1), "25 cylinders are more than 24"),
        (engine(4, "\"36-2\"", 17), "17 cams are more than 16"),
        (engine(4, "{ slots = 721 }", 1), "721 slots is outside 1 to 720"),
        (engine(4, &many_teeth, 1), "721 teeth are more than 720"),
    ];
    for (text, part) in rows {
        let message = parse(&text).expect_err(part).to_string();
        assert!(message.contains(part), "{message}");
    }
    let message = parse(&engine(4, "\"721\"", 1)).expect_err("too fine").to_string();
    assert!(message.contains("721 slots of \"721\" are more than 720"), "{message}");
}

#[test]
fn what_looks_odd_is_noted_and_read_all_the_same() {
    use EngineNote::{InARow, SamePlace, ServesSeveralBanks, SourceOfNothing, Wrapped};
    let with = |from: &str, to: &str| {
        let text = V6.replacen(from, to, 1);
        assert_ne!(text, V6, "{from}");
        parse(&text).expect(to)
    };
    assert_eq!(parse(V6).expect("V6").notes, []);
    let wrapped = with("at = 113.0", "at = 833.0");
    assert_eq!(wrapped.expected(0).map(|(at, _)| at.get()), Some(113.0));
    let note = Wrapped { cam: "B1 intake".into(), given: 833.0, taken: 113.0 };
    assert_eq!(wrapped.notes, [note]);
    assert!(matches!(&with("at = 113.0", "at = -7.0").notes[..], [Wrapped { taken: 713.0, .. }]));
    assert!(parse(&V6.replacen("at = 113.0", "at = 11300.0", 1)).is_err(), "no place at all");
    // The banks typed for numbers that run along each bank, on an engine that counts across.
    let along = with("1 = [1, 3, 5]\n2 = [2, 4, 6]", "1 = [1, 2, 3]\n2 = [4, 5, 6]");
    assert!(matches!(&along.notes[..], [InARow { cylinders, .. }] if cylinders.len() == 3));
    let angles = "[1, 2, 3, 4, 5, 6]\nfiring_angles = [0, 120, 240, 360, 480, 600]\n";
    let meant = V6
        .replacen("1 = [1, 3, 5]\n2 = [2, 4, 6]", "1 = [1, 2, 3]\n2 = [4, 5, 6]", 1)
        .replacen("[1, 2, 3, 4, 5, 6]\n", angles, 1);
    assert_eq!(parse(&meant).expect("said on purpose").notes, []);
    // Public firing orders of V engines and boxers, which alternate or nearly do (from memory).
    for (order, first, second) in [
        ("1, 4, 2, 5, 3, 6", "1, 2, 3", "4, 5, 6"),
        ("1, 8, 4, 3, 6, 5, 7, 2", "1, 3, 5, 7", "2, 4, 6, 8"),
        ("1, 6, 2, 4, 3, 5", "1, 2, 3", "4, 5, 6"),
        ("1, 3, 4, 2", "1, 3", "2, 4"),
    ] {
        let text = V6
            .replacen("[1, 2, 3, 4, 5, 6]", &format!("[{order}]"), 1)
            .replacen("[1, 3, 5]", &format!("[{first}]"), 1)
            .replacen("[2, 4, 6]", &format!("[{second}]"), 1);
        assert_eq!(parse(&text).expect(order).notes, [], "{order}");
    }
    let same = SamePlace { first: "B1 intake".into(), second: "B2 intake".into() };
    assert_eq!(with("later = 360.0", "later = 0.0").notes, std::slice::from_ref(&same));
    let unplaced = V6.replacen("at = 113.0\nat_sd = 1.0\n", "", 1).replacen(
        "later = 360.0",
        "later = 720.0",
        1,
    );
    assert!(parse(&unplaced).is_err(), "720 later is outside the range");
    let unplaced = unplaced.replacen("later = 720.0", "later = 0.2", 1);
    assert_eq!(parse(&unplaced).expect("no places").notes, [same]);
    let middle = with("rest = \"retarded\"", "rest = \"middle\"");
    assert_eq!(middle.notes, [], "it moves its cam either way, and is weighed so");
    let range = middle.cams[0].phaser.map(|phaser| phaser.range());
    assert_eq!(range, Some((CrankDelta(-50.0), CrankDelta(50.0))));
    let sourced = with("at = 113.0\nat_sd = 1.0\n", "source = \"a sheet\"\n");
    assert_eq!(sourced.notes, [SourceOfNothing { cam: "B1 intake".into() }]);
    let both = with("bank = 1\n", "bank = [1, 2]\n");
    assert_eq!(both.notes, [ServesSeveralBanks { cam: "B1 intake".into(), bank: 1 }]);
    for note in [wrapped, along, both, sourced].iter().flat_map(|engine| &engine.notes) {
        let text = note.to_string();
        assert!(text.ends_with('.') && text.len() > 60, "{text}");
    }
}

#[test]
fn what_a_description_tells_beside_the_figures_is_carried() {
    let text = V6
        .replacen("name = \"invented V6\"", "name = \"invented V6\"\ninterference = true", 1)
        .replacen("[crank]", "[bank_places]\n1 = \"front, towards the radiator\"\n[crank]", 1)
        .replacen(
            "at = 113.0",
            "at = 113.0\nsource = \" own sound engine \"\nwhere = \"front bank\"",
            1,
        )
        .replacen("later = 360.0", "later = 360.0, source = \"counted\"", 1)
        .replacen("phaser = { rest = \"retarded\", travel = 50.0 }", "phaser = \"none\"", 1)
        .replacen("kind = \"chain\"", "kind = \"chain\"\norder = \"pulled\"", 1);
    let engine = parse(&text).expect("every key");
    assert_eq!(engine.interference, Some(true));
    assert_eq!(engine.bank_places[&1], "front, towards the radiator");
    assert_eq!(engine.cams[0].source.as_deref(), Some("own sound engine"));
    assert_eq!(engine.cams[0].place.as_deref(), Some("front bank"));
    assert_eq!(engine.cams[1].source.as_deref(), Some("counted"));
    let twice =
        text.replacen("source = \"counted\" }", "source = \"counted\" }\nsource = \"a sheet\"", 1);
    assert_eq!(parse(&twice).expect("two").cams[1].source.as_deref(), Some("a sheet; counted"));
    let known_none =
        |cam: usize| (engine.cams[cam].phaser.is_some(), engine.cams[cam].without_phaser);
    // None said, and nothing said.
    assert_eq!((known_none(0), known_none(1)), ((false, true), (false, false)));
    assert!(engine.drive.chains[0].pulled_order);
    assert_eq!(engine.cams[0].banks, [1]);
    // Without these keys nothing of them is there.
    let plain = parse(V6).expect("V6");
    assert_eq!((plain.interference, plain.bank_places.len()), (None, 0));
    assert!(!plain.drive.chains[0].pulled_order && plain.cams[0].source.is_none());
    // (what is written instead of what, part of the message)
    let rows = [
        ("bank = 1\n", "bank = [1, 7]\n", "bank 7 is not in [banks]"),
        ("bank = 1\n", "bank = [1, 1]\n", "listed twice"),
        ("bank = 1\n", "bank = []\n", "`bank` is the number of a bank"),
        ("bank = 1\n", "bank = \"1\"\n", "`bank` is the number of a bank"),
        ("bank = 1\n", "bank = -1\n", "`bank` is the number of a bank"),
        (
            "phaser = { rest = \"retarded\", travel = 50.0 }",
            "phaser = \"non\"",
            "a phaser is \"none\"",
        ),
        ("rest = \"retarded\"", "rest = \"midle\"", "Write \"middle\""),
        ("travel = 50.0 }", "travl = 50.0 }", "Did you mean `travel`?"),
        ("kind = \"chain\"", "kind = \"chain\"\norder = \"backwards\"", "Write one of \"pulled\""),
        ("[crank]", "[bank_places]\n9 = \"x\"\n[crank]", "bank 9 is not in [banks]"),
        (
            "name = \"invented V6\"",
            "name = \"invented V6\"\ninterference = \"yes\"",
            "line 3: `interference` takes true or false, not string \"yes\". Write interference = true",
        ),
    ];
    for (from, to, part) in rows {
        let message = parse(&V6.replacen(from, to, 1)).expect_err(to).to_string();
        assert!(message.contains(part), "{to}: {message}");
    }
}

#[test]
fn the_tables_that_messages_name_are_those_of_the_file() {
    // A key that is nowhere is answered with every key of its table.
    for (table, keys) in super::file::TABLES.iter().filter(|(_, keys)| !keys.is_empty()) {
        let header = if table.is_empty() { String::new() } else { format!("{table}\n") };
        let message = parse(&format!("{header}zzzzzz = 1\n")).expect_err(table).to_string();
        let listed = message.split("Its keys are ").nth(1).expect(&message);
        let mut listed: Vec<&str> = listed.trim_end_matches('.').split(", ").collect();
        // The tables stand among the keys at the top.
        listed.retain(|key| {
            !["banks", "bank_places", "crank", "cam", "chain", "valves", "geometry"].contains(key)
        });
        listed.sort_unstable();
        let mut keys = keys.to_vec();
        keys.sort_unstable();
        assert_eq!(listed, keys, "{table}: {message}");
    }
}
