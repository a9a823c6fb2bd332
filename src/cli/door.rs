//! Mistakes at the door: files given in each other's place, codes for captures, names that promise
//! what is not written. Each is said before any work, with the line that would do.

use std::io::Read;
use std::path::Path;

use super::Failure;
use crate::capture::{Capture, Dialect, ReadOptions, read_bytes_described, read_described};
use crate::codes::is_code;
use crate::input::{Content, looks_like};
use crate::output::{Files, ReadAs, WrittenAs};

/// Stands for standard input in place of a capture's name.
pub(super) const STANDARD_INPUT: &str = "-";

/// Endings of a report's name that promise what it is not.
const NO_REPORT: [&str; 13] =
    ["pdf", "doc", "docx", "odt", "rtf", "txt", "md", "png", "jpg", "jpeg", "svg", "csv", "json"];

/// Looks at everything a command is to read and write.
///
/// # Errors
/// The first mistake.
pub(super) fn look_over(files: &Files) -> Result<(), Failure> {
    let named: Vec<(ReadAs, &Path)> = files.inputs().collect();
    if let Some((_, code)) = named.iter().find(|(what, path)| {
        *what == ReadAs::Capture && is_code(&path.to_string_lossy()) && !path.exists()
    }) {
        return Err(Failure(format!(
            "{0} is a trouble code, not a capture. Write codes with commas between them: --codes P0016,{0}",
            code.display()
        )));
    }
    for (written, path) in files.outputs() {
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
        if written == WrittenAs::Report
            && ending.as_deref().is_some_and(|ending| NO_REPORT.contains(&ending))
        {
            return Err(Failure(format!(
                "{}: a report is one HTML file. Give it a name that ends in .html; a browser opens it and prints it, to PDF as well",
                path.display()
            )));
        }
    }
    let strange: Vec<(ReadAs, &Path, Content)> = named
        .into_iter()
        .filter_map(|(what, path)| Some((what, path, looks_like(path)?)))
        .filter(|(what, _, looks)| expected(*what).is_some_and(|want| want != *looks))
        .collect();
    let Some(&(what, path, looks)) = strange.first() else { return Ok(()) };
    let crossed = strange.iter().find(|(other, _, theirs)| {
        expected(*other) == Some(looks) && expected(what) == Some(*theirs)
    });
    Err(Failure(match crossed {
        Some((_, other, theirs)) => format!(
            "{} is {looks} and {} is {theirs}: they are exchanged. {}",
            path.display(),
            other.display(),
            where_it_goes(looks)
        ),
        None => format!(
            "{}: this is {looks}, and it stands where the {what} should. {}",
            path.display(),
            where_it_goes(looks)
        ),
    }))
}

/// What a file should look like; a capture in a folder is told by itself when it cannot be used.
fn expected(what: ReadAs) -> Option<Content> {
    match what {
        ReadAs::Capture => Some(Content::Table),
        ReadAs::CaptureInFolder
        | ReadAs::Report
        | ReadAs::Answers
        | ReadAs::ClassKey
        | ReadAs::Shelf => None,
        ReadAs::Engine => Some(Content::Engine),
        ReadAs::Wheel => Some(Content::Wheel),
        ReadAs::KnownGood => Some(Content::KnownGood),
        ReadAs::Job => Some(Content::Job),
    }
}

fn where_it_goes(looks: Content) -> &'static str {
    match looks {
        Content::Table => "Captures are named first, engine files after --engine",
        Content::Engine => "Name the engine file after --engine, and captures without an option",
        Content::KnownGood => "Name a known-good file after --known (learn: --add)",
        Content::Wheel => "Name a wheel file within an engine file, as `wheel`",
        Content::Job => "Name a job file after --job",
    }
}

/// Reads a capture from a file, or from standard input.
pub(super) fn read_capture(
    path: &Path,
    options: &ReadOptions,
) -> Result<(Capture, Option<Dialect>), Failure> {
    if path != Path::new(STANDARD_INPUT) {
        return Ok(read_described(path, options)?);
    }
    let most = options.limits.held_bytes;
    let mut bytes = Vec::new();
    std::io::stdin()
        .lock()
        .take(most.saturating_add(1))
        .read_to_end(&mut bytes)
        .map_err(|error| Failure(format!("standard input cannot be read: {error}")))?;
    if bytes.len() as u64 > most {
        return Err(Failure(format!(
            "standard input has more than {most} bytes. Write it to a file and name that"
        )));
    }
    Ok(read_bytes_described(&bytes, "standard input", options)?)
}

/// Refuses to read standard input twice.
pub(super) fn once<'a>(paths: impl IntoIterator<Item = &'a Path>) -> Result<(), Failure> {
    let count = paths.into_iter().filter(|path| *path == Path::new(STANDARD_INPUT)).count();
    if count > 1 {
        return Err(Failure(
            "- stands for standard input, which can be read once. Name the other captures by their files".into(),
        ));
    }
    Ok(())
}
