//! `edge` is the electrical edge of the signal as recorded, in `check`, in `look` and in what
//! `look` writes: a lead the other way up is a finding with both readings, and nothing moves
//! silently.

use std::path::Path;

use camwitness::analysis::{Analysis, Options, analyse};
use camwitness::capture::{Capture, ReadOptions, read};
use camwitness::crank::{EdgeFrom, WhyDoubted};
use camwitness::engine::Engine;
use camwitness::look::{Facts, look, start_engine_file};
use camwitness::units::CrankDelta;
use camwitness::wheel::EdgeKind::Falling;

use crate::recordings::{capture, engine, folder, measured};

/// The capture with one column turned upside down.
fn upside_down(capture: &Capture, column: &str) -> Capture {
    let mut turned = capture.clone();
    let channel = turned.channels.iter_mut().find(|channel| channel.name == column).expect(column);
    let most = channel.values.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let least = channel.values.iter().copied().fold(f32::INFINITY, f32::min);
    channel.values.to_mut().iter_mut().for_each(|value| *value = most + least - *value);
    turned
}

/// What both readings say of a cam, and that the user hears of it.
fn assert_finding(name: &str, plain: &Analysis, turned: &Analysis, later: f64, why: WhyDoubted) {
    assert_eq!(plain.crank.marking_edge, turned.crank.marking_edge, "{name}: as stated");
    assert_eq!(turned.crank.edge_from, EdgeFrom::Stated, "{name}");
    let doubt = turned.crank.edge_doubt.as_ref().unwrap_or_else(|| panic!("{name}: no finding"));
    assert_eq!(doubt.why, why, "{name}");
    let found = doubt.later.unwrap_or_else(|| panic!("{name}: by how much")).0;
    assert!(
        (found - later).abs() <= 0.5,
        "{name}: {found:.2}° later by the other edge, not {later}"
    );
    let other = turned.other_edge.as_ref().expect("both readings");
    assert_eq!(other.cams.len(), plain.cams.len(), "{name}: both readings of every cam");
    let modulo = turned.crank.angle.known_modulo();
    for (cam, taken, by_other) in &other.cams {
        let of = |analysis: &Analysis| {
            let cam = analysis.cams.iter().find(|one| one.measured.cam == *cam).expect("measured");
            (cam.measured.position.get(), CrankDelta(modulo.0.min(cam.measured.known_modulo.0)))
        };
        let ((plain, modulo), (turned, _)) = (of(plain), of(turned));
        assert!((taken.get() - turned).abs() < 1e-9, "{name}: the reading that stands");
        let off = CrankDelta(by_other.get() - plain).wrap(modulo).0;
        assert!(
            off.abs() <= 0.5,
            "{name}: the other reading is {off:.2}° from the lead right way up"
        );
        let moved = CrankDelta(turned - plain).wrap(modulo).0;
        assert!((moved + later).abs() <= 0.5, "{name}: moved by {moved:.2}°");
    }
    let told = turned.warnings.iter().find(|notice| notice.text.contains("inverted"));
    let text = &told.unwrap_or_else(|| panic!("{name}: {:#?}", turned.warnings)).text;
    for (_, taken, by_other) in &other.cams {
        for angle in [taken, by_other] {
            assert!(text.contains(&format!("{:.1}°", angle.get())), "{name}: {text}");
        }
    }
    let doubts = |analysis: &Analysis| {
        analysis.warnings.iter().any(|notice| notice.text.contains("inverted"))
    };
    assert!(!doubts(plain), "{name}: nothing to say of a lead the right way up");
}

#[test]
fn a_recorded_crank_lead_upside_down_is_a_finding_with_both_angles() {
    let Some(folder) = folder() else { return };
    // README: by rising edges every cam angle is 4.4 less.
    let recordings: [(&str, &str, &str, &[&str], f64); 1] = [(
        "running-36-2-three-tooth-cam.csv",
        "running",
        "Channel 0",
        &["crank=Channel 0", "cam=Channel 1"],
        4.4,
    )];
    for (file, described, column, leads, later) in recordings {
        let capture = capture(&folder, file, None, None);
        let engine = engine(described);
        let plain = measured(&capture, &engine, leads);
        let turned = measured(&upside_down(&capture, column), &engine, leads);
        assert_eq!(turned.crank.marking_edge, Falling, "{file}: as stated");
        assert_finding(file, &plain, &turned, later, WhyDoubted::SpacingContradicts);
    }
}

#[test]
fn a_stated_edge_that_shows_no_wheel_at_all_is_a_finding_too() {
    let Some(folder) = folder() else { return };
    let capture = capture(&folder, "twelve-plus-one-all-plugs-out.csv", None, None);
    let (engine, leads) = (engine("twelve-plus-one"), ["cam A=cam", "cam B=Channel 2"]);
    let plain = measured(&capture, &engine, &leads);
    let turned = measured(&upside_down(&capture, "crank"), &engine, &leads);
    // README: on the other edge the extra tooth stands at 0.380 of a step and the one before it
    // reads 4.1 early, so that its gaps are not where the wheel has them: only one reading is left.
    assert_eq!(turned.crank.edge_from, EdgeFrom::Spacing);
    let doubt = turned.crank.edge_doubt.as_ref().expect("a finding");
    assert_eq!((doubt.why, doubt.later), (WhyDoubted::SpacingContradicts, None));
    let told = turned.warnings.iter().find(|notice| notice.text.contains("inverted"));
    let text = &told.expect("it is said").text;
    assert!(text.contains("By the falling edges no angle can be given"), "{text}");
    for (plain, turned) in plain.cams.iter().zip(&turned.cams) {
        let off = turned.measured.position.get() - plain.measured.position.get();
        assert!(CrankDelta(off).wrap(CrankDelta(180.0)).0.abs() < 0.1, "{off}");
    }
}

#[test]
fn a_hall_crank_lead_upside_down_is_a_finding_with_both_angles() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    // With the width of its teeth the file says which way up the signal is: high over a tooth, half
    // a slot wide.
    let text = include_str!("../demo-data/engine.toml");
    let described = text.replacen("\"36-2\"", "{ slots = 36, missing = [35, 36], width = 5.0 }", 1);
    assert_ne!(described, text);
    let engine = Engine::parse(&described, Path::new("engine.toml")).expect("the demonstration");
    let capture = read(&root.join("demo-data/sound.csv"), &ReadOptions::default()).expect("it");
    let check = |capture: &Capture| {
        analyse(std::slice::from_ref(capture), &engine, &Options::default()).expect("it locks")
    };
    let (plain, turned) = (check(&capture), check(&upside_down(&capture, "crank")));
    // Both edges are spaced alike; only the gap tells that the signal is low over a tooth. Half a
    // slot of ten degrees.
    let later =
        turned.crank.edge_doubt.as_ref().and_then(|doubt| doubt.later).expect("a finding").0;
    assert!((2.0..8.0).contains(&later.abs()), "{later}");
    assert_finding("demonstration", &plain, &turned, later, WhyDoubted::OtherWayUp);
}

#[test]
fn which_level_is_over_a_tooth_may_be_described() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = include_str!("../demo-data/engine.toml");
    let described = |level: &str| {
        let stated = format!("edge   = \"falling\"\nover_tooth = \"{level}\"");
        let stated = text.replacen("edge   = \"falling\"", &stated, 1);
        assert_ne!(stated, text);
        Engine::parse(&stated, Path::new("engine.toml")).expect("the demonstration")
    };
    let unsaid = Engine::parse(text, Path::new("engine.toml")).expect("the demonstration");
    let capture = read(&root.join("demo-data/sound.csv"), &ReadOptions::default()).expect("it");
    let turned = upside_down(&capture, "crank");
    let check = |capture: &Capture, engine: &Engine| {
        analyse(std::slice::from_ref(capture), engine, &Options::default()).expect("it locks")
    };
    let (plain, low) = (check(&capture, &unsaid), check(&turned, &unsaid));
    let later = |analysis: &Analysis| {
        let doubt = analysis.crank.edge_doubt.as_ref();
        doubt.and_then(|doubt| doubt.later).expect("a finding").0
    };
    // Half a slot of ten degrees.
    assert!((2.0..8.0).contains(&later(&low).abs()), "{}", later(&low));
    assert_finding("not said", &plain, &low, later(&low), WhyDoubted::OtherWayUp);
    let told = low.warnings.iter().find(|notice| notice.text.contains("inverted"));
    assert!(told.expect("told").text.contains("add `over_tooth = \"low\"` to [crank]"));
    // Described as it is there is nothing to say, and described as it is not there is, either way.
    let engine = described("low");
    let (as_described, high) = (check(&turned, &engine), check(&capture, &engine));
    assert_eq!(as_described.crank.edge_doubt, None);
    assert_finding("low", &as_described, &high, later(&high), WhyDoubted::OtherWayUp);
    let told = high.warnings.iter().find(|notice| notice.text.contains("inverted"));
    assert!(
        told.expect("told").text.starts_with("The crank signal is high over a tooth and not low")
    );
    // The angles are by the edge stated, whatever the level.
    for (one, other) in plain.cams.iter().zip(&high.cams) {
        assert_eq!(one.measured.position, other.measured.position);
    }
}

#[test]
fn what_look_writes_reads_as_look_measured() {
    let Some(folder) = folder() else { return };
    for (file, firing, cams) in [
        ("running-36-2-three-tooth-cam.csv", "[1, 2, 3, 4, 5, 6]", 1),
        ("start-60-2-single-cam.csv", "[1, 3, 4, 2]", 1),
        ("twelve-plus-one-all-plugs-out.csv", "[1, 3, 4, 2]", 2),
    ] {
        let capture = capture(&folder, file, None, None);
        let seen = look(&capture, &[]);
        let lock = seen.lock.as_ref().unwrap_or_else(|| panic!("{file}: {:?}", seen.wheel));
        let text = start_engine_file(&seen, &[], &Facts::default()).expect("a crank wheel");
        let text =
            text.replacen("# firing_order = [1, 3, 4, 2]", &format!("firing_order = {firing}"), 1);
        let engine = Engine::parse(&text, Path::new("begun.toml"))
            .unwrap_or_else(|error| panic!("{file}: {error}\n{text}"));
        let crank = &capture.channels[seen.crank.expect("a crank")].name;
        let mut leads = vec![format!("crank={crank}")];
        leads.extend(seen.cams.iter().map(|cam| format!("{0}={0}", cam.name)));
        let leads: Vec<&str> = leads.iter().map(String::as_str).collect();
        let result = measured(&capture, &engine, &leads);
        assert_eq!(result.crank.marking_edge, lock.marking_edge, "{file}");
        assert_eq!((result.cams.len(), seen.cams.len()), (cams, cams), "{file}");
        for cam in &result.cams {
            let of_look = seen.cams.iter().find(|one| one.name == cam.name).expect("the same name");
            let modulo = CrankDelta(cam.known_modulo.0.min(result.crank.angle.known_modulo().0));
            let apart = CrankDelta(cam.measured.position.get() - of_look.at.get()).wrap(modulo).0;
            println!("{file}, {}: {apart:+.3}°", cam.name);
            // Two ways to one figure: a median by edge there, a location of the whole wheel here.
            let scatter = of_look.scatter.map_or(0.0, |scatter| scatter.0);
            assert!(apart.abs() <= 0.3 + 0.5 * scatter, "{file}, {}: {apart:.2}°", cam.name);
        }
    }
}
