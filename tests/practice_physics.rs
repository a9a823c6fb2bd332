//! Practice captures from outside: edges where the wheel says, faults that show where they
//! should, the same bytes for the same seed, and refusals with the number that would do.
//!
//! The edges are found by a plain threshold search written here, not by the decoder.

use std::path::Path;

use camwitness::capture::{Capture, CaptureKind};
use camwitness::engine::Engine;
use camwitness::practice::{
    Dialect, Ending, ExtraLead, Fault, Practice, PracticeError, Preset, Scenario, csv_text,
    generate,
};

fn engine() -> Engine {
    let text = include_str!("../demo-data/engine.toml");
    Engine::parse(text, Path::new("engine.toml")).expect("the demonstration engine")
}

fn clean(faults: &[&str]) -> Scenario {
    Scenario {
        faults: faults.iter().map(|words| words.parse::<Fault>().expect(words)).collect(),
        preset: Preset::Clean,
        exact: true,
        rate: 50_000.0,
        ..Scenario::new(engine())
    }
}

fn make(scenario: &Scenario) -> Practice {
    generate(scenario).expect("a scenario that can be made")
}

fn column(capture: &Capture, name: &str) -> Vec<f32> {
    capture.channels.iter().find(|channel| channel.name == name).expect(name).values.to_vec()
}

/// Times at which a square wave crosses the middle of its levels, one way.
fn crossings(capture: &Capture, name: &str, rising: bool) -> Vec<f64> {
    let values = column(capture, name);
    let low = values.iter().fold(f32::INFINITY, |a, &b| a.min(b));
    let high = values.iter().fold(f32::NEG_INFINITY, |a, &b| a.max(b));
    let middle = (low + high) / 2.0;
    let crosses = |pair: &[f32]| {
        if rising {
            pair[0] < middle && pair[1] >= middle
        } else {
            pair[0] >= middle && pair[1] < middle
        }
    };
    values
        .windows(2)
        .enumerate()
        .filter(|(_, pair)| crosses(pair))
        .map(|(row, pair)| {
            let part = f64::from((middle - pair[0]) / (pair[1] - pair[0]));
            capture.clock.at(row).0 + part * (capture.clock.at(row + 1).0 - capture.clock.at(row).0)
        })
        .collect()
}

/// Angle from datum to datum of a 36-2 wheel: (time, degrees since the first datum) of each falling
/// edge.
fn crank_marks(capture: &Capture) -> Vec<(f64, f64)> {
    let times = crossings(capture, "crank", false);
    let steps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let is_gap = |i: usize| {
        i >= 1
            && i + 1 < steps.len()
            && steps[i] > 2.0 * steps[i - 1]
            && steps[i] > 2.0 * steps[i + 1]
    };
    // After spin-up only: the first gap after 1 s.
    let first = (0..steps.len()).find(|&i| times[i] > 1.0 && is_gap(i)).expect("a gap") + 1;
    let mut angle = 0.0;
    let mut marks = vec![(times[first], 0.0)];
    for i in first..steps.len() {
        angle += if is_gap(i) { 30.0 } else { 10.0 };
        marks.push((times[i + 1], angle));
    }
    marks
}

/// Crank angles, modulo 360, of a cam's rising edges that lie well between two near teeth.
fn cam_angles(capture: &Capture, name: &str) -> Vec<f64> {
    let marks = crank_marks(capture);
    crossings(capture, name, true)
        .into_iter()
        .filter_map(|time| {
            let after = marks.partition_point(|mark| mark.0 <= time);
            let (before, after) = (marks.get(after.checked_sub(1)?)?, marks.get(after)?);
            (after.1 - before.1 < 15.0)
                .then(|| before.1 + (time - before.0) / (after.0 - before.0) * (after.1 - before.1))
        })
        .collect()
}

/// How late a cam's rising edges are against the wheel file and `at`, worst of all found, in crank
/// degrees; the datum pass is tried both ways round.
fn late(capture: &Capture, name: &str, at: f64) -> Vec<f64> {
    // three-uneven: rising at 0, 90 and 250 cam degrees.
    let places = [at, at + 180.0, at + 500.0];
    let angles = cam_angles(capture, name);
    let off = |angle: f64, flip: f64| {
        places
            .iter()
            .map(|place| (angle + flip - place + 360.0).rem_euclid(720.0) - 360.0)
            .min_by(|a, b| a.abs().total_cmp(&b.abs()))
            .expect("three places")
    };
    let all = |flip: f64| -> Vec<f64> { angles.iter().map(|&angle| off(angle, flip)).collect() };
    let size = |list: &[f64]| list.iter().map(|off| off.abs()).fold(0.0, f64::max);
    let (one, other) = (all(0.0), all(360.0));
    assert!(one.len() > 6, "{} edges", one.len());
    if size(&one) < size(&other) { one } else { other }
}

#[test]
fn cam_edges_pass_where_wheel_and_engine_file_say() {
    let practice = make(&clean(&[]));
    for (cam, at) in [("B1 intake", 137.0), ("B2 intake", 497.0)] {
        for off in late(&practice.capture, cam, at) {
            // 0.02 and 0.03 of wheel error on crank and cam, 0.01 of sampling, 0.1 of the straight
            // line.
            assert!(off.abs() < 0.2, "{cam}: {off}");
        }
    }
}

#[test]
fn a_skipped_tooth_moves_its_cam_by_the_step_and_lowers_its_bank() {
    // docs/sources.md, "Drives": a crank sprocket of 19 teeth steps 360/19 = 18.95°.
    let sound = make(&clean(&[]));
    let skipped = make(&clean(&["skip:B1 intake@primary:+1"]));
    let mean = |list: Vec<f64>| list.iter().sum::<f64>() / list.len() as f64;
    let moved = mean(late(&skipped.capture, "B1 intake", 137.0 + 360.0 / 19.0));
    assert!(moved.abs() < 0.1, "{moved}");
    let other = mean(late(&skipped.capture, "B2 intake", 497.0));
    assert!(other.abs() < 0.1, "{other}");
    let truth = &skipped.truth;
    let deviation = truth.cams[0].deviation_deg.expect("an at");
    assert!((deviation - 360.0 / 19.0).abs() < 1e-9, "{deviation}");
    assert_eq!(
        (truth.skips[0].teeth, truth.skips[0].moves.as_slice()),
        (1, &["B1 intake".to_owned()][..])
    );
    // Heywood eq. 2.6 with rc 10, R 3.4: V/Vc is 8.25 at 60° and 7.01 at 79° after BDC, to the
    // power 1.3 less 1 atmosphere: a fifth of the gauge peak is gone, some of it made up by
    // leakage.
    for cylinder in &truth.cylinders {
        let was = sound.truth.cylinders.iter().find(|c| c.cylinder == cylinder.cylinder);
        let ratio = cylinder.peak / was.expect("same engine").peak;
        let range = if cylinder.bank == 1 { 0.72..0.88 } else { 0.985..1.015 };
        assert!(range.contains(&ratio), "cylinder {}: {ratio}", cylinder.cylinder);
    }
}

#[test]
fn a_crank_wheel_moved_late_reads_early_on_every_cam_and_leaves_the_gas_alone() {
    let sound = make(&clean(&[]));
    let moved = make(&clean(&["crank-wheel:6"]));
    let mean = |list: Vec<f64>| list.iter().sum::<f64>() / list.len() as f64;
    for (cam, at) in [("B1 intake", 137.0), ("B2 intake", 497.0)] {
        let off = mean(late(&moved.capture, cam, at - 6.0));
        assert!(off.abs() < 0.1, "{cam}: {off}");
    }
    assert!(moved.truth.cams.iter().all(|cam| cam.deviation_deg == Some(-6.0)));
    assert_eq!(moved.truth.cylinders, sound.truth.cylinders);
    assert!((moved.truth.crank.tdc_deg - 80.0).abs() < 1e-9);
}

#[test]
fn a_slipped_cam_wheel_moves_the_signal_and_not_the_valves() {
    let sound = make(&clean(&[]));
    let moved = make(&clean(&["cam-wheel:B2 intake:-9"]));
    let offs = late(&moved.capture, "B2 intake", 497.0 - 9.0);
    assert!(offs.iter().all(|off| off.abs() < 0.2), "{offs:?}");
    assert_eq!(moved.truth.cams[1].deviation_deg, Some(-9.0));
    assert_eq!(moved.truth.cams[1].valves_deg, 0.0);
    assert_eq!(moved.truth.cylinders, sound.truth.cylinders);
}

#[test]
fn worn_chain_and_phaser_move_their_cams_and_say_so() {
    let worn = make(&clean(&["wear:primary:5"]));
    for cam in &worn.truth.cams {
        let deviation = cam.deviation_deg.expect("an at");
        assert!((4.0..6.0).contains(&deviation), "{deviation}");
        assert_eq!(cam.parts.wear, 5.0);
    }
    let spread = |list: &[f64]| {
        let mean = list.iter().sum::<f64>() / list.len() as f64;
        (list.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / list.len() as f64).sqrt()
    };
    let swing = spread(&late(&worn.capture, "B1 intake", 142.0));
    assert!((0.1..1.0).contains(&swing), "a worn chain swings: {swing}");
    let still = make(&clean(&["phaser:B1 intake:-12"]));
    assert_eq!(still.truth.cams[0].deviation_deg, Some(-12.0));
    assert!(late(&still.capture, "B1 intake", 125.0).iter().all(|off| off.abs() < 0.2));
    let wandering = make(&clean(&["phaser:B1 intake:-12:3"]));
    assert!(spread(&late(&wandering.capture, "B1 intake", 125.0)) > 0.5);
}

#[test]
fn wheel_and_lead_faults_show_in_their_own_signal() {
    let sound = make(&clean(&[]));
    let broken = make(&clean(&["missing-tooth:12"]));
    let count = |practice: &Practice, name: &str| crossings(&practice.capture, name, false).len();
    let turns = sound.truth.motion.turns;
    let lost = count(&sound, "crank") - count(&broken, "crank");
    assert!((lost as f64 - turns).abs() <= 1.0, "one tooth per turn: {lost} in {turns}");
    assert_eq!(broken.truth.crank.missing_teeth, [12]);

    let damaged = make(&clean(&["damaged-tooth:B1 intake:1"]));
    let falls = |practice: &Practice| crossings(&practice.capture, "B1 intake", false);
    let moved: Vec<f64> = falls(&sound).iter().zip(&falls(&damaged)).map(|(a, b)| a - b).collect();
    let early = moved.iter().filter(|by| **by > 1e-3).count();
    assert!(early * 3 >= moved.len() - 2 && early * 3 <= moved.len() + 2, "{moved:?}");
    assert!(damaged.truth.cams[0].damaged[0].trailing_edge_early_deg > 4.0);
    assert_eq!(damaged.truth.cams[0].deviation_deg, Some(0.0));

    let reversed = make(&clean(&["reversed:crank"]));
    assert_eq!(reversed.truth.leads[0].polarity, "inverted");
    let (up, down) = (column(&sound.capture, "crank"), column(&reversed.capture, "crank"));
    let high = |values: &[f32]| values.iter().filter(|&&value| value > 2.5).count();
    assert!((high(&up) + high(&down)).abs_diff(up.len()) < up.len() / 50);

    let crossed = make(&clean(&["crossed-leads:B1 intake:B2 intake"]));
    assert_eq!(crossed.truth.leads[1].carries, "B2 intake");
    let offs = late(&crossed.capture, "B1 intake", 497.0);
    assert!(offs.iter().all(|off| off.abs() < 0.2), "{offs:?}");

    let weak = make(&clean(&["weak-cylinder:3:0.7"]));
    for cylinder in &weak.truth.cylinders {
        let want = if cylinder.cylinder == 3 { 0.7 } else { 1.0 };
        // The crank slows less before a weak cylinder, which leaves it less time to leak.
        assert!((cylinder.of_sound - want).abs() < 0.05, "{cylinder:?}");
    }
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_another() {
    let text = |seed, take| {
        let practice =
            make(&Scenario { seed, take, preset: Preset::Nasty, ..Scenario::new(engine()) });
        let csv =
            csv_text(&practice.capture, &practice.steps, Dialect::default()).expect("dialect");
        (csv, serde_json::to_string(&practice.truth).expect("json"))
    };
    assert_eq!(text(5, 1), text(5, 1));
    assert_ne!(text(5, 1).0, text(6, 1).0);
    assert_ne!(text(5, 1).0, text(5, 2).0);
}

#[test]
fn a_logic_capture_shows_the_same_edges_as_a_sampled_one() {
    let sampled = make(&clean(&[]));
    let events = make(&Scenario { kind: CaptureKind::Events, leads: vec![], ..clean(&[]) });
    let crank = column(&events.capture, "crank");
    let falls: Vec<f64> = (1..crank.len())
        .filter(|&row| crank[row - 1] > crank[row])
        .map(|row| events.capture.clock.at(row).0)
        .collect();
    let volts = crossings(&sampled.capture, "crank", false);
    assert_eq!(falls.len(), volts.len());
    for (level, volt) in falls.iter().zip(&volts) {
        assert!((level - volt).abs() < 25e-6, "{level} against {volt}");
    }
}

#[test]
fn the_ends_of_a_capture_are_as_asked() {
    let rocks = make(&Scenario { ending: Ending::RocksBack, seconds: 4.0, ..clean(&[]) });
    assert!(rocks.truth.motion.rocked_back_deg > 3.0, "{:?}", rocks.truth.motion);
    let starts = make(&Scenario { ending: Ending::Starts, seconds: 6.0, ..clean(&[]) });
    assert_eq!(starts.truth.motion.state, "mixed");
    let last =
        crossings(&starts.capture, "crank", false).into_iter().filter(|at| *at > 5.0).count();
    let rpm = last as f64 / 34.0 * 60.0;
    assert!((550.0..1100.0).contains(&rpm), "idles at {rpm}");
}

#[test]
fn engines_of_all_sizes_crank_within_the_speeds_of_real_ones() {
    let mut lines = Vec::new();
    for cylinders in [1_u32, 2, 3, 4, 5, 6, 8] {
        let order: Vec<String> = (1..=cylinders).map(|cylinder| cylinder.to_string()).collect();
        let text = format!(
            "name = \"any\"\nfiring_order = [{}]\n[crank]\nwheel = \"60-2\"\nsensor = \"reluctance\"\n",
            order.join(", ")
        );
        for seed in 1..=12 {
            let engine = Engine::parse(&text, Path::new("any.toml")).expect("an engine");
            let practice = make(&Scenario { seed, seconds: 4.0, ..Scenario::new(engine) });
            let motion = practice.truth.motion;
            lines.push(format!(
                "{cylinders} {seed}: {:.0} rpm, ripple {:.3}",
                motion.rpm_mean, motion.ripple
            ));
            assert!((140.0..300.0).contains(&motion.rpm_mean), "{lines:?}");
            // Issue: ripple 5 to 25 %; the real V6 recording has 24.5 %.
            assert!((0.05..0.26).contains(&motion.ripple), "{lines:?}");
        }
    }
    println!("{}", lines.join("\n"));
}

#[test]
fn what_the_engine_has_not_got_is_refused_with_what_it_has() {
    let rows = [
        ("skip:B9@primary:1", "B1 intake, B2 intake"),
        ("skip:B1 intake@second:1", "primary"),
        ("wear:belt:3", "primary"),
        ("cam-wheel:B9:3", "B1 intake, B2 intake"),
        ("weak-cylinder:7:0.5", "1, 6, 5, 4, 3, 2"),
        ("reversed:ignition 1", "crank, B1 intake, B2 intake, starter"),
        ("crossed-leads:crank:x", "crank, B1 intake, B2 intake, starter"),
        ("phaser:B1 intake:12", "-46 to 0"),
        ("damaged-tooth:B1 intake:4", "1 to 3"),
        ("missing-tooth:35", "no tooth 35"),
    ];
    for (words, shows) in rows {
        let error = generate(&clean(&[words])).expect_err(words);
        assert!(error.to_string().contains(shows), "{error}");
    }
    let lead = Scenario { leads: vec![ExtraLead::Pressure(9)], ..clean(&[]) };
    assert!(generate(&lead).expect_err("cylinder 9").to_string().contains("1, 6, 5, 4, 3, 2"));
}

#[test]
fn impossible_rates_and_lengths_are_refused_with_a_number_that_does() {
    let slow = Scenario { rate: 50.0, ..clean(&[]) };
    let Err(PracticeError::RateTooLow { enough, .. }) = generate(&slow) else { panic!("too slow") };
    make(&Scenario { rate: enough as f64, ..slow });
    for seed in 1..20 {
        let short = Scenario { seconds: 0.4, seed, ..clean(&[]) };
        let Err(PracticeError::TooShort { enough, .. }) = generate(&short) else {
            panic!("too short")
        };
        make(&Scenario { seconds: enough, ..short });
    }
    for seconds in [f64::NAN, -1.0, 0.0, 1e9] {
        assert!(generate(&Scenario { seconds, ..clean(&[]) }).is_err());
    }
    assert!(generate(&Scenario { rate: f64::INFINITY, ..clean(&[]) }).is_err());
}

#[test]
fn another_take_is_another_capture_of_the_same_engine() {
    let of = |take| make(&Scenario { take, exact: false, ..clean(&[]) }).truth;
    let (one, two) = (of(1), of(2));
    assert_eq!(one.cams, two.cams);
    assert_ne!(one.motion, two.motion);
    assert!((one.motion.rpm_mean / two.motion.rpm_mean - 1.0).abs() < 0.01);
}

/// Every library wheel on crank and cam, both sensors, sampled and logic: the number of
/// marks per crank turn is the wheel's, counted on the signal.
#[test]
fn every_library_wheel_makes_a_signal_with_its_own_number_of_teeth() {
    for wheel in camwitness::wheel::LIBRARY {
        for sensor in ["hall", "reluctance"] {
            let text = format!(
                "name = \"any\"\nfiring_order = [1, 3, 4, 2]\n[crank]\nwheel = \"{0}\"\nsensor = \"{sensor}\"\n\
                 [[cam]]\nname = \"cam\"\nbank = 1\nshaft = \"single\"\nwheel = \"{0}\"\nsensor = \"{sensor}\"\nat = 700.0\n",
                wheel.name
            );
            let engine = Engine::parse(&text, Path::new("any.toml")).expect(wheel.name);
            let teeth = engine.crank.wheel.tooth_count() as f64;
            let base = Scenario {
                leads: vec![],
                preset: Preset::Clean,
                rpm: Some(250.0),
                ..Scenario::new(engine)
            };
            let sampled = make(&base);
            assert!(
                sampled.capture.channels.iter().all(|c| c.values.iter().all(|v| v.is_finite()))
            );
            let events = make(&Scenario { kind: CaptureKind::Events, ..base });
            let level = column(&events.capture, "crank");
            let falls: Vec<f64> = (1..level.len())
                .filter(|&row| level[row - 1] > level[row])
                .map(|row| events.capture.clock.at(row).0)
                .collect();
            // Only after the spin-up, when a conditioner surely answers.
            let motion = events.truth.motion;
            let steady =
                falls.iter().filter(|at| (motion.from_s..motion.to_s).contains(at)).count();
            let want = motion.cycles * 2.0 * teeth;
            let extra = (steady as f64 - want).abs();
            // A half-open turn at each end.
            assert!(extra <= 0.6 * teeth + 1.0, "{} {sensor}: {steady} of {want}", wheel.name);
        }
    }
}
