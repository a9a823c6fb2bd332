//! Faults of the system as Windows has them, through the real program: the counterpart of
//! `faults.rs`, run under wine by `scripts/windows.sh --tests`. A full disk and a limit on file
//! sizes need a shell of Unix; what Windows adds is that a file which a program has open can be
//! neither replaced nor, if it wants that, read.
#![cfg(windows)]

use std::fs::{self, File, OpenOptions};
use std::os::windows::fs::OpenOptionsExt;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_camwitness");
/// Others may read (`FILE_SHARE_READ` of the Windows API), but neither write nor replace.
const OTHERS_READ: u32 = 1;
/// Others may do nothing.
const NOBODY: u32 = 0;

/// The demonstration in a folder of its own: the project's may be on a path of another system.
fn demonstration() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    fs::write(at("engine.toml"), include_str!("../demo-data/engine.toml")).expect("the engine");
    fs::write(at("sound.csv"), include_str!("../demo-data/sound.csv")).expect("a capture");
    folder
}

fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(PROGRAM).args(arguments).current_dir(folder).output().expect("it runs")
}

fn one_message(output: &Output, what: &str) -> String {
    let message = String::from_utf8(output.stderr.clone()).expect("UTF-8");
    assert_eq!(output.status.code(), Some(1), "{what}: {message}");
    let plain = message.starts_with("camwitness: ") && message.lines().count() == 1;
    assert!(plain && message.trim_end().ends_with('.'), "{what}: {message}");
    message
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder").filter_map(Result::ok);
    let mut names: Vec<_> =
        entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

/// Every command that writes a file, `out` where it is not a picture.
fn writers() -> Vec<(Vec<&'static str>, &'static str)> {
    let check = ["check", "sound.csv", "--engine", "engine.toml", "--force"];
    let with = |rest: &[&'static str]| [&check[..], rest].concat();
    vec![
        (with(&["--json", "out"]), "out"),
        (with(&["--report", "out"]), "out"),
        (with(&["--plots", "."]), "traces.svg"),
        (
            vec![
                "practice",
                "--engine",
                "engine.toml",
                "--force",
                "--out",
                "out",
                "--seconds",
                "2",
            ],
            "out",
        ),
        (vec!["look", "sound.csv", "--write-engine", "out", "--force"], "out"),
    ]
}

fn held(path: &Path, others: u32) -> File {
    OpenOptions::new().read(true).share_mode(others).open(path).expect("held")
}

#[test]
fn a_result_that_another_program_has_open_is_kept_and_said() {
    for (arguments, file) in writers() {
        let folder = demonstration();
        let path = folder.path().join(file);
        fs::write(&path, "what was there").expect("a file");
        let before = names(folder.path());
        let holder = held(&path, OTHERS_READ);
        let message = one_message(&run(folder.path(), &arguments), &arguments.join(" "));
        assert!(message.contains(file), "{message}");
        assert!(message.contains("Close the program that has it open"), "{message}");
        assert_eq!(fs::read(&path).expect("kept"), b"what was there", "{arguments:?}");
        assert_eq!(names(folder.path()), before, "{arguments:?}");
        drop(holder);
        let output = run(folder.path(), &arguments);
        assert_eq!(output.status.code(), Some(0), "{output:?}");
        assert_ne!(fs::read(&path).expect("written"), b"what was there", "{arguments:?}");
    }
}

#[test]
fn a_capture_that_another_program_keeps_to_itself_is_named() {
    let folder = demonstration();
    let holder = held(&folder.path().join("sound.csv"), NOBODY);
    let arguments = ["check", "sound.csv", "--engine", "engine.toml"];
    let message = one_message(&run(folder.path(), &arguments), "held");
    assert!(message.contains("sound.csv: cannot read this file"), "{message}");
    drop(holder);
    assert_eq!(run(folder.path(), &arguments).status.code(), Some(0));
}

#[test]
fn a_place_that_cannot_be_written_is_named_and_nobody_is_blamed() {
    for (arguments, file) in writers() {
        let folder = demonstration();
        fs::create_dir(folder.path().join(file)).expect("a folder in its place");
        let before = names(folder.path());
        let message = one_message(&run(folder.path(), &arguments), &arguments.join(" "));
        assert!(message.contains(file) && !message.contains("Close the program"), "{message}");
        assert_eq!(names(folder.path()), before, "{arguments:?}");
    }
    let folder = demonstration();
    fs::write(folder.path().join("file"), "what was there").expect("a file");
    for place in [r"file\out.json", r"no\such\folder\out.json", "what?.json"] {
        let arguments = ["check", "sound.csv", "--engine", "engine.toml", "--json", place];
        let message = one_message(&run(folder.path(), &arguments), place);
        assert!(message.contains(&format!("{place}: cannot write this file")), "{message}");
    }
    assert_eq!(names(folder.path()), ["engine.toml", "file", "sound.csv"]);
}

#[test]
fn a_file_marked_read_only_is_kept_and_the_mark_is_named() {
    let folder = demonstration();
    let path = folder.path().join("out");
    fs::write(&path, "what was there").expect("a file");
    let mut mark = path.metadata().expect("a file").permissions();
    mark.set_readonly(true);
    fs::set_permissions(&path, mark.clone()).expect("marked");
    let arguments = ["check", "sound.csv", "--engine", "engine.toml", "--json", "out", "--force"];
    let message = one_message(&run(folder.path(), &arguments), "read-only");
    assert!(message.contains("out: cannot write this file"), "{message}");
    assert!(message.contains("read-only") && !message.contains("Close the program"), "{message}");
    assert_eq!(fs::read(&path).expect("kept"), b"what was there");
    // Else the folder cannot be removed.
    #[allow(clippy::permissions_set_readonly_false)]
    mark.set_readonly(false);
    fs::set_permissions(&path, mark).expect("unmarked");
}

#[test]
fn a_practice_capture_killed_while_it_is_written_has_no_name_yet() {
    let mut killed = 0;
    for _ in 0..10 {
        let folder = demonstration();
        let before = names(folder.path()).len();
        let mut child = Command::new(PROGRAM)
            .args(["practice", "--engine", "engine.toml", "--out", "big.csv"])
            .args(["--rate", "100000", "--seconds", "5"])
            .current_dir(folder.path())
            .spawn()
            .expect("it runs");
        let started = Instant::now();
        // Its temporary file is the sign that writing has begun.
        while names(folder.path()).len() == before && child.try_wait().expect("a child").is_none() {
            assert!(started.elapsed() < Duration::from_secs(120), "nothing is written");
        }
        child.kill().expect("a child of ours");
        let status = child.wait().expect("a child of ours");
        if status.code() != Some(0) {
            killed += 1;
            match fs::read(folder.path().join("big.csv")) {
                // Killed after the file had its name, it is whole.
                Ok(bytes) => {
                    assert_eq!(bytes.iter().filter(|&&byte| byte == b'\n').count(), 500_001)
                }
                Err(_) => {
                    let mut left = names(folder.path());
                    left.retain(|name| name != "engine.toml" && name != "sound.csv");
                    assert!(left.iter().all(|name| name.starts_with(".camwitness-")), "{left:?}");
                }
            }
            fs::remove_file(folder.path().join("big.csv")).ok();
            let output = run(folder.path(), &["check", ".", "--engine", "engine.toml"]);
            let text = String::from_utf8_lossy(&output.stdout).into_owned();
            assert!(output.status.code() == Some(0) && text.contains("1 capture\n"), "{text}");
            break;
        }
    }
    assert!(killed > 0, "every run was done before it could be killed");
}

#[test]
fn a_reader_that_leaves_is_no_fault() {
    let folder = demonstration();
    for arguments in [
        &["check", "sound.csv", "--engine", "engine.toml"][..],
        &["check", "sound.csv", "--engine", "engine.toml", "--json", "-"],
        &["look", "sound.csv"],
        &["wheels"],
    ] {
        let mut child = Command::new(PROGRAM)
            .args(arguments)
            .current_dir(folder.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it runs");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("it ends");
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {output:?}");
        assert!(output.stderr.is_empty(), "{arguments:?}: {output:?}");
    }
}
