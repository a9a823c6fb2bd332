//! `camwitness learn`: a known-good reference from captures of sound engines.

use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;

use super::check::{files_of, read_known};
use super::door::{once, read_capture};
use super::progress::working_on;
use super::reading::ReadingArgs;
use super::shelf::ShelfArgs;
use super::{DONE, Failure, Job, width};
use crate::capture::Capture;
use crate::engine::{Engine, wheel_files};
use crate::learn::{LearnOptions, learn};
use crate::output::{Existing, Files, OwnFile, ReadAs, WrittenAs};
use crate::report;

/// Options of `learn`.
#[derive(Debug, Args)]
pub struct LearnArgs {
    /// Captures of sound engines: by default all of one engine
    #[arg(required = true, value_name = "CAPTURE")]
    pub(super) captures: Vec<PathBuf>,
    /// Description of the engine; the cams' positions may be missing from it
    #[arg(long, value_name = "ENGINE.toml")]
    pub(super) engine: PathBuf,
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
    #[command(flatten)]
    pub(super) place: ShelfArgs,
}

/// How long another run that adds to the same file is waited for.
pub(super) const PATIENCE: Duration = Duration::from_secs(60);

impl LearnArgs {
    /// The reference it starts from, where that is another file than the one it writes.
    fn other(&self) -> Option<&Path> {
        let same = |add: &&Path| {
            let real = |path: &Path| path.canonicalize().ok();
            real(add).is_some() && real(add) == real(&self.out)
        };
        self.add.as_deref().filter(|add| !same(add))
    }
}

impl Job for LearnArgs {
    /// Alone among the commands it adds to the file it writes; one it does not add to is kept.
    fn files(&self) -> Files {
        let existing = if self.other().is_some() { Existing::Keep } else { Existing::Replace };
        Files::default()
            .reads_all(ReadAs::Capture, files_of(&self.captures))
            .reads(ReadAs::Engine, &self.engine)
            .reads_all(ReadAs::Wheel, wheel_files(&self.engine))
            .reads_all(ReadAs::KnownGood, self.other())
            .writes(WrittenAs::KnownGood, Some(&self.out), existing)
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        run(self)
    }
}

fn run(args: &LearnArgs) -> Result<(String, u8), Failure> {
    let engine = Engine::read(&args.engine)?;
    once(args.captures.iter().map(PathBuf::as_path))?;
    let working = working_on("learning".into(), false);
    let own = OwnFile::take(&args.out, PATIENCE, || {
        working.now(format!("waiting for another run that adds to {}", args.out.display()));
    })?;
    working.now("learning".into());
    let from = args.other().or_else(|| args.out.exists().then_some(args.out.as_path()));
    let known = from.map(|path| read_known(path, &engine)).transpose()?;
    let options = args.reading.options()?;
    let captures = args
        .captures
        .iter()
        .map(|path| Ok(read_capture(path, &options)?.0))
        .collect::<Result<Vec<Capture>, Failure>>()?;
    let asked = LearnOptions {
        leads: args.reading.leads.clone(),
        several_engines: args.several_engines,
        accept_faulty: args.accept_faulty,
    };
    let known = learn(&captures, &engine, known, &asked)?;
    own.write(known.text().as_bytes())?;
    drop(working);
    let file = args.out.display().to_string();
    Ok((report::learn::write_to_width(&known, &engine, captures.len(), &file, width()), DONE))
}
