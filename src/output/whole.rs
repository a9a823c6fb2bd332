//! Files are written whole or not at all: beside their place first, then renamed.

use std::fs::File;
use std::io::{Error, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

use crate::error::FileError;

/// Whether a file that is already there may be replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Existing {
    /// Replace it: the user said so.
    Replace,
    /// Replace it if this program wrote it, or if it holds nothing; else keep it and refuse.
    ReplaceOurs(Ours),
    /// Keep it and refuse.
    Keep,
}

/// Files of this program that it knows again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ours {
    /// A result or comparison as JSON, or a line of it for each capture of a folder.
    Result,
    /// The table of many captures.
    Table,
}

/// Bytes at the start of a file within which it says what it is; `format` is the first key of a
/// result.
const HEAD_BYTES: u64 = 512;

impl Ours {
    fn knows(self, path: &Path) -> bool {
        let mut head = Vec::new();
        let read = File::open(path).and_then(|file| file.take(HEAD_BYTES).read_to_end(&mut head));
        if read.is_err() {
            return false;
        }
        let text = String::from_utf8_lossy(&head);
        let mut start = text.chars().filter(|letter| !letter.is_whitespace());
        let mut begins = |mark: &str| mark.chars().all(|want| start.next() == Some(want));
        text.trim().is_empty()
            || match self {
                Ours::Result => begins("{\"format\":\"camwitness-"),
                Ours::Table => begins("capture,finding,probability,"),
            }
    }
}

impl Existing {
    /// Whether the file that stands at `path` may go.
    pub(super) fn allows(self, path: &Path) -> bool {
        match self {
            Existing::Replace => true,
            Existing::ReplaceOurs(ours) => ours.knows(path),
            Existing::Keep => false,
        }
    }
}

/// Writes `bytes` to `path`.
///
/// # Errors
/// When the folder cannot be written, the disk is full, or the file is there and must be kept.
/// Whatever stood at `path` before is then still there, whole.
pub fn write_whole(path: &Path, bytes: &[u8], existing: Existing) -> Result<(), FileError> {
    Ready::write(path, bytes)?.place(existing)
}

/// Contents that are on the disk whole and have not got their name yet: of several files, all are
/// made ready before the first is placed.
#[derive(Debug)]
pub struct Ready<'a> {
    path: &'a Path,
    /// Where it leads.
    real: PathBuf,
    contents: Contents<'a>,
}

#[derive(Debug)]
enum Contents<'a> {
    Beside(tempfile::NamedTempFile),
    /// A pipe or a device cannot be renamed over; it is written straight.
    Straight(&'a [u8]),
}

const CHECK: &str = "Check the folder, its free space and that it may be written";
const TAKEN: &str = "Give another name";
const MARKED: &str = "It is marked read-only: take the mark away, or give another name";
const HELD: &str = "Close the program that has it open and run this again, or give another name";
/// Begins the name of an unfinished file, hidden, so that one left behind by a killed program is
/// taken for nothing else.
pub(crate) const UNFINISHED: &str = ".camwitness-";

impl<'a> Ready<'a> {
    /// Writes `bytes` beside `path`, under a name of its own.
    ///
    /// # Errors
    /// When the folder cannot be written or the disk is full, or `path` is a link to nothing;
    /// nothing is then left of it.
    pub fn write(path: &'a Path, bytes: &'a [u8]) -> Result<Ready<'a>, FileError> {
        let real = followed(path)?;
        if real.exists() && !real.is_file() && !real.is_dir() {
            return Ok(Ready { path, real, contents: Contents::Straight(bytes) });
        }
        let failed = |source| failed(path, source, CHECK);
        let folder = real.parent().filter(|folder| !folder.as_os_str().is_empty());
        let mut beside = readable()
            .prefix(UNFINISHED)
            .suffix(".tmp")
            .tempfile_in(folder.unwrap_or(Path::new(".")))
            .map_err(|source| failed(plainly(source)))?;
        beside.write_all(bytes).and_then(|()| beside.as_file().sync_all()).map_err(failed)?;
        keep_mode(&real, beside.as_file()).map_err(failed)?;
        Ok(Ready { path, real, contents: Contents::Beside(beside) })
    }

    /// Gives the file its name.
    ///
    /// # Errors
    /// As [`write_whole`].
    pub fn place(self, existing: Existing) -> Result<(), FileError> {
        let (path, real) = (self.path, self.real);
        let placed = match self.contents {
            Contents::Straight(bytes) => {
                return std::fs::write(&real, bytes).map_err(|source| failed(path, source, CHECK));
            }
            // Not every Windows refuses to rename over it.
            Contents::Beside(_) if cfg!(windows) && existing.allows(&real) && is_marked(&real) => {
                return Err(failed(path, ErrorKind::PermissionDenied.into(), MARKED));
            }
            Contents::Beside(file) if existing.allows(&real) => file.persist(&real),
            Contents::Beside(file) => file.persist_noclobber(&real),
        };
        placed.map(|_| ()).map_err(|refused| {
            let advice = match refused.error.kind() {
                ErrorKind::AlreadyExists => TAKEN,
                _ if is_held(&refused.error, cfg!(windows)) && real.is_file() => HELD,
                _ => CHECK,
            };
            failed(path, refused.error, advice)
        })
    }
}

/// Whether a file is marked read-only.
fn is_marked(path: &Path) -> bool {
    path.metadata().is_ok_and(|about| about.permissions().readonly())
}

/// Whether a file may not be replaced because another program has it open. Windows alone refuses
/// that, as one of three errors: access denied, sharing violation, lock violation (5, 32 and 33 in
/// its list of system error codes).
fn is_held(error: &Error, windows: bool) -> bool {
    windows && error.raw_os_error().is_some_and(|code| [5, 32, 33].contains(&code))
}

/// Where a path leads: itself, or the file that a link leads to.
///
/// # Errors
/// A link to nothing: where it should lead may not be what it says any more.
pub(super) fn followed(path: &Path) -> Result<PathBuf, FileError> {
    // What a link such as /dev/stdout leads to may have no name: a pipe.
    let no_file = || path.metadata().is_ok_and(|about| !about.is_file());
    if !path.is_symlink() || no_file() {
        return Ok(path.to_owned());
    }
    path.canonicalize().map_err(|source| {
        let source = match source.kind() {
            ErrorKind::NotFound => {
                Error::new(ErrorKind::NotFound, "it is a link, and what it leads to is not there")
            }
            _ => source,
        };
        failed(path, source, "Remove the link, or give another name")
    })
}

/// That the folder of a file is not there.
pub(super) fn no_folder(path: &Path) -> FileError {
    failed(path, plainly(ErrorKind::NotFound.into()), CHECK)
}

/// What is replaced hands its mode on: a file that only its owner may read stays so.
#[cfg(unix)]
fn keep_mode(replaced: &Path, by: &File) -> std::io::Result<()> {
    match replaced.metadata() {
        Ok(about) if about.is_file() => by.set_permissions(about.permissions()),
        _ => Ok(()),
    }
}

/// Elsewhere a file has no mode of its own.
#[cfg(not(unix))]
fn keep_mode(_: &Path, _: &File) -> std::io::Result<()> {
    Ok(())
}

/// Why a folder takes no file, without the name of the unfinished file that the user never gave.
pub(super) fn plainly(source: Error) -> Error {
    match source.kind() {
        ErrorKind::NotFound => Error::new(ErrorKind::NotFound, "its folder is not there"),
        ErrorKind::PermissionDenied => {
            Error::new(ErrorKind::PermissionDenied, "its folder may not be written")
        }
        _ => source,
    }
}

/// That something cannot be written, for whoever writes more than one file.
pub(crate) fn not_written(path: &Path, source: Error) -> FileError {
    failed(path, source, CHECK)
}

fn failed(path: &Path, source: Error, advice: &'static str) -> FileError {
    FileError { path: path.to_owned(), doing: "write", source, advice: advice.into() }
}

/// A temporary file is private; a result is as readable as the user's other files, which the umask
/// decides.
fn readable() -> tempfile::Builder<'static, 'static> {
    #[allow(unused_mut)]
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
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
        assert!(refused.to_string().contains("another name"), "{refused}");
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

    #[test]
    fn files_of_ours_are_known_again() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("file");
        // (contents, a result of ours, a table of ours)
        let rows = [
            ("", true, true),
            ("\n", true, true),
            ("{\n  \"format\": \"camwitness-result/1\",\n", true, false),
            ("{\"format\":\"camwitness-comparison/1\"", true, false),
            ("capture,finding,probability,teeth\n", false, true),
            ("{\"format\": \"other\"}", false, false),
            ("{}", false, false),
            ("time (s),crank (V)\n0,1\n", false, false),
            ("\u{feff}{", false, false),
        ];
        for (text, result, table) in rows {
            std::fs::write(&path, text).expect("a file");
            assert_eq!(Ours::Result.knows(&path), result, "{text}");
            assert_eq!(Ours::Table.knows(&path), table, "{text}");
        }
    }

    #[test]
    fn a_file_that_another_program_holds_is_told_from_a_folder_that_takes_none() {
        let denied = Error::from_raw_os_error(32);
        assert!(is_held(&denied, true) && !is_held(&denied, false));
        assert!(!is_held(&Error::from(ErrorKind::NotFound), true));
    }

    /// As a table calculation holds a result that was opened in it.
    #[cfg(windows)]
    #[test]
    fn a_result_held_open_elsewhere_is_kept_and_said() {
        use std::os::windows::fs::OpenOptionsExt;
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("result.json");
        std::fs::write(&path, "one").expect("a file");
        let held = std::fs::OpenOptions::new().read(true).share_mode(1).open(&path).expect("held");
        let error = write_whole(&path, b"two", Existing::Replace).expect_err("held");
        assert!(error.to_string().contains("Close the program that has it open"), "{error}");
        drop(held);
        assert_eq!(std::fs::read(&path).expect("kept"), b"one");
        write_whole(&path, b"two", Existing::Replace).expect("let go");
    }

    #[cfg(unix)]
    #[test]
    fn a_link_is_followed_and_a_mode_is_kept() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().expect("a folder");
        let at = |name: &str| folder.path().join(name);
        std::fs::create_dir(at("else")).expect("a folder");
        std::fs::write(at("else/private"), "one").expect("a file");
        let mode = std::fs::Permissions::from_mode(0o600);
        std::fs::set_permissions(at("else/private"), mode).expect("its mode");
        symlink("else/private", at("link")).expect("a link");
        write_whole(&at("link"), b"two", Existing::Replace).expect("written");
        assert!(at("link").is_symlink(), "the link stays");
        assert_eq!(std::fs::read(at("else/private")).expect("a file"), b"two");
        let about = at("else/private").metadata().expect("a file");
        assert_eq!(about.permissions().mode() & 0o777, 0o600);
        assert!(write_whole(&at("link"), b"three", Existing::Keep).is_err(), "it is there");
        symlink("nowhere", at("lost")).expect("a link");
        let refused = write_whole(&at("lost"), b"x", Existing::Replace).expect_err("no target");
        assert!(refused.to_string().contains("it is a link"), "{refused}");
    }
}
