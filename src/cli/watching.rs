//! A folder that is watched for captures a scope saves there.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use super::Failure;
use crate::batch::{FolderError, captures_in};
use crate::page::service::Service;

/// How often the folder is looked at. A scope writes a capture in less than a second or two.
const PAUSE: Duration = Duration::from_secs(1);

/// How a file looked: its length, and when it was last written.
type Looks = (u64, SystemTime);

/// What is known of the files of a folder.
pub(super) struct Watching {
    folder: PathBuf,
    /// Files that were read, or were there before.
    done: BTreeMap<PathBuf, Looks>,
    /// How files looked the last time that are still waited for.
    waiting: BTreeMap<PathBuf, Looks>,
}

impl Watching {
    /// Begins: what is in the folder is unread, and comes first.
    pub(super) fn of(folder: &Path) -> Result<Watching, Failure> {
        if !folder.is_dir() {
            return Err(Failure(format!(
                "{}: is no folder. Name the one the scope saves into",
                folder.display()
            )));
        }
        Ok(Watching { folder: folder.to_owned(), done: BTreeMap::new(), waiting: BTreeMap::new() })
    }

    /// Files that are whole and unread, the oldest first. One is whole when it is not empty and has
    /// not changed since the folder was last looked at.
    pub(super) fn whole(&mut self) -> Result<Vec<PathBuf>, Failure> {
        let mut there = BTreeMap::new();
        let all = match captures_in(&self.folder) {
            // Nothing has been saved yet.
            Err(FolderError::Empty(_)) => Vec::new(),
            all => all?,
        };
        for path in all {
            // Gone since: whoever writes it renames it when it is whole.
            let Ok(about) = path.metadata() else { continue };
            let looks = (about.len(), about.modified().unwrap_or(SystemTime::UNIX_EPOCH));
            if looks.0 > 0 && self.done.get(&path) != Some(&looks) {
                there.insert(path, looks);
            }
        }
        let mut whole: Vec<(PathBuf, Looks)> = there
            .iter()
            .filter(|(path, looks)| self.waiting.get(*path) == Some(looks))
            .map(|(path, looks)| (path.clone(), *looks))
            .collect();
        self.waiting = there;
        whole.sort_by(|a, b| a.1.1.cmp(&b.1.1).then(a.0.cmp(&b.0)));
        for (path, looks) in &whole {
            self.done.insert(path.clone(), *looks);
        }
        Ok(whole.into_iter().map(|(path, _)| path).collect())
    }

    /// Watches for as long as the program runs, and has what appears read and judged.
    pub(super) fn go_on(mut self, service: &Service, most: u64) {
        loop {
            match self.whole() {
                Ok(files) => files.iter().for_each(|path| take(service, path, most)),
                Err(error) => service.unreadable(error.to_string()),
            }
            std::thread::sleep(PAUSE);
        }
    }
}

fn take(service: &Service, path: &Path, most: u64) {
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    if path.metadata().is_ok_and(|about| about.len() > most) {
        service.unreadable(format!(
            "{name}: larger than the {:.0} MB this page takes. Start the page with a larger limit, or export a shorter capture.",
            most as f64 / 1e6
        ));
        return;
    }
    match std::fs::read(path) {
        Ok(bytes) => {
            if let Some(work) = service.appeared(&name, "", &bytes) {
                drop(bytes);
                work.run();
            }
        }
        Err(error) => service.unreadable(format!("{name}: cannot be read: {error}.")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_waited_for_until_they_stand_still_and_come_oldest_first() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = |name: &str, text: &str, age: u64| {
            let path = folder.path().join(name);
            std::fs::write(&path, text).expect("written");
            let at = SystemTime::now() - Duration::from_secs(age);
            let file = std::fs::File::options().write(true).open(&path).expect("open");
            file.set_modified(at).expect("its time");
            path
        };
        let mut watching = Watching::of(folder.path()).expect("a folder");
        assert!(watching.whole().expect("listed").is_empty(), "nothing is saved yet");
        let younger = file("a.csv", "time,crank\n", 10);
        let older = file("b.csv", "time,crank\n", 100);
        file("empty.csv", "", 50);
        assert!(watching.whole().expect("listed").is_empty(), "seen once: it may still grow");
        assert_eq!(watching.whole().expect("listed"), [older, younger.clone()]);
        assert!(watching.whole().expect("listed").is_empty(), "each is read once");
        // One that is written piece by piece.
        file("c.csv", "time", 3);
        watching.whole().expect("listed");
        let grown = file("c.csv", "time,crank\n0,1\n", 2);
        assert!(watching.whole().expect("listed").is_empty(), "it has grown meanwhile");
        assert_eq!(watching.whole().expect("listed"), [grown]);
        // Saved again under the same name, it is a new capture.
        let again = file("a.csv", "time,crank\n0,1\n", 1);
        watching.whole().expect("listed");
        assert_eq!(watching.whole().expect("listed"), [again]);
        assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 4, "nothing moved");
        assert!(Watching::of(&younger).is_err(), "a file is no folder");
    }
}
