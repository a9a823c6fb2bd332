//! The jobs of the shelf: a folder each, with captures, result and report.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::folder::cannot_read;
use super::job::{FILE, Job, Jobs, NewJob, REPORT, RESULT};
use super::{JOBS, Shelf, ShelfError, outcome};
use crate::output::{UNFINISHED, not_written};

pub(super) fn job_folder(shelf: &Shelf, number: u32) -> PathBuf {
    shelf.root().join(JOBS).join(format!("{number:04}"))
}

impl Shelf {
    /// Files of the captures of a job.
    #[must_use]
    pub fn captures(&self, job: &Job) -> Vec<PathBuf> {
        let folder = job_folder(self, job.number);
        // The file of a job may be anybody's: a name with folders in it leads nowhere else.
        let names = job.kept.captures.iter().filter_map(|name| Path::new(name).file_name());
        names.map(|name| folder.join(name)).collect()
    }

    /// Keeps a job: copies of its captures, its result and its report. Gives its number.
    ///
    /// # Errors
    /// Two captures of one name, or the shelf cannot be written; nothing is then left of it.
    pub fn keep_job(
        &self,
        captures: &[&Path],
        job: NewJob,
        result: &str,
        report: &str,
    ) -> Result<u32, ShelfError> {
        let names: Vec<String> = captures
            .iter()
            .map(|path| path.file_name().unwrap_or_default().to_string_lossy().into_owned())
            .collect();
        let ours = [FILE, RESULT, REPORT, outcome::FILE];
        for (at, name) in names.iter().enumerate() {
            let same = |other: &str| other.to_lowercase() == name.to_lowercase();
            if names[..at].iter().any(|other| same(other)) || ours.into_iter().any(same) {
                return Err(ShelfError::TwoCaptures(name.clone()));
            }
        }
        let jobs = self.folder(JOBS)?;
        let cannot = |source| not_written(&jobs, source);
        let beside =
            tempfile::Builder::new().prefix(UNFINISHED).tempdir_in(&jobs).map_err(cannot)?;
        for (path, name) in captures.iter().zip(&names) {
            let to = beside.path().join(name);
            std::fs::copy(path, &to).map_err(|source| not_written(path, source))?;
        }
        let job = NewJob { captures: names, ..job };
        let text = toml::to_string(&job)
            .map_err(|error| ShelfError::Broken { path: jobs.clone(), why: error.to_string() })?;
        for (name, text) in [(RESULT, result), (REPORT, report), (FILE, text.as_str())] {
            let path = beside.path().join(name);
            std::fs::write(&path, text)
                .and_then(|()| std::fs::File::open(&path)?.sync_all())
                .map_err(cannot)?;
        }
        share(beside.path()).map_err(cannot)?;
        let _lock = self.lock()?;
        let number = self.numbers()?.into_iter().max().unwrap_or(0) + 1;
        std::fs::rename(beside.path(), job_folder(self, number)).map_err(cannot)?;
        // Its old name is gone: nothing is to be cleared away.
        let _ = beside.keep();
        Ok(number)
    }

    /// One job.
    ///
    /// # Errors
    /// None of that number, or its files do not read.
    pub fn job(&self, number: u32) -> Result<Job, ShelfError> {
        if !job_folder(self, number).is_dir() {
            return Err(ShelfError::NoJob { number, last: self.numbers()?.into_iter().max() });
        }
        self.read_job(number)
    }

    /// Every job, by number. One that does not read does not keep the others from being listed.
    ///
    /// # Errors
    /// The folder cannot be listed.
    pub fn jobs(&self) -> Result<Jobs, ShelfError> {
        let mut numbers = self.numbers()?;
        numbers.sort_unstable();
        let read: Vec<Result<Job, ShelfError>> =
            numbers.into_par_iter().map(|number| self.read_job(number)).collect();
        let mut all = Jobs::default();
        for job in read {
            match job {
                Ok(job) => all.jobs.push(job),
                Err(error) => all.broken.push(error),
            }
        }
        Ok(all)
    }

    fn read_job(&self, number: u32) -> Result<Job, ShelfError> {
        let folder = job_folder(self, number);
        let path = folder.join(FILE);
        let text = std::fs::read_to_string(&path).map_err(|source| cannot_read(&path, source))?;
        let kept = toml::from_str(&text).map_err(|error| ShelfError::Broken {
            path: path.clone(),
            why: error.message().to_owned(),
        })?;
        let path = folder.join(outcome::FILE);
        let outcomes = match std::fs::read_to_string(&path) {
            Ok(text) => outcome::read(&text)
                .map_err(|why| ShelfError::Broken { path: path.clone(), why })?,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => vec![],
            Err(source) => return Err(cannot_read(&path, source)),
        };
        Ok(Job { number, kept, outcomes })
    }

    pub(super) fn numbers(&self) -> Result<Vec<u32>, ShelfError> {
        let folder = self.root().join(JOBS);
        let listed = match std::fs::read_dir(&folder) {
            Ok(listed) => listed,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(vec![]),
            Err(source) => return Err(cannot_read(&folder, source)),
        };
        let number = |name: String| -> Option<u32> {
            let number = name.parse().ok()?;
            // "12" beside "0012" would be two of one number.
            (name == format!("{number:04}")).then_some(number)
        };
        Ok(listed
            .filter_map(Result::ok)
            .filter_map(|entry| number(entry.file_name().to_string_lossy().into_owned()))
            .collect())
    }
}

/// A temporary folder is its owner's alone; a job is as open as the shelf it stands in.
#[cfg(unix)]
pub(super) fn share(folder: &Path) -> std::io::Result<()> {
    let shelf = folder.parent().unwrap_or(folder).metadata()?.permissions();
    std::fs::set_permissions(folder, shelf)
}

#[cfg(not(unix))]
pub(super) fn share(_: &Path) -> std::io::Result<()> {
    Ok(())
}
