//! What kind of file one is, by its beginning: only to say that two were exchanged. Where it is not
//! plain, nothing is said.

use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Bytes of the beginning that are looked at.
const HEAD_BYTES: u64 = 1 << 16;
/// Lines of numbers in a row that no description has.
const ROWS_OF_A_TABLE: usize = 8;

/// Kinds of files that are plain from their beginning.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Content {
    /// A table of numbers.
    Table,
    /// An engine description.
    Engine,
    /// A known-good reference.
    KnownGood,
    /// A wheel file.
    Wheel,
    /// A job file.
    Job,
}

impl std::fmt::Display for Content {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(match self {
            Content::Table => "a capture",
            Content::Engine => "an engine file",
            Content::KnownGood => "a known-good file",
            Content::Wheel => "a wheel file",
            Content::Job => "a job file",
        })
    }
}

/// What a file looks like; `None` for one that is not plain, cannot be read, or is no ordinary
/// file.
#[must_use]
pub fn looks_like(path: &Path) -> Option<Content> {
    if !path.metadata().is_ok_and(|about| about.is_file()) {
        return None;
    }
    let mut head = Vec::new();
    File::open(path).ok()?.take(HEAD_BYTES).read_to_end(&mut head).ok()?;
    looks(&String::from_utf8_lossy(&head))
}

fn looks(head: &str) -> Option<Content> {
    let lines = || head.lines().map(str::trim).filter(|line| !line.is_empty());
    let mut row = 0;
    for line in lines() {
        row = if is_row(line) { row + 1 } else { 0 };
        if row >= ROWS_OF_A_TABLE {
            return Some(Content::Table);
        }
    }
    // Keys at the top of the file, in order, and headers of tables.
    let top: Vec<&str> = lines()
        .take_while(|line| !line.starts_with('['))
        .filter(|line| !line.starts_with('#'))
        .filter_map(|line| Some(line.split_once('=')?.0.trim()))
        .collect();
    let header = |name: &str| lines().any(|line| line.starts_with(name));
    if head.contains("camwitness-known/") {
        Some(Content::KnownGood)
    } else if top.contains(&"firing_order") || header("[crank]") {
        Some(Content::Engine)
    } else if top.contains(&"slots") || top.contains(&"teeth") {
        Some(Content::Wheel)
    } else {
        const JOB: [&str; 5] = ["number", "vehicle", "mileage", "technician", "date"];
        (!top.is_empty() && top.iter().all(|key| JOB.contains(key))).then_some(Content::Job)
    }
}

/// Whether a line is two or more numbers.
fn is_row(line: &str) -> bool {
    let number =
        |cell: &str| cell.trim().trim_matches('"').replace(',', ".").parse::<f64>().is_ok();
    [',', ';', '\t'].into_iter().any(|separator| {
        let mut cells = line.split(separator);
        cells.next().is_some_and(number) && cells.next().is_some_and(number)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_of_the_project_look_like_what_they_are() {
        let rows = [
            (include_str!("../../demo-data/engine.toml"), Some(Content::Engine)),
            (include_str!("../../demo-data/sound.csv"), Some(Content::Table)),
            ("slots = 36\nmissing = [1]\n", Some(Content::Wheel)),
            ("# mine\nnumber = 7\ndate = 2026-01-02\n", Some(Content::Job)),
            ("format = \"camwitness-known/1\"\nengine = \"x\"\n", Some(Content::KnownGood)),
            ("", None),
            ("name = \"x\"\n", None),
            ("a,b\n1,2\n3,4\n", None),
            ("\u{fffd}PNG\u{fffd}", None),
        ];
        for (head, want) in rows {
            assert_eq!(looks(head), want, "{}", head.chars().take(40).collect::<String>());
        }
        for wheel in crate::wheel::LIBRARY {
            assert_eq!(looks(wheel.text), Some(Content::Wheel), "{}", wheel.name);
        }
    }
}
