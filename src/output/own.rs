//! A file that a command reads, adds to and writes again.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use same_file::Handle;

use super::whole::{Existing, UNFINISHED, followed, write_whole};
use crate::error::FileError;

/// Pause between two looks at a lock that somebody else holds.
const PAUSE: Duration = Duration::from_millis(50);

/// The right to add to a file: while it is held, nobody else who asks for it has it.
///
/// The lock is a hidden file beside the file, since the file itself is replaced by another when it
/// is written. It goes with the program, however that ends. On a file system that knows no locks
/// there is none; that nobody wrote in between is looked at as well before the file is replaced.
#[derive(Debug)]
pub struct OwnFile {
    path: PathBuf,
    /// What stood in the file when it was taken.
    before: Option<Vec<u8>>,
    lock: PathBuf,
    held: Option<File>,
}

impl OwnFile {
    /// Takes a file, which need not be there, waiting so long for another one who has it. `waits`
    /// is called once when there is something to wait for.
    ///
    /// # Errors
    /// The other one does not come to an end, or the folder cannot be written.
    pub fn take(
        path: &Path,
        patience: Duration,
        waits: impl FnOnce(),
    ) -> Result<OwnFile, FileError> {
        let real = followed(path)?;
        let name = real.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let lock = real.with_file_name(format!("{UNFINISHED}{name}.lock"));
        let held = lock_file(path, &lock, patience, waits)?;
        let before = std::fs::read(&real).ok();
        Ok(OwnFile { path: path.to_owned(), before, lock, held })
    }

    /// Writes the file whole, if it is still what it was when it was taken.
    ///
    /// # Errors
    /// It is not, or it cannot be written.
    pub fn write(&self, bytes: &[u8]) -> Result<(), FileError> {
        if std::fs::read(followed(&self.path)?).ok() != self.before {
            let what = "something else wrote into it meanwhile, and that is kept";
            return Err(FileError {
                path: self.path.clone(),
                doing: "write",
                source: std::io::Error::other(what),
                advice: "Nothing was added. Run this again".into(),
            });
        }
        write_whole(&self.path, bytes, Existing::Replace)
    }
}

impl Drop for OwnFile {
    fn drop(&mut self) {
        // Removed while it is still locked: whoever waits for it looks afterwards whether it is
        // still there.
        if self.held.is_some() {
            let _ = std::fs::remove_file(&self.lock);
        }
    }
}

fn lock_file(
    path: &Path,
    lock: &Path,
    patience: Duration,
    waits: impl FnOnce(),
) -> Result<Option<File>, FileError> {
    let failed = |source, advice: &'static str| FileError {
        path: path.to_owned(),
        doing: "write",
        source,
        advice: advice.into(),
    };
    let started = Instant::now();
    let mut waits = Some(waits);
    loop {
        let file = OpenOptions::new().create(true).truncate(false).write(true).open(lock).map_err(
            |source| {
                failed(super::whole::plainly(source), "Check the folder and that it may be written")
            },
        )?;
        match file.try_lock() {
            Ok(()) if is_still(lock, &file) => return Ok(Some(file)),
            // The one before removed it between opening and locking.
            Ok(()) => continue,
            Err(TryLockError::Error(_)) => {
                let _ = std::fs::remove_file(lock);
                return Ok(None);
            }
            Err(TryLockError::WouldBlock) => {}
        }
        if started.elapsed() >= patience {
            let source = std::io::Error::other("another run is adding to it");
            return Err(failed(
                source,
                "Nothing was added. Run this again when the other has ended",
            ));
        }
        if let Some(waits) = waits.take() {
            waits();
        }
        std::thread::sleep(PAUSE);
    }
}

fn is_still(lock: &Path, file: &File) -> bool {
    let mine = file.try_clone().and_then(Handle::from_file);
    matches!((mine, Handle::from_path(lock)), (Ok(mine), Ok(there)) if mine == there)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_who_add_at_once_lose_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("list");
        std::thread::scope(|scope| {
            for number in 0..12 {
                let path = &path;
                scope.spawn(move || {
                    let own =
                        OwnFile::take(path, Duration::from_secs(60), || {}).expect("its turn");
                    let mut text = std::fs::read_to_string(path).unwrap_or_default();
                    text += &format!("{number}\n");
                    own.write(text.as_bytes()).expect("written");
                });
            }
        });
        let text = std::fs::read_to_string(&path).expect("written");
        assert_eq!(text.lines().count(), 12, "{text}");
        assert_eq!(std::fs::read_dir(folder.path()).expect("folder").count(), 1, "no leavings");
    }

    #[test]
    fn one_who_waits_too_long_or_finds_it_changed_is_told() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("list");
        let mine = OwnFile::take(&path, Duration::ZERO, || {}).expect("free");
        let mut waited = false;
        let refused = OwnFile::take(&path, Duration::from_millis(60), || waited = true);
        let message = refused.expect_err("taken").to_string();
        assert!(message.contains("another run is adding") && waited, "{message}");
        std::fs::write(&path, "somebody's").expect("an editor");
        let message = mine.write(b"mine").expect_err("changed").to_string();
        assert!(message.contains("meanwhile"), "{message}");
        assert_eq!(std::fs::read(&path).expect("kept"), b"somebody's");
        drop(mine);
        assert!(OwnFile::take(&path, Duration::ZERO, || {}).is_ok(), "free again");
    }
}
