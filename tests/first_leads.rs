//! The first leads on every kind of engine, with and without the crank beside them; cams beside
//! them; what is real. The truth is the practice engine's own, or what came with a recording.

use std::path::{Path, PathBuf};

use camwitness::analysis::{Checked, analyse, check};
use camwitness::capture::{ReadOptions, read};
use camwitness::compression::CylinderResult;
use camwitness::practice::{ExtraLead, Fault, Scenario, generate};
use camwitness::report::job::Job;
use camwitness::report::json::write_checked;
use camwitness::verdict::{CompressionState, State};
use camwitness::{Engine, Options};

use super::two_leads::{made, tested};

use ExtraLead::{Ignition, Starter};

fn engine(text: &str) -> Engine {
    Engine::parse(text, Path::new("engine.toml")).expect("an engine")
}

/// A crank and an intake cam a bank beside firing order and banks.
fn with_sensors(text: &str, banks: &[&str]) -> String {
    let mut whole = format!(
        "{text}[crank]\nwheel = \"60-2\"\nsensor = \"hall\"\nedge = \"falling\"\ntdc = 84\n"
    );
    for (at, bank) in banks.iter().enumerate() {
        let place = 100 + 90 * at;
        whole += &format!(
            "[[cam]]\nname = \"cam {at}\"\nbank = {bank}\nshaft = \"intake\"\nwheel = \"three-uneven\"\n\
             sensor = \"hall\"\nat = {place}.0\nphaser = {{ rest = \"advanced\", travel = 50.0 }}\n"
        );
    }
    whole
}

fn scenario(text: &str, faults: &[&str], seed: u64) -> Scenario {
    Scenario {
        faults: faults.iter().map(|words| words.parse::<Fault>().expect("a fault")).collect(),
        seed,
        seconds: 5.0,
        rate: 10_000.0,
        leads: vec![Starter, Ignition(1)],
        ..Scenario::new(engine(text))
    }
}

const THREE: &str = "name = \"three\"\nfiring_order = [1, 3, 2]\n[banks]\n1 = [1, 2, 3]\n";
const FIVE: &str =
    "name = \"five\"\nfiring_order = [1, 2, 4, 5, 3]\n[banks]\n1 = [1, 2, 3, 4, 5]\n";
const V6: &str =
    "name = \"V6\"\nfiring_order = [1, 6, 5, 4, 3, 2]\n[banks]\n1 = [1, 2, 3]\n2 = [4, 5, 6]\n";

#[test]
fn three_and_five_cylinders_are_named_alike_with_and_without_the_crank() {
    for (text, weak) in [(THREE, "weak-cylinder:2:0.6"), (FIVE, "weak-cylinder:4:0.6")] {
        let low: u32 = weak[14..15].parse().expect("a digit");
        let whole = with_sensors(text, &["1"]);
        let asked = scenario(&whole, &[weak], 31);
        let with = generate(&asked).expect("a capture").capture;
        let alone = Scenario { sensors: Some(Vec::new()), ..asked };
        let alone = generate(&alone).expect("a capture").capture;
        let Ok(Checked::Timing(analysis)) = check(&[with], &engine(&whole), &Options::default())
        else {
            panic!("timing")
        };
        let test = tested(&alone, text).expect("a finding");
        assert_eq!(test.finding.cylinders, [low], "{:?}", test.finding);
        assert_eq!(analysis.compression_finding.cylinders, [low], "{text}");
        // Both know their cylinders to within their intervals: six comparisons, so three standard
        // deviations, not two.
        let measured = test.main().compression.measured.as_ref().expect("measured");
        for one in &analysis.compression.measured.as_ref().expect("measured").cylinders {
            let other = measured
                .cylinders
                .iter()
                .find(|other| other.cylinder == one.cylinder)
                .expect("named");
            let half = |of: &CylinderResult| (of.ci95.1 - of.ci95.0) / 2.0;
            let apart = (one.relative - other.relative).abs();
            assert!(apart < 1.5 * half(one).hypot(half(other)), "{one:?} {other:?}");
        }
    }
}

#[test]
fn a_cam_that_serves_both_banks_moves_both_and_nothing_stands_out() {
    let whole = with_sensors(V6, &["[1, 2]"]);
    let of = |faults: &[&str]| generate(&scenario(&whole, faults, 32)).expect("a capture");
    let (sound, late) = (of(&[]), of(&["phaser:cam 0:34"]));
    let mean = |practice: &camwitness::practice::Practice, bank: u32| {
        let cylinders =
            practice.truth.cylinders.iter().filter(|one| (one.cylinder > 3) == (bank == 2));
        cylinders.map(|one| one.peak).sum::<f64>() / 3.0
    };
    for bank in [1, 2] {
        let change = mean(&late, bank) / mean(&sound, bank) - 1.0;
        assert!(change < -0.1, "bank {bank}: {change}");
    }
    let Ok(Checked::Timing(analysis)) =
        check(&[late.capture], &engine(&whole), &Options::default())
    else {
        panic!("timing")
    };
    assert_eq!(analysis.compression_finding.state, CompressionState::Even);
    let late = analysis.cams[0].deviation().expect("placed").0;
    assert!(late > 20.0, "{late}");
    let text = camwitness::report::text::write(&analysis);
    assert!(text.contains("alike"), "all alike cannot be seen, and that is said: {text}");
}

#[test]
fn a_cam_without_the_crank_is_placed_as_coarsely_as_the_coil_allows() {
    let whole = with_sensors(V6, &["1", "2"]);
    for (seed, fault, want) in [(33, "", 0.0), (34, "", 0.0), (35, "phaser:cam 1:45", 45.0)] {
        let faults: Vec<&str> = [fault].into_iter().filter(|one| !one.is_empty()).collect();
        let asked = Scenario {
            sensors: Some(vec!["cam 0".into(), "cam 1".into()]),
            ..scenario(&whole, &faults, seed)
        };
        let capture = generate(&asked).expect("a capture").capture;
        let test = tested(&capture, &whole).expect("a finding");
        let cams = &test.main().cams;
        println!("{cams:?}");
        assert_eq!(cams.len(), 2);
        for cam in cams {
            let want = if cam.cam == 1 { want } else { 0.0 };
            let off = (cam.deviation.0 - want).abs();
            assert!(off < cam.half_width95.0, "{want}: {cam:?}");
            assert!(cam.half_width95.0 > 8.0, "no finer than its source: {cam:?}");
        }
        assert_eq!(cams[1].stands_off(), want != 0.0, "{cams:?}");
        let text = camwitness::report::cranking::write(&test, 200);
        assert!(text.contains("too coarse to tell one tooth"), "{text}");
        assert_eq!(text.contains("late, ±"), want != 0.0, "{text}");
        let json = write_checked(&Checked::Compression(Box::new(test)), &Job::default());
        assert!(
            json.contains("cams_without_crank") && json.contains("\"verdict\": null"),
            "{json}"
        );
    }
}

/// The two constants of `src/analysis/coarse.rs` are from this, seeds 7101 to 7112.
#[test]
#[ignore = "prints how far TDC by the compressions lies behind: cargo test --test pipeline first_leads:: -- --ignored --nocapture"]
fn how_far_tdc_by_the_compressions_lies_behind() {
    let mut all = Vec::new();
    for seed in 7101..=7112 {
        let text = [THREE, FIVE, V6][seed as usize % 3];
        let rhythm = if seed % 4 == 0 { ExtraLead::Battery } else { Starter };
        let whole = with_sensors(text, &["1"]);
        let asked = Scenario {
            sensors: Some(vec!["cam 0".into()]),
            leads: vec![rhythm, Ignition(1)],
            ..scenario(&whole, &[], seed)
        };
        let capture = generate(&asked).expect("a capture").capture;
        let Ok(test) = tested(&capture, &whole) else { continue };
        for cam in &test.main().cams {
            println!("{seed} {rhythm:?} {:+.1}", cam.deviation.0);
            all.push(cam.deviation.0);
        }
    }
    let mean = all.iter().sum::<f64>() / all.len() as f64;
    let sd = (all.iter().map(|off| (off - mean).powi(2)).sum::<f64>() / all.len() as f64).sqrt();
    println!("mean {mean:+.1}, sd {sd:.1}, {} captures", all.len());
    assert!(mean.abs() < 4.0, "{mean}");
}

/// The folder of recordings, or `None`, saying so.
fn recordings() -> Option<PathBuf> {
    let folder = std::env::var_os("CAMWITNESS_CAPTURES").map(PathBuf::from);
    if folder.is_none() {
        println!("CAMWITNESS_CAPTURES is not set: the recordings were NOT tested");
    }
    folder
}

#[test]
fn one_plug_out_is_one_compression_and_all_out_is_none() {
    // What came with the recordings: "the fourth in firing order from the datum has none", 675°
    // after it; with all plugs out none has any. No tdc and no coil came with them, so the cylinder
    // has no number: its place in the firing order is its name.
    let Some(folder) = recordings() else { return };
    let description =
        format!("{}/tests/recordings/twelve-plus-one.toml", env!("CARGO_MANIFEST_DIR"));
    let engine = Engine::read(Path::new(&description)).expect("a description");
    let leads = ["cam A=cam", "cam B=Channel 2"].map(|lead| lead.parse().expect("a lead"));
    let options = Options { leads: leads.to_vec(), ..Options::default() };
    let of = |file: &str| {
        let capture = read(&folder.join(file), &ReadOptions::default()).expect(file);
        analyse(&[capture], &engine, &options).expect("locks")
    };
    let one = of("twelve-plus-one-one-plug-out.csv");
    let finding = &one.compression_finding;
    println!("{finding:?} {:?}", one.compression.withheld);
    for cylinder in one.compression.measured.iter().flat_map(|measured| &measured.cylinders) {
        println!(
            "{} {:.3} {:?} {:?}",
            cylinder.peak, cylinder.relative, cylinder.ci95, cylinder.tdc
        );
    }
    let all = of("twelve-plus-one-all-plugs-out.csv");
    println!("{:?} {:?}", all.compression_finding, all.compression.withheld);
    assert_eq!(finding.state, CompressionState::CylinderLow, "{finding:?}");
    assert_eq!(finding.peaks.len(), 1);
    // The datum tooth that the reference counts from passes at 0.17067 s. Its slow points, a little
    // behind TDC, are 135, 315 and 495° after it, and the one without compression is due at 675.
    let measured = one.compression.measured.as_ref().expect("measured");
    let cylinders = &measured.cylinders;
    let low = measured.first_peak + (cylinders[finding.peaks[0] - 1].tdc - cylinders[0].tdc);
    let datum = one.crank.angle.angle_at(camwitness::units::Seconds(0.17067)).expect("turning");
    let place = (low.0 - datum.0).rem_euclid(720.0);
    println!("without compression {place:.0}° after the datum tooth");
    assert!((place - 675.0).abs() < 25.0, "{place:.1}");
    assert_eq!(all.compression_finding.state, CompressionState::Withheld);
    assert!(all.compression_finding.cylinders.is_empty() && all.compression_finding.bank.is_none());
    for analysis in [&one, &all] {
        assert!(!matches!(analysis.verdict.state, State::Jumped | State::OffNotJumped));
    }
}

#[test]
fn a_cylinder_that_traps_less_is_named_as_one_that_leaks() {
    let practice = made(V6, &["starved-cylinder:5:0.7"], &[Starter, Ignition(3)], 36);
    let test = tested(&practice.capture, V6).expect("a finding");
    assert_eq!(test.finding.cylinders, [5], "{:?}", test.finding);
}

#[test]
fn a_firing_order_that_contradicts_the_banks_is_said() {
    let text = V6.replace("2 = [4, 5, 6]", "2 = [4, 5, 7]");
    let error = Engine::parse(&text, Path::new("engine.toml")).expect_err("no cylinder 7");
    assert!(error.to_string().contains('7'), "{error}");
    let text = V6.replace("2 = [4, 5, 6]", "2 = [3, 5, 6]");
    let error = Engine::parse(&text, Path::new("engine.toml")).expect_err("3 twice, 4 nowhere");
    assert!(error.to_string().contains('3') || error.to_string().contains('4'), "{error}");
}
