//! Why a practice capture cannot be made.

use crate::remedy::{Mend, Remedy, Setting, mended_errors};

/// What a user asked for that cannot be done, with what would do.
#[derive(Debug, Clone, PartialEq)]
pub enum PracticeError {
    /// A fault names something the engine has not got.
    Unknown {
        /// The fault or lead, as given.
        fault: String,
        /// "shaft", "chain", "cam", "lead", "cylinder".
        what: &'static str,
        /// What was asked for.
        name: String,
        /// Those there are, separated by commas.
        has: String,
    },
    /// A fault's number is out of range.
    FaultOutOfRange {
        /// The fault, as given.
        fault: String,
        /// What is wrong with it.
        why: String,
        /// What would do.
        advice: &'static str,
    },
    /// A setting's number is out of range.
    OutOfRange {
        /// Which.
        setting: Setting,
        /// What was given.
        value: f64,
        /// Least that can be done.
        least: f64,
        /// Most that can be done.
        most: f64,
    },
    /// More rows than a capture may have.
    TooManyRows {
        /// Samples per second asked for.
        rate: f64,
        /// Seconds asked for.
        seconds: f64,
        /// Most rows.
        most: f64,
    },
    /// A list of changes cannot carry this lead.
    NoLevels {
        /// The lead.
        lead: String,
        /// Leads that it can carry, separated by commas.
        fits: String,
    },
    /// Fewer than two samples per tooth.
    RateTooLow {
        /// Samples per second asked for.
        rate: f64,
        /// Highest speed in the capture.
        rpm: f64,
        /// Samples per tooth at that speed.
        per_tooth: f64,
        /// Samples per second that would do.
        enough: u64,
    },
    /// Fewer than two turns.
    TooShort {
        /// Seconds asked for.
        seconds: f64,
        /// Turns in them.
        turns: f64,
        /// Seconds that would do.
        enough: f64,
    },
}

impl Mend for PracticeError {
    fn complaint(&self) -> String {
        match self {
            PracticeError::Unknown { fault, what, name, has } => {
                format!("{fault}: this engine has no {what} called \"{name}\". It has: {has}")
            }
            PracticeError::FaultOutOfRange { fault, why, .. } => format!("{fault}: {why}"),
            PracticeError::OutOfRange { setting, value, .. } => {
                format!("{value} is too much or too little for {setting}")
            }
            PracticeError::TooManyRows { rate, seconds, most } => {
                format!("{rate} samples per second for {seconds} s are more than {most} rows")
            }
            PracticeError::NoLevels { lead, fits } => format!(
                "a list of changes carries levels only, not \"{lead}\". It can carry: {fits}"
            ),
            PracticeError::RateTooLow { rate, rpm, per_tooth, .. } => format!(
                "at the highest speed of this capture ({rpm:.0} rpm) {rate} samples per second are {per_tooth:.2} samples \
                 per tooth, fewer than 2"
            ),
            PracticeError::TooShort { seconds, turns, .. } => {
                format!("the crank turns only {turns:.1} times in {seconds} s, fewer than 2")
            }
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        match self {
            PracticeError::Unknown { .. } => vec![],
            PracticeError::FaultOutOfRange { advice, .. } => vec![Remedy::to(*advice)],
            PracticeError::OutOfRange { setting, least, most, .. } => {
                vec![Remedy::set(*setting, format!("{} to {most}", least.ceil()))]
            }
            PracticeError::TooManyRows { rate, most, .. } => {
                vec![Remedy::set(
                    Setting::Length,
                    format!("{:.0} or less at this rate", most / rate),
                )]
            }
            PracticeError::NoLevels { .. } => vec![Remedy::to("leave that lead out")],
            PracticeError::RateTooLow { enough, .. } => {
                vec![Remedy::set(Setting::SampleRate, format!("{enough} or more"))]
            }
            PracticeError::TooShort { enough, .. } => {
                vec![Remedy::set(Setting::Length, format!("{enough:.1} or more"))]
            }
        }
    }
}

mended_errors!(PracticeError);
