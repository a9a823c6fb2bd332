//! A job of the shelf: what was measured and found, and what was found when the engine was opened.

use serde::{Deserialize, Serialize};

use super::ShelfError;
use super::outcome::{FindingWas, Outcome};
use crate::verdict::State;

/// The file that says what was found.
pub(crate) const FILE: &str = "job.toml";
/// The whole result.
pub(crate) const RESULT: &str = "result.json";
/// The report.
pub(crate) const REPORT: &str = "report.html";

/// What is kept of a job, beside its result and report.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NewJob {
    /// The engine, as the engine file calls it.
    pub engine: String,
    /// Its name on the shelf, where its file is from there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shelf_engine: Option<String>,
    /// File names of the captures.
    pub captures: Vec<String>,
    /// The workshop's own number, vehicle and date, where a job file said them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub order: Option<String>,
    /// Vehicle, as the workshop calls it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub vehicle: Option<String>,
    /// Date, as written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// Word of the finding, as in the result: "jumped". That of the compression where no cam was
    /// recorded.
    pub finding: String,
    /// Its probability.
    pub probability: f64,
    /// The finding in a sentence.
    pub sentence: String,
    /// How the captures were read: the options of the command line, so that they can be read again.
    #[serde(default)]
    pub reading: Vec<String>,
    /// The cams that were measured.
    #[serde(default, rename = "cam")]
    pub cams: Vec<CamRecord>,
}

/// A cam of a job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CamRecord {
    /// Its name.
    pub cam: String,
    /// Crank degrees from its place, positive late; absent where nothing says where it should be.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub deviation_deg: Option<f64>,
}

/// A job of the shelf.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Its number.
    pub number: u32,
    /// What was kept.
    pub kept: NewJob,
    /// What was found when the engine was opened, in the order it was said.
    pub outcomes: Vec<Outcome>,
}

impl Job {
    /// The outcome that counts: the last.
    #[must_use]
    pub fn outcome(&self) -> Option<&Outcome> {
        self.outcomes.last()
    }

    /// What is said after an outcome was written down.
    #[must_use]
    pub fn outcome_said(&self) -> String {
        let was = match self.finding_was() {
            Some(FindingWas::Right) => "the finding was right.",
            Some(FindingWas::Wrong) => "the finding was not so.",
            None => "written down. Whether the finding was right is open.",
        };
        format!("Job {}: {was}", self.number)
    }

    /// Whether the finding was right, by the outcome: as it was said, else by a timing that was
    /// found sound.
    #[must_use]
    pub fn finding_was(&self) -> Option<FindingWas> {
        let outcome = self.outcome()?;
        let by_sound = || {
            let decided = [State::InTime, State::Jumped, State::DriveDue];
            let found = decided.into_iter().find(|state| state.word() == self.kept.finding)?;
            let right = found == State::InTime;
            outcome.sound.then_some(if right { FindingWas::Right } else { FindingWas::Wrong })
        };
        outcome.finding_was.or_else(by_sound)
    }
}

/// All jobs, and those that do not read.
#[derive(Debug, Default)]
pub struct Jobs {
    /// By number.
    pub jobs: Vec<Job>,
    /// One plain message for each that does not read.
    pub broken: Vec<ShelfError>,
}

/// The number of a job as it is written: "12", "0012" or "job 12".
#[must_use]
pub fn job_number(text: &str) -> Option<u32> {
    let text = text.trim();
    let digits = text.strip_prefix("job").map_or(text, str::trim_start);
    digits.parse().ok().filter(|&number| number > 0)
}
