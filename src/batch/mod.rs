//! A folder of captures, each judged by itself, in parallel. One bad file never stops the rest.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use crate::analysis::{Checked, Options, check};
use crate::capture::{ReadOptions, read};
use crate::engine::Engine;
use crate::error::FileError;
use crate::remedy::{Mend, Remedy, mended_errors};

/// Endings of files that are taken for captures when a folder is given, in small letters.
pub const ENDINGS: [&str; 8] = ["csv", "tsv", "txt", "gz", "wav", "vcd", "npy", "npz"];

/// Why a folder cannot be checked at all.
#[derive(Debug)]
pub enum FolderError {
    /// It cannot be listed.
    File(FileError),
    /// Nothing in it looks like a capture.
    Empty(PathBuf),
}

impl From<FileError> for FolderError {
    fn from(error: FileError) -> Self {
        FolderError::File(error)
    }
}

impl Mend for FolderError {
    fn complaint(&self) -> String {
        match self {
            FolderError::File(error) => error.complaint(),
            FolderError::Empty(folder) => format!(
                "{}: there is no capture in this folder. Files ending in .csv, .tsv, .txt, .gz, .wav, .vcd, .npy or .npz are \
                 taken for captures; folders inside it are not searched",
                folder.display()
            ),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        match self {
            FolderError::File(error) => error.remedies(),
            FolderError::Empty(_) => vec![Remedy::to("name the folder the scope exported to")],
        }
    }
}

mended_errors!(FolderError);

/// The captures in a folder, by name. Hidden files and folders inside are left out.
///
/// # Errors
/// A folder that cannot be listed, or holds no capture.
pub fn captures_in(folder: &Path) -> Result<Vec<PathBuf>, FolderError> {
    let failed = |source: std::io::Error| FileError {
        path: folder.to_owned(),
        doing: "list",
        source,
        advice: "Check the folder and that it may be read".into(),
    };
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
        let hidden = path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
        if !hidden
            && ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str()))
            && !path.is_dir()
        {
            found.push(path);
        }
    }
    found.sort();
    if found.is_empty() { Err(FolderError::Empty(folder.to_owned())) } else { Ok(found) }
}

/// One capture of many and what came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Row<T> {
    /// File name.
    pub capture: String,
    /// What was made of its analysis, or one plain message why there is none.
    pub outcome: Result<T, String>,
}

/// Checks every capture by itself. `tell` makes of a result what is kept of it, so that a folder
/// of thousands does not keep their measurements; `refuse` says why there is none, in the words of
/// whoever asks; `done` is called after each. All are called from several threads.
#[must_use]
pub fn check_all<T: Send>(
    captures: &[PathBuf],
    engine: &Engine,
    reading: &ReadOptions,
    options: &Options,
    tell: impl Fn(&Checked) -> T + Sync,
    refuse: impl Fn(&dyn Mend) -> String + Sync,
    done: impl Fn() + Sync,
) -> Vec<Row<T>> {
    captures
        .par_iter()
        .map(|path| {
            let outcome = check_one(path, engine, reading, options, &refuse);
            done();
            let name = path.file_name().unwrap_or(path.as_os_str());
            let outcome = outcome.map(|checked| tell(&checked));
            Row { capture: name.to_string_lossy().into_owned(), outcome }
        })
        .collect()
}

fn check_one(
    path: &Path,
    engine: &Engine,
    reading: &ReadOptions,
    options: &Options,
    refuse: impl Fn(&dyn Mend) -> String,
) -> Result<Checked, String> {
    let capture = read(path, reading).map_err(|error| refuse(&error))?;
    check(std::slice::from_ref(&capture), engine, options).map_err(|error| refuse(&error))
}
