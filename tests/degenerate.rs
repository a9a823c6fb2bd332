//! Numbers at the edge: captures with nothing in them, with too little, with the same everywhere,
//! or with values as large as numbers go. Each ends in a finding without a NaN or an infinity
//! anywhere, or in one plain message.

use std::fmt::Write as _;
use std::path::Path;

use camwitness::analysis::{Analysis, Options, analyse};
use camwitness::capture::{Capture, CaptureKind, ReadOptions, read_bytes};
use camwitness::compare::{Comparison, compare};
use camwitness::engine::Engine;
use camwitness::known::KnownGood;
use camwitness::learn::{LearnOptions, learn};
use camwitness::look::look;
use camwitness::report;
use camwitness::verdict::State;

/// Whether a text shows no number that is none, as a whole word: Rust prints them `NaN` and `inf`.
fn finite(text: &str) -> bool {
    !text.split(|letter: char| !letter.is_alphanumeric()).any(|word| ["NaN", "inf"].contains(&word))
}

/// Keys of the result that may be `null` because there was nothing to measure; a number that is
/// none would be written as `null` too, so no other key may be.
const MAY_BE_NULL: [&str; 42] = [
    "compression",
    "teeth",
    "on",
    "chain",
    "next_test",
    "code_evidence",
    "polarity",
    "expected_deg",
    "expected_from",
    "deviation_deg",
    "ci95_deg",
    "cycle_sd_deg",
    "step_deg",
    "nearest_teeth",
    "nearest_links",
    "links",
    // Where no cam was measured nothing is asked.
    "skipped",
    "drive_due",
    "recorded_cams_in_place",
    "describes_this_engine",
    "left_over_deg",
    "sd_deg",
    "cylinder",
    "bank",
    "low_bank",
    "bank_difference",
    "agreement",
    "expected_difference",
    "tdc_off_deg",
    "explained",
    "relative",
    "does_not_fit",
    "source",
    "line",
    // A capture and an engine made in memory have no file behind them, and no job.
    "bytes",
    "sha256",
    "recorded",
    "rate",
    "resolution",
    "engine_file",
    "known_good",
    "job",
];

fn check_nulls(value: &serde_json::Value, key: &str, what: &str) {
    match value {
        serde_json::Value::Null => assert!(MAY_BE_NULL.contains(&key), "{what}: {key} is null"),
        serde_json::Value::Array(items) => {
            items.iter().for_each(|item| check_nulls(item, "item", what))
        }
        serde_json::Value::Object(map) => {
            map.iter().for_each(|(key, item)| check_nulls(item, key, what))
        }
        _ => {}
    }
}

/// Holds everything that is printed of a finding.
fn hold(analysis: &Analysis, captures: &[Capture], what: &str) {
    assert!(finite(&format!("{analysis:?}")), "{what}: {analysis:#?}");
    let text = report::text::write(analysis);
    assert!(finite(&text), "{what}: {text}");
    let json: serde_json::Value =
        serde_json::from_str(&report::json::write(analysis)).expect("JSON");
    check_nulls(&json, "", what);
    let sum: f64 = analysis.verdict.explanations.iter().map(|one| one.probability).sum();
    assert!((sum - 1.0).abs() < 1e-6, "{what}: probabilities sum to {sum}");
    let html =
        report::html::write(analysis, captures, &report::job::Job::default()).expect("a report");
    let shown: String = html
        .split("<script")
        .map(|part| part.split_once("</script>").map_or(part, |p| p.1))
        .collect();
    assert!(!shown.contains("NaN") && !shown.contains(">inf"), "{what}: NaN in the report");
}

/// The whole way of a capture; what it came to and whether of every cam, or the message.
fn through(text: &str, engine: &Engine, what: &str) -> Result<(State, bool), String> {
    let capture = read_bytes(text.as_bytes(), "c.csv", &ReadOptions::default());
    let capture = capture.map_err(|error| one_line(&error.to_string(), what))?;
    let seen = look(&capture, &[]);
    assert!(finite(&format!("{seen:?}")), "{what}: {seen:?}");
    let text = report::look::write(&seen, None);
    assert!(finite(&text), "{what}: {text}");
    let captures = [capture];
    let analysis = analyse(&captures, engine, &Options::default());
    let analysis = analysis.map_err(|error| one_line(&error.to_string(), what))?;
    hold(&analysis, &captures, what);
    Ok((analysis.verdict.state, analysis.verdict.covers_every_cam))
}

fn one_line(message: &str, what: &str) -> String {
    assert!(message.lines().count() == 1 && message.starts_with("c.csv"), "{what}: {message}");
    message.to_owned()
}

fn demo() -> Engine {
    Engine::parse(include_str!("../demo-data/engine.toml"), Path::new("engine.toml"))
        .expect("an engine")
}

const HEADER: &str = "time (s),crank (V),B1 intake (V),B2 intake (V),starter (A)\n";

/// A sampled table: seconds and a row's values from its number.
fn table(rows: u32, step: f64, row: impl Fn(u32) -> [f64; 4]) -> String {
    let mut text = HEADER.to_owned();
    for number in 0..rows {
        let [a, b, c, d] = row(number);
        let _ = writeln!(text, "{:.9},{a},{b},{c},{d}", f64::from(number) * step);
    }
    text
}

/// The demonstration's capture as its cells.
fn demo_rows() -> Vec<[f64; 5]> {
    let lines = include_str!("../demo-data/bank2-late.csv").lines().skip(1);
    let row = |line: &str| {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().expect("a number")).collect();
        cells[..5].try_into().expect("five cells; the coil is not needed here")
    };
    lines.map(row).collect()
}

/// The demonstration's capture with every row changed.
fn changed(change: impl Fn(usize, &mut [f64; 5])) -> String {
    let mut text = HEADER.to_owned();
    for (number, mut row) in demo_rows().into_iter().enumerate() {
        change(number, &mut row);
        let [t, a, b, c, d] = row;
        let _ = writeln!(text, "{t:.7},{a:?},{b:?},{c:?},{d:?}");
    }
    text
}

#[test]
fn captures_with_nothing_to_find_are_refused() {
    let engine = demo();
    let square = |row: u32| f64::from(row / 4 % 2) * 5.0;
    // (what, capture, part of the message)
    let rows: Vec<(&str, String, &str)> = vec![
        ("zero variance", table(2000, 1e-3, |_| [1.0; 4]), "no rotation"),
        ("all zero", table(2000, 1e-3, |_| [0.0; 4]), "no rotation"),
        ("identical stamps", table(200, 0.0, |row| [square(row); 4]), "stands still"),
        ("no row", HEADER.to_owned(), "c.csv"),
        ("one row", table(1, 1e-3, |_| [1.0; 4]), "one row"),
        ("two rows", table(2, 1e-3, |row| [f64::from(row); 4]), "no rotation"),
        ("three rows", table(3, 1e-3, |row| [f64::from(row % 2); 4]), "no rotation"),
        ("no number at all", table(50, 1e-3, |_| [f64::NAN; 4]), "NaN"),
        ("blank cells", HEADER.to_owned() + "0.1,,,,\n0.2,,,,\n0.3,,,,\n", "c.csv"),
        (
            "every value a mark",
            HEADER.to_owned() + "0.1,∞,∞,∞,∞\n0.2,∞,∞,∞,∞\n0.3,∞,∞,∞,∞\n",
            "c.csv",
        ),
        (
            "one step up",
            table(2000, 1e-3, |row| [if row < 900 { 0.0 } else { 5.0 }; 4]),
            "no rotation",
        ),
        (
            "every row the other way",
            table(4000, 1e-3, |row| [f64::from(row % 2) * 5.0; 4]),
            "c.csv",
        ),
        ("huge and constant", table(2000, 1e-3, |_| [1e300; 4]), "c.csv"),
        (
            "stamps beyond resolution",
            table(2000, 1e-3, |row| [square(row); 4]).replace("\n0.", "\n1e18"),
            "c.csv",
        ),
    ];
    for (what, capture, part) in rows {
        let message = through(&capture, &engine, what).expect_err(what);
        assert!(message.contains(part), "{what}: {message}");
    }
}

#[test]
fn values_of_any_size_give_finite_numbers() {
    let engine = demo();
    let scaled =
        |by: f64| move |_: usize, row: &mut [f64; 5]| row[1..].iter_mut().for_each(|v| *v *= by);
    let rows: Vec<(&str, String)> = vec![
        ("as it is", changed(|_, _| {})),
        ("volts of 1e30", changed(scaled(1e30))),
        ("volts at the end of single precision", changed(scaled(2e37))),
        ("volts of 1e300", changed(scaled(1e300))),
        ("volts of 1e-30", changed(scaled(1e-30))),
        ("volts of 1e-300", changed(scaled(1e-300))),
        (
            "one value of 1e300",
            changed(|number, row| {
                if number == 9000 {
                    row[1] = 1e300
                }
            }),
        ),
        (
            "one value of -1e300 on a cam",
            changed(|number, row| {
                if number == 9000 {
                    row[2] = -1e300
                }
            }),
        ),
        (
            "one value of 3e38",
            changed(|number, row| {
                if number == 9000 {
                    row[1] = 3e38
                }
            }),
        ),
        ("every cam the same signal", changed(|_, row| row[3] = row[2])),
        (
            "every channel the crank",
            changed(|_, row| (row[2], row[3], row[4]) = (row[1], row[1], row[1])),
        ),
        ("crank and cams exchanged", changed(|_, row| row.swap(1, 2))),
        ("the starter flat", changed(|_, row| row[4] = 0.0)),
        ("the starter of 1e38", changed(|_, row| row[4] *= 1e36)),
        ("one cam flat", changed(|_, row| row[2] = 0.0)),
        ("both cams flat", changed(|_, row| (row[2], row[3]) = (0.0, 0.0))),
        (
            "two whole numbers",
            changed(|_, row| row[1..].iter_mut().for_each(|v| *v = f64::from(*v > 2.5))),
        ),
        ("stamps of 1e9 s", changed(|_, row| row[0] += 1e9)),
        ("stamps before zero", changed(|_, row| row[0] -= 1e6)),
        ("a thousand times slower", changed(|_, row| row[0] *= 1e3)),
        ("a thousand times faster", changed(|_, row| row[0] *= 1e-3)),
    ];
    let mut found = 0;
    for (what, capture) in rows {
        match through(&capture, &engine, what) {
            Ok(state) => {
                found += 1;
                println!("{what}: {state:?}");
                // A cam that is not there, or two leads on one cam, is no finding of a sound
                // engine.
                assert_ne!(state, (State::InTime, true), "{what}");
            }
            Err(message) => println!("{what}: {message}"),
        }
    }
    assert!(found >= 8, "only {found} captures came to a finding");
}

/// Changes of an engine without any scatter: the crank at a steady 200 rpm, each edge where the
/// wheel has it to the nanosecond.
fn perfect(engine: &Engine, turns: u32) -> String {
    let per_degree = 1.0 / 1200.0;
    let mut edges: Vec<(f64, usize, bool)> = Vec::new();
    let mut add =
        |channel: usize, zero: f64, ratio: f64, wheel: &camwitness::wheel::Wheel, until: f64| {
            for turn in 0.. {
                let start = zero + f64::from(turn) * 360.0 * ratio;
                if start > until {
                    break;
                }
                for tooth in wheel.teeth(camwitness::wheel::EdgeKind::Falling) {
                    let from = start + tooth.start.get() * ratio;
                    edges.push((from, channel, true));
                    edges.push((from + tooth.width.0 * ratio, channel, false));
                }
            }
        };
    let until = f64::from(turns) * 360.0;
    add(0, 0.0, 1.0, &engine.crank.wheel, until);
    for (index, cam) in engine.cams.iter().enumerate() {
        let at = engine.expected(index).map_or(0.0, |(at, _)| at.get());
        add(1 + index, at - 720.0, 2.0, &cam.wheel, until);
    }
    edges.retain(|edge| (0.0..until).contains(&edge.0));
    edges.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut names = vec!["crank".to_owned()];
    names.extend(engine.cams.iter().map(|cam| cam.name.clone()));
    let mut text = format!("time (s),{}\n", names.join(","));
    let mut levels = vec![0_u8; names.len()];
    for (angle, channel, up) in edges {
        levels[channel] = u8::from(up);
        let cells: Vec<String> = levels.iter().map(u8::to_string).collect();
        let line = format!("{:.9},{}\n", angle * per_degree, cells.join(","));
        // Two edges at one instant are one row.
        let stamp = line.split(',').next().unwrap_or("");
        if text.lines().last().is_some_and(|last| last.starts_with(&format!("{stamp},"))) {
            let cut = text.trim_end().rfind('\n').map_or(0, |at| at + 1);
            text.truncate(cut);
        }
        text += &line;
    }
    text
}

fn engine_of(crank: &str, cam: &str, extra: &str) -> Engine {
    let text = format!(
        "name = \"{crank} and {cam}\"\nfiring_order = [1, 3, 4, 2]\n{extra}\n[crank]\nwheel = \"{crank}\"\nsensor = \"hall\"\n\
         edge = \"falling\"\ntdc = 40.0\n[[cam]]\nname = \"camshaft\"\nbank = 1\nshaft = \"single\"\nwheel = \"{cam}\"\n\
         sensor = \"hall\"\nat = 113.0\nat_sd = 0.0\n[[chain]]\nname = \"belt\"\nkind = \"belt\"\n\
         driver = {{ on = \"crank\", teeth = 20 }}\ndriven = [ {{ on = \"camshaft\", teeth = 40 }} ]\n"
    );
    Engine::parse(&text, Path::new("engine.toml")).unwrap_or_else(|error| panic!("{error}"))
}

#[test]
fn wheels_of_one_tooth_and_signals_without_scatter() {
    let mut locked = 0;
    // Even teeth known modulo a degree must not cost minutes either.
    for crank in ["1", "2", "4", "60-2", "2-1", "3-1", "360", "360-2"] {
        for cam in ["1", "half-moon", "four-plus-one", "2-1"] {
            let turns: &[u32] = if crank.len() > 2 { &[3] } else { &[2, 9] };
            for &turns in turns {
                let what = format!("{crank} and {cam}, {turns} turns");
                let engine = engine_of(crank, cam, "tolerance = 5.0");
                let text = perfect(&engine, turns);
                if let Ok((state, _)) = through(&text, &engine, &what) {
                    locked += 1;
                    assert_ne!(state, State::Jumped, "{what}");
                }
            }
        }
    }
    assert!(locked > 25, "{locked} locked");
}

#[test]
fn several_captures_without_scatter_join_and_compare() {
    let engine = engine_of("60-2", "half-moon", "");
    let options = ReadOptions { force_kind: Some(CaptureKind::Events), ..ReadOptions::default() };
    let text = perfect(&engine, 12);
    let capture = |name: &str| read_bytes(text.as_bytes(), name, &options).expect("a capture");
    let captures = ["a.csv", "b.csv", "c.csv"].map(capture);
    let analysis = analyse(&captures, &engine, &Options::default()).expect("a finding");
    hold(&analysis, &captures, "three times the same");
    let again = || analyse(&captures[..1], &engine, &Options::default()).expect("a finding");
    let comparison: Comparison = compare(again(), again(), false).expect("comparable");
    assert!(finite(&format!("{comparison:?}")));
    assert!(finite(&report::compare::text(&comparison)));
    let known: KnownGood =
        learn(&captures[..1], &engine, None, &LearnOptions::default()).expect("sound");
    assert!(finite(&known.text()), "{}", known.text());
    let held = Options { known: Some(known), ..Options::default() };
    let analysis = analyse(&captures, &engine, &held).expect("a finding");
    hold(&analysis, &captures, "against itself");
}
