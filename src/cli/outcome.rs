//! `camwitness outcome`: what was found when the engine of a job was opened.

use clap::{Args, Parser};

use super::check::read_known;
use super::door::read_capture;
use super::reading::ReadingArgs;
use super::shelf::ShelfArgs;
use super::{DONE, Failure, Job};
use crate::capture::Capture;
use crate::engine::Engine;
use crate::learn::{LearnOptions, learn};
use crate::output::{Files, OwnFile};
use crate::shelf::{FindingWas, Job as KeptJob, Outcome, Shelf, job_number};

/// Options of `outcome`.
#[derive(Debug, Args)]
pub struct OutcomeArgs {
    /// The job's number on the shelf
    #[arg(value_name = "JOB", value_parser = number)]
    job: u32,
    /// What was found, in your words: "B2 intake one tooth late, confirmed"
    #[arg(value_name = "WHAT WAS FOUND")]
    text: String,
    /// The finding was right. The word "confirmed" says the same
    #[arg(long, conflicts_with = "wrong")]
    right: bool,
    /// The finding was not so
    #[arg(long)]
    wrong: bool,
    /// The timing was found sound: the capture is added to the engine's known-good
    #[arg(long)]
    sound: bool,
    #[command(flatten)]
    place: ShelfArgs,
}

fn number(text: &str) -> Result<u32, String> {
    job_number(text)
        .ok_or_else(|| "a job is named by its number, such as 12; see `shelf table`".into())
}

impl Job for OutcomeArgs {
    fn files(&self) -> Files {
        Files::default()
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        run(self)
    }
}

fn run(args: &OutcomeArgs) -> Result<(String, u8), Failure> {
    let shelf = Shelf::open(&args.place.root()?)?;
    let was = match (args.right, args.wrong) {
        (true, _) => Some(FindingWas::Right),
        (_, true) => Some(FindingWas::Wrong),
        _ => None,
    };
    shelf.add_outcome(args.job, Outcome::new(&args.text, was, args.sound))?;
    let job = shelf.job(args.job)?;
    let said = match job.finding_was() {
        Some(FindingWas::Right) => "the finding was right",
        Some(FindingWas::Wrong) => "the finding was WRONG",
        None => "whether the finding was right is open; say it with --right or --wrong",
    };
    let mut text = format!("Job {}, {}: {said}.\n", job.number, job.kept.engine);
    if args.sound {
        text += &grown(&shelf, &job);
    }
    Ok((text, DONE))
}

/// Adds a job that was found sound to the known-good of its engine; gives what is said of it.
pub(super) fn grown(shelf: &Shelf, job: &KeptJob) -> String {
    match grow(shelf, job) {
        Ok(engines) => format!(
            "Added to the engine's known-good, which now rests on {}.\n",
            crate::report::counted(engines, "engine", "engines")
        ),
        Err(why) => format!(
            "Not added to the engine's known-good: {}.\n",
            why.to_string().trim_end_matches('.')
        ),
    }
}

/// How the captures of a job were read.
#[derive(Parser)]
#[command(no_binary_name = true)]
struct AsRead {
    #[command(flatten)]
    reading: ReadingArgs,
}

/// Adds the captures of a job to the known-good of its engine; gives how many engines it rests on
/// now.
fn grow(shelf: &Shelf, job: &KeptJob) -> Result<usize, Failure> {
    let Some(name) = &job.kept.shelf_engine else {
        return Err(Failure("the job's engine file is not on the shelf".into()));
    };
    let engine = Engine::read(&shelf.engine_file(name)?)?;
    let reading = AsRead::try_parse_from(&job.kept.reading)
        .map_err(|error| Failure(format!("how the job was read is not understood: {error}")))?
        .reading;
    let options = reading.options()?;
    let path = shelf.known_good(name);
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)
            .map_err(|error| Failure(format!("{}: cannot be made: {error}", folder.display())))?;
    }
    let own = OwnFile::take(&path, super::learn::PATIENCE, || {})?;
    let known = path.is_file().then(|| read_known(&path, &engine)).transpose()?;
    let captures = shelf
        .captures(job)
        .iter()
        .map(|path| Ok(read_capture(path, &options)?.0))
        .collect::<Result<Vec<Capture>, Failure>>()?;
    let asked = LearnOptions { leads: reading.leads, ..LearnOptions::default() };
    let known = learn(&captures, &engine, known, &asked)?;
    own.write(known.text().as_bytes())?;
    Ok(known.engines())
}
