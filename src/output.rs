//! Files are written whole or not at all: beside their place first, then renamed.

use std::io::Write;
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
    let failed = |source: std::io::Error, advice: &'static str| FileError {
        path: path.to_owned(),
        doing: "write",
        source,
        advice,
    };
    const CHECK: &str = "Check the folder, its free space and that it may be written";
    // A pipe or a device cannot be renamed over; it is written straight.
    if path.exists() && !path.is_file() && !path.is_dir() {
        return std::fs::write(path, bytes).map_err(|source| failed(source, CHECK));
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut beside = tempfile::Builder::new()
        .prefix(".camwitness-")
        .suffix(".tmp")
        .tempfile_in(folder)
        .map_err(|source| failed(source, CHECK))?;
    let written = beside.write_all(bytes).and_then(|()| beside.as_file().sync_all());
    written.map_err(|source| failed(source, CHECK))?;
    // A temporary file is private; a result is as readable as the user's other files.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let readable = std::fs::Permissions::from_mode(0o644);
        beside.as_file().set_permissions(readable).map_err(|source| failed(source, CHECK))?;
    }
    let placed = match existing {
        Existing::Replace => beside.persist(path),
        Existing::Keep => beside.persist_noclobber(path),
    };
    placed.map(|_| ()).map_err(|refused| {
        let there = refused.error.kind() == std::io::ErrorKind::AlreadyExists;
        let advice = if there { "Give another name, or --force to replace it" } else { CHECK };
        failed(refused.error, advice)
    })
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
    }
}
