//! `verify`: a report against its capture, a changed capture, another file, a changed report.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use crate::cli::ENGINE;

fn program(folder: &Path, words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_camwitness"))
        .args(words)
        .current_dir(folder)
        .output()
        .expect("the program runs")
}

fn said(output: &Output) -> (Option<i32>, String) {
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    (output.status.code(), text + &String::from_utf8_lossy(&output.stderr))
}

struct Case {
    folder: tempfile::TempDir,
    report: String,
}

impl Case {
    /// A copy of the demonstration's capture with a report of it, made with everything that a
    /// report is to carry.
    fn new() -> Case {
        let folder = tempfile::tempdir().expect("a folder");
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        std::fs::copy(root.join("demo-data/bank2-late.csv"), folder.path().join("run.csv"))
            .expect("a copy");
        let engine = root.join(ENGINE);
        let words = ["check", "run.csv", "--engine", &engine.display().to_string()];
        let more = ["--codes", "P0018", "--report", "report.html", "--json", "result.json"];
        std::fs::write(folder.path().join("job.toml"), "clamp = \"600 A\"\noil = \"warm\"\n")
            .expect("a job file");
        let done =
            program(folder.path(), &[&words[..], &more[..], &["--job", "job.toml"]].concat());
        assert_eq!(done.status.code(), Some(0), "{done:?}");
        let report = std::fs::read_to_string(folder.path().join("report.html")).expect("a report");
        Case { folder, report }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn verify(&self, report: &str, captures: &[&str]) -> (Option<i32>, String) {
        said(&program(self.folder.path(), &[&["verify", report], captures].concat()))
    }
}

#[test]
fn a_report_is_held_against_its_capture() {
    let case = Case::new();
    let sound = case.verify("report.html", &["run.csv"]);
    assert_eq!(sound.0, Some(0), "{sound:?}");
    assert!(sound.1.contains("Found again: the same finding"), "{sound:?}");
    // The checksum is that of the file as any other tool works it out.
    let tool = Command::new("sha256sum").arg(case.path("run.csv")).output();
    if let Ok(tool) = tool {
        let sum = String::from_utf8_lossy(&tool.stdout)[..64].to_owned();
        assert!(sound.1.contains(&sum) && case.report.contains(&sum), "{sum}");
        let json = std::fs::read_to_string(case.path("result.json")).expect("a result");
        assert!(json.contains(&sum), "the result names it as well");
    }
    // Renamed it is still the capture.
    std::fs::copy(case.path("run.csv"), case.path("renamed.csv")).expect("a copy");
    assert_eq!(case.verify("report.html", &["renamed.csv"]).0, Some(0));

    // One value of the capture in another digit.
    let capture = std::fs::read_to_string(case.path("run.csv")).expect("a capture");
    let at = capture.len() - 3;
    let other = if capture.as_bytes()[at] == b'1' { "2" } else { "1" };
    let mut changed = capture.clone();
    changed.replace_range(at..=at, other);
    std::fs::create_dir(case.path("changed")).expect("a folder");
    std::fs::write(case.path("changed/run.csv"), changed).expect("written");
    let found = case.verify("report.html", &["changed/run.csv"]);
    assert_eq!(found.0, Some(3), "{found:?}");
    assert!(found.1.contains("it was changed since or is another file"), "{found:?}");
    assert!(found.1.contains("Not given: run.csv"), "{found:?}");

    // Another file.
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    std::fs::copy(root.join("demo-data/sound.csv"), case.path("sound.csv")).expect("a copy");
    let found = case.verify("report.html", &["sound.csv"]);
    assert_eq!(found.0, Some(3), "{found:?}");
    assert!(found.1.contains("NOT a capture of this report: another file"), "{found:?}");
    // The right one and one more.
    assert_eq!(case.verify("report.html", &["run.csv", "sound.csv"]).0, Some(3));
}

#[test]
fn a_changed_report_is_refused() {
    let case = Case::new();
    // A word of the finding, a figure, the evidence itself, a line end.
    let changes =
        [("late", "early"), ("P0018", "P0017"), ("\"codes\":[\"P0018\"]", "\"codes\":[]")];
    for (old, new) in changes {
        assert!(case.report.contains(old), "{old}");
        std::fs::write(case.path("forged.html"), case.report.replacen(old, new, 1))
            .expect("written");
        let found = case.verify("forged.html", &["run.csv"]);
        assert_eq!(found.0, Some(3), "{old}: {found:?}");
        assert!(found.1.contains("NOT as it was written"), "{found:?}");
    }
    std::fs::write(case.path("forged.html"), format!("{}\n", case.report)).expect("written");
    assert_eq!(case.verify("forged.html", &["run.csv"]).0, Some(3));

    // Files that cannot be used.
    std::fs::write(case.path("page.html"), "<html></html>").expect("written");
    std::fs::write(case.path("bytes.html"), [0xff, 0xfe, 0, 1]).expect("written");
    for (report, capture, part) in [
        ("page.html", "run.csv", "this is no report of `check`"),
        ("bytes.html", "run.csv", "bytes.html"),
        ("not-there.html", "run.csv", "not-there.html"),
        ("run.csv", "report.html", "no report"),
        ("report.html", "not-there.csv", "not-there.csv"),
    ] {
        let found = case.verify(report, &[capture]);
        assert_eq!(found.0, Some(1), "{report} {capture}: {found:?}");
        assert!(found.1.contains(part), "{report} {capture}: {found:?}");
    }
}

/// A finding that was changed in the evidence, with the checksum worked out anew, is not found again.
#[test]
fn what_was_forged_with_a_new_checksum_is_not_found_again() {
    let case = Case::new();
    let forged = case.report.replace("\"state\":\"jumped\"", "\"state\":\"in_time\"");
    assert_ne!(forged, case.report);
    let at = forged.find("camwitness-checksum").expect("a checksum");
    let at = at + forged[at..].find("content=\"").expect("its digits") + "content=\"".len();
    let open = format!("{}{}{}", &forged[..at], "0".repeat(64), &forged[at + 64..]);
    let sum = camwitness::checksum::sha256(open.as_bytes());
    let forged = format!("{}{sum}{}", &forged[..at], &forged[at + 64..]);
    std::fs::write(case.path("forged.html"), forged).expect("written");
    let found = case.verify("forged.html", &["run.csv"]);
    assert_eq!(found.0, Some(3), "{found:?}");
    assert!(found.1.contains("NOT found again") && found.1.contains("verdict.state"), "{found:?}");
}

/// A report carries file names, and never a folder.
#[test]
fn a_report_names_no_folder() {
    let case = Case::new();
    let root = env!("CARGO_MANIFEST_DIR");
    let here = case.folder.path().display().to_string();
    for folder in [root, here.as_str()] {
        assert!(!case.report.contains(folder), "{folder} stands in the report");
    }
    for part in
        ["Current clamp", "600 A", "engine.toml", "P0018", "Annex: what this report rests on"]
    {
        assert!(case.report.contains(part), "{part}");
    }
}

/// An engine whose wheel is a file in another folder, leads by column, and a recording without a
/// crank: each is found again from the report alone.
#[test]
fn wheels_leads_and_cranking_tests_are_carried_too() {
    let case = Case::new();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let engine = std::fs::read_to_string(root.join(ENGINE)).expect("the engine");
    let line = engine.lines().find(|line| line.starts_with("wheel")).expect("the crank's wheel");
    let name = line.split('"').nth(1).expect("its name");
    let wheel = std::fs::read_to_string(root.join(format!("tooth-patterns/{name}.toml")));
    let wheel = wheel.expect("a wheel of the library");
    std::fs::create_dir(case.path("wheels")).expect("a folder");
    std::fs::write(case.path("wheels/own.toml"), wheel).expect("written");
    let engine = engine.replace(&format!("\"{name}\""), "\"wheels/own.toml\"");
    std::fs::write(case.path("own.toml"), engine).expect("written");
    let check = ["check", "run.csv", "--engine", "own.toml", "--report", "own.html"];
    let done = program(
        case.folder.path(),
        &[&check[..], &["--lead", "run.csv:crank=crank", "--from", "0.2"]].concat(),
    );
    assert!(matches!(done.status.code(), Some(0 | 3)), "{done:?}");
    // Neither file is there any more: the report has what it needs.
    std::fs::remove_dir_all(case.path("wheels")).expect("removed");
    std::fs::remove_file(case.path("own.toml")).expect("removed");
    let found = case.verify("own.html", &["run.csv"]);
    assert_eq!(found.0, Some(0), "{found:?}");
}
