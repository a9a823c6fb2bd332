//! Published wheel facts (docs/sources.md, "Wheels") and the refusals of wheel files.

use super::*;

fn library(name: &str) -> Wheel {
    WheelSource::Named(name.into()).resolve(None, "test", "wheel").expect(name)
}

/// Steps from each mark to the next, the last one round the turn.
fn steps(wheel: &Wheel) -> Vec<f64> {
    let marks = wheel.slot_marks().expect("a slot wheel");
    (0..marks.len())
        .map(|i| (marks[(i + 1) % marks.len()] - marks[i]).0.rem_euclid(TURN_DEG))
        .collect()
}

#[test]
fn the_library_lists_every_file_and_every_file_is_sound() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tooth-patterns");
    let mut files: Vec<String> = std::fs::read_dir(folder)
        .expect("tooth-patterns")
        .map(|entry| entry.expect("entry").file_name().to_string_lossy().replace(".toml", ""))
        .collect();
    let mut listed: Vec<String> = LIBRARY.iter().map(|wheel| wheel.name.to_owned()).collect();
    files.sort();
    listed.sort();
    assert_eq!(files, listed);
    for entry in LIBRARY {
        let wheel = parse_wheel(entry.text, entry.name).expect(entry.name);
        assert!(wheel.source().is_some() && wheel.notes().is_some(), "{}", entry.name);
    }
}

#[test]
fn sixty_minus_two_has_58_teeth_at_6_degrees_and_one_step_of_18() {
    // Public service information (docs/sources.md, "Wheels"): 58 teeth, 6° apart, one 18°
    // tooth-to-tooth step.
    let mut found = steps(&library("60-2"));
    found.sort_by(f64::total_cmp);
    assert_eq!(found.len(), 58);
    assert!(found[..57].iter().all(|step| (step - 6.0).abs() < 1e-9));
    assert!((found[57] - 18.0).abs() < 1e-9);
}

#[test]
fn a_flywheel_of_56_notches_and_a_30_degree_span_closes() {
    // Public service information (docs/sources.md, "Wheels"): 55 × 6 + 30 = 360.
    let wheel = WheelSource::Named("60-4".into()).resolve(None, "test", "wheel").expect("60-4");
    let mut found = steps(&wheel);
    found.sort_by(f64::total_cmp);
    assert_eq!(found.len(), 56);
    assert!((found[55] - 30.0).abs() < 1e-9);
    assert!((found.iter().sum::<f64>() - 360.0).abs() < 1e-9);
}

#[test]
fn the_wide_and_narrow_wheel_has_its_falling_edges_15_apart() {
    // Public service information (docs/sources.md, "Wheels"): 12 wide (12°) and 12 narrow (3°)
    // teeth.
    let wheel = library("24-wide-narrow");
    let teeth = wheel.teeth(EdgeKind::Falling);
    assert_eq!(teeth.iter().filter(|tooth| tooth.width == CamDelta(12.0)).count(), 12);
    assert_eq!(teeth.iter().filter(|tooth| tooth.width == CamDelta(3.0)).count(), 12);
    for pair in teeth.windows(2) {
        assert!(((pair[1].end() - pair[0].end()).0 - 15.0).abs() < 1e-9);
    }
    assert_eq!(teeth[0].start.get(), 0.0, "the datum is the first rising edge");
    assert_eq!(wheel.repeats(), 1);
}

#[test]
fn the_two_narrow_two_wide_cam_wheel_has_trailing_edges_90_apart() {
    // Public service information, P0016 circuit description (docs/sources.md, "Wheels").
    let teeth = library("two-narrow-two-wide").teeth(EdgeKind::Falling);
    for pair in teeth.windows(2) {
        assert!(((pair[1].end() - pair[0].end()).0 - 90.0).abs() < 1e-9);
    }
}

#[test]
fn symmetry_is_counted() {
    let rows = [
        ("60-2", 1),
        ("36-2-2-2-thirds", 3),
        ("36-2-2-2-uneven", 1),
        ("24-even", 24),
        ("12-plus-1", 1),
        ("half-moon", 1),
        ("two-narrow-two-wide", 1),
        ("4", 4),
    ];
    for (name, repeats) in rows {
        assert_eq!(library(name).repeats(), repeats, "{name}");
    }
}

#[test]
fn the_drawing_shows_every_tooth() {
    let drawn = library("36-2").drawing(72);
    assert_eq!(drawn.chars().count(), 72);
    assert_eq!(drawn.split('_').filter(|run| !run.is_empty()).count(), 34);
}

#[test]
fn bad_wheels_are_refused_with_the_key() {
    let rows = [
        ("slots = 36\nteeth = [{ start = 0.0, end = 1.0 }]", "teeth"),
        ("name = \"x\"", "slots"),
        ("slots = 36\nmissing = [37]", "missing"),
        ("slots = 36\nmissing = [0]", "missing"),
        ("slots = 2\nmissing = [1, 2]", "missing"),
        ("slots = 36\nmissing = [3, 3]", "missing"),
        ("slots = 0", "slots"),
        ("slots = 36\nwidth = 10.0", "width"),
        ("slots = 36\nwidth = nan", "width"),
        ("teeth = []", "teeth"),
        ("teeth = [{ start = 0.0, end = 361.0 }]", "teeth"),
        ("teeth = [{ start = -1.0, end = 3.0 }]", "teeth"),
        ("teeth = [{ start = 0.0, end = 20.0 }, { start = 10.0, end = 30.0 }]", "teeth"),
        ("teeth = [{ start = 5.0, end = 20.0 }, { start = 350.0, end = 10.0 }]", "teeth"),
        ("teeth = [{ start = 5.0, end = 5.0 }]", "teeth"),
        ("missing = [1]\nteeth = [{ start = 0.0, end = 1.0 }]", "missing"),
    ];
    for (text, key) in rows {
        let error = parse_wheel(text, "bad.toml").expect_err(text);
        assert_eq!(error.key, key, "{text}");
        assert!(error.to_string().starts_with("bad.toml: `"), "{error}");
    }
    let unknown = parse_wheel("slots = 36\ncolour = 3", "bad.toml").expect_err("unknown key");
    assert_eq!(unknown.line, Some(2));
    assert!(unknown.to_string().contains("colour"), "{unknown}");
}

#[test]
fn notation_is_only_for_the_unambiguous_cases() {
    for bad in ["36-2-2-2x", "36-36", "0", "-2", "36-2-2", "x"] {
        let error = WheelSource::Named(bad.into()).resolve(None, "engine.toml", "crank.wheel");
        assert!(error.is_err(), "{bad}");
    }
    let fine = WheelSource::Named("721-1".into()).resolve(None, "engine.toml", "crank.wheel");
    let said = fine.expect_err("too fine").to_string();
    assert!(said.contains("721 slots of \"721-1\" are more than 720"), "{said}");
    assert_eq!(library("36-2").tooth_count(), 34);
    assert_eq!(library("58").tooth_count(), 58);
}
