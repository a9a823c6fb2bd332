//! Files are written whole or not at all: beside their place first, then renamed.

use std::io::{Error, ErrorKind, Write};
use std::path::Path;

use crate::error::FileError;

/// Whether a file that is already there may be replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Existing {
    /// Replace it: the user named it for output.
    Replace,
    /// Keep it and refuse.
    Keep,
}

/// Writes `bytes` to `path`.
///
/// # Errors
/// When the folder cannot be written, the disk is full, or the file is there and must be kept. Whatever stood at
/// `path` before is then still there, whole.
pub fn write_whole(path: &Path, bytes: &[u8], existing: Existing) -> Result<(), FileError> {
    Ready::write(path, bytes)?.place(existing)
}

/// Contents that are on the disk whole and have not got their name yet: of several files, all are made ready before
/// the first is placed.
#[derive(Debug)]
pub struct Ready<'a> {
    path: &'a Path,
    contents: Contents<'a>,
}

#[derive(Debug)]
enum Contents<'a> {
    Beside(tempfile::NamedTempFile),
    /// A pipe or a device cannot be renamed over; it is written straight.
    Straight(&'a [u8]),
}

const CHECK: &str = "Check the folder, its free space and that it may be written";
const TAKEN: &str = "Give another name, or --force to replace it";
/// Begins the name of an unfinished file, hidden, so that one left behind by a killed program is taken for nothing else.
const UNFINISHED: &str = ".camwitness-";

impl<'a> Ready<'a> {
    /// Writes `bytes` beside `path`, under a name of its own.
    ///
    /// # Errors
    /// When the folder cannot be written or the disk is full; nothing is then left of it.
    pub fn write(path: &'a Path, bytes: &'a [u8]) -> Result<Ready<'a>, FileError> {
        if path.exists() && !path.is_file() && !path.is_dir() {
            return Ok(Ready { path, contents: Contents::Straight(bytes) });
        }
        let failed = |source| failed(path, source, CHECK);
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let mut beside = readable()
            .prefix(UNFINISHED)
            .suffix(".tmp")
            .tempfile_in(folder.unwrap_or(Path::new(".")))
            .map_err(|source| failed(plainly(source)))?;
        beside.write_all(bytes).and_then(|()| beside.as_file().sync_all()).map_err(failed)?;
        Ok(Ready { path, contents: Contents::Beside(beside) })
    }

    /// Gives the file its name.
    ///
    /// # Errors
    /// As [`write_whole`].
    pub fn place(self, existing: Existing) -> Result<(), FileError> {
        let path = self.path;
        let placed = match (self.contents, existing) {
            (Contents::Straight(bytes), _) => {
                return std::fs::write(path, bytes).map_err(|source| failed(path, source, CHECK));
            }
            (Contents::Beside(file), Existing::Replace) => file.persist(path),
            (Contents::Beside(file), Existing::Keep) => file.persist_noclobber(path),
        };
        placed.map(|_| ()).map_err(|refused| {
            let there = refused.error.kind() == ErrorKind::AlreadyExists;
            failed(path, refused.error, if there { TAKEN } else { CHECK })
        })
    }
}

/// Why a folder takes no file, without the name of the unfinished file that the user never gave.
fn plainly(source: Error) -> Error {
    match source.kind() {
        ErrorKind::NotFound => Error::new(ErrorKind::NotFound, "its folder is not there"),
        ErrorKind::PermissionDenied => {
            Error::new(ErrorKind::PermissionDenied, "its folder may not be written")
        }
        _ => source,
    }
}

fn failed(path: &Path, source: Error, advice: &'static str) -> FileError {
    FileError { path: path.to_owned(), doing: "write", source, advice }
}

/// A temporary file is private; a result is as readable as the user's other files.
fn readable() -> tempfile::Builder<'static, 'static> {
    #[allow(unused_mut)]
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o644));
    }
    builder
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_appear_whole_and_are_kept_unless_named() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("result.json");
        write_whole(&path, b"one", Existing::Keep).expect("a new file");
        let refused = write_whole(&path, b"two", Existing::Keep).expect_err("it is there");
        assert!(refused.to_string().contains("--force"), "{refused}");
        assert_eq!(std::fs::read(&path).expect("kept"), b"one");
        write_whole(&path, b"two", Existing::Replace).expect("replaced");
        assert_eq!(std::fs::read(&path).expect("replaced"), b"two");
        assert_eq!(std::fs::read_dir(folder.path()).expect("folder").count(), 1, "no leavings");
    }

    #[test]
    fn a_missing_folder_is_said() {
        let refused = write_whole(Path::new("no/such/folder/x"), b"", Existing::Replace);
        let text = refused.expect_err("no folder").to_string();
        assert!(text.starts_with("no/such/folder/x: cannot write this file"), "{text}");
        assert!(text.contains("folder is not there") && !text.contains(UNFINISHED), "{text}");
    }
}
