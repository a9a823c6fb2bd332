//! The jobs of the shelf: a folder each, with captures, result and report.

use std::path::{Path, PathBuf};

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::outcome::{self, FindingWas, Outcome};
use super::{JOBS, Shelf, ShelfError, cannot_read};
use crate::output::{UNFINISHED, not_written};
use crate::verdict::State;

const FILE: &str = "job.toml";
const RESULT: &str = "result.json";
const REPORT: &str = "report.html";

/// What is kept of a job, beside its result and report.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NewJob {
    /// The engine, as the engine file calls it.
    pub engine: String,
    /// Its name on the shelf, where its file is from there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shelf_engine: Option<String>,
    /// File names of the captures.
    pub captures: Vec<String>,
    /// The workshop's own number, vehicle and date, where a job file said them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub order: Option<String>,
    /// Vehicle, as the workshop calls it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub vehicle: Option<String>,
    /// Date, as written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// Word of the finding, as in the result: "jumped". That of the compression where no cam was
    /// recorded.
    pub finding: String,
    /// Its probability.
    pub probability: f64,
    /// The finding in a sentence.
    pub sentence: String,
    /// How the captures were read: the options of the command line, so that they can be read again.
    #[serde(default)]
    pub reading: Vec<String>,
    /// The cams that were measured.
    #[serde(default, rename = "cam")]
    pub cams: Vec<CamRecord>,
}

/// A cam of a job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CamRecord {
    /// Its name.
    pub cam: String,
    /// Crank degrees from its place, positive late; absent where nothing says where it should be.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub deviation_deg: Option<f64>,
}

/// A job of the shelf.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Its number.
    pub number: u32,
    /// What was kept.
    pub kept: NewJob,
    /// What was found when the engine was opened, in the order it was said.
    pub outcomes: Vec<Outcome>,
}

impl Job {
    /// The outcome that counts: the last.
    #[must_use]
    pub fn outcome(&self) -> Option<&Outcome> {
        self.outcomes.last()
    }

    /// Whether the finding was right, by the outcome: as it was said, else by a timing that was
    /// found sound.
    #[must_use]
    pub fn finding_was(&self) -> Option<FindingWas> {
        let outcome = self.outcome()?;
        let by_sound = || {
            let decided = [State::InTime, State::Jumped, State::DriveDue];
            let found = decided.into_iter().find(|state| state.word() == self.kept.finding)?;
            let right = found == State::InTime;
            outcome.sound.then_some(if right { FindingWas::Right } else { FindingWas::Wrong })
        };
        outcome.finding_was.or_else(by_sound)
    }
}

/// All jobs, and those that do not read.
#[derive(Debug, Default)]
pub struct Jobs {
    /// By number.
    pub jobs: Vec<Job>,
    /// One plain message for each that does not read.
    pub broken: Vec<ShelfError>,
}

/// The number of a job as it is written: "12", "0012" or "job 12".
#[must_use]
pub fn job_number(text: &str) -> Option<u32> {
    let text = text.trim();
    let digits = text.strip_prefix("job").map_or(text, str::trim_start);
    digits.parse().ok().filter(|&number| number > 0)
}

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

    fn numbers(&self) -> Result<Vec<u32>, ShelfError> {
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
fn share(folder: &Path) -> std::io::Result<()> {
    let shelf = folder.parent().unwrap_or(folder).metadata()?.permissions();
    std::fs::set_permissions(folder, shelf)
}

#[cfg(not(unix))]
fn share(_: &Path) -> std::io::Result<()> {
    Ok(())
}
