//! The report and the pictures of a `check`.

use std::path::{Path, PathBuf};

use clap::Args;

use super::Failure;
use super::check::files_of;
use crate::output::{Existing, Files, ReadAs, WrittenAs, write_whole};
use crate::report::job::Job;
use crate::report::pictures::Sheet;
use crate::report::{Papers, html, pictures};

/// What is put on paper.
#[derive(Debug, Args)]
pub struct PaperArgs {
    /// Write the report for owner and technician, one HTML file
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Write the pictures as SVG and PNG into a folder
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
    /// The report, and the pictures, show the signals, a ruler and the wheels, and not what was
    /// found: for whoever is to read them
    #[arg(
        long,
        requires = "report",
        conflicts_with_all = ["json", "table", "quiet", "keep"]
    )]
    no_verdict: bool,
    /// What the workshop notes of the job, for the report: number, vehicle, identification, scope,
    /// clamp, battery, hours and more (README)
    #[arg(long, value_name = "FILE.toml", requires = "report")]
    job: Option<PathBuf>,
    /// A recording of a sound engine of this kind: the close-up of the report draws its cams over
    /// those of the capture, at the same crank degrees. Nothing is held against it: that is what
    /// `learn` and --known are for
    #[arg(long, value_name = "CAPTURE", requires = "report", conflicts_with = "no_verdict")]
    overlay: Option<PathBuf>,
}

impl PaperArgs {
    /// The recording that is laid over the capture.
    pub(super) fn overlay(&self) -> Option<&Path> {
        self.overlay.as_deref()
    }

    /// Whether a report is asked for.
    pub(super) fn report_wanted(&self) -> bool {
        self.report.is_some()
    }

    /// Whether what was found is to stay out of it.
    pub(super) fn without_verdict(&self) -> bool {
        self.no_verdict
    }

    /// Adds what it reads and writes.
    pub(super) fn files(&self, files: Files, existing: Existing) -> Files {
        let of = if self.no_verdict { pictures::sheet_files } else { pictures::files };
        let pictures = self.plots.as_deref().map(of).unwrap_or_default();
        files
            .reads_all(ReadAs::Job, &self.job)
            .reads_all(ReadAs::Capture, files_of(&self.overlay))
            .writes(WrittenAs::Report, self.report.as_deref(), existing)
            .writes_into(WrittenAs::Picture, pictures, existing)
    }
}

/// Writes a capture to be read by somebody. Says what was written, and nothing of what was found.
pub(super) fn write_sheet(
    path: &Path,
    sheet: &Sheet,
    job: &Job,
    existing: Existing,
) -> Result<String, Failure> {
    write_whole(path, html::write_sheet(sheet, job)?.as_bytes(), existing)?;
    Ok(format!("Written: {}, without what was found.\n", path.display()))
}

/// What is to be put on paper, with the job it belongs to.
pub(super) struct Paper<'a> {
    report: Option<&'a Path>,
    plots: Option<&'a Path>,
    job: Job,
    existing: Existing,
}

impl<'a> Paper<'a> {
    /// Reads the job file, so that a long measurement is not lost on it.
    pub(super) fn prepare(args: &'a PaperArgs, existing: Existing) -> Result<Paper<'a>, Failure> {
        let job = args.job.as_deref().map(Job::read).transpose()?.unwrap_or_default();
        let (report, plots) = (args.report.as_deref(), args.plots.as_deref());
        Ok(Paper { report, plots, job, existing })
    }

    /// The job it belongs to.
    pub(super) fn job(&self) -> &Job {
        &self.job
    }

    /// Writes what was asked for.
    pub(super) fn write(&self, papers: &Papers) -> Result<(), Failure> {
        if let Some(path) = self.report {
            write_whole(path, papers.report()?.as_bytes(), self.existing)?;
        }
        if let Some(folder) = self.plots {
            pictures::write_all(papers.pictures(), folder, self.existing)?;
        }
        Ok(())
    }

    /// Writes a capture to be read by somebody. Says what was written.
    pub(super) fn write_unjudged(&self, sheet: &Sheet) -> Result<String, Failure> {
        if let Some(folder) = self.plots {
            pictures::write_sheet(sheet, folder, self.existing)?;
        }
        let Some(path) = self.report else { return Ok(String::new()) };
        write_sheet(path, sheet, &self.job, self.existing)
    }
}
