//! `camwitness check`: the main job.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::door::{STANDARD_INPUT, once, read_capture};
use super::evidence::EvidenceArgs;
use super::paper::{Paper, PaperArgs};
use super::progress::working_on;
use super::undescribed::{self, FactArgs};
use super::{CANNOT_TELL, DONE, Failure, Job, existing, folder, width};
use crate::analysis::{self, Analysis, Checked, CrankingTest, Options, analyse};
use crate::batch::captures_in;
use crate::capture::{Capture, CaptureKind, ReadOptions, TimeUnit};
use crate::engine::{Engine, wheel_files};
use crate::known::KnownGood;
use crate::leads::LeadRequest;
use crate::output::{Existing, Files, Ours, ReadAs, WrittenAs, write_whole};
use crate::report::{cranking, json, text};
use crate::units::Seconds;
use crate::verdict::CompressionState;

/// Options of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Captures of one engine: CSV as exported by an oscilloscope or a logic analyser; - for standard
    /// input. A folder: every capture in it is judged by itself
    #[arg(required = true, value_name = "CAPTURE")]
    captures: Vec<PathBuf>,
    /// Description of the engine. Without one, what the capture shows by itself is compared, and nothing is found on an
    /// assumption
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
    /// Replace a report or pictures that are there, and whatever a result or table is to be written over
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
}

/// How captures are read; shared by every command that reads one.
#[derive(Debug, Clone, Args)]
pub struct ReadingArgs {
    /// Which column carries what, by header text or position from 1, time included: "crank=Channel 1",
    /// "B1 intake=3", "starter=Channel 4:100A/V". Of several files one is named before the lead:
    /// "run1.csv:crank=Channel 1"; or the leads stand in the order of the files
    #[arg(long = "lead", value_name = "LEAD=COLUMN")]
    pub leads: Vec<LeadRequest>,
    /// Use the capture from this second on
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    pub from: Option<f64>,
    /// Use the capture up to this second
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    pub to: Option<f64>,
    /// Samples per second, for a file without a time column
    #[arg(long, value_name = "RATE")]
    pub rate: Option<f64>,
    /// The column of the times, by header text or position, where the file calls it something else
    #[arg(long, value_name = "COLUMN")]
    pub time: Option<String>,
    /// The character between cells, where the file leaves it open: comma, semicolon, tab, pipe or blanks
    #[arg(long, value_name = "WORD")]
    pub separator: Option<SeparatorArg>,
    /// The decimal mark, where the file leaves it open: point or comma
    #[arg(long, value_name = "WORD")]
    pub decimal: Option<DecimalArg>,
    /// Unit of the time column, where the file leaves it open
    #[arg(long, value_name = "UNIT")]
    pub time_unit: Option<TimeUnitArg>,
    /// What the rows are, where the data leave it open
    #[arg(long, value_name = "WORD")]
    pub kind: Option<KindArg>,
}

/// Words of `--separator`.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum SeparatorArg {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// A tab
    Tab,
    /// `|`
    Pipe,
    /// Columns aligned by blanks
    Blanks,
}

/// Words of `--decimal`.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum DecimalArg {
    /// `.`
    Point,
    /// `,`
    Comma,
}

/// Words of `--time-unit`.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum TimeUnitArg {
    /// Seconds
    S,
    /// Milliseconds
    Ms,
    /// Microseconds
    Us,
    /// Nanoseconds
    Ns,
}

/// Words of `--kind`.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum KindArg {
    /// A row per tick
    Sampled,
    /// A row per change
    Events,
}

impl ReadingArgs {
    /// The options as the reader takes them.
    ///
    /// # Errors
    /// A range that is empty, or numbers that are none.
    pub fn options(&self) -> Result<ReadOptions, Failure> {
        let finite = |value: Option<f64>| value.is_none_or(f64::is_finite);
        if !finite(self.from) || !finite(self.to) {
            return Err(Failure(
                "--from and --to take seconds of the capture. Give finite numbers".into(),
            ));
        }
        if let (Some(from), Some(to)) = (self.from, self.to)
            && from >= to
        {
            return Err(Failure(format!(
                "--from {from} is not before --to {to}. Give a range of seconds"
            )));
        }
        if self.rate.is_some_and(|rate| !(rate.is_finite() && rate > 0.0)) {
            return Err(Failure("--rate takes samples per second. Give a number above 0".into()));
        }
        Ok(ReadOptions {
            from: self.from.map(Seconds),
            to: self.to.map(Seconds),
            rate: self.rate,
            time: self.time.clone(),
            separator: self.separator.map(|separator| match separator {
                SeparatorArg::Comma => ',',
                SeparatorArg::Semicolon => ';',
                SeparatorArg::Tab => '\t',
                SeparatorArg::Pipe => '|',
                SeparatorArg::Blanks => ' ',
            }),
            decimal: self.decimal.map(|decimal| match decimal {
                DecimalArg::Point => '.',
                DecimalArg::Comma => ',',
            }),
            time_unit: self.time_unit.map(|unit| match unit {
                TimeUnitArg::S => TimeUnit::Seconds,
                TimeUnitArg::Ms => TimeUnit::Milliseconds,
                TimeUnitArg::Us => TimeUnit::Microseconds,
                TimeUnitArg::Ns => TimeUnit::Nanoseconds,
            }),
            force_kind: self.kind.map(|kind| match kind {
                KindArg::Sampled => CaptureKind::Sampled,
                KindArg::Events => CaptureKind::Events,
            }),
            ..ReadOptions::default()
        })
    }
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
    let options = args.reading.options()?;
    once(args.captures.iter().map(PathBuf::as_path))?;
    let known = args.known.as_deref().map(|path| read_known(path, &engine)).transpose()?;
    let asked = Options { leads: args.reading.leads.clone(), known, ..Options::default() };
    let asked = args.evidence.add_to(asked, &engine)?;
    if args.captures.iter().any(|path| path.is_dir()) {
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
    measure(args, &engine, &options, asked, &paper)
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
    if args.known.is_some() || args.table.is_some() {
        return Err(Failure(
            "--known and --table go with an engine file. Give it with --engine; `camwitness look` begins one".into(),
        ));
    }
    let facts = args.facts.facts()?;
    let paper = Paper::prepare(&args.paper, existing(args.force))?;
    let options = args.reading.options()?;
    let captures = [read_capture(path, &options)?.0];
    let described = undescribed::describe(&captures[0], &args.reading.leads, &facts)?;
    let asked = Options { leads: described.leads, ..Options::default() };
    let asked = args.evidence.without_engine(asked, &described.engine)?;
    let analysis = analyse(&captures, &described.engine, &asked)?;
    paper.write(&analysis, &captures)?;
    let more = undescribed::said(&analysis, &described.guessed, width());
    told(args, &analysis, &more)
}

/// Reads, measures and weighs captures of one engine.
fn measure(
    args: &CheckArgs,
    engine: &Engine,
    options: &ReadOptions,
    asked: Options,
    paper: &Paper,
) -> Result<(String, u8), Failure> {
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
    let analysis = match analysis::check(&captures, engine, &asked)? {
        Checked::Timing(analysis) => analysis,
        Checked::Compression(test) => {
            working.now("drawing".into());
            paper.write_cranking(&test, &captures)?;
            drop(working);
            return cranked(args, &test);
        }
    };
    working.now("drawing".into());
    paper.write(&analysis, &captures)?;
    drop(working);
    told(args, &analysis, "")
}

/// The result where it was asked for, and what is said. `more` comes after the text.
fn told(args: &CheckArgs, analysis: &Analysis, more: &str) -> Result<(String, u8), Failure> {
    let status = status(analysis, args.recorded_only);
    if let Some(path) = &args.json {
        let result = json::write(analysis);
        if path == Path::new("-") {
            return Ok((result, status));
        }
        write_whole(path, result.as_bytes(), args.replacing(Ours::Result))?;
    }
    let text = shown(analysis, args.quiet);
    Ok((if args.quiet { text } else { text + more }, status))
}

/// What is said of captures without a crank. The exit status follows the finding about compression.
fn cranked(args: &CheckArgs, test: &CrankingTest) -> Result<(String, u8), Failure> {
    let found = test.finding.state != CompressionState::Withheld;
    let status = if found { DONE } else { CANNOT_TELL };
    if let Some(path) = &args.json {
        let result = json::write_cranking(test);
        if path == Path::new("-") {
            return Ok((result, status));
        }
        write_whole(path, result.as_bytes(), args.replacing(Ours::Result))?;
    }
    let wide = width();
    let text =
        if args.quiet { cranking::finding_alone(test, wide) } else { cranking::write(test, wide) };
    Ok((text, status))
}

/// Checks one capture as `check` does without any option: what is said, and the exit status.
pub(super) fn demonstrate(capture: &Path, engine: &Path) -> Result<(String, u8), Failure> {
    let engine = Engine::read(engine)?;
    let captures = [read_capture(capture, &ReadOptions::default())?.0];
    let analysis = analyse(&captures, &engine, &Options::default())?;
    Ok((shown(&analysis, false), status(&analysis, false)))
}

fn status(analysis: &Analysis, recorded_only: bool) -> u8 {
    if analysis.verdict.is_decided(recorded_only) { DONE } else { CANNOT_TELL }
}

/// Reads a known-good file and checks that it belongs to the engine.
pub(super) fn read_known(path: &Path, engine: &Engine) -> Result<KnownGood, Failure> {
    let known = KnownGood::read(path)?;
    known.belongs_to(engine, &path.display().to_string())?;
    Ok(known)
}

fn shown(analysis: &Analysis, quiet: bool) -> String {
    if quiet {
        text::finding_alone_to_width(analysis, width())
    } else {
        text::write_to_width(analysis, width())
    }
}
