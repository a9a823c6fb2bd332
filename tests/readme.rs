//! Every command of the README runs, and its demonstration says what stands there.

use std::fmt::Write as _;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Output, Stdio};

const README: &str = include_str!("../README.md");
const PROGRAM: &str = env!("CARGO_BIN_EXE_camwitness");

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// What stands in the README's fenced blocks of one kind.
fn blocks(kind: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let mut within = None;
    for line in README.lines() {
        match (line.strip_prefix("```"), within) {
            (Some(name), None) => {
                within = Some(name == kind);
                if name == kind {
                    found.push(String::new());
                }
            }
            (Some(_), Some(_)) => within = None,
            (None, Some(true)) => {
                let _ = writeln!(found.last_mut().expect("begun"), "{line}");
            }
            _ => {}
        }
    }
    found
}

/// The commands, one to a line, without comments.
fn commands() -> Vec<String> {
    let text = blocks("sh").concat().replace("\\\n", " ");
    let lines = text.lines().map(|line| line.split("  #").next().unwrap_or(line).trim());
    lines.filter(|line| !line.is_empty()).map(str::to_owned).collect()
}

/// Words as a shell splits them, as far as the README goes: double quotes and blanks.
fn words(line: &str) -> Vec<String> {
    let mut found = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => found.push(String::new()),
            letter => found.last_mut().expect("a word").push(letter),
        }
    }
    found.retain(|word| !word.is_empty());
    found
}

/// A folder with every file the commands name, made of the demonstration.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let demo = |name: &str| {
        std::fs::read_to_string(root().join("demo-data").join(name)).expect("the demonstration")
    };
    let write = |name: &str, text: &str| std::fs::write(at(name), text).expect("written");
    std::fs::create_dir(at("demo-data")).expect("a folder");
    for entry in std::fs::read_dir(root().join("demo-data")).expect("the demonstration") {
        let entry = entry.expect("an entry");
        std::fs::copy(entry.path(), at("demo-data").join(entry.file_name())).expect("copied");
    }
    let late = demo("bank2-late.csv");
    for name in ["engine.toml", "ENGINE.toml"] {
        write(name, &demo("engine.toml"));
    }
    for name in ["capture.csv", "CAPTURE.csv"] {
        write(name, &late);
    }
    write("good1.csv", &demo("sound.csv"));
    write("good2.csv", &demo("repaired.csv"));
    write("bank1.csv", &columns(&late, &[0, 1, 2]));
    write("bank2.csv", &columns(&late, &[0, 1, 3]));
    // The columns of another scope; its clamp gives volts.
    let scope = columns(&late, &[0, 1, 3, 2, 4]);
    let (_, rows) = scope.split_once('\n').expect("a header");
    let header = "time (s),Channel 1 (V),Channel 2 (V),Channel 3 (V),Channel 4 (V)";
    write("scope.csv", &format!("{header}\n{}", clamp_in_volts(rows)));
    let wheel = blocks("toml").into_iter().find(|text| text.contains("36-2, one gap"));
    write("my-wheel.toml", &wheel.expect("a wheel file"));
    folder
}

fn columns(text: &str, wanted: &[usize]) -> String {
    let row = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        wanted.iter().map(|&at| cells[at]).collect::<Vec<&str>>().join(",") + "\n"
    };
    text.lines().map(row).collect()
}

/// The last column divided by the hundred amperes of a volt.
fn clamp_in_volts(rows: &str) -> String {
    let row = |line: &str| {
        let (rest, amperes) = line.rsplit_once(',').expect("columns");
        format!("{rest},{:.4}\n", amperes.parse::<f64>().expect("amperes") / 100.0)
    };
    rows.lines().map(row).collect()
}

fn run(folder: &Path, arguments: &[String]) -> Output {
    let program = Command::new(PROGRAM)
        .args(arguments)
        .current_dir(folder)
        .env("CAMWITNESS_SHELF", folder.join("shelf"))
        .output();
    program.expect("the program runs")
}

#[test]
fn every_command_runs() {
    let folder = folder();
    let mut ran = 0;
    for command in commands() {
        let mut words = words(&command);
        match words.first().map(String::as_str) {
            Some("camwitness") => _ = words.remove(0),
            Some("cargo") if words[1] == "test" => continue,
            Some("cargo") => {
                assert_eq!(words[..4], ["cargo", "run", "--release", "--"], "{command}");
                words.drain(..4);
            }
            _ => panic!("{command}: not a command of this program"),
        }
        if words == ["page"] {
            page_answers(folder.path());
        } else {
            let done = run(folder.path(), &words);
            let said = String::from_utf8_lossy(&done.stderr).into_owned();
            // 3: measured, but cannot tell.
            assert!(matches!(done.status.code(), Some(0 | 3)), "{command}: {said}");
        }
        ran += 1;
    }
    assert!(ran > 15, "only {ran} commands were found");
}

/// The page is served until it is stopped; it says where.
fn page_answers(folder: &Path) {
    let mut page = Command::new(PROGRAM)
        .args(["page", "--no-browser"])
        .current_dir(folder)
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let mut line = String::new();
    let read = BufReader::new(page.stdout.take().expect("its output")).read_line(&mut line);
    page.kill().expect("it runs until it is stopped");
    let _ = page.wait();
    assert!(read.is_ok() && line.contains("http://127.0.0.1:"), "{line}");
}

#[test]
fn the_demonstration_says_what_the_readme_shows() {
    let folder = folder();
    let demonstration = commands().into_iter().find(|line| line.contains("cargo run"));
    let words = words(&demonstration.expect("the first command"));
    let done = run(folder.path(), &words[4..]);
    let said = String::from_utf8(done.stdout).expect("UTF-8");
    let shown = blocks("text").concat();
    assert!(shown.lines().count() >= 8, "{shown}");
    for line in shown.lines() {
        assert!(said.lines().any(|there| there == line), "not said: {line}\n{said}");
    }
}

#[test]
fn files_the_readme_names_are_there() {
    for part in README.split("](").skip(1) {
        let path = part.split(')').next().unwrap_or_default();
        assert!(path.starts_with("http") || root().join(path).exists(), "{path}");
    }
    let picture = std::fs::metadata(root().join("docs/report.png")).expect("the picture");
    assert!(picture.len() < 300_000, "{} bytes", picture.len());
}
