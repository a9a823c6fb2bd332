//! Wheel files, engine files, known-good files and wheel notation; what is accepted is drawn,
//! planned for and written.
#![no_main]

use std::path::Path;

use camwitness::engine::Engine;
use camwitness::known::KnownGood;
use camwitness::plan::{Plan, PlanOptions};
use camwitness::wheel::{EdgeKind, Wheel, WheelSource, parse_wheel};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|input: &[u8]| {
    let Some((&kind, text)) = input.split_first() else { return };
    let Ok(text) = std::str::from_utf8(text) else { return };
    match kind % 4 {
        0 => {
            if let Ok(wheel) = parse_wheel(text, "input.toml") {
                hold_wheel(&wheel);
            }
        }
        // A name that is a path would read a file of this machine.
        1 if !text.contains(['/', '\\']) && !text.ends_with(".toml") => {
            if let Ok(wheel) = WheelSource::Named(text.to_owned()).resolve(None, "input", "wheel") {
                hold_wheel(&wheel);
            }
        }
        2 if !text.contains(['/', '\\']) && text.matches(".toml").count() == 0 => {
            if let Ok(engine) = Engine::parse(text, Path::new("input")) {
                hold_engine(&engine);
            }
        }
        3 => {
            if let Ok(known) = KnownGood::parse(text, "input.toml") {
                let again = KnownGood::parse(&known.text(), "again.toml");
                assert!(again.is_ok(), "what was written is not read: {again:?}");
            }
        }
        _ => {}
    }
});

fn hold_wheel(wheel: &Wheel) {
    assert!(!wheel.drawing(80).is_empty());
    assert!(wheel.tooth_count() > 0 && wheel.repeats() > 0);
    for kind in [EdgeKind::Rising, EdgeKind::Falling] {
        let edges = wheel.square_edges(kind);
        assert!(edges.iter().all(|edge| edge.at.get().is_finite()));
        assert!(wheel.zero_crossings(kind).iter().all(|edge| edge.at.get().is_finite()));
    }
}

fn hold_engine(engine: &Engine) {
    for (index, cam) in engine.cams.iter().enumerate() {
        hold_wheel(&cam.wheel);
        if let Some((at, _)) = engine.expected(index) {
            assert!((0.0..720.0).contains(&at.get()), "{at:?}");
        }
        let _ = (engine.drive.chain_driving(&cam.name), engine.drive.path_to(&cam.name));
        let _ = (engine.drive.skip_places(&[&cam.name]), engine.relation_root(index));
    }
    hold_wheel(&engine.crank.wheel);
    if let Ok(plan) = Plan::for_engine(engine, PlanOptions::default()) {
        let text = camwitness::report::plan::write(engine, &plan);
        assert!(finite(&text, engine), "{text}");
    }
}

/// Whether no number of a text is NaN or infinite. A name that the file gives may well hold such a
/// word.
fn finite(text: &str, engine: &Engine) -> bool {
    let holds = |text: &str| {
        text.split(|letter: char| !letter.is_alphabetic())
            .any(|word| ["NaN", "inf"].contains(&word))
    };
    let chains = engine.drive.chains.iter().map(|chain| &chain.name);
    let shafts = engine.drive.chains.iter().flat_map(|chain| &chain.driven).map(|at| &at.on);
    let cams = engine.cams.iter().map(|cam| &cam.name);
    !holds(text) || chains.chain(shafts).chain(cams).chain([&engine.name]).any(|name| holds(name))
}
