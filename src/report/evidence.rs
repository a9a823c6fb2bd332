//! What a report carries with it, so that anybody can hold it against its captures again: the
//! engine file, the known-good, what was said beside the captures, and what was found.
//!
//! It stands in the report as JSON. Of files only their names are in it, never a folder.

use std::path::Path;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::job::Job;
use super::json;
use super::words::{VERSION, without_folder};
use crate::analysis::{Analysis, Checked, CrankingTest, Options};
use crate::capture::{Asked, CaptureFacts};
use crate::engine::{Engine, Written, WrittenWheel};
use crate::error::DescriptionError;
use crate::known::KnownGood;
use crate::leads::LeadRequest;
use crate::units::CrankDelta;
use crate::verdict::ControllerReading;

/// Name and version of the format.
pub const FORMAT: &str = "camwitness-evidence/1";

/// What a report carries with it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    format: String,
    /// Version of the program that wrote the report.
    pub version: String,
    engine: TextFile,
    wheels: Vec<TextFile>,
    known_good: Option<String>,
    leads: Vec<LeadText>,
    codes: Vec<String>,
    code_evidence: bool,
    controller: Vec<ControllerText>,
    after_repair: bool,
    /// The captures, in the order in which they were measured.
    pub captures: Vec<CaptureText>,
    /// The result as it is written as JSON.
    pub result: Value,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TextFile {
    file: String,
    text: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LeadText {
    name: String,
    column: String,
    amperes_per_volt: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ControllerText {
    cam: usize,
    phaser: Option<f64>,
    learned: Option<f64>,
}

/// A capture as a report knows it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CaptureText {
    /// File name, no folder.
    pub file: String,
    /// SHA-256 of the file, in hexadecimal; absent where it was not taken down.
    pub sha256: Option<String>,
    /// How it was read.
    pub asked: Asked,
}

/// Why the evidence of a report cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum EvidenceError {
    /// No JSON of this format.
    #[error("what it carries cannot be read: {0}")]
    Unreadable(String),
    /// An engine file or known-good in it does not read.
    #[error("{0}")]
    Description(#[from] DescriptionError),
    /// A wheel file in it cannot be laid out.
    #[error("its engine file cannot be laid out to be read: {0}")]
    Folder(#[from] std::io::Error),
}

impl Evidence {
    /// Of a timing result.
    #[must_use]
    pub fn of(analysis: &Analysis) -> Evidence {
        let result = json::write_for(analysis, &Job::default());
        Evidence::new(&analysis.engine, &analysis.facts, &analysis.asked, &result)
    }

    /// Of captures without a crank.
    #[must_use]
    pub fn of_cranking(test: &CrankingTest) -> Evidence {
        Evidence::new(
            &test.engine,
            &test.facts,
            &test.asked,
            &json::write_cranking(test, &Job::default()),
        )
    }

    fn new(engine: &Engine, facts: &[CaptureFacts], asked: &Options, result: &str) -> Evidence {
        let Written { file, text, wheels } = engine.written.without_folders();
        let wheel = |wheel: WrittenWheel| TextFile { file: wheel.named, text: wheel.text };
        let lead = |lead: &LeadRequest| LeadText {
            name: without_folder(&lead.name).to_owned(),
            column: lead.column.clone(),
            amperes_per_volt: lead.amperes_per_volt,
        };
        let controller = |one: &ControllerReading| ControllerText {
            cam: one.cam,
            phaser: one.phaser.map(|at| at.0),
            learned: one.learned.map(|off| off.0),
        };
        let capture = |facts: &CaptureFacts| CaptureText {
            file: facts.name.clone(),
            sha256: facts.file.as_ref().and_then(|file| file.sha256.clone()),
            asked: facts.file.as_ref().map(|file| file.asked.clone()).unwrap_or_default(),
        };
        Evidence {
            format: FORMAT.into(),
            version: VERSION.into(),
            engine: TextFile { file, text },
            wheels: wheels.into_iter().map(wheel).collect(),
            known_good: asked.known.as_ref().map(KnownGood::text),
            leads: asked.leads.iter().map(lead).collect(),
            codes: asked.codes.clone(),
            code_evidence: !asked.no_code_evidence,
            controller: asked.controller.iter().map(controller).collect(),
            after_repair: asked.after_repair,
            captures: facts.iter().map(capture).collect(),
            // Written by this program a moment ago.
            result: found(serde_json::from_str(result).unwrap_or_default()),
        }
    }

    /// As it stands in a report.
    #[must_use]
    pub fn text(&self) -> String {
        serde_json::to_string(self).unwrap_or_default()
    }

    /// Reads it from a report.
    ///
    /// # Errors
    /// [`EvidenceError::Unreadable`].
    pub fn parse(text: &str) -> Result<Evidence, EvidenceError> {
        let evidence: Evidence = serde_json::from_str(text)
            .map_err(|error| EvidenceError::Unreadable(error.to_string()))?;
        if evidence.format != FORMAT {
            return Err(EvidenceError::Unreadable(format!(
                "it is of the form \"{}\", where this program knows \"{FORMAT}\"",
                crate::error::harmless(&evidence.format, &[])
            )));
        }
        Ok(evidence)
    }

    /// The engine. Its files are laid out in a folder, which is empty.
    ///
    /// # Errors
    /// A description that does not read, or a folder that cannot be written.
    pub fn engine(&self, folder: &Path) -> Result<Engine, EvidenceError> {
        for wheel in &self.wheels {
            std::fs::write(folder.join(base_name(&wheel.file)), &wheel.text)?;
        }
        let file = match base_name(&self.engine.file) {
            "" => "engine.toml",
            name => name,
        };
        Ok(Engine::parse(&self.engine.text, &folder.join(file))?)
    }

    /// What was said beside the captures.
    ///
    /// # Errors
    /// A known-good that does not read.
    pub fn options(&self, engine: &Engine) -> Result<Options, EvidenceError> {
        let known = self.known_good.as_deref();
        let known = known.map(|text| KnownGood::parse(text, "known-good of the report"));
        let lead = |lead: &LeadText| LeadRequest {
            name: lead.name.clone(),
            column: lead.column.clone(),
            amperes_per_volt: lead.amperes_per_volt,
        };
        let controller = self.controller.iter().filter(|one| one.cam < engine.cams.len());
        Ok(Options {
            leads: self.leads.iter().map(lead).collect(),
            codes: self.codes.clone(),
            controller: controller
                .map(|one| ControllerReading {
                    cam: one.cam,
                    phaser: one.phaser.map(CrankDelta),
                    learned: one.learned.map(CrankDelta),
                })
                .collect(),
            after_repair: self.after_repair,
            no_code_evidence: !self.code_evidence,
            known: known.transpose()?,
            ..Options::default()
        })
    }

    /// Where a result differs from the one it carries: the keys, the first few. Empty when both
    /// are alike.
    #[must_use]
    pub fn differences(&self, checked: &Checked) -> Vec<String> {
        let again = json::write_checked(checked, &Job::default());
        let again = found(serde_json::from_str(&again).unwrap_or_default());
        let mut differ = Vec::new();
        compare(&self.result, &again, "", &mut differ);
        differ
    }
}

/// A name without folders, whatever stands in a report.
fn base_name(file: &str) -> &str {
    match file.rsplit(['/', '\\']).next().unwrap_or_default() {
        "." | ".." => "",
        name => name,
    }
}

/// What was found, without what it rests on: that is compared by itself.
fn found(mut result: Value) -> Value {
    if let Value::Object(parts) = &mut result {
        parts.remove("provenance");
    }
    result
}

/// Two numbers of results are alike within the last digit that is written of degrees; on another
/// computer a sum may be rounded to its neighbour.
const ALIKE: f64 = 0.010_001;
/// Most differences that are told.
const MOST_TOLD: usize = 5;

fn compare(one: &Value, other: &Value, at: &str, differ: &mut Vec<String>) {
    if differ.len() >= MOST_TOLD {
        return;
    }
    match (one, other) {
        (Value::Object(first), Value::Object(second)) => {
            let both = first.keys().chain(second.keys().filter(|key| !first.contains_key(*key)));
            for key in both {
                let at = if at.is_empty() { key.clone() } else { format!("{at}.{key}") };
                match (first.get(key), second.get(key)) {
                    (Some(first), Some(second)) => compare(first, second, &at, differ),
                    _ => differ.push(at),
                }
            }
        }
        (Value::Array(first), Value::Array(second)) if first.len() == second.len() => {
            for (index, (first, second)) in first.iter().zip(second).enumerate() {
                compare(first, second, &format!("{at}[{index}]"), differ);
            }
        }
        (Value::Number(first), Value::Number(second)) => {
            let apart = first.as_f64().zip(second.as_f64()).map(|(a, b)| (a - b).abs());
            if apart.is_none_or(|apart| apart > ALIKE) {
                differ.push(at.to_owned());
            }
        }
        (one, other) if one == other => {}
        _ => differ.push(at.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn numbers_are_alike_to_their_last_digit_and_anything_else_exactly() {
        let differ = |one: Value, other: Value| {
            let mut differ = Vec::new();
            compare(&one, &other, "", &mut differ);
            differ
        };
        assert!(
            differ(json!({"a": [1.23, "x", null]}), json!({"a": [1.24, "x", null]})).is_empty()
        );
        assert_eq!(differ(json!({"a": [1.23]}), json!({"a": [1.26]})), ["a[0]"]);
        assert_eq!(differ(json!({"a": {"b": "x"}}), json!({"a": {"b": "y"}})), ["a.b"]);
        assert_eq!(differ(json!({"a": 1, "b": 2}), json!({"a": 1, "c": 2})), ["b", "c"]);
        assert_eq!(differ(json!({"a": [1]}), json!({"a": [1, 2]})), ["a"]);
        assert_eq!(differ(json!({"a": null}), json!({"a": 0})), ["a"]);
    }

    #[test]
    fn a_name_in_a_report_never_leads_out_of_its_folder() {
        for (name, want) in [("../../x.toml", "x.toml"), ("C:\\a\\y.toml", "y.toml"), ("..", "")] {
            assert_eq!(base_name(name), want);
        }
    }
}
