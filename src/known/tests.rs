//! Figures against closed forms, the file there and back, and its refusals.

use std::path::Path;

use super::*;

fn known(places: &[&[f64]]) -> KnownGood {
    let captures = (1..)
        .zip(places)
        .flat_map(|(vehicle, at)| {
            at.iter().enumerate().map(move |(number, &at)| LearnedFrom {
                capture: format!("engine {vehicle} capture {number}.csv"),
                vehicle,
                cams: vec![Seen {
                    cam: "B1 \"odd\" intake".into(),
                    at: CrankDeg::new(at),
                    half_width95: CrankDelta(0.5),
                    known_modulo: CrankDelta(CYCLE_DEG),
                }],
            })
        })
        .collect();
    KnownGood {
        engine: "E".into(),
        crank_wheel: "36-2".into(),
        pass_known: true,
        captures,
        confirms: Default::default(),
    }
}

const CAM: &str = "B1 \"odd\" intake";

#[test]
fn the_prediction_is_students_t_with_the_prior() {
    // Worked by hand. One engine: ν = 4, s² = 1, variance 1 · (1 + 1) · 4/2 = 4.
    let one = known(&[&[100.0]]).figures(CAM).expect("known");
    assert_eq!((one.engines, one.spread), (1, None));
    assert!((one.predicts.0 - 2.0).abs() < 1e-12);
    // Three engines at 99, 100, 101: squares 2, ν = 6, s² = 6/6 = 1, variance 1 · 4/3 · 6/4 = 2.
    let three = known(&[&[99.0], &[100.0], &[101.0]]).figures(CAM).expect("known");
    assert!((three.predicts.0 - 2.0_f64.sqrt()).abs() < 1e-12);
    // numpy.std([99, 100, 101], ddof=1) = 1.
    assert_eq!(three.spread, Some(CrankDelta(1.0)));
}

#[test]
fn another_engine_narrows_and_another_capture_of_one_engine_does_not() {
    let sd = |places: &[&[f64]]| known(places).figures(CAM).expect("known").predicts.0;
    assert!(sd(&[&[100.0], &[100.5]]) < sd(&[&[100.0]]));
    assert!((sd(&[&[100.0, 100.1, 99.9]]) - sd(&[&[100.0]])).abs() < 1e-12);
    let many: Vec<&[f64]> = vec![&[100.0]; 60];
    assert!((sd(&many) - LEAST_SD.0).abs() < 1e-12 || sd(&many) > LEAST_SD.0);
}

#[test]
fn places_either_side_of_the_cycles_start_average_round_it() {
    let figures = known(&[&[719.0], &[1.0]]).figures(CAM).expect("known");
    assert!(figures.at.get() < 1e-9 || figures.at.get() > 720.0 - 1e-9, "{figures:?}");
}

#[test]
fn the_file_reads_back_as_written() {
    let known = known(&[&[100.123, 100.2], &[101.5]]);
    let text = known.text();
    let back = KnownGood::parse(&text, "x.known.toml").expect(&text);
    assert_eq!(back, known);
}

#[test]
fn edited_files_are_refused_with_the_place() {
    let text = known(&[&[100.0], &[101.0]]).text();
    let rows = [
        ("at       = 100.50", "at       = 90.0", "the captures listed give 100.50"),
        ("camwitness-known/1", "camwitness-known/9", "format"),
        ("vehicle = 1", "vehicle = -1", "line"),
        ("= 100.000 }", "= nan }", "outside 0 to 720"),
        ("pass_known", "pass_guessed", "pass_guessed"),
        ("ci95    = { ", "ci95    = { \"B9\" = 1.0, ", "do not list the same cams"),
    ];
    for (from, to, says) in rows {
        let edited = text.replacen(from, to, 1);
        assert_ne!(edited, text, "{from}");
        let error = KnownGood::parse(&edited, "x.known.toml").expect_err(to).to_string();
        assert!(error.contains(says) && error.starts_with("x.known.toml"), "{error}");
    }
    assert!(KnownGood::parse("", "x").is_err());
}

/// What is confirmed of the one cam of [`known`].
fn confirming(at: f64) -> KnownGood {
    let mut known = known(&[&[100.0], &[101.0]]);
    let name = known.captures[0].cams[0].cam.clone();
    known.confirms.insert(name, CrankDeg::new(at));
    known
}

#[test]
fn what_was_confirmed_is_written_down_and_must_agree_with_the_captures() {
    let confirmed = confirming(102.0);
    let text = confirmed.text();
    assert!(text.contains("confirms = 102.00"), "{text}");
    assert_eq!(KnownGood::parse(&text, "x.known.toml").expect(&text), confirmed);
    // A record that the captures of the same file do not bear out: which of the two was edited is
    // not guessed.
    for other in [120.0, 80.0, f64::NAN] {
        let text = text.replace("confirms = 102.00", &format!("confirms = {other:?}"));
        let text = text.replace("NaN", "nan");
        let error = KnownGood::parse(&text, "x.known.toml").expect_err(&text).to_string();
        assert!(error.contains("do not confirm") && error.contains("100.50"), "{error}");
    }
}

#[test]
fn a_figure_that_is_not_borne_out_is_not_confirmed_and_one_changed_since_is_seen() {
    let text = include_str!("../../demo-data/engine.toml");
    let parse = |text: &str| Engine::parse(text, Path::new("engine.toml")).expect("an engine");
    let engine = parse(text);
    let at = |cam: usize| engine.expected(cam).expect("a place").0;
    let seen = |cam: usize, off: f64| Seen {
        cam: engine.cams[cam].name.clone(),
        at: at(cam) + CrankDelta(off),
        half_width95: CrankDelta(0.3),
        known_modulo: CrankDelta(CYCLE_DEG),
    };
    let mut known = KnownGood::new(&engine, true);
    // One cam as the file has it, one 27° from it.
    let cams = vec![seen(0, 0.8), seen(1, 27.0)];
    known.captures.push(LearnedFrom { capture: "a.csv".into(), vehicle: 1, cams });
    known.note_confirmed(&engine);
    assert_eq!(known.confirms.keys().collect::<Vec<_>>(), [&engine.cams[0].name]);
    assert_eq!(known.changed_since(&engine), []);
    // `at` typed anew afterwards.
    let from = format!("{:.1}", at(0).get());
    let edited = parse(&text.replacen(&from, "401.5", 1));
    assert_eq!(known.changed_since(&edited), [(0, at(0), CrankDeg::new(401.5))]);
    // Nothing is confirmed by captures whose pass of the cycle is open.
    known.pass_known = false;
    known.note_confirmed(&engine);
    assert!(known.confirms.is_empty());
}

#[test]
fn a_related_cam_is_expected_where_its_relation_says() {
    let text = include_str!("../../demo-data/engine.toml");
    let engine = Engine::parse(text, Path::new("engine.toml")).expect("the demonstration engine");
    let mut known = KnownGood::new(&engine, true);
    known.captures.push(LearnedFrom {
        capture: "a.csv".into(),
        vehicle: 1,
        cams: vec![Seen {
            cam: "B1 intake".into(),
            at: CrankDeg::new(110.0),
            half_width95: CrankDelta(0.3),
            known_modulo: CrankDelta(CYCLE_DEG),
        }],
    });
    let (at, sd) = known.expected(&engine, 1).expect("by relation");
    assert_eq!(at.get(), 470.0);
    // The description's 0.8 and the prediction's 2.0 in squares.
    assert!((sd.0 - 2.0_f64.hypot(0.8)).abs() < 1e-12);
    assert!(known.belongs_to(&engine, "k").is_ok());
    known.engine = "Another".into();
    let error = known.belongs_to(&engine, "k").expect_err("another engine").to_string();
    assert!(error.contains("Another") && error.contains("Demonstration V6"), "{error}");
}

#[test]
fn a_capture_counted_from_another_pass_is_brought_to_the_same() {
    let known = known(&[&[100.0]]);
    let mut other = known.captures[0].clone();
    other.cams[0].at = CrankDeg::new(460.7);
    let aligned = known.aligned(other, CrankDelta(360.0));
    assert!((aligned.cams[0].at.get() - 100.7).abs() < 1e-9);
}
