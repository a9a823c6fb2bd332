//! `camwitness shelf`: the shop's engine files, known-goods and jobs; and how other commands find
//! an engine there.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use etcetera::BaseStrategy;

use super::door::read_capture;
use super::reading::ReadingArgs;
use super::undescribed::FactArgs;
use super::{CANNOT_TELL, DONE, Failure, Job, existing, undescribed, width};
use crate::look::Look;
use crate::output::{Files, ReadAs, WrittenAs, write_whole};
use crate::report::shelf as words;
use crate::shelf::{Shelf, ShelfError, likely, record};

/// Names the shelf where no option does.
const VARIABLE: &str = "CAMWITNESS_SHELF";

/// Where the shelf is.
#[derive(Debug, Clone, Default, Args)]
pub struct ShelfArgs {
    /// The shop's shelf; else the folder CAMWITNESS_SHELF names, else one among this computer's
    /// program data
    #[arg(long = "shelf", value_name = "DIR", value_parser = place)]
    shelf: Option<Place>,
}

/// A folder that the program writes into by rules of its own.
#[derive(Debug, Clone)]
struct Place(PathBuf);

fn place(text: &str) -> Result<Place, String> {
    if text.trim().is_empty() { Err("name a folder".into()) } else { Ok(Place(text.into())) }
}

impl ShelfArgs {
    /// Its folder, whether it is there or not.
    pub(super) fn root(&self) -> Result<PathBuf, Failure> {
        if let Some(Place(path)) = &self.shelf {
            return Ok(path.clone());
        }
        if let Some(path) = std::env::var_os(VARIABLE).filter(|path| !path.is_empty()) {
            return Ok(path.into());
        }
        let base = etcetera::choose_base_strategy().map_err(|_| {
            Failure("where this computer keeps program data is not known. Name the shelf with --shelf DIR".into())
        })?;
        Ok(base.data_dir().join("camwitness").join("shelf"))
    }

    /// The shelf, if there is one where nobody asked for one.
    fn if_there(&self) -> Result<Option<Shelf>, Failure> {
        match Shelf::open(&self.root()?) {
            Ok(shelf) => Ok(Some(shelf)),
            Err(ShelfError::NotThere(_)) if self.shelf.is_none() => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// Puts the file of the shelf in place of an engine that is named and is no file, and its
    /// known-good where none is given.
    pub(super) fn resolve(
        &self,
        engine: &mut PathBuf,
        known: Option<&mut Option<PathBuf>>,
    ) -> Result<(), Failure> {
        let Some(name) = name_of(engine) else { return Ok(()) };
        let Some(shelf) = self.if_there()? else { return Ok(()) };
        *engine = shelf.engine_file(&name)?;
        let stem = engine.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let ours = shelf.known_good(&stem);
        if let Some(known) = known.filter(|known| known.is_none())
            && ours.is_file()
        {
            *known = Some(ours);
        }
        Ok(())
    }
}

/// The name an engine is asked for by, where what is given is not plainly a file.
fn name_of(engine: &Path) -> Option<String> {
    let bare = engine.components().count() == 1 && engine.extension().is_none_or(|it| it != "toml");
    (bare && !engine.exists()).then(|| engine.to_string_lossy().into_owned())
}

/// The name on a shelf of an engine file, where it stands on it.
pub(super) fn shelf_name(shelf: &Shelf, engine: &Path) -> Option<String> {
    let stem = engine.file_stem()?.to_string_lossy().into_owned();
    let ours = shelf.engine_file(&stem).ok()?;
    (ours.canonicalize().ok()? == engine.canonicalize().ok()?).then_some(stem)
}

/// Engines of the shelf that a capture may be of, in words; nothing without a shelf or where none
/// fits.
pub(super) fn proposal(place: &ShelfArgs, seen: &Look) -> String {
    let engines = place.if_there().ok().flatten().and_then(|shelf| shelf.engines().ok());
    engines
        .map_or(String::new(), |engines| words::likely_to_width(&likely(seen, &engines), width()))
}

/// Options of `shelf`.
#[derive(Debug, Args)]
pub struct ShelfCommand {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Put an engine file on the shelf; one that is not there yet is begun
    Keep(KeepArgs),
    /// List the engines
    Engines(ShelfArgs),
    /// List the jobs with their outcomes, and how often a finding was right
    Table(TableArgs),
    /// Say which engine of the shelf a capture is likely of
    Likely(LikelyArgs),
}

/// Options of `shelf keep`.
#[derive(Debug, Args)]
struct KeepArgs {
    /// The engine file
    engine: PathBuf,
    /// Its name on the shelf; that of the file where none is given
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
    /// Replace another engine of that name
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    place: ShelfArgs,
}

/// Options of `shelf table`.
#[derive(Debug, Args)]
struct TableArgs {
    /// Only jobs of this engine
    #[arg(long, value_name = "NAME")]
    of: Option<String>,
    /// Write the table as CSV, a row for each cam
    #[arg(long, value_name = "FILE.csv")]
    csv: Option<PathBuf>,
    /// Write the table as lines of JSON (- for standard output, instead of the text)
    #[arg(long, value_name = "FILE.jsonl")]
    json: Option<PathBuf>,
    /// Replace files that are there
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    place: ShelfArgs,
}

/// Options of `shelf likely`.
#[derive(Debug, Args)]
struct LikelyArgs {
    /// The capture
    capture: PathBuf,
    #[command(flatten)]
    facts: FactArgs,
    #[command(flatten)]
    reading: ReadingArgs,
    #[command(flatten)]
    place: ShelfArgs,
}

impl Job for ShelfCommand {
    fn files(&self) -> Files {
        let files = Files::default();
        match &self.what {
            What::Keep(args) => files.reads(ReadAs::Engine, &args.engine),
            What::Engines(_) => files,
            What::Table(args) => {
                let shelf = args.place.root().ok().and_then(|root| Shelf::open(&root).ok());
                let json = super::check::file(args.json.as_deref());
                files
                    .reads_all(ReadAs::Shelf, shelf.map(|shelf| shelf.files()).unwrap_or_default())
                    .writes(WrittenAs::Table, args.csv.as_deref(), existing(args.force))
                    .writes(WrittenAs::Result, json, existing(args.force))
            }
            What::Likely(args) => {
                files.reads_all(ReadAs::Capture, super::check::files_of([&args.capture]))
            }
        }
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        match &self.what {
            What::Keep(args) => keep(args),
            What::Engines(place) => engines(place),
            What::Table(args) => table(args),
            What::Likely(args) => likely_engine(args),
        }
    }
}

fn keep(args: &KeepArgs) -> Result<(String, u8), Failure> {
    let shelf = Shelf::open_or_begin(&args.place.root()?)?;
    let kept = shelf.keep_engine(&args.engine, args.name.as_deref(), args.force)?;
    let there = if kept.same { " already" } else { "" };
    let text = format!(
        "\"{0}\" is{there} on the shelf {1}.\nCheck a capture of it with\n  camwitness check CAPTURE --engine \"{0}\" --keep\n",
        kept.name,
        shelf.root().display()
    );
    Ok((text, DONE))
}

fn engines(place: &ShelfArgs) -> Result<(String, u8), Failure> {
    let shelf = Shelf::open(&place.root()?)?;
    let mut text = format!("Shelf {}\n", shelf.root().display());
    let engines = shelf.engines()?;
    for entry in &engines {
        let what = match &entry.engine {
            Ok(engine) => engine.name.clone(),
            Err(why) => format!("cannot be used: {why}"),
        };
        let known = shelf.known_good(&entry.name);
        let known = match crate::known::KnownGood::read(&known) {
            Ok(known) => {
                format!(
                    "; known-good from {}",
                    crate::report::counted(known.engines(), "engine", "engines")
                )
            }
            Err(error) if known.exists() => format!("; its known-good cannot be used: {error}"),
            Err(_) => String::new(),
        };
        text += &format!("  {}: {what}{known}\n", entry.name);
    }
    if engines.is_empty() {
        text += "  no engine yet. `camwitness shelf keep ENGINE.toml` puts one there\n";
    }
    Ok((text, DONE))
}

fn table(args: &TableArgs) -> Result<(String, u8), Failure> {
    let shelf = Shelf::open(&args.place.root()?)?;
    let mut jobs = shelf.jobs()?;
    if let Some(name) = &args.of {
        let same = |other: &str| other.to_lowercase() == name.trim().to_lowercase();
        jobs.jobs.retain(|job| {
            same(&job.kept.engine) || job.kept.shelf_engine.as_deref().is_some_and(same)
        });
    }
    let existing = existing(args.force);
    if let Some(path) = &args.csv {
        let bytes = words::csv(&jobs.jobs).map_err(|error| Failure(error.to_string()))?;
        write_whole(path, &bytes, existing)?;
    }
    if let Some(path) = &args.json {
        let lines = words::json_lines(&jobs.jobs);
        if path == Path::new("-") {
            return Ok((lines, DONE));
        }
        write_whole(path, lines.as_bytes(), existing)?;
    }
    let mut text = words::table_to_width(&jobs, &record(&jobs.jobs), width());
    if jobs.jobs.is_empty() && jobs.broken.is_empty() {
        text += "`camwitness check CAPTURE --engine NAME --keep` adds one.\n";
    }
    Ok((text, DONE))
}

fn likely_engine(args: &LikelyArgs) -> Result<(String, u8), Failure> {
    let shelf = Shelf::open(&args.place.root()?)?;
    let (capture, _) = read_capture(&args.capture, &args.reading.options()?)?;
    let seen = undescribed::look_with(&capture, &args.reading.leads, &args.facts.facts()?)?;
    let found = likely(&seen, &shelf.engines()?);
    if found.is_empty() {
        let why = match &seen.wheel {
            Ok(wheel) => format!(
                "Its crank wheel is {}, and no engine of the shelf has it with these cam wheels",
                wheel.name
            ),
            Err(doubt) => format!("Its crank wheel is not sure: {doubt}"),
        };
        return Ok((
            format!("{}: no engine of the shelf is likely. {why}.\n", seen.source),
            CANNOT_TELL,
        ));
    }
    let status = if found.len() == 1 { DONE } else { CANNOT_TELL };
    Ok((words::likely_to_width(&found, width()), status))
}
