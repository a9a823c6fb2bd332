//! Faults of the system, through the real program: a full disk, a folder that cannot be written, a
//! file that goes away while it is read, a kill half-way through writing, a reader that leaves.
//! Each ends in one plain message, with nothing half written under a name, and what stood there
//! before still whole.
//!
//! Tests may run as root, whom permissions do not stop: what cannot be written here is a path under
//! a file, a folder in the place of the file, and what the shell's limit on file sizes forbids
//! (`ulimit -f`), which fails a write after it began, as a full disk does.
#![cfg(unix)]

use std::fs;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_camwitness");
const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// A path of the project.
fn own(name: &str) -> String {
    format!("{ROOT}/{name}")
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a folder")
}

/// Runs the program after a shell's preparation, in a folder. `$@` is the program with its
/// arguments.
fn shell(preparation: &str, folder: &Path, arguments: &[&str]) -> Output {
    Command::new("sh")
        .args(["-c", &format!("ulimit -c 0; {preparation}"), "sh", PROGRAM])
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("a shell")
}

/// One plain line that begins with the program's name, and exit status 1.
fn one_message(output: &Output, what: &str) -> String {
    let message = String::from_utf8(output.stderr.clone()).expect("UTF-8");
    assert_eq!(output.status.code(), Some(1), "{what}: {:?} {message}", output.status);
    let plain = message.starts_with("camwitness: ") && message.lines().count() == 1;
    assert!(plain && message.ends_with(".\n"), "{what}: {message}");
    message
}

/// Names and contents of everything in a folder.
fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all: Vec<_> = fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| {
            let path = entry.expect("an entry").path();
            let name = path.file_name().expect("a name").to_string_lossy().into_owned();
            (name, fs::read(&path).unwrap_or_default())
        })
        .collect();
    all.sort();
    all
}

/// Every command that writes a file, with the file it writes.
fn writers() -> Vec<(Vec<String>, &'static str)> {
    let (engine, capture) = (own("demo-data/engine.toml"), own("demo-data/sound.csv"));
    let with = |words: &[&str]| words.iter().map(|&word| word.to_owned()).collect::<Vec<_>>();
    let check =
        |rest: &[&str]| [with(&["check", &capture, "--engine", &engine]), with(rest)].concat();
    let folder = |rest: &[&str]| {
        [with(&["check", &own("demo-data"), "--engine", &engine]), with(rest)].concat()
    };
    let practice = ["practice", "--engine", &engine, "--force", "--out", "out", "--seconds", "2"];
    let learn = ["learn", &capture, "--engine", &engine, "--out", "out"];
    vec![
        (check(&["--json", "out", "--force"]), "out"),
        (check(&["--report", "out", "--force"]), "out"),
        (check(&["--plots", ".", "--force"]), "traces.svg"),
        (folder(&["--table", "out", "--force"]), "out"),
        (folder(&["--json", "out", "--force"]), "out"),
        (with(&practice), "out"),
        (with(&learn), "out"),
        (with(&["look", &capture, "--write-engine", "out", "--force"]), "out"),
    ]
}

fn words(owned: &[String]) -> Vec<&str> {
    owned.iter().map(String::as_str).collect()
}

/// A folder with something in place of the file a command writes, and its contents. `learn` keeps
/// what is there.
fn something_there(what: &str, file: &str) -> (tempfile::TempDir, Vec<(String, Vec<u8>)>) {
    let folder = folder();
    if !what.starts_with("learn") {
        fs::write(folder.path().join(file), "what was there").expect("a file");
    }
    let before = contents(folder.path());
    (folder, before)
}

#[test]
fn a_disk_that_fills_up_leaves_what_was_there() {
    for (arguments, file) in writers() {
        let what = arguments.join(" ");
        let (folder, before) = something_there(&what, file);
        // Without the signal that a limit sends, the write itself fails: after nothing, or after
        // one block.
        for blocks in [0, 1] {
            let small =
                ["--table", "learn", "--write-engine"].iter().any(|word| what.contains(word));
            if blocks > 0 && small {
                continue;
            }
            let preparation = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$@\"");
            let message =
                one_message(&shell(&preparation, folder.path(), &words(&arguments)), &what);
            assert!(message.contains(file) && message.contains("write"), "{what}: {message}");
            assert_eq!(contents(folder.path()), before, "{what}");
        }
    }
}

#[test]
fn a_kill_half_way_through_writing_leaves_no_half_file() {
    for (arguments, file) in writers() {
        let what = arguments.join(" ");
        let (folder, before) = something_there(&what, file);
        // The system's own signal kills the program at the first byte over the limit.
        let output = shell("ulimit -f 0; exec \"$@\"", folder.path(), &words(&arguments));
        assert!(output.status.signal().is_some(), "{what}: {:?}", output.status);
        let mut after = contents(folder.path());
        after.retain(|(name, _)| !name.starts_with(".camwitness-"));
        assert_eq!(after, before, "{what}");
        // What is left over does not stop the next run, nor is it taken for a capture.
        let again = shell("exec \"$@\"", folder.path(), &words(&arguments));
        assert!(matches!(again.status.code(), Some(0 | 3)), "{what}: {again:?}");
        let written = fs::read(folder.path().join(file)).expect("written now");
        assert!(written.len() > 20 && written != b"what was there", "{what}");
    }
}

#[test]
fn a_practice_capture_killed_while_it_is_written_has_no_name_yet() {
    let engine = own("demo-data/engine.toml");
    let mut killed = 0;
    for _ in 0..10 {
        let folder = folder();
        let arguments = [
            "practice",
            "--engine",
            &engine,
            "--out",
            "big.csv",
            "--rate",
            "100000",
            "--seconds",
            "5",
        ];
        let mut child = Command::new(PROGRAM)
            .args(arguments)
            .current_dir(folder.path())
            .spawn()
            .expect("it runs");
        let started = Instant::now();
        // Its temporary file is the sign that writing has begun.
        while contents_names(folder.path()).is_empty()
            && child.try_wait().expect("a child").is_none()
        {
            assert!(started.elapsed() < Duration::from_secs(60), "nothing is written");
        }
        child.kill().expect("a child of ours");
        let status = child.wait().expect("a child of ours");
        let names = contents_names(folder.path());
        if status.signal().is_some() {
            killed += 1;
            // Killed after the file had its name, it must be whole: its last line ends.
            if let Ok(bytes) = fs::read(folder.path().join("big.csv")) {
                assert_eq!(bytes.iter().filter(|&&byte| byte == b'\n').count(), 500_001);
            } else {
                assert!(names.iter().all(|name| name.starts_with(".camwitness-")), "{names:?}");
            }
            // The leavings are hidden: a folder of captures does not show them.
            fs::copy(own("demo-data/sound.csv"), folder.path().join("sound.csv")).expect("a copy");
            fs::remove_file(folder.path().join("big.csv")).ok();
            let output = shell("exec \"$@\"", folder.path(), &["check", ".", "--engine", &engine]);
            let text = String::from_utf8_lossy(&output.stdout).into_owned();
            assert!(output.status.code() == Some(0) && text.contains("1 capture\n"), "{text}");
            break;
        }
    }
    assert!(killed > 0, "every run was done before it could be killed");
}

fn contents_names(folder: &Path) -> Vec<String> {
    let names = fs::read_dir(folder).expect("a folder").filter_map(Result::ok);
    names.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect()
}

#[test]
fn a_place_that_cannot_be_written_is_named() {
    let engine = own("demo-data/engine.toml");
    for (arguments, file) in writers() {
        let what = arguments.join(" ");
        // A folder in the place of the file.
        let folder_there = folder();
        fs::create_dir(folder_there.path().join(file)).expect("a folder");
        let message =
            one_message(&shell("exec \"$@\"", folder_there.path(), &words(&arguments)), &what);
        assert!(message.contains(file), "{what}: {message}");
        assert_eq!(contents_names(folder_there.path()), [file], "{what}");
    }
    let folder = folder();
    fs::write(folder.path().join("file"), "what was there").expect("a file");
    // (where, why the system refuses)
    for place in ["file/out.json", "no/such/folder/out.json", "/proc/out.json"] {
        let capture = own("demo-data/sound.csv");
        let arguments = ["check", &capture, "--engine", &engine, "--json", place];
        let message = one_message(&shell("exec \"$@\"", folder.path(), &arguments), place);
        assert!(message.contains(&format!("{place}: cannot write this file")), "{message}");
        let arguments = ["practice", "--engine", &engine, "--seconds", "2", "--out", place];
        let message = one_message(&shell("exec \"$@\"", folder.path(), &arguments), place);
        assert!(message.contains(&format!("{place}: cannot write this file")), "{message}");
    }
    assert_eq!(contents(folder.path()), [("file".to_owned(), b"what was there".to_vec())]);
}

#[test]
fn a_device_is_written_to_and_not_replaced() {
    let (engine, capture) = (own("demo-data/engine.toml"), own("demo-data/sound.csv"));
    let folder = folder();
    if !Path::new("/dev/full").exists() {
        println!("there is no /dev/full here");
        return;
    }
    // Through links, so that a program that renames over its target replaces a link and no device.
    for device in ["/dev/full", "/dev/null"] {
        let link = folder.path().join("out");
        std::os::unix::fs::symlink(device, &link).expect("a link");
        for arguments in [
            &["check", &capture, "--engine", &engine, "--json", "out"][..],
            &["check", &capture, "--engine", &engine, "--report", "out", "--force"],
            &["practice", "--engine", &engine, "--seconds", "2", "--force", "--out", "out"],
        ] {
            let output = shell("exec \"$@\"", folder.path(), arguments);
            if device == "/dev/full" {
                let message = one_message(&output, device);
                assert!(message.contains("out: cannot write this file"), "{message}");
            } else {
                assert_eq!(output.status.code(), Some(0), "{output:?}");
            }
            assert!(link.is_symlink(), "{arguments:?} replaced {device}");
        }
        fs::remove_file(&link).expect("the link");
    }
}

#[test]
fn a_full_disk_behind_standard_output_or_error_is_no_panic() {
    let (engine, capture) = (own("demo-data/engine.toml"), own("demo-data/sound.csv"));
    let folder = folder();
    if !Path::new("/dev/full").exists() {
        println!("there is no /dev/full here");
        return;
    }
    for arguments in [
        &["check", &capture, "--engine", &engine][..],
        &["check", &capture, "--engine", &engine, "--json", "-"],
        &["look", &capture],
        &["plan", "--engine", &engine],
        &["wheels"],
    ] {
        let output = shell("exec \"$@\" > /dev/full", folder.path(), arguments);
        let message = one_message(&output, arguments[0]);
        assert!(message.contains("standard output"), "{message}");
        // Nobody hears the message; the status still tells.
        let output = shell("exec \"$@\" > /dev/full 2> /dev/full", folder.path(), arguments);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        let output = shell("exec \"$@\" > /dev/full 2>&-", folder.path(), arguments);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
    }
}

#[test]
fn a_reader_that_leaves_is_no_fault() {
    let (engine, capture) = (own("demo-data/engine.toml"), own("demo-data/sound.csv"));
    for arguments in [
        &["check", &capture, "--engine", &engine][..],
        &["check", &capture, "--engine", &engine, "--json", "-"],
        &["look", &capture],
        &["wheels"],
    ] {
        let mut child = Command::new(PROGRAM)
            .args(arguments)
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

#[test]
fn a_file_that_shrinks_or_goes_while_it_is_read() {
    let engine = own("demo-data/engine.toml");
    let folder = folder();
    let whole = folder.path().join("whole.csv");
    let arguments = ["practice", "--engine", &engine, "--rate", "50000", "--seconds", "4", "--out"];
    let made = Command::new(PROGRAM).args(arguments).arg(&whole).output().expect("it runs");
    assert!(made.status.success(), "{made:?}");
    let mut cut_messages = 0;
    for (removed, wait) in [false, true].into_iter().flat_map(|r| (0..12).map(move |w| (r, w * 3)))
    {
        let path = folder.path().join("capture.csv");
        fs::copy(&whole, &path).expect("a copy");
        let child = Command::new(PROGRAM)
            .args(["check", "capture.csv", "--engine", &engine])
            .current_dir(folder.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it runs");
        std::thread::sleep(Duration::from_millis(wait));
        if removed {
            fs::remove_file(&path).expect("the capture goes");
        } else {
            let file = fs::OpenOptions::new().write(true).open(&path).expect("the capture");
            file.set_len(1_000_000).expect("it is cut");
        }
        let output = child.wait_with_output().expect("it ends");
        // Cut or removed before it was opened, while it was read, or after: read whole, read short,
        // or one message.
        if !matches!(output.status.code(), Some(0 | 3)) {
            let message = one_message(&output, "cut while read");
            cut_messages += usize::from(message.contains("nothing is changing it"));
            assert!(message.contains("capture.csv"), "{message}");
        }
    }
    println!("{cut_messages} runs met the cut while reading");
}

#[test]
fn what_cannot_be_read_is_named() {
    let (engine, capture) = (own("demo-data/engine.toml"), own("demo-data/sound.csv"));
    let folder = folder();
    let endless = "/dev/zero";
    // (arguments, what the message must hold)
    let rows: [(&[&str], &str); 8] = [
        (&["check", "gone.csv", "--engine", &engine], "gone.csv: cannot read this file"),
        (&["check", &capture, "--engine", "gone.toml"], "gone.toml: cannot read this engine file"),
        (&["check", ".", "--engine", &engine], "no capture in this folder"),
        (&["look", "."], "this is a folder"),
        (&["check", &capture, "--engine", endless], "no description is that long"),
        (
            &["check", &capture, "--engine", &engine, "--known", endless],
            "no description is that long",
        ),
        (&["check", &capture, "--engine", &engine, "--job", endless, "--report", "r"], "that long"),
        (&["wheels", endless], "no description is that long"),
    ];
    for (arguments, part) in rows {
        let message = one_message(&shell("exec \"$@\"", folder.path(), arguments), part);
        assert!(message.contains(part), "{arguments:?}: {message}");
    }
}
