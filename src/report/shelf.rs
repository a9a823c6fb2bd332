//! The jobs of the shelf as a table: on screen, as CSV, as lines of JSON; and the shop's own
//! record.

use std::fmt::Write as _;

use serde::Serialize;

use super::json::plain;
use super::numbers::{counted, odds};
use super::wrap::{Lines, bullet, paragraph};
use crate::shelf::{FindingWas, Job, Jobs, Likely, Packed, Record, STATED_SURE};

/// Name and version of a line of JSON.
pub const FORMAT: &str = "camwitness-job/1";

/// What there is on a shelf, counted.
#[must_use]
pub fn counts(shelf: &Packed) -> String {
    format!(
        "{}, {}, {}",
        counted(shelf.engines.len(), "engine", "engines"),
        counted(shelf.known_goods.len(), "known-good", "known-goods"),
        counted(shelf.jobs.len(), "job", "jobs")
    )
}

/// What the outcome says of the finding, in a narrow column.
fn mark(job: &Job) -> &'static str {
    match (job.finding_was(), job.outcome()) {
        (Some(FindingWas::Right), _) => "right",
        (Some(FindingWas::Wrong), _) => "WRONG",
        (None, Some(_)) => "open",
        (None, None) => "",
    }
}

fn words(finding: &str) -> String {
    match finding {
        "jumped" => "JUMPED".into(),
        other => other.replace('_', " "),
    }
}

/// The table for the screen, wrapped to `width` characters.
#[must_use]
pub fn table_to_width(jobs: &Jobs, record: &Record, width: usize) -> String {
    let mut out = Lines::new(width);
    if jobs.jobs.is_empty() && jobs.broken.is_empty() {
        return "The shelf has no job yet.\n".into();
    }
    let widest = |of: fn(&Job) -> &str, least: usize| {
        jobs.jobs.iter().map(|job| of(job).chars().count()).max().unwrap_or(0).clamp(least, 24)
    };
    let engine = |job: &Job| cut(job.kept.shelf_engine.as_deref().unwrap_or(&job.kept.engine));
    let of_engine = widest(|job| job.kept.shelf_engine.as_deref().unwrap_or(&job.kept.engine), 6);
    let of_vehicle = widest(|job| job.kept.vehicle.as_deref().unwrap_or(""), 7);
    let _ = writeln!(
        out,
        "{:>5}  {:<of_engine$}  {:<of_vehicle$}  {:<15}  {:>8}  {:<5}  outcome",
        "job", "engine", "vehicle", "finding", "odds", "was"
    );
    for job in &jobs.jobs {
        let odds = odds(job.kept.probability);
        let line = format!(
            "{:>5}  {:<of_engine$}  {:<of_vehicle$}  {:<15}  {odds:>8}  {:<5}  {}",
            job.number,
            engine(job),
            cut(job.kept.vehicle.as_deref().unwrap_or("")),
            words(&job.kept.finding),
            mark(job),
            job.outcome().map_or("", |outcome| &outcome.text)
        );
        let _ = writeln!(out, "{}", line.trim_end());
    }
    for job in jobs.jobs.iter().filter(|job| job.finding_was() == Some(FindingWas::Wrong)) {
        let text = format!(
            "Job {}: the finding was \"{}\", and that was not so: {}",
            job.number,
            job.kept.sentence,
            job.outcome().map_or("", |outcome| &outcome.text)
        );
        bullet(&mut out, &text);
    }
    for broken in &jobs.broken {
        bullet(&mut out, &broken.to_string());
    }
    out.push('\n');
    record_lines(&mut out, record);
    out.into_text()
}

/// The first characters of a long name.
fn cut(name: &str) -> String {
    name.chars().take(24).collect()
}

const NO_RECORD: &str =
    "No finding was stated as sure yet, so there is no record of how often one was right.";
const BIAS: &str = "Mind what this counts: engines that are opened are mostly those that were accused, so \"in time\" is rarely looked at, \
     and whoever opens an engine knows what was found.";

fn total_sentence(record: &Record) -> String {
    let total = record.total();
    format!(
        "Findings stated at {:.0} % or more: {}. Looked at: {}, of which {} right and {} wrong.",
        STATED_SURE * 100.0,
        total.stated,
        total.right + total.wrong,
        total.right,
        total.wrong
    )
}

/// The shop's own record in sentences.
#[must_use]
pub fn record_sentences(record: &Record) -> Vec<String> {
    if record.total().stated == 0 {
        return vec![NO_RECORD.into()];
    }
    vec![total_sentence(record), BIAS.into()]
}

fn record_lines(out: &mut Lines, record: &Record) {
    if record.total().stated == 0 {
        paragraph(out, NO_RECORD, "");
        return;
    }
    paragraph(out, &total_sentence(record), "");
    for one in &record.tallies {
        let _ = writeln!(
            out,
            "  {:<15}  {:>5} stated  {:>5} right  {:>5} wrong",
            words(&one.finding),
            one.stated,
            one.right,
            one.wrong
        );
    }
    paragraph(out, BIAS, "");
}

/// Engines a capture may be of, as a paragraph; nothing where none fits.
#[must_use]
pub fn likely_to_width(likely: &[Likely], width: usize) -> String {
    let mut out = Lines::new(width);
    match likely {
        [] => return String::new(),
        [one] => paragraph(
            &mut out,
            &format!(
                "On the shelf \"{0}\" fits: its crank wheel{1}. Name it as the engine to check against it.",
                one.name,
                cams(one)
            ),
            "",
        ),
        several => {
            let names: Vec<String> =
                several.iter().map(|one| format!("\"{}\"", one.name)).collect();
            paragraph(
                &mut out,
                &format!(
                    "On the shelf {} have the same wheels, as far as this capture shows them. Choose by the vehicle.",
                    names.join(" and ")
                ),
                "",
            );
        }
    }
    out.into_text()
}

fn cams(one: &Likely) -> String {
    match one.cams {
        0 => " (no cam was seen that would tell more)".into(),
        count => format!(
            " and {}, to {:.1}° of the cam",
            counted(count, "cam wheel", "cam wheels"),
            one.off_deg
        ),
    }
}

#[derive(Serialize)]
struct Line<'a> {
    format: &'static str,
    job: u32,
    engine: &'a str,
    shelf_engine: Option<&'a str>,
    captures: &'a [String],
    order: Option<&'a str>,
    vehicle: Option<&'a str>,
    date: Option<&'a str>,
    finding: &'a str,
    probability: f64,
    sentence: &'a str,
    cams: Vec<CamPart<'a>>,
    outcome: Option<&'a str>,
    finding_was_right: Option<bool>,
    timing_found_sound: Option<bool>,
}

#[derive(Serialize)]
struct CamPart<'a> {
    cam: &'a str,
    deviation_deg: Option<f64>,
}

fn line(job: &Job) -> Line<'_> {
    let kept = &job.kept;
    let cams = kept.cams.iter();
    Line {
        format: FORMAT,
        job: job.number,
        engine: &kept.engine,
        shelf_engine: kept.shelf_engine.as_deref(),
        captures: &kept.captures,
        order: kept.order.as_deref(),
        vehicle: kept.vehicle.as_deref(),
        date: kept.date.as_deref(),
        finding: &kept.finding,
        probability: kept.probability,
        sentence: &kept.sentence,
        cams: cams.map(|one| CamPart { cam: &one.cam, deviation_deg: one.deviation_deg }).collect(),
        outcome: job.outcome().map(|outcome| outcome.text.as_str()),
        finding_was_right: job.finding_was().map(|was| was == FindingWas::Right),
        timing_found_sound: job.outcome().map(|outcome| outcome.sound),
    }
}

/// A line of JSON for each job.
///
/// # Panics
/// Never: plain text always serializes.
#[must_use]
pub fn json_lines(jobs: &[Job]) -> String {
    jobs.iter()
        .map(|job| {
            plain(serde_json::to_string(&line(job)).expect("plain text always serializes")) + "\n"
        })
        .collect()
}

/// The table as CSV: a row for each cam of each job, and one for a job without a cam.
///
/// # Errors
/// None in practice: it is written to memory.
pub fn csv(jobs: &[Job]) -> Result<Vec<u8>, csv::Error> {
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record([
        "job",
        "engine",
        "shelf_engine",
        "order",
        "vehicle",
        "date",
        "finding",
        "probability",
        "cam",
        "deviation_deg",
        "outcome",
        "finding_was_right",
    ])?;
    for job in jobs {
        let line = line(job);
        let none = [CamPart { cam: "", deviation_deg: None }];
        let cams = if line.cams.is_empty() { &none[..] } else { &line.cams[..] };
        for cam in cams {
            let text = |value: Option<&str>| value.unwrap_or_default().to_owned();
            out.write_record([
                line.job.to_string(),
                line.engine.to_owned(),
                text(line.shelf_engine),
                text(line.order),
                text(line.vehicle),
                text(line.date),
                line.finding.to_owned(),
                format!("{:.6}", line.probability),
                cam.cam.to_owned(),
                cam.deviation_deg.map_or(String::new(), |off| format!("{off:.2}")),
                text(line.outcome),
                line.finding_was_right.map_or(String::new(), |right| right.to_string()),
            ])?;
        }
    }
    out.into_inner().map_err(|error| csv::Error::from(error.into_error()))
}
