//! `camwitness check`: the main job.

use std::path::{Path, PathBuf};

use clap::Args;

use super::door::{STANDARD_INPUT, once, read_capture};
use super::evidence::EvidenceArgs;
use super::keep::Keeper;
use super::paper::{Paper, PaperArgs};
use super::progress::working_on;
use super::reading::ReadingArgs;
use super::shelf::{ShelfArgs, proposal};
use super::undescribed::{self, FactArgs};
use super::{CANNOT_TELL, DONE, Failure, Job, existing, folder, width};
use crate::analysis::{self, Checked, Options, Overlay, analyse};
use crate::batch::captures_in;
use crate::capture::{Capture, ReadOptions};
use crate::engine::{Engine, wheel_files};
use crate::known::KnownGood;
use crate::output::{Existing, Files, Ours, ReadAs, WrittenAs, write_whole};
use crate::report::pictures::Sheet;
use crate::report::{Papers, cranking, text};
use crate::verdict::CompressionState;

/// Options of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Captures of one engine: CSV as exported by an oscilloscope or a logic analyser; - for
    /// standard input. A folder: every capture in it is judged by itself
    #[arg(required = true, value_name = "CAPTURE")]
    pub(super) captures: Vec<PathBuf>,
    /// Description of the engine. Without one, what the capture shows by itself is compared, and
    /// nothing is found on an assumption
    #[arg(long, value_name = "ENGINE.toml")]
    engine: Option<PathBuf>,
    #[command(flatten)]
    facts: FactArgs,
    #[command(flatten)]
    reading: ReadingArgs,
    #[command(flatten)]
    evidence: EvidenceArgs,
    /// Write the result as JSON to a file (- for standard output, instead of the text)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    paper: PaperArgs,
    /// Replace a report or pictures that are there, and whatever a result or table is to be written
    /// over
    #[arg(long)]
    force: bool,
    /// Known-good reference made by `learn`; stands before the positions of the engine file
    #[arg(long, value_name = "FILE.known.toml")]
    known: Option<PathBuf>,
    /// For a folder: write the table as CSV to a file
    #[arg(long, value_name = "FILE.csv")]
    table: Option<PathBuf>,
    /// The cams that were recorded are all that is asked about: in time for these ends as a finding
    #[arg(long)]
    recorded_only: bool,
    /// Print the finding alone
    #[arg(long)]
    quiet: bool,
    /// Keep captures, result and report as a job on the shelf
    #[arg(long)]
    keep: bool,
    #[command(flatten)]
    place: ShelfArgs,
}

impl Job for CheckArgs {
    fn files(&self) -> Files {
        let (folders, captures): (Vec<&PathBuf>, Vec<&PathBuf>) =
            self.captures.iter().partition(|path| path.is_dir());
        let inside = folders.into_iter().flat_map(|path| captures_in(path).unwrap_or_default());
        let files = Files::default()
            .reads_all(ReadAs::Capture, files_of(captures))
            .reads_all(ReadAs::CaptureInFolder, inside)
            .reads_all(ReadAs::Engine, &self.engine)
            .reads_all(ReadAs::Wheel, self.engine.as_deref().map(wheel_files).unwrap_or_default())
            .reads_all(ReadAs::Wheel, self.facts.wheel_file())
            .reads_all(ReadAs::KnownGood, &self.known)
            .writes(WrittenAs::Result, file(self.json.as_deref()), self.replacing(Ours::Result))
            .writes(WrittenAs::Table, self.table.as_deref(), self.replacing(Ours::Table));
        self.paper.files(files, existing(self.force))
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        run(self)
    }
}

impl CheckArgs {
    /// Puts the file of the shelf in place of an engine that is asked for by its name.
    pub(super) fn find_engine(&mut self) -> Result<(), Failure> {
        let Some(engine) = &mut self.engine else { return Ok(()) };
        self.place.resolve(engine, Some(&mut self.known))
    }

    /// What is to be kept on the shelf, where that is asked for.
    fn keeper<'a>(&'a self, paper: &'a Paper) -> Result<Option<Keeper<'a>>, Failure> {
        let (engine, captures) = (self.engine.as_deref(), &self.captures);
        let keeper = || Keeper::prepare(&self.place, engine, captures, &self.reading, paper.job());
        self.keep.then(keeper).transpose()
    }

    /// How captures are read. What tells the file from another is taken down for whatever is kept.
    fn options(&self) -> Result<ReadOptions, Failure> {
        let identify = self.json.is_some() || self.keep || self.paper.report_wanted();
        Ok(ReadOptions { identify, ..self.reading.options()? })
    }

    fn replacing(&self, ours: Ours) -> Existing {
        if self.force { Existing::Replace } else { Existing::ReplaceOurs(ours) }
    }
}

/// The file that an option names: `-` stands for standard output.
pub(super) fn file(path: Option<&Path>) -> Option<&Path> {
    path.filter(|path| *path != Path::new("-"))
}

/// Captures that are files: `-` stands for standard input.
pub(super) fn files_of<'a>(
    captures: impl IntoIterator<Item = &'a PathBuf>,
) -> impl Iterator<Item = &'a PathBuf> {
    captures.into_iter().filter(|path| path.as_os_str() != STANDARD_INPUT)
}

fn run(args: &CheckArgs) -> Result<(String, u8), Failure> {
    let Some(engine) = &args.engine else { return without_engine(args) };
    if !args.facts.is_empty() {
        return Err(Failure(
            "--firing, --banks, --wheel and --edge are for an engine without a file. Put them into the engine file, or leave --engine out".into(),
        ));
    }
    let engine = Engine::read(engine)?;
    let paper = Paper::prepare(&args.paper, existing(args.force))?;
    let options = args.options()?;
    once(args.captures.iter().map(PathBuf::as_path).chain(args.paper.overlay()))?;
    let known = args.known.as_deref().map(|path| read_known(path, &engine)).transpose()?;
    let asked = Options { leads: args.reading.leads.clone(), known, ..Options::default() };
    let asked = args.evidence.add_to(asked, &engine)?;
    if args.captures.iter().any(|path| path.is_dir()) {
        if args.paper.without_verdict() {
            return Err(Failure(
                "--no-verdict draws the captures of one engine. Name captures, not a folder".into(),
            ));
        }
        if args.paper.overlay().is_some() {
            return Err(Failure(
                "--overlay is drawn over the captures of one engine. Name captures, not a folder"
                    .into(),
            ));
        }
        if args.keep {
            return Err(Failure(
                "--keep keeps one job at a time. Check a capture of the folder by itself".into(),
            ));
        }
        let outputs = folder::Outputs {
            json: args.json.as_deref(),
            table: args.table.as_deref(),
            replace_result: args.replacing(Ours::Result),
            replace_table: args.replacing(Ours::Table),
            recorded_only: args.recorded_only,
            quiet: args.quiet,
        };
        return folder::run(&args.captures, &engine, &options, &asked, &outputs);
    }
    if args.table.is_some() {
        return Err(Failure(
            "--table is for a folder. Name a folder of captures, or use --json".into(),
        ));
    }
    if args.paper.without_verdict() {
        let captures = args
            .captures
            .iter()
            .map(|path| Ok(read_capture(path, &options)?.0))
            .collect::<Result<Vec<Capture>, Failure>>()?;
        return unjudged(args, &engine, &captures, &asked, &paper);
    }
    measure(args, &engine, &options, asked, &paper)
}

/// The report for whoever is to read the signals. What was found is neither in it, nor in what is
/// said, nor in the exit status.
fn unjudged(
    args: &CheckArgs,
    engine: &Engine,
    captures: &[Capture],
    asked: &Options,
    paper: &Paper,
) -> Result<(String, u8), Failure> {
    let leads = &args.reading.leads;
    // Why a capture cannot be read may be the very thing to be found.
    let analysis = analyse(captures, engine, asked).ok();
    let sheet = analysis
        .as_ref()
        .and_then(|analysis| Sheet::of(analysis, captures, leads))
        .or_else(|| Some(Sheet::against_time(captures.first()?, Some(engine), leads)));
    let Some(sheet) = sheet else { return Ok((String::new(), DONE)) };
    Ok((paper.write_unjudged(&sheet)?, DONE))
}

/// The engine as the capture itself shows it.
fn without_engine(args: &CheckArgs) -> Result<(String, u8), Failure> {
    let [path] = &args.captures[..] else {
        return Err(Failure(
            "without an engine file one capture is checked at a time. Give one capture, or an engine file with --engine".into(),
        ));
    };
    if path.is_dir() {
        return Err(Failure(format!(
            "{}: a folder is checked against an engine file. Give it with --engine, or check one capture by itself",
            path.display()
        )));
    }
    if args.known.is_some() || args.table.is_some() || args.paper.overlay().is_some() {
        return Err(Failure(
            "--known, --overlay and --table go with an engine file. Give it with --engine; `camwitness look` begins one".into(),
        ));
    }
    let facts = args.facts.facts()?;
    let paper = Paper::prepare(&args.paper, existing(args.force))?;
    let keeper = args.keeper(&paper)?;
    let options = args.options()?;
    let captures = [read_capture(path, &options)?.0];
    let described = undescribed::describe(&captures[0], &args.reading.leads, &facts)?;
    if args.paper.without_verdict() {
        let asked = Options { leads: described.leads, ..Options::default() };
        return unjudged(args, &described.engine, &captures, &asked, &paper);
    }
    let asked = Options { leads: described.leads, ..Options::default() };
    let asked = args.evidence.without_engine(asked, &described.engine)?;
    let analysis = analyse(&captures, &described.engine, &asked)?;
    let mut more = undescribed::said(&analysis, &described.guessed, width());
    more += &proposal(&args.place, &described.seen);
    let checked = Checked::Timing(Box::new(analysis));
    let papers = Papers::of(&checked, &captures, paper.job());
    paper.write(&papers)?;
    if let Some(keeper) = keeper {
        more += &keeper.keep(&checked, &papers)?;
    }
    told(args, &checked, &papers, &more)
}

/// Reads, measures and weighs captures of one engine.
fn measure(
    args: &CheckArgs,
    engine: &Engine,
    options: &ReadOptions,
    asked: Options,
    paper: &Paper,
) -> Result<(String, u8), Failure> {
    let keeper = args.keeper(paper)?;
    let working = working_on("reading".into(), args.quiet);
    let captures = args
        .captures
        .iter()
        .map(|path| {
            working.now(format!("reading {}", path.display()));
            Ok(read_capture(path, options)?.0)
        })
        .collect::<Result<Vec<Capture>, Failure>>()?;
    working.now("measuring".into());
    let checked = analysis::check(&captures, engine, &asked)?;
    let over = args.paper.overlay();
    let over = over.map(|path| laid_over(path, &checked, engine, (options, &asked))).transpose()?;
    working.now("drawing".into());
    let papers = Papers::of(&checked, &captures, paper.job()).with(over.as_ref());
    paper.write(&papers)?;
    let kept = keeper.map(|keeper| keeper.keep(&checked, &papers)).transpose()?;
    drop(working);
    told(args, &checked, &papers, &kept.unwrap_or_default())
}

/// The recording that is laid over the capture.
fn laid_over(
    path: &Path,
    checked: &Checked,
    engine: &Engine,
    (options, asked): (&ReadOptions, &Options),
) -> Result<Overlay, Failure> {
    let Checked::Timing(main) = checked else {
        return Err(Failure(
            "--overlay is drawn over crank degrees, and no crank signal was found in the capture. Leave it out".into(),
        ));
    };
    let capture = read_capture(path, options)?.0;
    Ok(Overlay::of(main, capture, engine, asked)?)
}

/// The result where it was asked for, and what is said. `more` comes after the text.
fn told(
    args: &CheckArgs,
    checked: &Checked,
    papers: &Papers,
    more: &str,
) -> Result<(String, u8), Failure> {
    let status = status(checked, args.recorded_only);
    if let Some(path) = &args.json {
        if path == Path::new("-") {
            return Ok((papers.result().to_owned(), status));
        }
        write_whole(path, papers.result().as_bytes(), args.replacing(Ours::Result))?;
    }
    let text = shown(checked, args.quiet);
    Ok((if args.quiet { text } else { text + more }, status))
}

/// Checks one capture as `check` does without any option: what is said, and the exit status.
pub(super) fn demonstrate(capture: &Path, engine: &Path) -> Result<(String, u8), Failure> {
    let engine = Engine::read(engine)?;
    let captures = [read_capture(capture, &ReadOptions::default())?.0];
    let checked = analysis::check(&captures, &engine, &Options::default())?;
    Ok((shown(&checked, false), status(&checked, false)))
}

fn status(checked: &Checked, recorded_only: bool) -> u8 {
    let decided = match checked {
        Checked::Timing(analysis) => analysis.verdict.is_decided(recorded_only),
        Checked::Compression(test) => test.finding.state != CompressionState::Withheld,
    };
    if decided { DONE } else { CANNOT_TELL }
}

/// Reads a known-good file and checks that it belongs to the engine.
pub(super) fn read_known(path: &Path, engine: &Engine) -> Result<KnownGood, Failure> {
    let known = KnownGood::read(path)?;
    known.belongs_to(engine, &path.display().to_string())?;
    Ok(known)
}

fn shown(checked: &Checked, quiet: bool) -> String {
    let wide = width();
    match checked {
        Checked::Timing(analysis) if quiet => text::finding_alone_to_width(analysis, wide),
        Checked::Timing(analysis) => text::write_to_width(analysis, wide),
        Checked::Compression(test) if quiet => cranking::finding_alone(test, wide),
        Checked::Compression(test) => cranking::write(test, wide),
    }
}
