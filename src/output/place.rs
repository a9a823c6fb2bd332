//! Where a path leads: which file it is, whatever it is called.

use std::ffi::OsStr;
use std::path::{Component, Path, PathBuf};

use same_file::Handle;

/// Whether names that differ in their case alone are one file, as file systems there usually have
/// it.
const CASE_IS_NOTHING: bool = cfg!(any(windows, target_os = "macos"));

/// A path with its links followed as far as anything of it exists.
#[derive(Debug)]
pub(super) struct Place {
    real: PathBuf,
    /// The file itself, where there is an ordinary one. Another name of it (a hard link) has an
    /// equal handle.
    file: Option<Handle>,
}

impl Place {
    pub fn of(path: &Path) -> Place {
        // A pipe must not be opened here: that would wait for whoever writes into it.
        let ordinary = path.metadata().is_ok_and(|about| about.is_file());
        Place { real: real(path), file: ordinary.then(|| Handle::from_path(path).ok()).flatten() }
    }

    /// Whether both lead to one file, there already or not yet.
    pub fn is(&self, other: &Place) -> bool {
        let same_file = matches!((&self.file, &other.file), (Some(a), Some(b)) if a == b);
        same_file || alike(self.real.as_os_str(), other.real.as_os_str())
    }

    /// Whether this one would have to be a folder for the other to be in it.
    pub fn holds(&self, other: &Place) -> bool {
        let mut parts = other.real.components();
        let inside = self.real.components().all(|part| {
            parts.next().is_some_and(|other| alike(part.as_os_str(), other.as_os_str()))
        });
        inside && parts.next().is_some()
    }

    /// Whether nothing is lost by writing there twice or reading it: a device, a pipe.
    pub fn is_no_file(&self) -> bool {
        self.real.metadata().is_ok_and(|about| !about.is_file() && !about.is_dir())
    }
}

fn alike(a: &OsStr, b: &OsStr) -> bool {
    if !CASE_IS_NOTHING {
        return a == b;
    }
    a.to_string_lossy().to_lowercase() == b.to_string_lossy().to_lowercase()
}

/// The path without links and detours: what exists of it as the system says, the rest as written.
fn real(path: &Path) -> PathBuf {
    let mut real = PathBuf::new();
    let mut exists = true;
    let start = if path.is_absolute() { None } else { Some(Component::CurDir) };
    for part in start.into_iter().chain(path.components()) {
        match part {
            // Beyond what exists `..` can only be taken at its word.
            Component::ParentDir if !exists => _ = real.pop(),
            _ => real.push(part),
        }
        if exists {
            match real.canonicalize() {
                Ok(whole) => real = whole,
                Err(_) => exists = false,
            }
        }
    }
    real
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_known_under_every_spelling_and_link() {
        let folder = tempfile::tempdir().expect("a folder");
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("a.csv"), "1").expect("a file");
        std::fs::write(at("b.csv"), "1").expect("a file");
        std::fs::create_dir(at("sub")).expect("a folder");
        std::fs::hard_link(at("a.csv"), at("hard.csv")).expect("a link");
        let is = |one: &str, other: &str| Place::of(&at(one)).is(&Place::of(&at(other)));
        let mut rows = vec![
            ("a.csv", "a.csv", true),
            ("a.csv", "sub/../a.csv", true),
            ("a.csv", "./a.csv", true),
            ("a.csv", "hard.csv", true),
            ("a.csv", "b.csv", false),
            ("new.json", "sub/../new.json", true),
            ("new/x/../y.json", "new/y.json", true),
            ("new.json", "sub/new.json", false),
        ];
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(at("a.csv"), at("soft.csv")).expect("a link");
            std::os::unix::fs::symlink(at("sub"), at("way")).expect("a link");
            rows.extend([
                ("a.csv", "soft.csv", true),
                ("hard.csv", "soft.csv", true),
                ("sub/new.json", "way/new.json", true),
            ]);
        }
        rows.push(("A.CSV", "a.csv", CASE_IS_NOTHING));
        for (one, other, want) in rows {
            assert_eq!(is(one, other), want, "{one} and {other}");
            assert_eq!(is(other, one), want, "{other} and {one}");
        }
        let holds = |one: &str, other: &str| Place::of(&at(one)).holds(&Place::of(&at(other)));
        assert!(holds("new", "new/x.svg") && holds("sub", "sub/x") && !holds("sub", "sub"));
        assert!(!holds("new", "newer/x.svg") && !holds("new/x.svg", "new"));
    }
}
