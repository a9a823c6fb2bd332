//! From a capture to the words of `check`: odd engines, sources and bad leads, by the whole
//! program.

use std::path::Path;

use camwitness::analysis::{Analysis, Options, analyse};
use camwitness::capture::{Capture, Clock};
use camwitness::compression::{NamedBy, Source, Withheld};
use camwitness::engine::Engine;
use camwitness::practice::{Ending, ExtraLead, Practice, Scenario, generate};
use camwitness::report::text;

use super::practice::{engine, made, without};

fn checked(capture: &Capture, engine: &Engine) -> Analysis {
    analyse(std::slice::from_ref(capture), engine, &Options::default()).expect("it locks")
}

/// A channel of the capture, to be changed.
fn spoilt(capture: &Capture, lead: &str, spoil: impl Fn(f32) -> f32) -> Capture {
    let mut capture = capture.clone();
    let channel = capture.channels.iter_mut().find(|channel| channel.name == lead).unwrap();
    channel.values.to_mut().iter_mut().for_each(|value| *value = spoil(*value));
    capture
}

/// The reason a source was withheld for, which the text has to give as well.
fn refused(capture: &Capture, engine: &Engine, source: Source) -> Withheld {
    let analysis = checked(capture, engine);
    let outcome = &analysis.compression;
    let found = outcome.withheld.iter().find(|(one, _)| *one == source);
    let reason = found.unwrap_or_else(|| panic!("{source:?} was used: {outcome:?}")).1;
    assert!(outcome.measured.as_ref().is_none_or(|measured| measured.source != source));
    // The text is wrapped: compare word by word.
    let words = |text: &str| text.split_whitespace().collect::<Vec<&str>>().join(" ");
    let text = words(&text::write(&analysis));
    println!("{reason}");
    assert!(text.contains(&words(&reason.to_string())), "not said: {reason}\n{text}");
    reason
}

/// The number of the lowest cylinder.
fn lowest(analysis: &Analysis) -> (Option<u32>, f64) {
    let cylinders = &analysis.compression.measured.as_ref().expect("measured").cylinders;
    let low = cylinders.iter().min_by(|a, b| a.relative.total_cmp(&b.relative)).unwrap();
    (low.cylinder, low.relative)
}

fn weak(cylinder: u32, leads: Vec<ExtraLead>) -> (Engine, Practice) {
    let engine = engine(6);
    let practice = made(&engine, &[format!("weak-cylinder:{cylinder}:0.75")], 31, leads);
    (engine, practice)
}

fn true_relative(practice: &Practice, cylinder: u32) -> f64 {
    let mut all = practice.truth.cylinders.iter();
    all.find(|one| one.cylinder == cylinder).unwrap().relative
}

#[test]
fn a_bad_clamp_is_said_and_crank_speed_stands_in() {
    let (engine, practice) = weak(4, vec![ExtraLead::Starter]);
    let good = checked(&practice.capture, &engine);
    assert_eq!(good.compression.measured.as_ref().unwrap().source, Source::StarterCurrent);
    assert_eq!(lowest(&good).0, Some(4));
    let starter = |spoil: &dyn Fn(f32) -> f32| spoilt(&practice.capture, "starter", spoil);
    let amps = &practice.capture.channels.iter().find(|c| c.name == "starter").unwrap().values;
    let mean = amps.iter().sum::<f32>() / amps.len() as f32;

    let reason = |capture: &Capture| refused(capture, &engine, Source::StarterCurrent);
    assert_eq!(reason(&starter(&|value| value.min(mean))), Withheld::Clipped);
    assert_eq!(reason(&starter(&|value| -value)), Withheld::Reversed);
    // 100 A/V entered for a clamp of 1 A/V, and the other way round.
    for factor in [100.0, 0.01] {
        let scaled = reason(&starter(&|value| value * factor));
        assert!(matches!(scaled, Withheld::WrongScale { .. }), "{factor}: {scaled:?}");
    }
    // Crank speed stands in, and finds the same cylinder.
    let reversed = checked(&starter(&|value| -value), &engine);
    assert_eq!(reversed.compression.measured.as_ref().unwrap().source, Source::CrankSpeed);
    assert_eq!(lowest(&reversed).0, Some(4));
}

#[test]
fn a_clamp_that_was_not_zeroed_is_said() {
    let (engine, practice) = weak(4, vec![ExtraLead::Starter]);
    let mut capture = practice.capture;
    // The practice clamp has a zero error of its own, of a few amperes. Two seconds of standing
    // still before the starter engages: the first tenth of a second, over and over.
    let Clock::Uniform { step, .. } = capture.clock else { panic!("sampled") };
    let (tenth, rest) = ((0.1 / step.0) as usize, (2.0 / step.0) as usize);
    for channel in &mut capture.channels {
        let still: Vec<f32> = channel.values.iter().take(tenth).copied().collect();
        let zero = if channel.name == "starter" { 60.0 } else { 0.0 };
        channel.values =
            still.iter().cycle().take(rest).chain(&channel.values).map(|v| v + zero).collect();
        channel.over_range.clear();
    }
    let reason = refused(&capture, &engine, Source::StarterCurrent);
    assert!(matches!(reason, Withheld::NotZeroed { reading } if (reading - 60.0).abs() < 10.0));
}

#[test]
fn battery_voltage_alone_finds_the_weak_cylinder() {
    let (engine, practice) = weak(5, vec![ExtraLead::Battery]);
    let analysis = checked(&practice.capture, &engine);
    let measured = analysis.compression.measured.as_ref().unwrap();
    assert_eq!(measured.source, Source::BatteryVoltage);
    let (cylinder, relative) = lowest(&analysis);
    assert_eq!(cylinder, Some(5));
    assert!((relative - true_relative(&practice, 5)).abs() < 0.03, "{relative}");
    assert!(text::write(&analysis).contains("Compression, relative, from battery voltage"));
    // Leads swapped at the battery.
    let reversed = spoilt(&practice.capture, "battery", |value| 12.0 - value);
    assert_eq!(refused(&reversed, &engine, Source::BatteryVoltage), Withheld::Reversed);
}

#[test]
fn an_engine_that_starts_or_turns_too_little_is_said() {
    let engine = engine(6);
    let asked = |seconds: f64, ending: Ending| {
        let mut scenario = Scenario::new(engine.clone());
        (scenario.seconds, scenario.ending, scenario.seed) = (seconds, ending, 31);
        generate(&scenario).unwrap().capture
    };
    let short = refused(&asked(1.3, Ending::Cranking), &engine, Source::StarterCurrent);
    assert!(matches!(short, Withheld::FewerThanThreeCycles { whole } if whole < 3), "{short:?}");
    // It fires half way through, after two cycles of cranking at most.
    let starts = refused(&asked(3.0, Ending::Starts), &engine, Source::StarterCurrent);
    assert!(matches!(starts, Withheld::EngineStarted { cycles } if cycles < 3), "{starts:?}");
    // With enough cycles before it fires, those are used and the others counted.
    let analysis = checked(&asked(7.0, Ending::Starts), &engine);
    let outcome = &analysis.compression;
    assert!(outcome.steady.unwrap().fired > 0);
    for one in &outcome.measured.as_ref().expect("cranked first").cylinders {
        assert!((one.relative - 1.0).abs() < 0.03, "a sound engine: {one:?}");
    }
    assert!(text::write(&analysis).contains("with the engine firing"));
}

/// The same rows played unevenly: time runs faster and slower by turns.
fn jerked(capture: &Capture, share: f64, hertz: f64) -> Capture {
    let Clock::Uniform { start, step } = capture.clock else { panic!("sampled") };
    let stamps = (0..capture.rows())
        .map(|row| {
            let time = start.0 + row as f64 * step.0;
            let swing = std::f64::consts::TAU * hertz;
            time - share / swing * (swing * time).cos()
        })
        .collect();
    Capture { clock: Clock::Stamped(stamps), ..capture.clone() }
}

#[test]
fn uneven_cranking_is_said() {
    // 30 % faster and slower, two and a half times a second: out of step with the engine's cycles.
    let (engine, practice) = weak(4, vec![ExtraLead::Starter]);
    let capture = jerked(&practice.capture, 0.3, 2.7);
    let speed = refused(&without(&capture, &["starter"]), &engine, Source::CrankSpeed);
    assert_eq!(speed, Withheld::UnevenCranking);
    assert!(checked(&without(&capture, &["starter"]), &engine).compression.measured.is_none());
}

/// A V6 of 90° between its banks on a common crank: it fires after 90° and 150° by turns.
const ODD_FIRE: &str = "firing_angles = [0, 90, 240, 330, 480, 570]\n";

fn odd_fire(extra: &str) -> Engine {
    let text = include_str!("fixtures/practice.toml")
        .replace("ORDER", "1, 2, 3, 4, 5, 6")
        .replace("ODD", "1, 3, 5")
        .replace("EVEN", "2, 4, 6")
        .replace("[banks]", &format!("{ODD_FIRE}[banks]"));
    Engine::parse(&format!("{text}{extra}"), Path::new("odd-fire.toml")).unwrap()
}

#[test]
fn an_odd_fire_engine_has_its_cylinders_measured_and_named() {
    let engine = odd_fire("");
    for seed in [41, 42, 43] {
        let cylinder = 1 + (seed % 6) as u32;
        let faults = [format!("weak-cylinder:{cylinder}:0.8")];
        let leads = vec![ExtraLead::Starter];
        let practice = made(&engine, &faults, seed, leads);
        for (left_out, source, within) in
            [(&[][..], Source::StarterCurrent, 0.03), (&["starter"][..], Source::CrankSpeed, 0.06)]
        {
            let analysis = checked(&without(&practice.capture, left_out), &engine);
            let measured = analysis.compression.measured.as_ref();
            let measured =
                measured.unwrap_or_else(|| panic!("{:?}", analysis.compression.withheld));
            assert_eq!((measured.source, measured.named_by), (source, NamedBy::Phase));
            assert_eq!(lowest(&analysis).0, Some(cylinder));
            for one in &measured.cylinders {
                let truth = true_relative(&practice, one.cylinder.unwrap());
                println!("seed {seed} {source:?} {:?}: {:+.4}", one.cylinder, one.relative - truth);
                assert!((one.relative - truth).abs() < within, "{one:?} {truth}");
            }
        }
    }
}

#[test]
fn a_crank_wheel_too_coarse_for_speed_says_what_to_add() {
    // Ten teeth a turn: three and a third in a firing interval of 120°.
    let coarse = |text: &str| text.replace("wheel = \"36-2\"", "wheel = \"11-1\"");
    let text = coarse(include_str!("fixtures/practice.toml"))
        .replace("ORDER", "1, 2, 3, 4, 5, 6")
        .replace("ODD", "1, 3, 5")
        .replace("EVEN", "2, 4, 6");
    let engine = Engine::parse(&text, Path::new("coarse.toml")).unwrap();
    let practice = made(&engine, &[], 51, vec![]);
    let reason = refused(&practice.capture, &engine, Source::CrankSpeed);
    assert_eq!(reason, Withheld::WheelTooCoarse);
    assert!(checked(&practice.capture, &engine).compression.measured.is_none());
}

#[test]
fn a_lead_sampled_too_slowly_is_withheld() {
    // 250 rows a second at 170 rpm are a row in four degrees: a step of four rows is longer than a
    // compression can be followed by.
    let text = include_str!("fixtures/practice.toml")
        .replace("wheel = \"36-2\"", "wheel = \"11-1\"")
        .replace("ORDER", "1, 2, 3, 4, 5, 6")
        .replace("ODD", "1, 3, 5")
        .replace("EVEN", "2, 4, 6");
    let engine = Engine::parse(&text, Path::new("slow.toml")).unwrap();
    let mut scenario = Scenario::new(engine.clone());
    (scenario.seed, scenario.seconds, scenario.rate, scenario.rpm) = (52, 6.0, 250.0, Some(170.0));
    let practice = generate(&scenario).unwrap();
    let reason = refused(&practice.capture, &engine, Source::StarterCurrent);
    assert_eq!(reason, Withheld::SampledTooSlowly);
    assert!(checked(&practice.capture, &engine).compression.measured.is_none());
}

#[test]
fn an_engine_without_cams_still_has_its_cylinders_compared() {
    let text = "name = \"four without cams\"\nfiring_order = [1, 3, 4, 2]\n[banks]\n1 = [1, 2, 3, 4]\n\
                [crank]\nwheel = \"60-2\"\nsensor = \"hall\"\ntdc = 84.0\n";
    let engine = Engine::parse(text, Path::new("no-cams.toml")).unwrap();
    let leads = vec![ExtraLead::Starter, ExtraLead::Ignition(1)];
    let practice = made(&engine, &["weak-cylinder:3:0.7".into()], 61, leads);
    let analysis = checked(&practice.capture, &engine);
    assert_eq!(lowest(&analysis).0, Some(3), "named by the ignition lead");
    let written = text::write(&analysis);
    println!("{written}");
    assert!(written.contains("cyl 3 "));
    assert!(!written.contains("chain,") && !written.contains("every cam"), "{written}");
    // Without it the peaks are numbered, and the text says what would name them.
    let unnamed = checked(&without(&practice.capture, &["ignition 1"]), &engine);
    assert_eq!(lowest(&unnamed).0, None);
    let written = text::write(&unnamed);
    assert!(written.contains("peak 1 ") && !written.contains("cyl ?"), "{written}");
    assert!(written.contains("Which cylinder is which is not known"));
}

#[test]
fn with_unnamed_cylinders_no_bank_is_called_alike_without_saying_it_is_not_known() {
    let text = "name = \"six without cams\"\nfiring_order = [1, 2, 3, 4, 5, 6]\n[banks]\n1 = [1, 3, 5]\n2 = [2, 4, 6]\n\
                [crank]\nwheel = \"36-2\"\nsensor = \"hall\"\nedge = \"falling\"\ntdc = 74.0\n";
    let engine = Engine::parse(text, Path::new("no-cams.toml")).unwrap();
    let practice = made(&engine, &["weak-cylinder:3:0.7".into()], 62, vec![ExtraLead::Starter]);
    let analysis = checked(&practice.capture, &engine);
    let difference = analysis.compression.measured.as_ref().unwrap().bank_difference.unwrap();
    assert_eq!((difference.bank, difference.low_bank), (None, None));
    let written = text::write(&analysis).split_whitespace().collect::<Vec<&str>>().join(" ");
    assert!(written.contains("Which bank a peak belongs to is not known"), "{written}");
}
