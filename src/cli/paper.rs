//! The report and the pictures of a `check`.

use std::path::Path;

use super::Failure;
use super::check::CheckArgs;
use crate::analysis::Analysis;
use crate::capture::Capture;
use crate::output::{Existing, write_whole};
use crate::report::job::Job;
use crate::report::{html, pictures};

/// What is to be put on paper, checked before any measuring.
pub(super) struct Paper<'a> {
    report: Option<&'a Path>,
    plots: Option<&'a Path>,
    job: Job,
    existing: Existing,
}

impl<'a> Paper<'a> {
    /// Reads the job file and looks for files that are in the way, so that a long measurement is not lost on them.
    pub(super) fn prepare(args: &'a CheckArgs) -> Result<Paper<'a>, Failure> {
        let job = args.job.as_deref().map(Job::read).transpose()?.unwrap_or_default();
        let plots = args.plots.as_deref();
        let files =
            args.report.iter().cloned().chain(plots.map(pictures::files).unwrap_or_default());
        let mut in_the_way = files.filter(|path| !args.force && path.exists());
        if let Some(there) = in_the_way.next() {
            return Err(kept(&there));
        }
        let existing = if args.force { Existing::Replace } else { Existing::Keep };
        Ok(Paper { report: args.report.as_deref(), plots, job, existing })
    }

    /// Writes what was asked for.
    pub(super) fn write(&self, analysis: &Analysis, captures: &[Capture]) -> Result<(), Failure> {
        if let Some(path) = self.report {
            let page = html::write(analysis, captures, &self.job)?;
            write_whole(path, page.as_bytes(), self.existing)?;
        }
        if let Some(folder) = self.plots {
            let drawn = pictures::draw_all(analysis, captures);
            pictures::write_all(&drawn, folder, self.existing)?;
        }
        Ok(())
    }
}

/// That a file is in the way.
pub(super) fn kept(path: &Path) -> Failure {
    Failure(format!(
        "{}: this file is there already. Give another name, or --force to replace it",
        path.display()
    ))
}
