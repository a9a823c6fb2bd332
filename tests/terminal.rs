//! What a file holds is printed, never obeyed: names with escape sequences in engine files, job
//! files, NumPy archives, value change dumps and file names come out with the controls replaced, on
//! standard output, on standard error and in JSON.

use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Output};

#[path = "shared/numpy.rs"]
mod numpy;

use numpy::{archive, npy};

/// Clears the screen, rings, sets the title, and turns the direction of writing.
const BAD: &str = "\u{1b}[2J\u{7}\u{9b}31m\u{1b}]0;owned\u{7}\u{202e}";

fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_camwitness"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("the program runs")
}

/// Both streams, after a look that nothing in them acts on a terminal.
fn harmless(output: &Output) -> (String, String) {
    let [out, err] = [&output.stdout, &output.stderr].map(|bytes| {
        let text = String::from_utf8(bytes.clone()).expect("UTF-8");
        let acts = |letter: char| (letter.is_control() && letter != '\n') || letter == '\u{202e}';
        assert!(!text.contains(acts), "{text:?}");
        text
    });
    (out, err)
}

/// An engine whose every name is bad.
fn bad_engine() -> String {
    // TOML takes controls in a string only as escapes.
    let bad: String = BAD.chars().fold(String::new(), |mut text, letter| {
        let _ = write!(text, "\\u{:04X}", u32::from(letter));
        text
    });
    let sound = include_str!("../demo-data/engine.toml");
    let named = sound.replace("B1 intake", &format!("B1 {bad}"));
    let named = named.replace("Demonstration V6", &format!("Engine {bad}"));
    named.replace("\"primary\"", &format!("\"primary {bad}\""))
}

#[test]
fn names_of_an_engine_file_do_not_act() {
    let folder = tempfile::tempdir().expect("a folder");
    let capture = include_str!("../demo-data/bank2-late.csv");
    std::fs::write(folder.path().join("engine.toml"), bad_engine()).expect("the engine");
    std::fs::write(folder.path().join("c.csv"), capture).expect("the capture");
    let lead = format!("B1 {BAD}=2");
    let base = ["check", "c.csv", "--engine", "engine.toml", "--lead", &lead.replace("=2", "=3")];
    let output = run(folder.path(), &base);
    let (out, _) = harmless(&output);
    assert!(out.contains("Engine \u{fffd}[2J") && out.contains("B1 \u{fffd}"), "{out}");
    assert!(out.contains("JUMPED") && out.contains("primary \u{fffd}"), "{out}");

    // JSON keeps the names, escaped.
    let output = run(folder.path(), &[&base[..], &["--json", "-"]].concat());
    assert!(output.stdout.is_ascii() || !output.stdout.contains(&0x1b), "escape in JSON");
    let text = String::from_utf8(output.stdout).expect("UTF-8");
    let controls = |letter: char| letter.is_control() && letter != '\n';
    assert!(!text.contains(controls), "{text:?}");
    let result: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(result["engine"], format!("Engine {}", BAD.replace('\u{202e}', "\u{fffd}")));

    for arguments in [
        &["plan", "--engine", "engine.toml"][..],
        &["check", ".", "--engine", "engine.toml"],
        &[
            "compare",
            "c.csv",
            "c.csv",
            "--engine",
            "engine.toml",
            "--lead",
            &lead.replace("=2", "=3"),
        ],
        &["learn", "c.csv", "--engine", "engine.toml", "--out", "k.toml", "--accept-faulty"],
        // The wheel belongs to the crank: two messages with the cam's name in them.
        &["check", "c.csv", "--engine", "engine.toml", "--lead", "nothing=2"],
        &[
            "practice",
            "--engine",
            "engine.toml",
            "--out",
            "p.csv",
            "--fault",
            "cam-wheel:nothing:5",
        ],
    ] {
        let (out, err) = harmless(&run(folder.path(), arguments));
        assert!((out + &err).contains('\u{fffd}'), "{arguments:?} did not reach a name");
    }
}

#[test]
fn broken_descriptions_do_not_act() {
    let folder = tempfile::tempdir().expect("a folder");
    let bad = "\\u001B[2J";
    let engine = include_str!("../demo-data/engine.toml");
    let unknown_key = format!("\"{bad}\" = 1\n{engine}");
    let missing_cam = engine.replace("{ cam = \"B1 intake\"", &format!("{{ cam = \"{bad}\""));
    let no_wheel = engine.replace("\"36-2\"", &format!("\"{bad}\""));
    let wheel_file = engine.replace("\"36-2\"", &format!("\"{bad}.toml\""));
    std::fs::write(folder.path().join("c.csv"), include_str!("../demo-data/sound.csv"))
        .expect("it");
    for text in [unknown_key, missing_cam, no_wheel, wheel_file] {
        std::fs::write(folder.path().join("engine.toml"), &text).expect("the engine");
        let output = run(folder.path(), &["check", "c.csv", "--engine", "engine.toml"]);
        let (_, err) = harmless(&output);
        assert_eq!(output.status.code(), Some(1), "{err}");
        assert!(err.contains("[2J") && err.lines().count() == 1, "{err}");
    }
    let own = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/engine.toml");
    std::fs::write(folder.path().join("job.toml"), format!("\"{bad}\" = 1\n")).expect("the job");
    let arguments = ["check", "c.csv", "--engine", own, "--report", "r.html", "--job", "job.toml"];
    let (_, err) = harmless(&run(folder.path(), &arguments));
    assert!(err.contains("[2J"), "{err}");
}

/// A NumPy array of one dimension.
fn array(values: impl Iterator<Item = f64>) -> Vec<u8> {
    let values: Vec<u8> = values.flat_map(f64::to_le_bytes).collect();
    npy("<f8", &format!("({},)", values.len() / 8), values)
}

#[test]
fn names_in_captures_do_not_act() {
    let folder = tempfile::tempdir().expect("a folder");
    let engine = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/engine.toml");
    let time = || array((0..2000).map(|row| f64::from(row) * 1e-3));
    let wave = || array((0..2000).map(|row| f64::from(row / 5 % 2) * 5.0));
    let member = format!("B1 {BAD}.npy");
    let named = archive(&[("time.npy", time()), (&member, wave()), ("crank.npy", wave())]);
    let stray = archive(&[("time.npy", time()), (&format!("{BAD}.txt"), wave())]);
    let uneven = archive(&[("time.npy", time()), (&member, array((0..3).map(f64::from)))]);
    // IEEE 1364 ends a name at a blank; anything else may stand in it.
    let mut dump =
        format!("$timescale 1 us $end\n$var wire 1 ! crank $end\n$var wire 1 \" B1{BAD} $end\n");
    dump += "$enddefinitions $end\n#0\n0!\n0\"\n";
    for change in 1..400 {
        let _ = writeln!(dump, "#{}\n{}!\n{}\"", change * 1000, change % 2, change / 3 % 2);
    }
    // A header's bad name: the reader refuses or replaces it.
    let mut table = format!("time,crank,B1 {BAD}\n");
    (0..2000).for_each(|row| {
        _ = writeln!(table, "{:.3},{},{}", f64::from(row) * 1e-3, row % 7, row % 5)
    });
    let rows = [
        ("named.npz", named, true),
        ("stray.npz", stray, false),
        ("uneven.npz", uneven, false),
        ("dump.vcd", dump.into_bytes(), true),
        ("table.csv", table.into_bytes(), false),
    ];
    for (name, bytes, reaches) in rows {
        std::fs::write(folder.path().join(name), bytes).expect(name);
        for arguments in [
            &["look", name][..],
            &["check", name, "--engine", engine],
            &["check", name, "--engine", engine, "--lead", "B2 intake=nothing"],
        ] {
            let (out, err) = harmless(&run(folder.path(), arguments));
            let said = format!("{out}{err}");
            assert!(!said.is_empty(), "{name}");
            if reaches && (arguments[0] == "look" || arguments.len() > 4) {
                assert!(said.contains("[2J"), "{arguments:?} did not reach the name: {said}");
            }
        }
    }
}

#[cfg(unix)]
#[test]
fn the_name_of_a_file_does_not_act() {
    let folder = tempfile::tempdir().expect("a folder");
    let name = format!("{}.csv", BAD.replace('/', ""));
    std::fs::copy(
        concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/sound.csv"),
        folder.path().join(&name),
    )
    .expect("a copy");
    let engine = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/engine.toml");
    for arguments in [
        &["look", &name][..],
        &["check", &name, "--engine", engine],
        &["check", ".", "--engine", engine],
        &["check", &format!("{name}x"), "--engine", engine],
    ] {
        let (out, err) = harmless(&run(folder.path(), arguments));
        assert!((out + &err).contains("[2J"), "{arguments:?}");
    }
}
