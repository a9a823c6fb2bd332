//! The picture of the drive: its counts, its turns, and that its texts can be read.

use std::path::Path;

use super::super::drawing::Mark;
use super::*;
use crate::analysis::{Options, analyse};
use crate::engine::Engine;
use crate::practice::{Fault, Scenario, generate};

const DEMO: &str = include_str!("../../../../demo-data/engine.toml");

fn engine(text: &str) -> Engine {
    Engine::parse(text, Path::new("engine.toml")).expect("a sound description")
}

/// Four cams and three chains: crank to an idler, the idler to each bank. An invented engine.
fn three_chains() -> Engine {
    let mut text = String::from(
        "name = \"Three chains\"\nfiring_order = [1, 6, 5, 4, 3, 2]\n[banks]\n1 = [1, 2, 3]\n2 = [4, 5, 6]\n\
         [crank]\nwheel = \"60-2\"\nsensor = \"hall\"\nedge = \"falling\"\ntdc = 84.0\n",
    );
    for (name, bank, shaft) in [
        ("B1 intake", 1, "intake"),
        ("B1 exhaust", 1, "exhaust"),
        ("B2 intake", 2, "intake"),
        ("B2 exhaust", 2, "exhaust"),
    ] {
        text += &format!(
            "[[cam]]\nname = \"{name}\"\nbank = {bank}\nshaft = \"{shaft}\"\nwheel = \"two-narrow-two-wide\"\nsensor = \"hall\"\nat = 100.0\n"
        );
    }
    text += "[[chain]]\nname = \"primary\"\nkind = \"chain\"\ndriver = { on = \"crank\", teeth = 24 }\ndriven = [{ on = \"idler\", teeth = 36 }]\n";
    for bank in [1, 2] {
        text += &format!(
            "[[chain]]\nname = \"bank {bank}\"\nkind = \"chain\"\norder = \"pulled\"\ndriver = {{ on = \"idler\", teeth = 27 }}\n\
             driven = [{{ on = \"B{bank} intake\", teeth = 36 }}, {{ on = \"B{bank} exhaust\", teeth = 36 }}]\n"
        );
    }
    engine(&text)
}

#[test]
fn every_sprocket_stands_by_itself_with_all_its_teeth() {
    let rows = [ROW, BLANK_ROW];
    for (engine, row) in
        rows.into_iter().flat_map(|row| [(engine(DEMO), row), (three_chains(), row)])
    {
        let plan = plan(&engine.drive, row).expect("a drive");
        let described: usize = engine.drive.chains.iter().map(|chain| chain.driven.len() + 1).sum();
        assert_eq!(plan.nodes.len(), described);
        for (at, one) in plan.nodes.iter().enumerate() {
            assert!(one.centre.0 - one.radius > 0.0 && one.centre.0 + one.radius < plan.width);
            assert!(one.centre.1 - one.radius > 0.0 && one.centre.1 + one.radius < plan.height);
            for other in &plan.nodes[at + 1..] {
                let apart = (one.centre.0 - other.centre.0).hypot(one.centre.1 - other.centre.1);
                assert!(apart > one.radius + other.radius + 12.0, "{} {}", one.shaft, other.shaft);
            }
        }
        // A tick for every tooth, and a grey mark each.
        let drawing = blank(&engine).expect("a picture");
        let teeth: usize = plan.nodes.iter().map(|node| node.teeth as usize).sum();
        let ticks = drawing.marks.iter().filter(
            |mark| matches!(mark, Mark::Line { width, ink: Ink::Black, .. } if *width == 0.8),
        );
        assert_eq!(ticks.count(), teeth);
    }
}

/// Every cam of a four-stroke turns at half speed, whatever chains lead to it.
#[test]
fn ratios_and_shared_shafts_are_those_of_the_drive() {
    let plan = plan(&three_chains().drive, ROW).expect("a drive");
    for node in plan.nodes.iter().filter(|node| node.shaft.starts_with('B')) {
        assert!((node.ratio - 0.5).abs() < 1e-12, "{}", node.shaft);
    }
    assert_eq!(plan.same_shaft.len(), 2, "the idler carries three sprockets");
}

#[test]
fn a_picture_without_the_answer_has_none() {
    let drawing = blank(&engine(DEMO)).expect("a picture");
    assert!(!drawing.marks.iter().any(|mark| matches!(
        mark,
        Mark::Area { ink: Ink::Vermilion, .. } | Mark::Line { ink: Ink::Vermilion, .. }
    )));
    let said: Vec<&str> = drawing.texts().map(|text| text.text.as_str()).collect();
    for word in ["late", "early", "Odds", "in place", "worn"] {
        assert!(!said.iter().any(|text| text.contains(word)), "{word}: {said:?}");
    }
}

#[test]
fn the_hull_of_two_circles_has_two_strands_and_the_pulled_one_is_right() {
    // Two equal circles one above the other: the strands are upright lines at ± radius.
    let hull = around(&[(0, (0.0, 100.0), 20.0), (1, (0.0, 0.0), 20.0)]);
    let found = strands(&hull, 0, 1);
    assert_eq!(found.len(), 2, "{found:?}");
    for ((from, to), x) in found.into_iter().zip([24.0, -24.0]) {
        assert!((from.0 - x).abs() < 0.1 && (to.0 - x).abs() < 0.1, "{from:?} {to:?}");
    }
}

/// The drive of an engine with a fault, as it is drawn, and what is drawn as moved.
fn found(text: &str, described: &str, fault: &str) -> (Drawing, Vec<Candidate>) {
    let faults: Vec<Fault> = vec![fault.parse().expect("a fault")];
    let made = Scenario { faults, exact: true, seed: 3, ..Scenario::new(engine(text)) };
    let captures = vec![generate(&made).expect("a practice capture").capture];
    let asked = Options::default();
    let analysis = analyse(&captures, &engine(described), &asked).expect("a measurement");
    let scene = Scene::new(&analysis, &captures);
    (draw(&scene).expect("a picture"), candidates(&scene))
}

/// The shaft that moved is turned back by what it is late: a tooth of 18.9 crank degrees is 9.5 of
/// the cam. The other stands at its mark.
#[test]
fn the_shaft_that_moved_is_turned_by_its_tooth() {
    let (drawing, shown) = found(DEMO, DEMO, "skip:B2 intake@primary:+1");
    assert_eq!(shown.len(), 1, "one place is found");
    let plan = plan(&engine(DEMO).drive, ROW).expect("a drive");
    let node = |shaft: &str| plan.nodes.iter().find(|node| node.shaft == shaft).expect("a shaft");
    let turned = |shaft: &str| shown[0].turned(node(shaft)).expect("measured");
    assert!((turned("B2 intake") - 360.0 / 38.0).abs() < 0.5, "{}", turned("B2 intake"));
    assert!(turned("B1 intake").abs() < 0.5, "{}", turned("B1 intake"));
    assert!(shown[0].skipped_on(node("B2 intake")) && !shown[0].skipped_on(node("B1 intake")));
    let wedges =
        drawing.marks.iter().filter(|mark| matches!(mark, Mark::Area { ink: Ink::Vermilion, .. }));
    assert_eq!(wedges.count(), 1, "the wedge from where its mark should stand");
    let said: Vec<&str> = drawing.texts().map(|text| text.text.as_str()).collect();
    assert!(said.iter().any(|text| text.contains("1 tooth late, 1 link")), "{said:?}");
}

/// Without places to hold the cams against, one is late or the other early: both are drawn side by
/// side, each with the shaft that it would have moved.
#[test]
fn what_is_open_between_two_places_is_drawn_side_by_side() {
    let unknown = DEMO.replacen("at     = 137.0\nat_sd  = 0.8\n", "", 1);
    assert_ne!(unknown, DEMO);
    let (drawing, shown) = found(DEMO, &unknown, "skip:B2 intake@primary:+1");
    assert_eq!(shown.len(), 2, "{shown:?}");
    let plan = plan(&engine(DEMO).drive, ROW).expect("a drive");
    let moved = |one: &Candidate| {
        let nodes = plan.nodes.iter().filter(|node| one.skipped_on(node));
        nodes.map(|node| node.shaft.clone()).collect::<Vec<_>>()
    };
    let mut both = [moved(&shown[0]), moved(&shown[1])].concat();
    both.sort();
    assert_eq!(both, ["B1 intake", "B2 intake"]);
    assert!(drawing.width >= 2.0 * LEAST_WIDTH, "side by side: {}", drawing.width);
}

/// A chain over both banks of which each strand has grown has both marked.
#[test]
fn wear_is_drawn_on_its_strands() {
    let text = DEMO.replace("kind   = \"chain\"", "kind   = \"chain\"\norder = \"pulled\"");
    let (drawing, shown) = found(&text, &text, "wear:primary:4");
    let worn = shown.iter().filter(|one| one.heading.iter().any(|line| line.contains("worn")));
    assert_eq!(worn.count(), 1, "{shown:?}");
    let drawn = drawing.marks.iter().filter(
        |mark| matches!(mark, Mark::Line { ink: Ink::Vermilion, width, .. } if *width == 7.0),
    );
    let said = drawing.texts().filter(|text| text.text == "worn").count();
    assert_eq!((drawn.count(), said), (2, 2));
}
