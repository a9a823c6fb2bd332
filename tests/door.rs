//! Mistakes at the door: what people mistype, exchange and forget, through the real program. Each
//! ends in one plain line that says what would do, or is simply understood.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

const PROGRAM: &str = env!("CARGO_BIN_EXE_camwitness");
const ROOT: &str = env!("CARGO_MANIFEST_DIR");

fn own(name: &str) -> String {
    format!("{ROOT}/demo-data/{name}")
}

fn run(folder: &Path, words: &[&str]) -> Output {
    Command::new(PROGRAM).args(words).current_dir(folder).output().expect("it runs")
}

/// The one line of a refusal, exit status 1.
fn refused(folder: &Path, words: &[&str]) -> String {
    let output = run(folder, words);
    let message = String::from_utf8(output.stderr).expect("UTF-8");
    assert_eq!(output.status.code(), Some(1), "{words:?}: {message}");
    assert!(output.stdout.is_empty(), "{words:?}");
    assert_eq!(message.lines().count(), 1, "{words:?}: {message}");
    message
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a folder")
}

#[test]
fn files_in_each_others_place_are_told_apart() {
    let folder = folder();
    let write =
        |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect(name);
    write("w.toml", "slots = 36\nmissing = [36]\n");
    write("j.toml", "number = 7\nvehicle = \"a van\"\n");
    let (engine, capture) = (own("engine.toml"), own("sound.csv"));
    let learned = run(folder.path(), &["learn", &capture, "--engine", &engine, "--out", "k.toml"]);
    assert_eq!(learned.status.code(), Some(0), "{learned:?}");
    // (words, parts of the message)
    let rows: [(&[&str], &[&str]); 10] = [
        (&["check", &engine, "--engine", &capture], &["they are exchanged", "--engine"]),
        (&["check", &capture, "--engine", &capture], &["this is a capture", "engine file should"]),
        (&["check", &engine, "--engine", &engine], &["this is an engine file", "capture should"]),
        (&["check", &capture, "--engine", "k.toml"], &["this is a known-good file", "--known"]),
        (&["check", &capture, "--engine", "w.toml"], &["this is a wheel file", "`wheel`"]),
        (
            &["check", &capture, "--engine", &engine, "--known", &engine],
            &["an engine file", "--engine"],
        ),
        (
            &["check", &capture, "--engine", &engine, "--report", "r.html", "--job", "k.toml"],
            &["this is a known-good file", "job file should"],
        ),
        (&["look", &engine], &["this is an engine file", "capture should"]),
        (&["practice", "--engine", &capture, "--out", "o.csv"], &["this is a capture"]),
        (&["check", &capture, "--engine", "j.toml"], &["this is a job file", "--job"]),
    ];
    for (words, parts) in rows {
        let message = refused(folder.path(), words);
        for part in parts {
            assert!(message.contains(part), "{words:?}: no \"{part}\" in {message}");
        }
    }
}

#[test]
fn an_engine_file_is_mended_line_by_line() {
    let folder = folder();
    let good = std::fs::read_to_string(own("engine.toml")).expect("an engine");
    // (what is written instead of what, the line's text, parts of the message)
    let rows: [(&str, &str, [&str; 2]); 9] = [
        ("tolerance     = 5.0", "tolerance     = 5,0", ["decimal comma", "tolerance = 5.0"]),
        ("wheel  = \"36-2\"", "wheel  = 36-2", ["in quotes", "wheel = \"36-2\""]),
        ("wheel  = \"36-2\"", "wheel  = 36", ["in quotes", "integer"]),
        ("sensor = \"hall\"", "sensor = \"Hall\"", ["\"Hall\" is no word", "Write \"hall\""]),
        ("tdc    = 86.0", "tcd    = 74.0", ["`tcd` is no key of [crank]", "Did you mean `tdc`?"]),
        ("shaft  = \"intake\"", "shafft = \"intake\"", ["no key of [[cam]]", "`shaft`?"]),
        ("sensor = \"hall\"\nedge", "edge", ["`sensor` is missing from [crank]", "below [crank]"]),
        (
            "name          = \"Dem",
            "# name          = \"Dem",
            ["`name` is missing from the part", "before the first [table]"],
        ),
        (
            "[banks]\n",
            "[banks]\ntolerance = 5.0\n",
            ["`tolerance` stands in [banks]", "before the first [table]"],
        ),
    ];
    for (from, to, parts) in rows {
        let text = good.replacen(from, to, 1);
        assert_ne!(text, good, "{from}");
        std::fs::write(folder.path().join("e.toml"), text).expect("an engine");
        let message = refused(folder.path(), &["check", &own("sound.csv"), "--engine", "e.toml"]);
        assert!(message.contains("e.toml, line "), "{to}: {message}");
        for part in parts {
            assert!(message.contains(part), "{to}: no \"{part}\" in {message}");
        }
    }
}

#[test]
fn codes_are_read_or_refused_with_the_right_spelling() {
    let folder = folder();
    let (engine, capture) = (own("engine.toml"), own("bank2-late.csv"));
    let check = ["check", &capture, "--engine", &engine];
    let text = |codes: &[&str]| {
        let output = run(folder.path(), &[&check[..], codes].concat());
        assert_eq!(output.status.code(), Some(0), "{codes:?}: {output:?}");
        String::from_utf8(output.stdout).expect("UTF-8")
    };
    let same = text(&["--codes", "P0016,P0340"]);
    for codes in [
        &["--codes", "p0016 P0340"][..],
        &["--codes", "P0016-00;P0340"],
        &["--codes", "P0016", "--codes", "P0340"],
    ] {
        assert_eq!(text(codes), same, "{codes:?}");
    }
    // (codes, parts of what is said)
    let said: [(&str, &[&str]); 4] = [
        ("P0010", &["P0010", "phaser valve circuit"]),
        ("P0304,P0301", &["P0304 explained", "P0301 not explained"]),
        ("P000A", &["slow to follow"]),
        ("P1234", &["P1234", "Not a code this program knows"]),
    ];
    for (codes, parts) in said {
        let shown = text(&["--codes", codes]);
        for part in parts {
            assert!(shown.contains(part), "{codes}: no \"{part}\" in {shown}");
        }
    }
    let rows: [(&[&str], &str); 4] = [
        (&["--codes", "0016"], "write P0016"),
        (&["--codes", "P0016,camshaft"], "camshaft is no trouble code"),
        (&["--codes", "P16"], "P16 is no trouble code"),
        (&["--codes", "P0016", "P0018"], "--codes P0016,P0018"),
    ];
    for (codes, part) in rows {
        let message = refused(folder.path(), &[&check[..], codes].concat());
        assert!(message.contains(part), "{codes:?}: {message}");
    }
}

#[test]
fn a_report_is_html_whatever_its_name_promises() {
    let folder = folder();
    let (engine, sound, late) = (own("engine.toml"), own("sound.csv"), own("bank2-late.csv"));
    let rows: [&[&str]; 3] = [
        &["check", &sound, "--engine", &engine, "--report", "x.pdf"],
        &["check", &sound, "--engine", &engine, "--report", "X.DOCX"],
        &["compare", &late, &sound, "--engine", &engine, "--report", "sheet.pdf"],
    ];
    for words in rows {
        let message = refused(folder.path(), words);
        assert!(message.contains("one HTML file") && message.contains(".html"), "{message}");
    }
    assert_eq!(std::fs::read_dir(folder.path()).expect("a folder").count(), 0);
}

#[test]
fn leads_that_are_nearly_named_are_answered_with_the_name() {
    let folder = folder();
    let (engine, sound) = (own("engine.toml"), own("sound.csv"));
    let text = std::fs::read_to_string(&sound).expect("a capture");
    let (header, rest) = text.split_once('\n').expect("a header");
    let channels = header.split(',').enumerate().map(|(at, name)| match at {
        0 => name.to_owned(),
        _ => format!("Channel {at} (V)"),
    });
    let header = channels.collect::<Vec<_>>().join(",");
    std::fs::write(folder.path().join("c.csv"), format!("{header}\n{rest}")).expect("a capture");
    let check = |leads: &[&str]| {
        let mut words = vec!["check", "c.csv", "--engine", &engine];
        leads.iter().for_each(|lead| words.extend(["--lead", lead]));
        words.into_iter().map(str::to_owned).collect::<Vec<_>>()
    };
    let refused = |leads: &[&str]| {
        let words = check(leads);
        refused(folder.path(), &words.iter().map(String::as_str).collect::<Vec<_>>())
    };
    // (leads, parts of the message)
    let rows: [(&[&str], &[&str]); 5] = [
        (&["crank=1"], &["did you mean \"Channel 1\"?"]),
        (
            &["crank=Channel 1", "starter=Channel 4:60A"],
            &["\"60A\" of the lead \"starter\" says no volts", "100A/V"],
        ),
        (&[], &["no column is named \"crank\"", "--lead \"crank=COLUMN\""]),
        (&["crnk=Channel 1"], &["did you mean \"crank\"?"]),
        (&["crank=Chanel 1"], &["did you mean \"Channel 1\"?"]),
    ];
    for (leads, parts) in rows {
        let message = refused(leads);
        for part in parts {
            assert!(message.contains(part), "{leads:?}: no \"{part}\" in {message}");
        }
    }
    // With the unit as the header has it, or without.
    let leads = ["crank=Channel 1 (V)", "B1 intake=channel 2", "b2_intake=Channel 3"];
    let words = check(&leads);
    let output = run(folder.path(), &words.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(output.status.code(), Some(0), "{output:?}");
}

#[test]
fn a_capture_comes_from_standard_input() {
    let folder = folder();
    let engine = own("engine.toml");
    let bytes = std::fs::read(own("bank2-late.csv")).expect("a capture");
    let piped = |words: &[&str]| {
        let mut child = Command::new(PROGRAM)
            .args(words)
            .current_dir(folder.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it runs");
        let mut into = child.stdin.take().expect("a pipe");
        let bytes = bytes.clone();
        // A command that refuses does not read.
        let writer = std::thread::spawn(move || _ = into.write_all(&bytes));
        let output = child.wait_with_output().expect("it ends");
        writer.join().expect("a writer");
        output
    };
    let output = piped(&["check", "-", "--engine", &engine, "--json", "-"]);
    let result: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(result["verdict"]["state"], "jumped");
    assert_eq!(result["capture"][0], "standard input");
    let looked = piped(&["look", "-"]);
    let text = String::from_utf8_lossy(&looked.stdout).into_owned();
    assert!(looked.status.success() && text.contains("36-2"), "{text}");
    let compared = piped(&["compare", "-", &own("repaired.csv"), "--engine", &engine]);
    assert_eq!(compared.status.code(), Some(0), "{compared:?}");
    for words in
        [&["check", "-", "-", "--engine", &engine][..], &["check", "-", ".", "--engine", &engine]]
    {
        let output = piped(words);
        let message = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(1), "{message}");
        assert!(message.contains("standard input"), "{message}");
    }
}

#[test]
fn one_is_not_many_and_nothing_is_not_less_than_nothing() {
    let folder = folder();
    let (engine, sound) = (own("engine.toml"), own("sound.csv"));
    std::fs::create_dir(folder.path().join("many")).expect("a folder");
    std::fs::copy(&sound, folder.path().join("many/one.csv")).expect("a copy");
    let shown = |words: &[&str]| {
        let output = run(folder.path(), words);
        assert_eq!(output.status.code(), Some(0), "{output:?}");
        String::from_utf8(output.stdout).expect("UTF-8")
    };
    let table = shown(&["check", "many", "--engine", &engine]);
    assert!(table.contains("1 capture\n") && !table.contains("1 captures"), "{table}");
    let learned = shown(&["learn", &sound, "--engine", &engine, "--out", "k.toml"]);
    assert!(learned.contains("1 capture added; 1 in all, of 1 engine\n"), "{learned}");
    // A channel whose low level is a hair below nothing.
    let text = std::fs::read_to_string(&sound).expect("a capture");
    let (header, rest) = text.split_once('\n').expect("a header");
    let with = rest
        .lines()
        .enumerate()
        .map(|(row, line)| format!("{line},{}", if row % 2000 < 1000 { "-0.001" } else { "5.0" }));
    let text = format!("{header},extra (V)\n{}\n", with.collect::<Vec<_>>().join("\n"));
    std::fs::write(folder.path().join("low.csv"), text).expect("a capture");
    let looked = shown(&["look", "low.csv"]);
    assert!(looked.contains("0.00 to 5.00") && !looked.contains("-0.00"), "{looked}");
    for text in [table, learned, looked] {
        let words: Vec<&str> = text.split_whitespace().collect();
        for pair in words.windows(2).filter(|pair| pair[0] == "1") {
            assert!(
                !["captures", "engines", "edges", "teeth", "cycles", "rows"]
                    .contains(&pair[1].trim_matches([',', '.', ';', ':'])),
                "{pair:?} in {text}"
            );
        }
    }
}
