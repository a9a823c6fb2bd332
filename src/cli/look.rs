//! `camwitness look`: what is in a capture, without any description.
//!
//! Exit status: 0 the crank wheel is named, 3 not sure of it.

use std::path::PathBuf;

use clap::Args;

use super::check::files_of;
use super::door::read_capture;
use super::reading::ReadingArgs;
use super::undescribed::{FactArgs, look_with, proposed_tdc};
use super::{CANNOT_TELL, DONE, Failure, Job, existing, width};
use crate::look::start_engine_file;
use crate::output::{Files, ReadAs, WrittenAs, write_whole};
use crate::report;

/// Options of `look`.
#[derive(Debug, Args)]
pub struct LookArgs {
    /// The capture
    capture: PathBuf,
    /// Start an engine file from it, with what is unknown marked for you to fill
    #[arg(long, value_name = "FILE.toml")]
    write_engine: Option<PathBuf>,
    /// Replace an engine file that is there
    #[arg(long, requires = "write_engine")]
    force: bool,
    #[command(flatten)]
    facts: FactArgs,
    #[command(flatten)]
    reading: ReadingArgs,
}

impl Job for LookArgs {
    fn files(&self) -> Files {
        Files::default()
            .reads_all(ReadAs::Capture, files_of([&self.capture]))
            .reads_all(ReadAs::Wheel, self.facts.wheel_file())
            .writes(WrittenAs::Engine, self.write_engine.as_deref(), existing(self.force))
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
