//! The examples, run as a program would be, on good input and bad.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// `cargo test` builds examples beside the programs of the tests.
fn example(name: &str) -> PathBuf {
    let tests = std::env::current_exe().expect("this program");
    let folder = tests.parent().and_then(Path::parent).expect("the folder of builds");
    folder.join("examples").join(name).with_extension(std::env::consts::EXE_EXTENSION)
}

fn run(name: &str, arguments: &[&str]) -> Output {
    Command::new(example(name))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo test builds the examples")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

const ENGINE: &str = "demo-data/engine.toml";

#[test]
fn deviation_names_each_cam_and_its_side() {
    let late = std::fs::read_dir("demo-data").expect("the demonstration");
    let late = late.map(|entry| entry.expect("an entry").file_name().into_string().expect("UTF-8"));
    let late =
        late.into_iter().find(|name| name.ends_with("late.csv")).expect("a cam that is late");
    let done = run("deviation", &[&format!("demo-data/{late}"), ENGINE]);
    let said = text(&done.stdout);
    assert!(done.status.success(), "{said}{}", text(&done.stderr));
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines.len(), 3, "{said}");
    assert!(lines[0].starts_with("B1 intake: ") && lines[1].starts_with("B2 intake: "), "{said}");
    assert_eq!(said.matches("° late").count(), 1, "one cam stands a tooth late: {said}");
    assert_eq!(lines[2], "found: jumped");
}

#[test]
fn deviation_says_what_is_wrong() {
    let rows: [(&[&str], i32, &str); 3] = [
        (&[], 2, "usage"),
        (&["no.csv", ENGINE], 1, "no.csv"),
        (&[ENGINE, ENGINE], 1, "engine.toml"),
    ];
    for (arguments, status, part) in rows {
        let done = run("deviation", arguments);
        let said = text(&done.stderr);
        assert_eq!(done.status.code(), Some(status), "{arguments:?}: {said}");
        assert!(said.contains(part), "{arguments:?}: {said}");
    }
}

#[test]
fn folder_gives_a_line_for_each_capture() {
    let done = run("folder", &["demo-data", ENGINE]);
    let said = text(&done.stdout);
    assert!(done.status.success(), "{said}{}", text(&done.stderr));
    let captures = std::fs::read_dir("demo-data").expect("the demonstration").filter(|entry| {
        entry.as_ref().is_ok_and(|entry| entry.path().extension().is_some_and(|end| end == "csv"))
    });
    assert_eq!(said.lines().count(), captures.count());
    for line in said.lines() {
        let result: serde_json::Value = serde_json::from_str(line).expect("a line of JSON");
        assert!(result["verdict"]["state"].is_string(), "{line}");
    }
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("broken.csv"), "time,crank\n0,1\n1,x\n").expect("written");
    let done = run("folder", &[folder.path().to_str().expect("UTF-8"), ENGINE]);
    assert_eq!(done.status.code(), Some(1));
    assert!(text(&done.stderr).contains("broken.csv"));
}
