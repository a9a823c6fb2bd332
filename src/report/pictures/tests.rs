//! Every picture at one to four cams: nothing outside the sheet, no text over another.

use std::path::Path;

use super::drawing::{Drawing, Ink, Mark};
use super::scene::Scene;
use super::{Picture, draw_all, render};
use crate::analysis::{Analysis, Options, Overlay, analyse};
use crate::cam::CamResult;
use crate::capture::{Capture, CaptureKind};
use crate::engine::Engine;
use crate::learn::{LearnOptions, learn};
use crate::practice::{ExtraLead, Fault, Scenario, generate};

const ENGINES: [(&str, &str, &str); 4] = [
    ("one cam", include_str!("../../../tests/report/one-cam.toml"), ""),
    ("two cams", include_str!("../../../demo-data/engine.toml"), "skip:B1 intake@primary:+1"),
    ("three cams", include_str!("../../../tests/report/three-cams.toml"), "cam-wheel:B2 intake:-9"),
    (
        "four cams",
        include_str!("../../../tests/report/four-cams.toml"),
        "skip:B2 intake@primary:+2",
    ),
];

/// A practice capture of an engine with a fault, measured.
fn case(engine: &str, fault: &str, kind: CaptureKind) -> (Analysis, Vec<Capture>) {
    let engine = Engine::parse(engine, Path::new("engine.toml")).expect("a sound description");
    let faults: Vec<Fault> = [fault]
        .iter()
        .filter(|text| !text.is_empty())
        .map(|text| text.parse().expect("a fault"))
        .collect();
    let leads = match kind {
        CaptureKind::Sampled => vec![ExtraLead::Starter, ExtraLead::Pressure(1)],
        CaptureKind::Events => Vec::new(),
    };
    let scenario = Scenario { faults, leads, kind, ..Scenario::new(engine.clone()) };
    let captures = vec![generate(&scenario).expect("a practice capture").capture];
    let analysis = analyse(&captures, &engine, &Options::default()).expect("a measurement");
    (analysis, captures)
}

fn check_layout(about: &str, drawing: &Drawing) {
    let texts: Vec<_> = drawing.texts().filter(|text| !text.text.is_empty()).collect();
    for (index, text) in texts.iter().enumerate() {
        let (left, top, right, bottom) = text.bounds();
        let inside =
            left >= 0.0 && top >= 0.0 && right <= drawing.width && bottom <= drawing.height;
        assert!(inside, "{about}: {:?} at {:?} leaves the sheet", text.text, text.bounds());
        for other in &texts[index + 1..] {
            let (l, t, r, b) = other.bounds();
            let apart = right <= l || r <= left || bottom <= t || b <= top;
            assert!(apart, "{about}: {:?} lies over {:?}", text.text, other.text);
        }
    }
    for mark in &drawing.marks {
        let points: &[(f64, f64)] = match mark {
            Mark::Line { points, .. } | Mark::Area { points, .. } => points,
            Mark::Disc { centre, .. } => std::slice::from_ref(centre),
            Mark::Text(_) => &[],
        };
        for &(x, y) in points {
            let inside = (-0.5..=drawing.width + 0.5).contains(&x)
                && (-0.5..=drawing.height + 0.5).contains(&y);
            assert!(inside, "{about}: a mark at {x}, {y} leaves the sheet");
        }
    }
}

#[test]
fn nothing_overlaps_at_one_to_four_cams() {
    for kind in [CaptureKind::Sampled, CaptureKind::Events] {
        for (name, engine, fault) in ENGINES {
            let (analysis, captures) = case(engine, fault, kind);
            let scene = Scene::new(&analysis, &captures);
            for picture in Picture::ALL {
                if let Some(drawing) = picture.draw(&scene) {
                    check_layout(&format!("{name}, {kind:?}, {}", picture.name()), &drawing);
                }
            }
        }
    }
}

/// With a recording laid over it and a reference of two engines, the close-up of four cams stays on
/// a page of Letter below its heading: 249 mm at the 186 mm that A4 leaves across.
#[test]
fn what_is_laid_over_and_learned_has_its_place_in_the_close_up() {
    let (_, text, fault) = ENGINES[3];
    let (_, captures) = case(text, fault, CaptureKind::Sampled);
    let engine = Engine::parse(text, Path::new("engine.toml")).expect("a sound description");
    let sound = |seed: u64| {
        let leads = vec![ExtraLead::Starter];
        let asked = Scenario { seed, leads, seconds: 2.0, ..Scenario::new(engine.clone()) };
        generate(&asked).expect("a practice capture").capture
    };
    let learning = LearnOptions { several_engines: true, ..LearnOptions::default() };
    let learned = [sound(5), sound(6)];
    let known = learn(&learned, &engine, None, &learning).expect("a reference");
    let asked = Options { known: Some(known), ..Options::default() };
    let analysis = analyse(&captures, &engine, &asked).expect("a measurement");
    let over = Overlay::of(&analysis, learned[0].clone(), &engine, &asked).expect("laid over");
    let scene = Scene::new(&analysis, &captures).with(Some(&over));
    let drawing = Picture::Gaps.draw(&scene).expect("the close-up");
    check_layout("laid over and learned", &drawing);
    assert!(drawing.height <= 249.0 / 186.0 * drawing.width, "{} high", drawing.height);
    let texts = |word: &str| drawing.texts().filter(|text| text.text == word).count();
    // Four cams in two turns.
    assert_eq!((texts("laid over"), texts("2 sound engines")), (8, 8));
    // Its own edges are counted below its signal.
    let wheel = crate::report::words::counted_on(&engine);
    let edge = over.analysis.cams[0].measured.edges[0].at.get();
    let count = format!("{:.1}", wheel.at(crate::units::ShaftDeg::new(edge.rem_euclid(360.0))));
    assert!(texts(&count) >= 1, "{count}");
    // Its signal is told from the capture's by dashes, and is lower where the two run together.
    let line = |dashed: bool, wanted: Ink| {
        drawing.marks.iter().filter(move |mark| {
            matches!(mark, Mark::Line { dash, ink, points, .. }
                if dash.is_some() == dashed && *ink == wanted && points.len() > 20)
        })
    };
    assert!(line(true, Ink::Black).count() >= 8 && line(false, Ink::Blue).count() >= 8);
}

/// A crank wheel of wide and narrow teeth has no gap to count from: its teeth are counted one by
/// one.
#[test]
fn teeth_are_counted_on_a_wheel_that_lists_them() {
    let engine = ENGINES[1].1.replace("\"36-2\"", "\"24-wide-narrow\"");
    let engine = engine.replacen("edge   = \"falling\"\n", "", 1);
    let (analysis, captures) = case(&engine, ENGINES[1].2, CaptureKind::Sampled);
    let scene = Scene::new(&analysis, &captures);
    let drawing = Picture::Gaps.draw(&scene).expect("the close-up");
    check_layout("wide and narrow", &drawing);
    // B1 intake should begin at 137°, and its edges are 0, 60, 180, 300, 500 and 530 crank degrees
    // after that (three-uneven). Teeth of the crank wheel begin at 120° (9) and 144° (10), 189° (13)
    // and 204° (14), and so on: counted by hand in the wheel's file.
    let said: Vec<&str> = drawing.texts().map(|text| text.text.as_str()).collect();
    for count in ["9.7", "13.5", "21.5", "5.7", "18.9", "20.9"] {
        assert!(said.contains(&count), "{count}: {said:?}");
    }
    assert!(said.iter().any(|text| text.contains("the first in the wheel’s list")), "{said:?}");
    let told = crate::report::words::teeth_to_edges(&analysis);
    assert_eq!(told[0].0, "B1 intake");
    let edges = told[0].1.join("; ");
    // One tooth of the chain late, 18.9°: its first edge at 155.9° lies past tooth 11, at 150°.
    assert!(edges.contains("where 9.7 should be, in turn 1"), "{edges}");
    assert!(edges.contains("rising 11."), "{edges}");
}

#[test]
fn every_picture_becomes_svg_and_png() {
    let (_, engine, fault) = ENGINES[3];
    let (analysis, captures) = case(engine, fault, CaptureKind::Sampled);
    let drawn = draw_all(&analysis, &captures);
    assert_eq!(drawn.len(), Picture::ALL.len(), "a sampled capture with a clamp shows all of them");
    for picture in drawn {
        let svg = picture.svg().expect("svg");
        assert!(svg.starts_with("<svg ") && svg.trim_end().ends_with("</svg>"), "{svg:.60}");
        let png = picture.png().expect("png");
        assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n", "signature of ISO/IEC 15948");
    }
}

#[test]
fn the_shift_is_written_with_its_word_on_the_traces() {
    let (_, engine, fault) = ENGINES[1];
    let (analysis, captures) = case(engine, fault, CaptureKind::Sampled);
    let scene = Scene::new(&analysis, &captures);
    let drawing = Picture::Traces.draw(&scene).expect("traces");
    let off = scene.cam(0).and_then(CamResult::deviation).expect("a deviation").to_string();
    assert!(off.ends_with("late"), "one tooth late was built in: {off}");
    let found = drawing.texts().filter(|text| text.text == off).count();
    assert_eq!(found, 2, "beside the name and at the bracket");
}

#[test]
fn thinning_keeps_a_single_peak_and_text_from_a_file_is_escaped() {
    let mut drawing = Drawing::new(200.0, 40.0);
    drawing.text((10.0, 20.0), "<script>\u{7}&\"", super::drawing::Anchor::Left);
    let svg = render::svg(&drawing).expect("svg");
    assert!(svg.contains("&lt;script&gt;&amp;&quot;") && !svg.contains("<script"), "{svg}");
    let mut piece: Vec<(f64, f32)> =
        (0..400_000).map(|i| (f64::from(i) * 720.0 / 400_000.0, 0.0)).collect();
    piece[123_457].1 = 5.0;
    let thin = super::scene::thinned(&piece);
    assert!(thin.len() < 8_000 && thin.iter().any(|point| point.1 == 5.0));
}
