//! A table over a folder of recordings with engine files: what `look` said, what `check` said, what
//! is known from elsewhere.
//!
//! `cargo bench --bench recordings -- FOLDER --write docs/recordings.md`. The list of recordings,
//! with the engine file, leads and reference of each, is `tests/recordings/table.toml`; another is
//! given by `--list`.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use camwitness::analysis::{Options, analyse};
use camwitness::capture::{Capture, ReadOptions, read};
use camwitness::engine::Engine;
use camwitness::look::{Doubt, look};
use camwitness::units::Seconds;
use clap::Parser;
use serde::Deserialize;

#[derive(Debug, Parser)]
struct Args {
    /// Folder of the recordings.
    folder: PathBuf,
    /// List of recordings; engine files lie beside it.
    #[arg(long, default_value = "tests/recordings/table.toml")]
    list: PathBuf,
    /// Write the table here.
    #[arg(long, value_name = "FILE.md")]
    write: Option<PathBuf>,
    /// Given by cargo.
    #[arg(long, hide = true)]
    bench: bool,
}

#[derive(Debug, Deserialize)]
struct List {
    recording: Vec<Recording>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Recording {
    file: String,
    engine: String,
    leads: Vec<String>,
    reference: String,
    from: Option<f64>,
    to: Option<f64>,
    turns: Option<u32>,
}

const PREFACE: &str = "# Recordings\n\nReal recordings through `look`, as they are and with the columns named Channel 0, 1, ..., and through `check` with an engine \
                       file of each. Written by `cargo bench --bench recordings -- FOLDER --write docs/recordings.md`; references are those of the \
                       recordings' own README, computed independently. *Difference*: degrees that `check` has the crank turn between two datum teeth \
                       of the reference, less the whole turns it made.\n\n\
                       | file | look | look, columns unnamed | check | reference | difference |\n| --- | --- | --- | --- | --- | --- |\n";

fn main() {
    let args = Args::parse();
    let text = std::fs::read_to_string(&args.list)
        .unwrap_or_else(|error| panic!("{}: {error}", args.list.display()));
    let list: List =
        toml::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", args.list.display()));
    let beside = args.list.parent().unwrap_or(Path::new("."));
    let mut table = PREFACE.to_owned();
    for recording in &list.recording {
        row(&mut table, &args.folder, beside, recording);
    }
    println!("{table}");
    if let Some(path) = args.write {
        std::fs::write(&path, table).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    }
}

fn row(table: &mut String, folder: &Path, engines: &Path, recording: &Recording) {
    let Recording { file, reference, .. } = recording;
    let capture = match read(&folder.join(file), &ReadOptions::default()) {
        Ok(capture) => capture,
        Err(error) => {
            let _ = writeln!(table, "| {file} | {error} | | | {reference} | |");
            return;
        }
    };
    let said = looked(&capture);
    let mut unnamed = capture.clone();
    for (number, channel) in unnamed.channels.iter_mut().enumerate() {
        channel.name = format!("Channel {number}");
    }
    let unnamed = looked(&unnamed);
    let (checked, difference) = checked(&capture, engines, recording);
    let _ =
        writeln!(table, "| {file} | {said} | {unnamed} | {checked} | {reference} | {difference} |");
}

fn looked(capture: &Capture) -> String {
    let seen = look(capture, &[]);
    let on = seen.crank.map_or("", |index| seen.channels[index].name.as_str());
    match &seen.wheel {
        Ok(guess) => format!("{} on \"{on}\", {:.2} %", guess.name, 100.0 * guess.confidence),
        Err(Doubt::NotSure { best, odds }) => {
            format!("not sure; likeliest {} on \"{on}\", {:.0} %", best.name, 100.0 * odds)
        }
        Err(Doubt::Pair(pair)) => format!(
            "{} teeth of \"{on}\" in each period of \"{}\", {:.2} %; which shaft not sure",
            pair.teeth,
            seen.channels[pair.lead].name,
            100.0 * pair.odds
        ),
        Err(doubt) => format!("not sure: {doubt}"),
    }
}

/// What `check` said, and how far its turns are off the reference's.
fn checked(capture: &Capture, engines: &Path, recording: &Recording) -> (String, String) {
    let engine = match Engine::read(&engines.join(&recording.engine)) {
        Ok(engine) => engine,
        Err(error) => return (format!("no engine file: {error}"), String::new()),
    };
    let leads = recording.leads.iter().map(|lead| lead.parse()).collect();
    let options = match leads {
        Ok(leads) => Options { leads, ..Options::default() },
        Err(error) => return (error, String::new()),
    };
    let analysis = match analyse(std::slice::from_ref(capture), &engine, &options) {
        Ok(analysis) => analysis,
        Err(error) => return (error.to_string(), String::new()),
    };
    let crank = &analysis.crank;
    let (from, to) = crank.angle.turned_span();
    let said = format!(
        "{}, {:.2} turns, {:.1} rpm, {} missed, {} extra",
        engine.crank.wheel.name(),
        to.since(from).0 / 360.0,
        crank.rpm_mean.0,
        crank.missed,
        crank.extra
    );
    let at = |seconds: Option<f64>| crank.angle.angle_at(Seconds(seconds?));
    let off = at(recording.from)
        .zip(at(recording.to))
        .zip(recording.turns)
        .map(|((from, to), turns)| to.since(from).0 - 360.0 * f64::from(turns));
    (said, off.map_or_else(String::new, |off| format!("{off:+.2}°")))
}
