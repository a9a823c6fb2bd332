//! The program as a user runs it: exit status, standard output, one plain message per mistake.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

pub fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_camwitness"))
        .args(arguments)
        .current_dir(root())
        .output()
        .expect("the program runs")
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

pub const ENGINE: &str = "demo-data/engine.toml";

pub fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a folder")
}

pub fn write(folder: &Path, name: &str, content: impl AsRef<[u8]>) -> String {
    let path: PathBuf = folder.join(name);
    std::fs::write(&path, content).expect(name);
    path.display().to_string()
}

/// The program as somebody whom the modes of files keep out, run with files of `home`: whoever runs
/// the tests may be one whom nothing keeps out. `None`, and said, where nobody else can be had.
#[cfg(unix)]
pub fn as_nobody(home: &Path) -> Option<Command> {
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;
    /// The user of no rights of every Linux, by custom (common practice, no source).
    const NOBODY: u32 = 65_534;
    let allow = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("a mode");
    };
    let probe = home.join("probe");
    std::fs::create_dir(&probe).expect("a folder");
    allow(&probe, 0o555);
    let kept_out = std::fs::write(probe.join("x"), "").is_err();
    let program = env!("CARGO_BIN_EXE_camwitness");
    if kept_out {
        return Some(Command::new(program));
    }
    // Where it stands, nobody else may be let in.
    let copy = home.join("program");
    std::fs::copy(program, &copy).expect("a copy");
    allow(&copy, 0o755);
    allow(home, 0o755);
    let somebody_else = || {
        let mut command = Command::new(&copy);
        command.uid(NOBODY).gid(NOBODY).current_dir(home);
        command
    };
    if let Err(error) = somebody_else().arg("--version").output() {
        eprintln!("No other user can be had ({error}): a shelf without permission was NOT tried");
        return None;
    }
    Some(somebody_else())
}

/// A result read back, with nothing this test does not know of.
pub fn json(arguments: &[&str]) -> serde_json::Value {
    let output = run(arguments);
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|error| panic!("{error}: {}", text(&output.stderr)))
}

#[test]
fn the_demonstration_says_one_tooth_late_and_in_time_for_the_others() {
    let rows = [("bank2-late", "jumped", 0), ("sound", "in_time", 0), ("repaired", "in_time", 0)];
    for (name, state, status) in rows {
        let capture = format!("demo-data/{name}.csv");
        let output = run(&["check", &capture, "--engine", ENGINE, "--json", "-"]);
        assert_eq!(output.status.code(), Some(status), "{name}: {}", text(&output.stderr));
        let result: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        assert_eq!(result["verdict"]["state"], state, "{name}");
        if state == "jumped" {
            assert_eq!(result["verdict"]["teeth"], 1);
            assert_eq!(result["verdict"]["on"], "B2 intake");
            assert_eq!(result["verdict"]["chain"], "primary");
            // demo-data/README.md: the truth is +17.32°, of which 360/19 = 18.95 is the tooth.
            let deviation = result["cams"][1]["deviation_deg"].as_f64().expect("a number");
            assert!((deviation - 17.32).abs() < 0.3, "{deviation}");
            assert_eq!(result["compression"]["bank_difference"]["low_bank"], 2);
        }
    }
}

#[test]
fn the_text_gives_the_finding_the_table_and_the_cautions() {
    let output =
        run(&["check", "demo-data/bank2-late.csv", "--engine", ENGINE, "--codes", "p0018"]);
    let shown = text(&output.stdout);
    for wanted in [
        "JUMPED",
        "Bank 1",
        "Bank 2",
        "1 tooth (1 link) late",
        "What is asked",
        "Has a chain skipped? Yes.",
        "late",
        "What this rests on",
        "Cautions",
        "P0018 explained",
        "The maker's service information and local law come first",
    ] {
        assert!(shown.contains(wanted), "no \"{wanted}\" in:\n{shown}");
    }
    assert!(output.stderr.is_empty(), "{}", text(&output.stderr));
    let longest = shown.lines().map(|line| line.chars().count()).max().unwrap_or(0);
    assert!(longest <= 110, "a line of {longest} characters");
}

/// A cam without a lead is not covered: the finding names what it covers and ends as one only where
/// that is all that was asked.
#[test]
fn in_time_for_what_was_recorded_says_so_and_ends_as_asked() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = std::fs::read_to_string("demo-data/sound.csv").expect("the demonstration");
    let without = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        format!("{},{},{},{}\n", cells[0], cells[1], cells[2], cells[4])
    };
    let path = folder.path().join("part.csv");
    std::fs::write(&path, text.lines().map(without).collect::<String>()).expect("written");
    let capture = path.to_str().expect("a path");
    for (more, status) in [(&[][..], 3), (&["--recorded-only"][..], 0)] {
        let arguments = [&["check", capture, "--engine", ENGINE][..], more].concat();
        let output = run(&arguments);
        assert_eq!(output.status.code(), Some(status), "{}", text_of(&output));
        let shown = text_of(&output);
        for wanted in
            ["IN TIME, FOR WHAT WAS RECORDED", "In time for B1 intake; B2 intake was not measured."]
        {
            assert!(shown.contains(wanted), "no \"{wanted}\" in:\n{shown}");
        }
        assert!(shown.contains("Put a lead on the sensor of B2 intake"), "{shown}");
    }
    let result = json(&["check", capture, "--engine", ENGINE, "--json", "-"]);
    assert_eq!(result["verdict"]["state"], "in_time");
    assert_eq!(result["verdict"]["covers"], serde_json::json!(["B1 intake"]));
    assert_eq!(result["verdict"]["covers_every_cam"], false);
}

/// What a run printed, on single spaces.
fn text_of(output: &Output) -> String {
    let shown = format!("{}{}", text(&output.stdout), text(&output.stderr));
    shown.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn results_are_the_same_every_time() {
    let arguments = ["check", "demo-data/bank2-late.csv", "--engine", ENGINE, "--json", "-"];
    assert_eq!(run(&arguments).stdout, run(&arguments).stdout);
}

/// Time, crank at 36-2 and 200 rpm, and two flat cam columns, as CSV.
fn crank_only(turns: f64) -> String {
    let mut csv = String::from("time (s),crank (V),B1 intake (V),B2 intake (V)\n");
    let rate = 5000.0;
    for row in 0..(turns * 0.3 * rate) as usize {
        let time = f64::from(row as u32) / rate;
        let angle = (time * 1200.0).rem_euclid(360.0);
        let high = angle < 340.0 && angle.rem_euclid(10.0) < 5.0;
        let _ = writeln!(csv, "{time:.4},{},0.1,0.1", if high { 5.0 } else { 0.0 });
    }
    csv
}

#[test]
fn every_bad_capture_ends_in_one_plain_message() {
    let folder = folder();
    let header = "time (s),crank (V),B1 intake (V),B2 intake (V)\n";
    let rows = |lines: &[&str]| format!("{header}{}\n", lines.join("\n"));
    let flat: String = (0..2000).fold(header.to_owned(), |mut csv, row| {
        let _ = writeln!(csv, "{:.4},0.2,0.1,0.1", f64::from(row) / 1000.0);
        csv
    });
    let mut noisy = header.to_owned();
    let mut state = 1_u64;
    for row in 0..20_000 {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let _ = writeln!(
            noisy,
            "{:.4},{:.3},0.1,0.1",
            f64::from(row) / 5000.0,
            (state >> 40) as f64 / 3e6
        );
    }
    // (name, content, words the message must hold)
    let cases: Vec<(&str, Vec<u8>, &[&str])> = vec![
        ("empty.csv", Vec::new(), &["empty"]),
        ("picture.csv", b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR".to_vec(), &["picture.csv"]),
        ("no-rows.csv", header.into(), &["no-rows.csv"]),
        ("one-column.csv", b"time (s)\n0.1\n0.2\n0.3\n".to_vec(), &["column"]),
        (
            "backwards.csv",
            rows(&["0.1,1,0,0", "0.2,0,0,0", "0.15,1,0,0", "0.3,1,0,0"]).into(),
            &["line 4"],
        ),
        (
            "still.csv",
            rows(&["0.1,1,0,0", "0.2,0,0,0", "0.2,1,0,0", "0.3,1,0,0"]).into(),
            &["line 4"],
        ),
        ("nan.csv", rows(&["0.1,1,0,0", "0.2,NaN,0,0", "0.3,1,0,0"]).into(), &["line 3", "NaN"]),
        ("word.csv", rows(&["0.1,1,0,0", "0.2,high,0,0", "0.3,1,0,0"]).into(), &["line 3", "high"]),
        ("ragged.csv", rows(&["0.1,1,0,0", "0.2,1,0", "0.3,1,0,0"]).into(), &["line 3"]),
        ("flat.csv", flat.into(), &["no rotation", "crank"]),
        ("noise.csv", noisy.into(), &["never locks"]),
        ("short.csv", crank_only(1.7).into(), &["two whole turns"]),
    ];
    for (name, content, words) in cases {
        let path = write(folder.path(), name, content);
        let output = run(&["check", &path, "--engine", ENGINE]);
        let message = text(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{name}: {message}{}", text(&output.stdout));
        assert!(output.stdout.is_empty(), "{name}");
        assert!(
            message.starts_with("camwitness: ") && message.trim().lines().count() == 1,
            "{name}: {message}"
        );
        assert!(!message.contains("panicked"), "{name}: {message}");
        for word in words {
            assert!(message.contains(word), "{name}: no \"{word}\" in: {message}");
        }
    }
}

#[test]
fn something_measured_but_not_enough_is_cannot_tell_and_no_error() {
    let folder = folder();
    let path = write(folder.path(), "crank-only.csv", crank_only(8.0));
    let output = run(&["check", &path, "--engine", ENGINE]);
    assert_eq!(output.status.code(), Some(3), "{}", text(&output.stderr));
    let shown = text(&output.stdout);
    assert!(shown.contains("CANNOT TELL") && shown.contains("Measure next"), "{shown}");
}

#[test]
fn an_engine_file_without_cams_gives_compression_and_no_verdict_on_timing() {
    let folder = folder();
    let engine = std::fs::read_to_string(root().join(ENGINE)).expect("the demonstration engine");
    let (without_cams, _) = engine.split_once("[[cam]]").expect("cams");
    let path = write(folder.path(), "no-cams.toml", without_cams);
    let output = run(&["check", "demo-data/bank2-late.csv", "--engine", &path]);
    let shown = text(&output.stdout);
    assert_eq!(output.status.code(), Some(3), "{shown}{}", text(&output.stderr));
    assert!(shown.contains("no cam was measured"), "{shown}");
    assert!(shown.contains("Compression, relative, from starter current"), "{shown}");
}

#[test]
fn leads_are_named_by_header_or_position_and_mistakes_are_said() {
    let capture = "demo-data/bank2-late.csv";
    let check = |leads: &[&str]| {
        let mut arguments = vec!["check", capture, "--engine", ENGINE, "--quiet"];
        for lead in leads {
            arguments.extend(["--lead", lead]);
        }
        let output = run(&arguments);
        (output.status.code(), text(&output.stdout), text(&output.stderr))
    };
    assert_eq!(check(&["crank=2", "B1 intake=3", "b2 INTAKE=b2 intake"]).0, Some(0));
    let cases: [(&[&str], &str); 6] = [
        (
            &["crank=B1 intake", "B1 intake=crank"],
            "Give --lead \"crank=crank\" and give --lead \"B1 intake=B1 intake\"",
        ),
        (&["crnk=2"], "no lead \"crnk\""),
        (&["crank=Q"], "no column \"Q\""),
        (&["crank=9"], "no column \"9\""),
        (&["crank=2", "crank=3"], "given twice"),
        (&["crank=2", "B1 intake=2"], "given twice"),
    ];
    for (leads, words) in cases {
        let (status, _, message) = check(leads);
        assert_eq!(status, Some(1), "{leads:?}: {message}");
        assert!(message.contains(words), "{leads:?}: {message}");
    }
    // A malformed option is a wrong command line.
    assert_eq!(check(&["crank"]).0, Some(2));
    let (_, crossed, _) = check(&["B1 intake=B2 intake", "B2 intake=B1 intake"]);
    assert!(!crossed.contains("IN TIME"), "crossed leads must not look sound:\n{crossed}");
}

#[test]
fn bad_engines_are_refused_with_file_line_and_key() {
    let folder = folder();
    let good = std::fs::read_to_string(root().join(ENGINE)).expect("the demonstration engine");
    let cases = [
        (good.replacen("teeth = 38", "teeth = 36", 1), "19/36"),
        (good.replacen("sensor = \"hall\"", "sensr = \"hall\"", 1), "sensr"),
        (good.replacen("firing_order", "order", 1), "order"),
        ("not toml at all [".to_owned(), "line 1"),
    ];
    for (number, (content, words)) in cases.into_iter().enumerate() {
        let path = write(folder.path(), &format!("engine{number}.toml"), content);
        let output = run(&["check", "demo-data/sound.csv", "--engine", &path]);
        let message = text(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{message}");
        assert!(message.contains(words) && message.contains("line "), "{message}");
        assert_eq!(message.trim().lines().count(), 1, "{message}");
    }
    let missing = run(&["check", "demo-data/sound.csv", "--engine", "no-such.toml"]);
    assert_eq!(missing.status.code(), Some(1));
    // Without an engine file nothing is found, but what can be compared is.
    assert_eq!(run(&["check", "demo-data/sound.csv"]).status.code(), Some(3), "no --engine");
    assert_eq!(run(&["learn", "demo-data/sound.csv"]).status.code(), Some(2), "no --engine");
    assert_eq!(run(&["frobnicate"]).status.code(), Some(2), "no such command");
}
