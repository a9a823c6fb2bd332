//! `camwitness look`: what is in a capture, without any description.
//!
//! Exit status: 0 the crank wheel is named, 3 not sure of it.

use std::path::{Path, PathBuf};

use clap::Args;

use super::check::files_of;
use super::door::read_capture;
use super::paper::write_sheet;
use super::reading::ReadingArgs;
use super::undescribed::{FactArgs, describe, look_with, proposed_tdc};
use super::{CANNOT_TELL, DONE, Failure, Job as Work, existing, width};
use crate::analysis::{Options, analyse};
use crate::capture::Capture;
use crate::look::{Facts, Look, start_engine_file};
use crate::output::{Files, ReadAs, WrittenAs, write_whole};
use crate::report;
use crate::report::job::Job;
use crate::report::pictures::Sheet;

/// Options of `look`.
#[derive(Debug, Args)]
#[command(
    after_help = "Signals over a ruler, to print:\n    camwitness look capture.csv --report signals.html"
)]
pub struct LookArgs {
    /// The capture
    capture: PathBuf,
    /// Start an engine file from it, with what is unknown marked for you to fill
    #[arg(long, value_name = "FILE.toml")]
    write_engine: Option<PathBuf>,
    /// Write the signals over a ruler of crank degrees, with the crank wheel, to print and to read;
    /// one HTML file
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Replace an engine file or a report that is there
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    facts: FactArgs,
    #[command(flatten)]
    reading: ReadingArgs,
}

impl Work for LookArgs {
    fn files(&self) -> Files {
        Files::default()
            .reads_all(ReadAs::Capture, files_of([&self.capture]))
            .reads_all(ReadAs::Wheel, self.facts.wheel_file())
            .writes(WrittenAs::Engine, self.write_engine.as_deref(), existing(self.force))
            .writes(WrittenAs::Report, self.report.as_deref(), existing(self.force))
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        run(self)
    }
}

fn run(args: &LookArgs) -> Result<(String, u8), Failure> {
    let (capture, dialect) = read_capture(&args.capture, &args.reading.options()?)?;
    let mut facts = args.facts.facts()?;
    let leads = &args.reading.leads;
    let seen = look_with(&capture, leads, &facts)?;
    let mut text = report::look::write_to_width(&seen, dialect.as_ref(), width());
    if let Some(path) = &args.report {
        text.push('\n');
        text.push_str(&drawn(args, path, &capture, &seen, &facts)?);
    }
    if let Some(path) = &args.write_engine {
        facts.tdc = proposed_tdc(&capture, leads, &facts);
        let Some(file) = start_engine_file(&seen, leads, &facts) else {
            return Err(Failure(format!(
                "{}: no engine file was begun, because the crank wheel is not sure. Name the crank's column with --lead crank=COLUMN, its \
                 wheel with --wheel, or capture more turns together with a cam",
                seen.source
            )));
        };
        write_whole(path, file.as_bytes(), existing(args.force))?;
        text.push_str(&format!(
            "\nBegun: {}. `check` takes it as it is; with what is marked filled in it says more.\n",
            path.display()
        ));
    }
    Ok((text, if seen.wheel.is_ok() { DONE } else { CANNOT_TELL }))
}

/// Draws the capture, with the engine that it shows where it shows one.
fn drawn(
    args: &LookArgs,
    path: &Path,
    capture: &Capture,
    seen: &Look,
    facts: &Facts,
) -> Result<String, Failure> {
    let leads = &args.reading.leads;
    let captures = std::slice::from_ref(capture);
    let described = describe(capture, leads, facts).ok();
    let analysis = described.as_ref().and_then(|described| {
        let asked = Options { leads: described.leads.clone(), ..Options::default() };
        analyse(captures, &described.engine, &asked).ok()
    });
    let sheet = analysis.as_ref().and_then(|analysis| Sheet::of(analysis, captures, leads));
    let locked = || seen.lock.as_ref().map(|lock| Sheet::locked(capture, lock, leads));
    let sheet = sheet.or_else(locked).unwrap_or_else(|| Sheet::against_time(capture, None, leads));
    write_sheet(path, &sheet, &Job::default(), existing(args.force))
}
