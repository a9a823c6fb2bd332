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
    // docs/sources.md, "Drives": crank sprocket N teeth: 360/N; cam sprocket 2N at ρ = 1/2: 720/2N, the same.
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
        // A phaser that rests outside its travel: none, more than the cam's cycle allows, or no number.
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
    let rest = parse(&with("rest = \"retarded\"", "rest = \"middle\"")).expect_err("rest");
    assert!(rest.to_string().contains("middle") && rest.line.is_some(), "{rest}");
    let missing = parse(&with("firing_order = [1, 2, 3, 4, 5, 6]", "")).expect_err("missing key");
    assert!(missing.to_string().contains("firing_order"), "{missing}");
}
