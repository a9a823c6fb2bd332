//! `camwitness learn`: a known-good reference from captures of sound engines.

use std::path::PathBuf;

use clap::Args;

use super::check::{ReadingArgs, read_known};
use super::{DONE, Failure};
use crate::capture::{Capture, read};
use crate::engine::Engine;
use crate::learn::{LearnOptions, learn};
use crate::report;

/// Options of `learn`.
#[derive(Debug, Args)]
pub struct LearnArgs {
    /// Captures of sound engines: by default all of one engine
    #[arg(required = true, value_name = "CAPTURE")]
    captures: Vec<PathBuf>,
    /// Description of the engine; the cams' positions may be missing from it
    #[arg(long, value_name = "ENGINE.toml")]
    engine: PathBuf,
    /// The known-good file to write; one that is there is added to
    #[arg(long, value_name = "FILE.known.toml")]
    out: PathBuf,
    /// Start from this known-good file instead of --out
    #[arg(long, value_name = "FILE.known.toml")]
    add: Option<PathBuf>,
    /// Each capture is of another engine of this type
    #[arg(long)]
    several_engines: bool,
    /// Learn although a capture looks faulty or disagrees with the others
    #[arg(long)]
    accept_faulty: bool,
    #[command(flatten)]
    reading: ReadingArgs,
}

/// Runs the command.
///
/// # Errors
/// Captures or descriptions that cannot be used, captures that are not sound, a file that cannot be written.
pub fn run(args: &LearnArgs) -> Result<(String, u8), Failure> {
    let engine = Engine::read(&args.engine)?;
    let from = args.add.as_ref().or_else(|| args.out.exists().then_some(&args.out));
    let known = from.map(|path| read_known(path, &engine)).transpose()?;
    let options = args.reading.options()?;
    let captures = args
        .captures
        .iter()
        .map(|path| Ok(read(path, &options)?))
        .collect::<Result<Vec<Capture>, Failure>>()?;
    let asked = LearnOptions {
        leads: args.reading.leads.clone(),
        several_engines: args.several_engines,
        accept_faulty: args.accept_faulty,
    };
    let known = learn(&captures, &engine, known, &asked)?;
    known.write(&args.out)?;
    let file = args.out.display().to_string();
    Ok((report::learn::write(&known, &engine, captures.len(), &file), DONE))
}
