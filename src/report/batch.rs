//! Many captures as a table: on screen, as CSV, as lines of JSON.

use std::fmt::Write as _;

use serde::Serialize;

use super::json::{FORMAT, plain, write_checked_line};
use super::numbers::{counted, odds};
use super::wrap::{Lines, WIDTH, paragraph};
use crate::analysis::{Analysis, Checked, CrankingTest};
use crate::batch;
use crate::engine::Engine;
use crate::report::words;
use crate::units::CrankDelta;
use crate::verdict::{Caution, CompressionState, State};

/// What the tables say of one capture of a folder.
pub type Row = batch::Row<Found>;

/// What a capture is about, and what is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// The timing.
    Timing(State),
    /// Compression alone: the crank was not recorded.
    Compression(CompressionState),
}

impl What {
    /// Every finding there is, in the order in which they are counted.
    fn all() -> impl Iterator<Item = What> {
        let timing = State::ALL.into_iter().map(What::Timing);
        timing.chain(CompressionState::ALL.into_iter().map(What::Compression))
    }
}

/// The finding of one capture, without the measurements' bulk.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// What is found.
    pub state: What,
    /// Its probability.
    pub probability: f64,
    /// Whether it covers every cam of the engine.
    pub covers_every_cam: bool,
    /// Teeth skipped, positive late.
    pub teeth: Option<i32>,
    /// Shaft or cam concerned.
    pub on: Option<String>,
    /// Chain concerned.
    pub chain: Option<String>,
    /// Cylinders that are low, or the bank; empty where none is named.
    pub low: String,
    /// Deviation of each cam of the engine; absent where not measured or nothing says where it
    /// should be.
    pub deviations: Vec<Option<CrankDelta>>,
    /// The whole result on one line of JSON.
    pub json: String,
}

impl Found {
    /// What is kept of a result.
    #[must_use]
    pub fn of(checked: &Checked) -> Found {
        let json = write_checked_line(checked);
        match checked {
            Checked::Timing(analysis) => Found::of_timing(analysis, json),
            Checked::Compression(test) => Found::of_compression(test, json),
        }
    }

    fn of_compression(test: &CrankingTest, json: String) -> Found {
        let finding = &test.finding;
        let cylinders: Vec<String> = finding.cylinders.iter().map(u32::to_string).collect();
        Found {
            state: What::Compression(finding.state),
            probability: finding.probability,
            covers_every_cam: false,
            teeth: None,
            on: None,
            chain: None,
            low: match finding.bank {
                Some(bank) => format!("bank {bank}"),
                None if cylinders.is_empty() => String::new(),
                None => format!("cylinder {}", cylinders.join(" and ")),
            },
            deviations: vec![None; test.engine.cams.len()],
            json,
        }
    }

    fn of_timing(analysis: &Analysis, json: String) -> Found {
        let verdict = &analysis.verdict;
        let deviation = |cam: usize| {
            analysis.cams.iter().find(|result| result.measured.cam == cam)?.deviation()
        };
        Found {
            state: What::Timing(verdict.state),
            probability: verdict.probability,
            covers_every_cam: verdict.covers_every_cam,
            teeth: verdict.teeth,
            on: verdict.on.clone(),
            chain: verdict.chain.clone(),
            deviations: (0..analysis.engine.cams.len()).map(deviation).collect(),
            low: String::new(),
            json,
        }
    }
}

impl Found {
    /// Whether a finding was reached, as [`Verdict::is_decided`] has it, or one about compression.
    ///
    /// [`Verdict::is_decided`]: crate::verdict::Verdict::is_decided
    #[must_use]
    pub fn is_decided(&self, recorded_only: bool) -> bool {
        match self.state {
            What::Timing(state) => state.is_decided(self.covers_every_cam, recorded_only),
            What::Compression(state) => state != CompressionState::Withheld,
        }
    }
}

/// Words for a finding in a narrow column.
fn word(state: What) -> &'static str {
    match state {
        What::Timing(State::InTime) => "in time",
        What::Timing(State::Jumped) => "JUMPED",
        What::Timing(State::DriveDue) => "drive due",
        What::Timing(State::OffNotJumped) => "off, not jumped",
        What::Timing(State::DoesNotFit) => "does not fit",
        What::Timing(State::CannotTell) => "cannot tell",
        What::Compression(CompressionState::Even) => "cylinders even",
        What::Compression(CompressionState::CylinderLow) => "CYLINDER LOW",
        What::Compression(CompressionState::NeighboursLow) => "NEIGHBOURS LOW",
        What::Compression(CompressionState::BankLow) => "BANK LOW",
        What::Compression(CompressionState::Uneven) => "cylinders differ",
        What::Compression(CompressionState::Withheld) => "not judged",
    }
}

/// The word in results.
fn result_word(state: What) -> &'static str {
    match state {
        What::Timing(state) => state.word(),
        What::Compression(state) => state.word(),
    }
}

/// The table for the screen.
#[must_use]
pub fn table(engine: &Engine, rows: &[Row]) -> String {
    table_to_width(engine, rows, WIDTH)
}

/// [`table`] wrapped to `width` characters.
#[must_use]
pub fn table_to_width(engine: &Engine, rows: &[Row], width: usize) -> String {
    let mut out = Lines::new(width);
    let widest = rows.iter().map(|row| row.capture.chars().count()).max().unwrap_or(0).clamp(7, 40);
    let _ = writeln!(out, "Engine   {}\n", engine.name);
    let cams: Vec<String> = engine.cams.iter().map(|cam| format!("{:<13}", cam.name)).collect();
    let _ = writeln!(
        out,
        "{:<widest$}  {:<15}  {:>8}  {}",
        "capture",
        "finding",
        "odds",
        cams.join(" ")
    );
    for row in rows {
        match &row.outcome {
            Ok(found) => {
                let _ = writeln!(out, "{:<widest$}  {}", row.capture, line(found).trim_end());
            }
            Err(_) => {
                let _ = writeln!(out, "{:<widest$}  NOT USED", row.capture);
            }
        }
    }
    out.push('\n');
    out.push_str(&summary(rows));
    for row in rows {
        if let Err(why) = &row.outcome {
            paragraph(&mut out, why, "  ");
        }
    }
    let _ = writeln!(
        out,
        "\nDegrees are crank degrees; late means retarded, early advanced. For the whole result of a capture, check it alone."
    );
    paragraph(&mut out, words::caution(Caution::NoMoreCranking), "");
    paragraph(&mut out, words::caution(Caution::MakerFirst), "");
    out.into_text()
}

fn line(found: &Found) -> String {
    let odds = odds(found.probability);
    let cams: Vec<String> = found
        .deviations
        .iter()
        .map(|off| format!("{:<13}", off.map_or("not known".to_owned(), |off| off.to_string())))
        .collect();
    let place = match (found.teeth, &found.on) {
        (Some(teeth), Some(on)) => {
            let noun = if teeth.abs() == 1 { "tooth" } else { "teeth" };
            let side = if teeth < 0 { "early" } else { "late" };
            format!(" {} {noun} {side} at {on}", teeth.abs())
        }
        (None, Some(on)) => format!(" {on}"),
        _ if !found.low.is_empty() => format!(" {}", found.low),
        _ => String::new(),
    };
    let word = match found.state {
        What::Timing(State::InTime) if !found.covers_every_cam => "in time, partly",
        state => word(state),
    };
    format!("{word:<15}  {odds:>8}  {}{place}", cams.join(" "))
}

/// How many captures came out which way, on one line each.
#[must_use]
pub fn summary(rows: &[Row]) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", counted(rows.len(), "capture", "captures"));
    for state in What::all() {
        let count = rows
            .iter()
            .filter(|row| row.outcome.as_ref().is_ok_and(|found| found.state == state))
            .count();
        if count > 0 {
            let _ = writeln!(out, "  {count:>4}  {}", word(state));
        }
    }
    let unused = rows.iter().filter(|row| row.outcome.is_err()).count();
    if unused > 0 {
        let _ = writeln!(out, "  {unused:>4}  could not be used");
    }
    out
}

#[derive(Serialize)]
struct FailedLine<'a> {
    format: &'static str,
    capture: [&'a str; 1],
    error: &'a str,
}

/// One line of JSON per capture: the result, or `error` for one that could not be used.
///
/// # Panics
/// Never: plain text always serializes.
#[must_use]
pub fn json_lines(rows: &[Row]) -> String {
    rows.iter()
        .map(|row| match &row.outcome {
            Ok(found) => found.json.clone(),
            Err(error) => {
                let line = FailedLine { format: FORMAT, capture: [&row.capture], error };
                plain(serde_json::to_string(&line).expect("plain text always serializes")) + "\n"
            }
        })
        .collect()
}

/// The table as CSV, one row per capture.
///
/// # Errors
/// None in practice: it is written to memory.
pub fn csv(engine: &Engine, rows: &[Row]) -> Result<Vec<u8>, csv::Error> {
    let mut out = csv::Writer::from_writer(Vec::new());
    let mut header: Vec<String> =
        ["capture", "finding", "probability", "teeth", "on", "chain", "low"]
            .map(str::to_owned)
            .to_vec();
    header.extend(engine.cams.iter().map(|cam| format!("{} deviation_deg", cam.name)));
    header.push("error".into());
    out.write_record(&header)?;
    for row in rows {
        let mut cells = vec![row.capture.clone()];
        match &row.outcome {
            Ok(found) => {
                cells.push(result_word(found.state).to_owned());
                cells.push(format!("{:.6}", found.probability));
                cells.push(found.teeth.map_or(String::new(), |teeth| teeth.to_string()));
                cells.push(found.on.clone().unwrap_or_default());
                cells.push(found.chain.clone().unwrap_or_default());
                cells.push(found.low.clone());
                cells.extend(
                    found
                        .deviations
                        .iter()
                        .map(|off| off.map_or(String::new(), |off| format!("{:.2}", off.0))),
                );
                cells.push(String::new());
            }
            Err(error) => {
                cells.resize(header.len() - 1, String::new());
                cells.push(error.clone());
            }
        }
        out.write_record(&cells)?;
    }
    out.into_inner().map_err(|error| csv::Error::from(error.into_error()))
}
