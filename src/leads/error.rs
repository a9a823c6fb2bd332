//! Why leads could not be assigned, and what would mend it.

use crate::capture::Why;
use crate::remedy::{Mend, Remedy, Setting, mended_errors};

/// Why leads could not be assigned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LeadError {
    /// The lead's name means nothing for this engine.
    UnknownLead {
        /// What was asked for.
        name: String,
        /// The name that looks most like it.
        nearest: Option<String>,
        /// Names that exist.
        known: String,
    },
    /// The column does not exist.
    UnknownColumn {
        /// The capture.
        source_name: String,
        /// What was asked for.
        column: String,
        /// The lead it was for.
        lead: String,
        /// The header that looks most like it.
        nearest: Option<String>,
        /// Columns that exist.
        known: Box<str>,
    },
    /// The column is there, but is no channel.
    NoChannel {
        /// The capture.
        source_name: String,
        /// What was asked for.
        column: Box<str>,
        /// The lead it was for.
        lead: String,
        /// Why it is none.
        why: Box<Why>,
        /// The header that ends in this number, where the position was meant for it.
        nearest: Option<String>,
        /// Columns that are channels.
        known: Box<str>,
    },
    /// More than one column goes by the name.
    SeveralColumns {
        /// The capture.
        source_name: String,
        /// What was asked for.
        column: String,
        /// The lead it was for.
        lead: String,
        /// Columns that exist.
        known: String,
    },
    /// A clamp's scale without volts.
    HalfAScale {
        /// The lead.
        lead: String,
        /// Its column.
        column: String,
        /// What was given.
        scale: String,
    },
    /// Two columns for one lead, or one column for two.
    Twice {
        /// The capture.
        source_name: String,
        /// Which lead or column.
        what: String,
    },
    /// A lead on a cylinder that the engine has not got.
    NoSuchCylinder {
        /// The capture.
        source_name: String,
        /// The lead.
        lead: String,
        /// Its cylinder.
        cylinder: u32,
        /// Firing order of the engine.
        order: String,
    },
    /// No column carries the crank.
    NoCrank {
        /// The capture.
        source_name: String,
        /// The header that speaks of the crank.
        likely: Option<String>,
        /// Columns that exist.
        known: String,
    },
}

impl Mend for LeadError {
    fn complaint(&self) -> String {
        match self {
            LeadError::UnknownLead { name, nearest, known } => {
                format!("there is no lead \"{name}\"{}. This engine has: {known}", meant(nearest))
            }
            LeadError::UnknownColumn { source_name, column, lead, nearest, known } => format!(
                "{source_name}: no column \"{column}\" for the lead \"{lead}\"{}. The columns are: {known}",
                meant(nearest)
            ),
            LeadError::NoChannel { source_name, column, lead, why, nearest, known } => format!(
                "{source_name}: column \"{column}\", named for the lead \"{lead}\", is no channel: {why}{}. Positions count \
                 from 1, the time included. The columns are: {known}",
                meant(nearest)
            ),
            LeadError::SeveralColumns { source_name, column, known, .. } => format!(
                "{source_name}: more than one column is called \"{column}\". The columns are: {known}"
            ),
            LeadError::HalfAScale { lead, scale, .. } => format!(
                "the scale \"{scale}\" of the lead \"{lead}\" says no volts. A clamp gives so many amperes per volt; the \
                 number is on the clamp"
            ),
            LeadError::Twice { source_name, what } => {
                format!("{source_name}: the {what} is given twice")
            }
            LeadError::NoSuchCylinder { source_name, lead, cylinder, order } => format!(
                "{source_name}: the lead \"{lead}\" is on cylinder {cylinder}, which this engine has not got; it fires {order}"
            ),
            LeadError::NoCrank { source_name, likely, known } => format!(
                "{source_name}: no column is named \"crank\"{}. The columns are: {known}",
                may_be(likely)
            ),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        let ask = |request: String| Remedy::set(Setting::Lead, request);
        match self {
            LeadError::UnknownLead { .. } | LeadError::UnknownColumn { .. } => {
                vec![Remedy::give(Setting::Lead)]
            }
            LeadError::NoChannel { why, .. } => {
                let mut remedies = vec![Remedy::give(Setting::Lead)];
                if matches!(**why, Why::NoNumber { .. }) {
                    let enough = "the column has numbers there";
                    remedies.push(Remedy::give(Setting::Stretch).only_if(enough));
                }
                remedies
            }
            LeadError::SeveralColumns { lead, .. } => {
                vec![Remedy::to(format!("name the column of the lead \"{lead}\" by position"))]
            }
            LeadError::HalfAScale { lead, column, .. } => {
                vec![ask(format!("{lead}={column}:100A/V")), ask(format!("{lead}={column}:10mV/A"))]
            }
            LeadError::Twice { .. } => vec![Remedy::to("give each lead one column of its own")],
            LeadError::NoSuchCylinder { .. } => vec![
                Remedy::to("name the lead by a cylinder of the engine file"),
                Remedy::to("check the file's firing order"),
            ],
            LeadError::NoCrank { likely, .. } => {
                vec![ask(format!("crank={}", likely.as_deref().unwrap_or("COLUMN")))]
            }
        }
    }
}

mended_errors!(LeadError);

fn meant(nearest: &Option<String>) -> String {
    nearest.as_ref().map_or_else(String::new, |name| format!(" (did you mean \"{name}\"?)"))
}

fn may_be(likely: &Option<String>) -> String {
    likely.as_ref().map_or_else(String::new, |name| format!("; \"{name}\" may be it"))
}
