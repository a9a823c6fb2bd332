//! The walk of docs/first-car.md: its commands run, and say what stands there.

use std::path::Path;
use std::process::Command;

use super::cli::{folder, root, text};

const WALK: &str = include_str!("../docs/first-car.md");

/// The commands of the walk, each with what the document shows of its output.
fn commands() -> Vec<(Vec<String>, Vec<String>)> {
    let mut found: Vec<(Vec<String>, Vec<String>)> = Vec::new();
    let mut parts = WALK.split("```");
    parts.next();
    while let Some(block) = parts.next() {
        if let Some(shell) = block.strip_prefix("sh\n") {
            let lines = shell.replace("\\\n", " ");
            found.extend(lines.lines().map(|line| (words(line), Vec::new())));
        } else if let Some(output) = block.strip_prefix("text\n") {
            let last = found.last_mut().expect("a command before what it says");
            last.1.extend(output.lines().filter(|line| !line.is_empty()).map(str::to_owned));
        }
        parts.next();
    }
    found
}

/// Words as a shell splits them, as far as this walk goes: quotation marks and blanks.
fn words(line: &str) -> Vec<String> {
    let (mut found, mut mark) = (vec![String::new()], None);
    for letter in line.chars() {
        match (letter, mark) {
            (letter, Some(open)) if letter == open => mark = None,
            ('"' | '\'', None) => mark = Some(letter),
            (' ', None) => found.push(String::new()),
            (letter, _) => found.last_mut().expect("a word").push(letter),
        }
    }
    found.retain(|word| !word.is_empty());
    found
}

/// What `sed '1s/.*/HEADER/' FROM > TO` does.
fn renamed(folder: &Path, words: &[String]) {
    let header = words[1].strip_prefix("1s/.*/").and_then(|rest| rest.strip_suffix('/'));
    let text = std::fs::read_to_string(folder.join(&words[2])).expect("the demonstration");
    let (_, rows) = text.split_once('\n').expect("a header");
    let car = format!("{}\n{rows}", header.expect("a header"));
    std::fs::write(folder.join(&words[4]), car).expect("written");
}

#[test]
fn the_first_car_is_walked_as_it_is_written() {
    let home = folder();
    let mut walked = 0;
    for (words, shown) in commands() {
        match words[0].as_str() {
            "sed" => renamed(home.path(), &words),
            "camwitness" => {
                walked += usize::from(words[1] != "demo");
                let mut command = Command::new(env!("CARGO_BIN_EXE_camwitness"));
                command.args(&words[1..]).current_dir(home.path()).env("CAMWITNESS_SHELF", "none");
                let output = command.output().expect("it runs");
                let said = text(&output.stdout);
                assert!(matches!(output.status.code(), Some(0 | 3)), "{words:?}: {output:?}");
                for line in &shown {
                    assert!(said.lines().any(|other| other == line), "{words:?}: {line}\n{said}");
                }
            }
            other => panic!("{other} is no command of the walk"),
        }
    }
    assert!((2..=5).contains(&walked), "{walked} commands");
    // The begun file was taken as it is, and there are the pictures the document shows.
    assert!(home.path().join("car.toml").is_file());
    for name in ["traces", "compression"] {
        assert!(home.path().join(format!("pictures/{name}.png")).is_file(), "{name}");
    }
    for shown in ["signals", "compression", "page"] {
        let kept = root().join(format!("docs/first-car-{shown}.png"));
        let size = std::fs::metadata(kept).expect("a picture").len();
        assert!(size < 200_000, "{shown}: {size}");
    }
}
