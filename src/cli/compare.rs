//! `camwitness compare`: before and after a repair.
//!
//! Exit status: 0 a comparison was made (every cam back, or not), 3 the captures do not tell.

use std::path::{Path, PathBuf};

use clap::Args;

use super::check::{file, files_of, read_known};
use super::door::{once, read_capture};
use super::reading::ReadingArgs;
use super::shelf::ShelfArgs;
use super::{CANNOT_TELL, DONE, Failure, Job, existing, width};
use crate::analysis::{Checked, Options, check};
use crate::compare::{Outcome, compare_checked};
use crate::engine::{Engine, wheel_files};
use crate::output::{Existing, Files, Ours, ReadAs, WrittenAs, write_whole};
use crate::report;

/// Options of `compare`.
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Capture made before the repair
    before: PathBuf,
    /// Capture made after the repair
    after: PathBuf,
    /// Description of the engine
    #[arg(long, value_name = "ENGINE.toml")]
    pub(super) engine: PathBuf,
    /// Known-good reference made by `learn`
    #[arg(long, value_name = "FILE.known.toml")]
    pub(super) known: Option<PathBuf>,
    /// The captures are in order, although the second looks worse
    #[arg(long)]
    in_order: bool,
    /// Write a sign-off sheet
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// What the workshop notes of the job and of how both captures were made, for the sheet (README)
    #[arg(long, value_name = "FILE.toml", requires = "report")]
    job: Option<PathBuf>,
    /// Replace a sheet that is there, and whatever a result is to be written over
    #[arg(long)]
    force: bool,
    /// Write the result as JSON to a file (- for standard output, instead of the text)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    reading: ReadingArgs,
    #[command(flatten)]
    pub(super) place: ShelfArgs,
}

impl Job for CompareArgs {
    fn files(&self) -> Files {
        Files::default()
            .reads_all(ReadAs::Capture, files_of([&self.before, &self.after]))
            .reads(ReadAs::Engine, &self.engine)
            .reads_all(ReadAs::Wheel, wheel_files(&self.engine))
            .reads_all(ReadAs::KnownGood, &self.known)
            .reads_all(ReadAs::Job, &self.job)
            .writes(WrittenAs::Report, self.report.as_deref(), existing(self.force))
            .writes(WrittenAs::Result, file(self.json.as_deref()), self.replacing())
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        run(self)
    }
}

impl CompareArgs {
    /// What may be replaced by the result.
    fn replacing(&self) -> Existing {
        if self.force { Existing::Replace } else { Existing::ReplaceOurs(Ours::Result) }
    }
}

fn run(args: &CompareArgs) -> Result<(String, u8), Failure> {
    let engine = Engine::read(&args.engine)?;
    let known = args.known.as_deref().map(|path| read_known(path, &engine)).transpose()?;
    let noted = args.job.as_deref().map(report::job::Job::read).transpose()?.unwrap_or_default();
    let asked = Options { leads: args.reading.leads.clone(), known, ..Options::default() };
    let reading = args.reading.options()?;
    once([args.before.as_path(), args.after.as_path()])?;
    let checked = |path: &Path| -> Result<Checked, Failure> {
        let (capture, _) = read_capture(path, &reading)?;
        Ok(check(std::slice::from_ref(&capture), &engine, &asked)?)
    };
    let compared = compare_checked(checked(&args.before)?, checked(&args.after)?, args.in_order)?;
    if let Some(path) = &args.report {
        let sheet = report::compare::compared_sheet(&compared, &noted);
        write_whole(path, sheet.as_bytes(), existing(args.force))?;
    }
    let status = if compared.outcome() == Outcome::CannotTell { CANNOT_TELL } else { DONE };
    if let Some(path) = &args.json {
        let text = report::compare::compared_json(&compared);
        if path == Path::new("-") {
            return Ok((text, status));
        }
        write_whole(path, text.as_bytes(), args.replacing())?;
    }
    Ok((report::compare::compared_text(&compared, width()), status))
}
