//! A refusal says what the signal is and what in the description differs; noise is read as no wheel
//! at all.

use std::path::Path;

use camwitness::analysis::{Analysis, AnalysisError, Options, SeenInstead, analyse};
use camwitness::capture::{Capture, CaptureKind, Channel, Clock, ReadOptions, Unit, read};
use camwitness::crank::{CrankError, lock};
use camwitness::edges::find_edges;
use camwitness::engine::{Crank, Engine, Lines, Sensor};
use camwitness::units::Seconds;
use camwitness::wheel::Wheel;

/// The demonstration engine with other words for its crank.
fn engine(from: &str, to: &str) -> Engine {
    let text = include_str!("../demo-data/engine.toml");
    assert!(text.contains(from), "{from} is in the demonstration engine");
    Engine::parse(&text.replacen(from, to, 1), Path::new("engine.toml")).expect("sound")
}

fn sound() -> Capture {
    let file = format!("{}/demo-data/sound.csv", env!("CARGO_MANIFEST_DIR"));
    read(file.as_ref(), &ReadOptions::default()).expect("the demonstration capture")
}

/// The capture as it would be with its times multiplied.
fn stretched(by: f64) -> Capture {
    let capture = sound();
    let clock = match &capture.clock {
        Clock::Uniform { start, step } => Clock::Uniform { start: *start * by, step: *step * by },
        Clock::Stamped(stamps) => Clock::Stamped(stamps.iter().map(|at| *at * by).collect()),
    };
    Capture { clock, ..capture }
}

fn check(capture: &Capture, engine: &Engine, leads: &[&str]) -> Result<Analysis, AnalysisError> {
    let leads = leads.iter().map(|lead| lead.parse().expect(lead)).collect();
    analyse(std::slice::from_ref(capture), engine, &Options { leads, ..Options::default() })
}

fn seen(capture: &Capture, engine: &Engine, leads: &[&str]) -> (SeenInstead, String) {
    match check(capture, engine, leads) {
        Err(error) => match &error {
            AnalysisError::NotThisWheel { seen, .. } => ((**seen).clone(), error.to_string()),
            _ => panic!("{error}"),
        },
        Ok(analysis) => panic!("locked at {:?}", analysis.crank.rpm_mean),
    }
}

#[test]
fn another_wheel_is_named_with_its_speed() {
    for wheel in ["60-2", "36-1", "36-2-1", "12-plus-1"] {
        let other = engine("wheel  = \"36-2\"", &format!("wheel  = \"{wheel}\""));
        let (seen, said) = seen(&sound(), &other, &[]);
        let SeenInstead::OtherWheel { wheel: found, rpm, sensor } = seen else { panic!("{said}") };
        assert!(found.contains("36-2") && !found.contains("36-2-1"), "{wheel}: {said}");
        assert!((150.0..320.0).contains(&rpm.0), "{wheel}: {said}");
        assert_eq!(sensor, None, "{wheel}: {said}");
        assert!(said.contains("[crank] of the engine file"), "{said}");
    }
}

#[test]
fn exchanged_leads_are_recognised() {
    let engine = engine("", "");
    let (seen, said) = seen(&sound(), &engine, &["crank=B1 intake", "B1 intake=crank"]);
    let SeenInstead::OnColumn { column, rpm, taken_for } = seen else { panic!("{said}") };
    assert_eq!((column.as_str(), taken_for.as_deref()), ("crank", Some("B1 intake")), "{said}");
    for wanted in ["\"crank=crank\" and give", "\"B1 intake=B1 intake\""] {
        assert!(said.contains(wanted), "{wanted}: {said}");
    }
    assert!((150.0..320.0).contains(&rpm.0), "{said}");
}

#[test]
fn a_clock_that_is_wrong_is_the_reason_that_is_given() {
    let engine = engine("", "");
    for by in [1000.0, 100.0, 1e-3, 1e-6] {
        let (seen, said) = seen(&stretched(by), &engine, &[]);
        let SeenInstead::WrongClock { rpm } = seen else { panic!("{by}: {said}") };
        assert!((150.0..320.0).contains(&(rpm.0 * by)), "{by}: {said}");
        assert!(said.contains("time unit") && said.contains("sample rate"), "{said}");
    }
}

#[test]
fn a_speed_no_engine_has_is_said_and_moves_no_cam() {
    let engine = engine("", "");
    let usual = check(&sound(), &engine, &[]).expect("the demonstration locks");
    let odd = |analysis: &Analysis| {
        analysis.warnings.iter().any(|notice| notice.text.contains("time unit"))
    };
    assert!(!odd(&usual));
    for by in [7.0, 1.0 / 50.0] {
        let analysis = check(&stretched(by), &engine, &[]).expect("the wheel is there");
        assert!(odd(&analysis), "{by}: {:#?}", analysis.warnings);
        for (cam, usual) in analysis.cams.iter().zip(&usual.cams) {
            let apart = cam.measured.position.get() - usual.measured.position.get();
            assert!(apart.abs() < 0.01, "{by}: {apart}");
        }
    }
}

/// Numbers from 0 to 1 by a fixed rule (splitmix64).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Ways a lead shows noise: each sample by itself, slow wandering, sparks of random distance, and
/// mains hum under noise.
const NOISES: [&str; 4] = ["white", "wandering", "sparks", "hum and white"];

fn noise(kind: &str, seed: u64) -> Capture {
    let mut chance = Chance(seed);
    let (rate, rows) = (10_000.0, 15_000);
    let (mut state, mut until) = (0.0, 0.0);
    let values = (0..rows)
        .map(|row| {
            let time = f64::from(row) / rate;
            let white = chance.next() + chance.next() + chance.next() - 1.5;
            let value = match kind {
                "white" => white,
                "wandering" => {
                    state = 0.98 * state + 0.2 * white;
                    state
                }
                "sparks" => {
                    if time > until + 5e-4 {
                        until = time - 0.01 * chance.next().max(1e-9).ln();
                    }
                    if time >= until { 5.0 } else { 0.0 }
                }
                _ => (time * 50.0 * std::f64::consts::TAU).sin() + white,
            };
            value as f32
        })
        .collect();
    let channel = Channel {
        name: "crank".into(),
        column: 2,
        unit: Unit::Volts,
        values,
        over_range: Vec::new(),
    };
    let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(1.0 / rate) };
    Capture::new("noise.csv".into(), CaptureKind::Sampled, clock, vec![channel])
}

fn wheel(name: &str) -> Wheel {
    engine(
        "wheel  = \"36-2\"\nsensor = \"hall\"\nedge   = \"falling\"",
        &format!("wheel = \"{name}\"\nsensor = \"hall\""),
    )
    .crank
    .wheel
}

#[test]
fn noise_is_no_wheel() {
    // Hall and reluctance leads see the same noise differently; wheels with one gap, several, an
    // extra tooth, and none.
    let sensors = [Sensor::Hall, Sensor::Reluctance];
    let wheels = ["36-2", "60-2", "36-2-2-2-uneven", "12-plus-1", "24-even", "half-moon"];
    for (seed, kind) in (1..).zip(NOISES) {
        let capture = noise(kind, seed);
        for (name, sensor) in wheels.into_iter().zip(sensors.into_iter().cycle()) {
            // A steady tone is just what an even wheel gives; only its speed could tell.
            if kind == "hum and white" && matches!(name, "24-even" | "half-moon") {
                continue;
            }
            let train = find_edges(&capture, &capture.channels[0], Some(sensor));
            let crank = Crank {
                over_tooth: None,
                wheel: wheel(name),
                sensor,
                edge: None,
                tdc: None,
                lines: Lines::default(),
                described: true,
            };
            if let Ok(lock) = lock(&train, &crank, "crank") {
                panic!(
                    "{kind}, {sensor:?}, {name}: {:?}, odds {}, {} missed, {} extra of {}",
                    lock.rpm_mean, lock.confidence, lock.missed, lock.extra, lock.teeth_seen
                );
            }
        }
    }
}

/// 36-2 gives 68 edges a turn: 300,000 a second would be 265,000 rpm.
#[test]
fn more_edges_than_any_crank_makes_are_not_searched() {
    let edges = 0..60_000_u32;
    let clock = Clock::Stamped(edges.clone().map(|edge| f64::from(edge) / 3e5).collect());
    let channel = Channel {
        name: "crank".into(),
        column: 2,
        unit: Unit::Level,
        values: edges.map(|edge| f32::from(u8::from(edge % 2 == 1))).collect(),
        over_range: Vec::new(),
    };
    let capture = Capture::new("fast.csv".into(), CaptureKind::Events, clock, vec![channel]);
    let engine = Engine::parse(include_str!("../demo-data/engine.toml"), Path::new("engine.toml"));
    let train = find_edges(&capture, &capture.channels[0], Some(Sensor::Hall));
    let error = lock(&train, &engine.expect("sound").crank, "crank").expect_err("no crank");
    let CrankError::TooManyEdges { per_second, .. } = &error else { panic!("{error}") };
    assert!((per_second / 3e5 - 1.0).abs() < 1e-3, "{error}");
}

/// A steady tone of which so many edges are lost, each by chance.
fn lossy_tone(lost: f64, seed: u64) -> Capture {
    let mut chance = Chance(seed);
    let (mut stamps, mut values) = (vec![0.0], vec![0.0_f32]);
    for period in 1..400 {
        if chance.next() >= lost {
            let at = f64::from(period) * 0.01;
            // A thousandth of scatter: a generator or the mains, not an engine.
            let at = at + 1e-5 * (chance.next() - 0.5);
            stamps.extend([at, at + 0.004]);
            values.extend([1.0, 0.0]);
        }
    }
    let channel = Channel {
        name: "crank".into(),
        column: 2,
        unit: Unit::Level,
        values: values.into(),
        over_range: Vec::new(),
    };
    Capture::new("tone.csv".into(), CaptureKind::Events, Clock::Stamped(stamps), vec![channel])
}

#[test]
fn a_tone_that_loses_edges_is_no_wheel_with_gaps() {
    for (seed, lost) in (1..=3).flat_map(|seed| [0.3, 0.5, 0.6].map(|lost| (seed, lost))) {
        let capture = lossy_tone(lost, seed);
        let train = find_edges(&capture, &capture.channels[0], Some(Sensor::Hall));
        for name in ["{ slots = 4, missing = [4] }", "{ slots = 6, missing = [6] }", "\"36-2\""] {
            let text = format!("wheel = {name}\nsensor = \"hall\"");
            let crank =
                engine("wheel  = \"36-2\"\nsensor = \"hall\"\nedge   = \"falling\"", &text).crank;
            if let Ok(lock) = lock(&train, &crank, "crank") {
                panic!(
                    "seed {seed}, {lost} lost, {name}: odds {}, {} missed, {} extra of {}",
                    lock.confidence, lock.missed, lock.extra, lock.teeth_seen
                );
            }
        }
    }
}
