//! What `check --keep` puts on the shelf.

use std::path::Path;

use super::Failure;
use super::door::STANDARD_INPUT;
use super::reading::ReadingArgs;
use super::shelf::{ShelfArgs, shelf_name};
use crate::analysis::Checked;
use crate::report::Papers;
use crate::report::job::Job;
use crate::report::kept::described;
use crate::shelf::{NewJob, Shelf};

/// A job that is to be kept: everything but what was found.
pub(super) struct Keeper<'a> {
    shelf: Shelf,
    captures: Vec<&'a Path>,
    begun: NewJob,
}

impl<'a> Keeper<'a> {
    /// Opens the shelf, so that a long measurement is not lost on it.
    pub(super) fn prepare(
        place: &ShelfArgs,
        engine: Option<&Path>,
        captures: &'a [std::path::PathBuf],
        reading: &ReadingArgs,
        job: &Job,
    ) -> Result<Keeper<'a>, Failure> {
        if captures.iter().any(|path| path == Path::new(STANDARD_INPUT) || path.is_dir()) {
            return Err(Failure(
                "--keep copies the captures, so each is named by its file, and no folder is".into(),
            ));
        }
        let shelf = Shelf::open_or_begin(&place.root()?)?;
        let begun = NewJob {
            shelf_engine: engine.and_then(|path| shelf_name(&shelf, path)),
            order: job.number.clone(),
            vehicle: job.vehicle.clone(),
            date: job.date.clone(),
            reading: reading.words(),
            ..NewJob::default()
        };
        Ok(Keeper { shelf, captures: captures.iter().map(AsRef::as_ref).collect(), begun })
    }

    /// Keeps a check; gives what is said of it.
    pub(super) fn keep(self, checked: &Checked, papers: &Papers) -> Result<String, Failure> {
        let (result, report) = (papers.result(), papers.report()?);
        let number =
            self.shelf.keep_job(&self.captures, described(checked, self.begun), result, report)?;
        Ok(format!(
            "\nKept as job {number} on the shelf. When the engine was looked at: camwitness outcome {number} \"what was found\"\n"
        ))
    }
}
