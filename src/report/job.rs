//! The job a report belongs to: number, vehicle, mileage, technician, date. All free text of the
//! workshop.

use std::path::Path;

use serde::Deserialize;

use crate::error::DescriptionError;
use crate::input::{Tables, parse, read_description};
use crate::remedy::{Remedy, Setting};

/// Heading of a report. What is absent is left as a line to write on.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Job {
    /// Job number.
    pub number: Option<String>,
    /// Vehicle, as the workshop calls it.
    pub vehicle: Option<String>,
    /// Mileage with its unit.
    pub mileage: Option<String>,
    /// Who measured.
    pub technician: Option<String>,
    /// Date, as written: the program never looks at a clock.
    pub date: Option<String>,
}

/// Longest text of one key, in characters: a line of the report.
const LONGEST: usize = 120;
const TABLES: Tables = &[("", &["number", "vehicle", "mileage", "technician", "date"])];
const ADVICE: &str = "A job file has number, vehicle, mileage, technician and date, all optional.";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct JobFile {
    number: Option<toml::Value>,
    vehicle: Option<toml::Value>,
    mileage: Option<toml::Value>,
    technician: Option<toml::Value>,
    date: Option<toml::Value>,
}

impl Job {
    /// Reads the text of a job file; `file` names it in messages.
    ///
    /// # Errors
    /// Text that is no TOML, an unknown key, a value that is no text, number or date, or one too
    /// long for its line.
    pub fn parse(text: &str, file: &str) -> Result<Job, DescriptionError> {
        let parsed: JobFile = parse(text, file, TABLES, ADVICE)?;
        let line = |key: &str, value: Option<toml::Value>| {
            value.map(|v| written(key, &v, file)).transpose()
        };
        Ok(Job {
            number: line("number", parsed.number)?,
            vehicle: line("vehicle", parsed.vehicle)?,
            mileage: line("mileage", parsed.mileage)?,
            technician: line("technician", parsed.technician)?,
            date: line("date", parsed.date)?,
        })
    }

    /// Reads a job file from disk.
    ///
    /// # Errors
    /// As [`Job::parse`], or that the file cannot be read.
    pub fn read(path: &Path) -> Result<Job, DescriptionError> {
        let text = read_description(path).map_err(|error| DescriptionError {
            file: path.display().to_string(),
            line: None,
            key: String::new(),
            what: format!("cannot read this job file: {error}"),
            advice: Remedy::Check(Setting::JobFile),
        })?;
        Job::parse(&text, &path.display().to_string())
    }
}

/// A value as it is printed.
fn written(key: &str, value: &toml::Value, file: &str) -> Result<String, DescriptionError> {
    let text = match value {
        toml::Value::String(text) => Some(text.trim().to_owned()),
        toml::Value::Integer(number) => Some(number.to_string()),
        toml::Value::Float(number) => Some(number.to_string()),
        toml::Value::Datetime(date) => Some(date.to_string()),
        _ => None,
    };
    let refuse = |what: String| DescriptionError {
        file: file.to_owned(),
        line: None,
        key: key.to_owned(),
        what,
        advice: ADVICE.into(),
    };
    match text {
        None => Err(refuse("this is no text, number or date".into())),
        Some(text) if text.chars().count() > LONGEST => {
            Err(refuse(format!("longer than {LONGEST} characters")))
        }
        Some(text) => Ok(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_printed_as_written_and_anything_else_is_refused() {
        let job =
            Job::parse("number = 4711\nvehicle = \"van <1>\"\ndate = 2026-03-04\n", "job.toml");
        let job = job.expect("a sound file");
        assert_eq!(job.number.as_deref(), Some("4711"));
        assert_eq!(job.vehicle.as_deref(), Some("van <1>"));
        assert_eq!(job.date.as_deref(), Some("2026-03-04"));
        assert_eq!(job.technician, None);
        // (text, part of the message)
        let rows = [
            ("numbr = 1", "numbr"),
            ("number = [1]", "`number`: this is no text"),
            ("a", "job.toml, line 1"),
        ];
        for (text, part) in rows {
            let message = Job::parse(text, "job.toml").expect_err(text).to_string();
            assert!(message.contains(part), "{text}: {message}");
        }
        let long = format!("vehicle = \"{}\"", "x".repeat(LONGEST + 1));
        assert!(Job::parse(&long, "job.toml").is_err());
    }
}
