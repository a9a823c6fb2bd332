//! The folder of a shelf, packed as one file and joined with one.

use std::path::Path;

use super::folder::cannot_read;
use super::job::{FILE, RESULT};
use super::jobs::job_folder;
use super::packed::KNOWN_END;
use super::{
    ENGINES, JOBS, JobFiles, KNOWN_GOODS, MOST_PACKED, Packed, Shelf, ShelfError, outcome,
};
use crate::engine::Engine;
use crate::error::DescriptionError;
use crate::output::{Existing, UNFINISHED, not_written, write_whole};

impl Shelf {
    /// Everything of it.
    ///
    /// # Errors
    /// A file cannot be read, or there is more than one file may hold.
    pub fn packed(&self) -> Result<Packed, ShelfError> {
        let mut bytes = 0;
        for file in self.files() {
            bytes += file.metadata().map_or(0, |about| about.len());
        }
        if bytes > MOST_PACKED {
            let why = format!(
                "it has {:.0} MB, and one file of it may hold {:.0} MB. Copy the folder as it is",
                bytes as f64 / 1e6,
                MOST_PACKED as f64 / 1e6
            );
            return Err(ShelfError::Broken { path: self.root.clone(), why });
        }
        self.read_packed(|_| true)
    }

    /// Joins another shelf with it; gives what came new, and one sentence for each thing that was
    /// left out.
    ///
    /// # Errors
    /// The shelf cannot be read or written. What was written until then stands.
    pub fn add(
        &self,
        other: Packed,
        read: impl Fn(&str, &str) -> Result<Engine, DescriptionError>,
    ) -> Result<(Packed, Vec<String>), ShelfError> {
        let lock = self.lock()?;
        let known = [FILE, RESULT, outcome::FILE];
        let ours = self.read_packed(|name| known.contains(&name))?;
        let (new, left) = ours.added_by(other, read);
        for (folder, files, end) in
            [(ENGINES, &new.engines, ".toml"), (KNOWN_GOODS, &new.known_goods, KNOWN_END)]
        {
            for (name, text) in files {
                let path = self.folder(folder)?.join(format!("{name}{end}"));
                write_whole(&path, text.as_bytes(), Existing::Keep)?;
            }
        }
        for (number, files) in &new.jobs {
            if ours.jobs.contains_key(number) {
                for (name, bytes) in files {
                    let path = job_folder(self, *number).join(name);
                    write_whole(&path, bytes, Existing::Replace)?;
                }
            } else {
                self.write_job(*number, files)?;
            }
        }
        drop(lock);
        Ok((new, left))
    }

    /// A job appears whole, as every other.
    fn write_job(&self, number: u32, files: &JobFiles) -> Result<(), ShelfError> {
        let jobs = self.folder(JOBS)?;
        let cannot = |source| not_written(&jobs, source);
        let beside =
            tempfile::Builder::new().prefix(UNFINISHED).tempdir_in(&jobs).map_err(cannot)?;
        for (name, bytes) in files {
            let path = beside.path().join(name);
            std::fs::write(&path, bytes)
                .and_then(|()| std::fs::File::open(&path)?.sync_all())
                .map_err(cannot)?;
        }
        super::jobs::share(beside.path()).map_err(cannot)?;
        std::fs::rename(beside.path(), job_folder(self, number)).map_err(cannot)?;
        let _ = beside.keep();
        Ok(())
    }

    fn read_packed(&self, of_a_job: impl Fn(&str) -> bool) -> Result<Packed, ShelfError> {
        let mut packed = Packed::default();
        let text =
            |path: &Path| std::fs::read_to_string(path).map_err(|source| cannot_read(path, source));
        for (name, path) in self.engine_files()? {
            packed.engines.insert(name.clone(), text(&path)?);
            let known = self.known_good(&name);
            if known.is_file() {
                packed.known_goods.insert(name, text(&known)?);
            }
        }
        for number in self.numbers()? {
            let folder = job_folder(self, number);
            let listed =
                std::fs::read_dir(&folder).map_err(|source| cannot_read(&folder, source))?;
            let files = packed.jobs.entry(number).or_default();
            for path in listed.filter_map(Result::ok).map(|entry| entry.path()) {
                let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
                if path.is_file() && of_a_job(&name) {
                    let bytes =
                        std::fs::read(&path).map_err(|source| cannot_read(&path, source))?;
                    files.insert(name, bytes);
                }
            }
        }
        Ok(packed)
    }
}
