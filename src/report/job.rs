//! The job a report belongs to: its heading, how it was measured, hours and parts. All free text of
//! the workshop.

use std::path::Path;

use serde::Deserialize;

use crate::error::DescriptionError;
use crate::input::{Tables, parse, read_description};
use crate::remedy::{Remedy, Setting};

/// What the workshop says of the job. What is absent of the heading is left as a line to write on;
/// what is absent of the rest is not printed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Job {
    /// Job number.
    pub number: Option<String>,
    /// Vehicle, as the workshop calls it.
    pub vehicle: Option<String>,
    /// Mileage with its unit.
    pub mileage: Option<String>,
    /// Who measured.
    pub technician: Option<String>,
    /// Work done, for the sheet after a repair.
    pub work: Option<String>,
    /// Date, as written: the program never looks at a clock.
    pub date: Option<String>,
    /// What tells this vehicle from any other: its identification number, its registration.
    pub identification: Option<String>,
    /// The oscilloscope.
    pub scope: Option<String>,
    /// The current clamp and its scale.
    pub clamp: Option<String>,
    /// Test leads and where they were connected.
    pub leads: Option<String>,
    /// Battery voltage while cranking.
    pub battery_cranking: Option<String>,
    /// Coolant, its temperature for one.
    pub coolant: Option<String>,
    /// Oil: grade, level, temperature.
    pub oil: Option<String>,
    /// What the phasers were commanded to.
    pub phaser_command: Option<String>,
    /// The freeze frame stored with the codes, as the scan tool shows it; may have several lines.
    pub freeze_frame: Option<String>,
    /// Labour hours, as the workshop reckons them.
    pub hours: Hours,
    /// Parts that a repair would take.
    pub parts: Vec<String>,
    /// How the capture before a repair was made.
    pub before: Conditions,
    /// How the capture after it was made.
    pub after: Conditions,
}

/// Labour hours.
#[derive(Debug, Clone, Copy, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hours {
    /// To take the covers off, bring the engine to its marks and photograph them.
    pub covers: Option<f64>,
    /// To repair it from there.
    pub repair: Option<f64>,
}

/// How a capture was made, where the capture does not show it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Conditions {
    /// How warm the engine was.
    pub temperature: Option<String>,
    /// How it was turned and recorded.
    pub method: Option<String>,
}

/// Longest text of one key, in characters: a line of the report.
const LONGEST: usize = 120;
/// Longest freeze frame, in characters: half a page.
const LONGEST_FRAME: usize = 2000;
/// Most parts: what half a page holds.
const MOST_PARTS: usize = 40;
/// Most hours of one job: a working month.
const MOST_HOURS: f64 = 200.0;
const TABLES: Tables = &[
    (
        "",
        &[
            "number",
            "vehicle",
            "mileage",
            "work",
            "technician",
            "date",
            "identification",
            "scope",
            "clamp",
            "leads",
            "battery_cranking",
            "coolant",
            "oil",
            "phaser_command",
            "freeze_frame",
            "parts",
        ],
    ),
    ("[hours]", &["covers", "repair"]),
    ("[before]", &["temperature", "method"]),
    ("[after]", &["temperature", "method"]),
];
const ADVICE: &str = "A job file has number, vehicle, mileage, work, technician, date, identification, scope, clamp, leads, \
                      battery_cranking, coolant, oil, phaser_command, freeze_frame, parts, and the tables [hours], [before] \
                      and [after], all optional.";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct JobFile {
    number: Option<toml::Value>,
    vehicle: Option<toml::Value>,
    mileage: Option<toml::Value>,
    work: Option<toml::Value>,
    technician: Option<toml::Value>,
    date: Option<toml::Value>,
    identification: Option<toml::Value>,
    scope: Option<toml::Value>,
    clamp: Option<toml::Value>,
    leads: Option<toml::Value>,
    battery_cranking: Option<toml::Value>,
    coolant: Option<toml::Value>,
    oil: Option<toml::Value>,
    phaser_command: Option<toml::Value>,
    freeze_frame: Option<toml::Value>,
    parts: Option<Vec<toml::Value>>,
    #[serde(default)]
    hours: Hours,
    #[serde(default)]
    before: ConditionsFile,
    #[serde(default)]
    after: ConditionsFile,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct ConditionsFile {
    temperature: Option<toml::Value>,
    method: Option<toml::Value>,
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
            value.map(|v| written(key, &v, LONGEST, file)).transpose()
        };
        let conditions = |table: &str, given: ConditionsFile| {
            Ok(Conditions {
                temperature: line(&format!("{table}.temperature"), given.temperature)?,
                method: line(&format!("{table}.method"), given.method)?,
            })
        };
        let parts = parsed.parts.unwrap_or_default();
        if parts.len() > MOST_PARTS {
            let what = format!("{} parts are more than {MOST_PARTS}", parts.len());
            return Err(refusal("parts", what, file));
        }
        for (key, hours) in
            [("hours.covers", parsed.hours.covers), ("hours.repair", parsed.hours.repair)]
        {
            if hours.is_some_and(|hours| !(0.0..=MOST_HOURS).contains(&hours)) {
                let what = format!("labour hours are from 0 to {MOST_HOURS}");
                return Err(refusal(key, what, file));
            }
        }
        let frame = parsed.freeze_frame;
        let frame = frame.map(|v| written("freeze_frame", &v, LONGEST_FRAME, file)).transpose()?;
        Ok(Job {
            number: line("number", parsed.number)?,
            vehicle: line("vehicle", parsed.vehicle)?,
            mileage: line("mileage", parsed.mileage)?,
            work: line("work", parsed.work)?,
            technician: line("technician", parsed.technician)?,
            date: line("date", parsed.date)?,
            identification: line("identification", parsed.identification)?,
            scope: line("scope", parsed.scope)?,
            clamp: line("clamp", parsed.clamp)?,
            leads: line("leads", parsed.leads)?,
            battery_cranking: line("battery_cranking", parsed.battery_cranking)?,
            coolant: line("coolant", parsed.coolant)?,
            oil: line("oil", parsed.oil)?,
            phaser_command: line("phaser_command", parsed.phaser_command)?,
            freeze_frame: frame,
            hours: parsed.hours,
            parts: parts
                .iter()
                .map(|part| written("parts", part, LONGEST, file))
                .collect::<Result<_, _>>()?,
            before: conditions("before", parsed.before)?,
            after: conditions("after", parsed.after)?,
        })
    }

    /// What was noted beside the heading: a word for it, and the text.
    #[must_use]
    pub fn noted(&self) -> Vec<(&'static str, &str)> {
        let all = [
            ("Vehicle identification", &self.identification),
            ("Oscilloscope", &self.scope),
            ("Current clamp", &self.clamp),
            ("Test leads", &self.leads),
            ("Battery voltage while cranking", &self.battery_cranking),
            ("Coolant", &self.coolant),
            ("Oil", &self.oil),
            ("Phasers commanded to", &self.phaser_command),
            ("Freeze frame", &self.freeze_frame),
        ];
        all.into_iter().filter_map(|(word, text)| Some((word, text.as_deref()?))).collect()
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
fn written(
    key: &str,
    value: &toml::Value,
    longest: usize,
    file: &str,
) -> Result<String, DescriptionError> {
    let text = match value {
        toml::Value::String(text) => Some(text.trim().to_owned()),
        toml::Value::Integer(number) => Some(number.to_string()),
        toml::Value::Float(number) => Some(number.to_string()),
        toml::Value::Datetime(date) => Some(date.to_string()),
        _ => None,
    };
    match text {
        None => Err(refusal(key, "this is no text, number or date".into(), file)),
        Some(text) if text.chars().count() > longest => {
            Err(refusal(key, format!("longer than {longest} characters"), file))
        }
        Some(text) => Ok(text),
    }
}

fn refusal(key: &str, what: String, file: &str) -> DescriptionError {
    DescriptionError {
        file: file.to_owned(),
        line: None,
        key: key.to_owned(),
        what,
        advice: ADVICE.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_noted_is_kept_with_its_word() {
        let text = "clamp = \"600 A\"\nbattery_cranking = \"9.8 V\"\nhours.covers = 3.4\nparts = [\"chain\", \"guide\"]\n\
                    freeze_frame = \"\"\"\nload 20 %\nrpm 180\"\"\"\nafter.method = \"coil unplugged\"\n";
        let job = Job::parse(text, "job.toml").expect("a sound file");
        assert_eq!(
            job.noted(),
            [
                ("Current clamp", "600 A"),
                ("Battery voltage while cranking", "9.8 V"),
                ("Freeze frame", "load 20 %\nrpm 180"),
            ]
        );
        assert_eq!((job.hours.covers, job.hours.repair), (Some(3.4), None));
        assert_eq!(job.parts, ["chain", "guide"]);
        assert_eq!(job.after.method.as_deref(), Some("coil unplugged"));
    }

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
            ("batery_cranking = 9.8", "battery_cranking"),
            ("hours.cover = 3.4", "covers"),
            ("hours.covers = \"long\"", "line 1"),
            ("hours.covers = -1", "`hours.covers`: labour hours are from 0 to 200"),
            ("[before]\ntemprature = 20", "temperature"),
            ("parts = [[1]]", "`parts`: this is no text"),
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
