//! The shelf as a folder: found, begun, locked.

use std::path::{Path, PathBuf};
use std::time::Duration;

use super::{MARK, Mark, ShelfError, VERSION};
use crate::error::FileError;
use crate::output::{Existing, OwnFile, UNFINISHED, not_written, write_whole};

/// How long another program that writes is waited for.
const PATIENCE: Duration = Duration::from_secs(60);

/// A shelf.
#[derive(Debug, Clone)]
pub struct Shelf {
    pub(super) root: PathBuf,
}

impl Shelf {
    /// Opens a shelf that is there.
    ///
    /// # Errors
    /// There is none, it is of a newer version, or it cannot be read.
    pub fn open(root: &Path) -> Result<Shelf, ShelfError> {
        let mark = root.join(MARK);
        let text = match std::fs::read_to_string(&mark) {
            Ok(text) => text,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                return Err(ShelfError::NotThere(root.to_owned()));
            }
            Err(source) => return Err(cannot_read(&mark, source)),
        };
        let version = toml::from_str::<Mark>(&text)
            .map_err(|error| ShelfError::Broken {
                path: mark.clone(),
                why: error.message().to_owned(),
            })?
            .camwitness_shelf;
        if version > VERSION {
            return Err(ShelfError::Newer { path: root.to_owned(), version, reads: VERSION });
        }
        Ok(Shelf { root: root.to_owned() })
    }

    /// Opens a shelf, or begins one in a folder that is missing or empty.
    ///
    /// # Errors
    /// As [`Shelf::open`], or the folder holds other things or cannot be written.
    pub fn open_or_begin(root: &Path) -> Result<Shelf, ShelfError> {
        match Shelf::open(root) {
            Err(ShelfError::NotThere(_)) => {}
            other => return other,
        }
        let cannot = |source| ShelfError::File(not_written(root, source));
        std::fs::create_dir_all(root).map_err(cannot)?;
        let mut inside = std::fs::read_dir(root).map_err(cannot)?.filter_map(Result::ok);
        // An unfinished mark or its lock may be another program's that begins the same shelf.
        let foreign =
            inside.any(|entry| !entry.file_name().to_string_lossy().starts_with(UNFINISHED));
        if foreign {
            // It may have been begun meanwhile.
            return Shelf::open(root).map_err(|error| match error {
                ShelfError::NotThere(path) => ShelfError::NoShelf(path),
                other => other,
            });
        }
        let text = format!("camwitness_shelf = {VERSION}\n");
        write_whole(&root.join(MARK), text.as_bytes(), Existing::Replace)?;
        Shelf::open(root)
    }

    /// Its folder.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Every file of it, and nothing below the folders of its jobs: what a table of the jobs must
    /// not be written over.
    #[must_use]
    pub fn files(&self) -> Vec<PathBuf> {
        /// `jobs`, a job, its files.
        const DEPTH: usize = 3;
        let mut files = Vec::new();
        let mut folders = vec![(self.root.clone(), 1)];
        while let Some((folder, depth)) = folders.pop() {
            let Ok(entries) = std::fs::read_dir(&folder) else { continue };
            for path in entries.filter_map(Result::ok).map(|entry| entry.path()) {
                if !path.is_dir() {
                    files.push(path);
                } else if depth < DEPTH && !path.is_symlink() {
                    folders.push((path, depth + 1));
                }
            }
        }
        files
    }

    /// Keeps everybody else from writing while it is held.
    pub(super) fn lock(&self) -> Result<OwnFile, ShelfError> {
        Ok(OwnFile::take(&self.root.join(MARK), PATIENCE, || {})?)
    }

    /// One of its folders, made where it is missing.
    pub(super) fn folder(&self, name: &str) -> Result<PathBuf, ShelfError> {
        let folder = self.root.join(name);
        std::fs::create_dir_all(&folder).map_err(|source| not_written(&folder, source))?;
        Ok(folder)
    }
}

pub(super) fn cannot_read(path: &Path, source: std::io::Error) -> ShelfError {
    ShelfError::File(FileError {
        path: path.to_owned(),
        doing: "read",
        source,
        advice: "Check that the shelf may be read".into(),
    })
}
