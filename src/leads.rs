//! Which channel carries what, and its scale.

use thiserror::Error;

use crate::capture::{Capture, Channel, LeftOut, Unit, Why};
use crate::engine::Engine;

/// What a lead is connected to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Crank position sensor.
    Crank,
    /// Cam position sensor: index into the engine's cams.
    Cam(usize),
    /// Clamp around the starter cable.
    Starter,
    /// Battery voltage.
    Battery,
    /// Ignition primary or trigger of a cylinder.
    Ignition(u32),
    /// In-cylinder pressure of a cylinder.
    Pressure(u32),
}

impl Role {
    /// Reads the name of a lead: a cam's name, or one of the fixed names.
    #[must_use]
    pub fn parse(name: &str, engine: &Engine) -> Option<Role> {
        let name = name.trim();
        if let Some(index) = engine.cam_index(name) {
            return Some(Role::Cam(index));
        }
        let lower = name.to_lowercase();
        let numbered = |prefix: &str| lower.strip_prefix(prefix)?.trim().parse::<u32>().ok();
        match lower.as_str() {
            "crank" => Some(Role::Crank),
            "starter" => Some(Role::Starter),
            "battery" => Some(Role::Battery),
            _ => numbered("ignition ")
                .map(Role::Ignition)
                .or_else(|| numbered("pressure ").map(Role::Pressure)),
        }
    }

    /// The name a user gives the lead.
    #[must_use]
    pub fn name(self, engine: &Engine) -> String {
        match self {
            Role::Crank => "crank".into(),
            Role::Cam(index) => engine.cams[index].name.clone(),
            Role::Starter => "starter".into(),
            Role::Battery => "battery".into(),
            Role::Ignition(cylinder) => format!("ignition {cylinder}"),
            Role::Pressure(cylinder) => format!("pressure {cylinder}"),
        }
    }
}

/// One `--lead NAME=COLUMN[:SCALE]` of the command line.
#[derive(Debug, Clone, PartialEq)]
pub struct LeadRequest {
    /// Name of the lead.
    pub name: String,
    /// Header text or position of the column.
    pub column: String,
    /// Amperes per volt, where given.
    pub amperes_per_volt: Option<f64>,
}

impl std::str::FromStr for LeadRequest {
    type Err = String;

    /// Reads `crank=A`, `B1 intake=3`, `starter=D:100A/V`.
    fn from_str(text: &str) -> Result<Self, String> {
        let (name, column) = text
            .split_once('=')
            .ok_or("write LEAD=COLUMN, for example crank=A or \"B1 intake=3\"")?;
        let scaled = column.rsplit_once(':').and_then(|(column, scale)| {
            let scale = scale.trim();
            let lower = scale.to_lowercase();
            let (number, per_volt) = match lower.strip_suffix("a/v") {
                Some(number) => (number, 1.0),
                // 10 mV/A is 100 A/V.
                None => (lower.strip_suffix("mv/a")?, 0.0),
            };
            let value: f64 = number.trim().parse().ok().filter(|value: &f64| value.is_finite())?;
            let amperes = if per_volt == 1.0 { value } else { 1000.0 / value };
            amperes.is_finite().then_some((column, amperes))
        });
        let (column, amperes_per_volt) = match scaled {
            Some((column, amperes)) => (column, Some(amperes)),
            None => (column, None),
        };
        if name.trim().is_empty() || column.trim().is_empty() {
            return Err("write LEAD=COLUMN, for example crank=A or \"B1 intake=3\"".into());
        }
        Ok(LeadRequest {
            name: name.trim().to_owned(),
            column: column.trim().to_owned(),
            amperes_per_volt,
        })
    }
}

/// A channel with its role.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead {
    /// What it is connected to.
    pub role: Role,
    /// Index into the capture's channels.
    pub channel: usize,
    /// Amperes per volt, where the channel needs scaling.
    pub amperes_per_volt: Option<f64>,
}

/// Why leads could not be assigned.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum LeadError {
    /// The lead's name means nothing for this engine.
    #[error("there is no lead \"{name}\". This engine has: {known}")]
    UnknownLead {
        /// What was asked for.
        name: String,
        /// Names that exist.
        known: String,
    },
    /// The column does not exist.
    #[error(
        "{source_name}: no column \"{column}\" for the lead \"{lead}\". The columns are: {known}"
    )]
    UnknownColumn {
        /// The capture.
        source_name: String,
        /// What was asked for.
        column: String,
        /// The lead it was for.
        lead: String,
        /// Columns that exist.
        known: String,
    },
    /// The column is there, but is no channel.
    #[error(
        "{source_name}: column \"{column}\", named for the lead \"{lead}\", is no channel: {why}. The columns are: {known}"
    )]
    NoChannel {
        /// The capture.
        source_name: String,
        /// What was asked for.
        column: String,
        /// The lead it was for.
        lead: String,
        /// Why it is none.
        why: Box<Why>,
        /// Columns that are channels.
        known: String,
    },
    /// Two columns for one lead, or one column for two.
    #[error("{source_name}: the {what} is given twice. Give each lead one column with --lead")]
    Twice {
        /// The capture.
        source_name: String,
        /// Which lead or column.
        what: String,
    },
    /// No column carries the crank.
    #[error(
        "{source_name}: no column is named \"crank\". Say which one carries it with --lead crank=COLUMN. The columns are: {known}"
    )]
    NoCrank {
        /// The capture.
        source_name: String,
        /// Columns that exist.
        known: String,
    },
}

/// Gives channels their roles: as asked for, then by header.
///
/// # Errors
/// An unknown lead or column, anything given twice, or no crank.
pub fn assign(
    capture: &Capture,
    engine: &Engine,
    requests: &[LeadRequest],
) -> Result<Vec<Lead>, LeadError> {
    let mut leads: Vec<Lead> = Vec::new();
    let twice = |what: String| LeadError::Twice { source_name: capture.source.clone(), what };
    for request in requests {
        let role = Role::parse(&request.name, engine).ok_or_else(|| LeadError::UnknownLead {
            name: request.name.clone(),
            known: lead_names(engine),
        })?;
        let channel = find_column(capture, &request.column)
            .ok_or_else(|| missing_column(capture, request))?;
        if leads.iter().any(|lead| lead.role == role) {
            return Err(twice(format!("lead \"{}\"", role.name(engine))));
        }
        if leads.iter().any(|lead| lead.channel == channel) {
            return Err(twice(format!("column \"{}\"", capture.channels[channel].name)));
        }
        leads.push(Lead { role, channel, amperes_per_volt: request.amperes_per_volt });
    }
    let asked: Vec<usize> = leads.iter().map(|lead| lead.channel).collect();
    for (channel, column) in capture.channels.iter().enumerate() {
        let Some(role) = Role::parse(&column.name, engine) else { continue };
        if asked.contains(&channel) {
            continue;
        }
        match leads.iter().find(|lead| lead.role == role) {
            // What was asked for stands before a header.
            Some(lead) if asked.contains(&lead.channel) => {}
            Some(_) => return Err(twice(format!("column \"{}\"", column.name))),
            None => leads.push(Lead { role, channel, amperes_per_volt: None }),
        }
    }
    if !leads.iter().any(|lead| lead.role == Role::Crank) {
        let crank = |one: &&LeftOut| Role::parse(&one.name, engine) == Some(Role::Crank);
        if let Some(one) = capture.notes.lost().find(crank) {
            return Err(LeadError::NoChannel {
                source_name: capture.source.clone(),
                column: one.name.clone(),
                lead: Role::Crank.name(engine),
                why: Box::new(one.why.clone()),
                known: column_names(capture),
            });
        }
        return Err(LeadError::NoCrank {
            source_name: capture.source.clone(),
            known: column_names(capture),
        });
    }
    leads.sort_by_key(|lead| lead.role);
    Ok(leads)
}

/// A column by its header, without regard to case, else by its position from 1, time included.
fn find_column(capture: &Capture, wanted: &str) -> Option<usize> {
    let by_name =
        capture.channels.iter().position(|channel| channel.name.eq_ignore_ascii_case(wanted));
    by_name.or_else(|| {
        let position: usize = wanted.parse().ok()?;
        capture.channels.iter().position(|channel| channel.column == position)
    })
}

/// Why a column asked for is none of the channels.
fn missing_column(capture: &Capture, request: &LeadRequest) -> LeadError {
    let source_name = capture.source.clone();
    let (column, lead) = (request.column.clone(), request.name.clone());
    let known = column_names(capture);
    let left_out = &capture.notes.left_out;
    let named = |one: &&LeftOut| one.name.eq_ignore_ascii_case(&request.column);
    let placed = |one: &&LeftOut| request.column.parse() == Ok(one.column);
    match left_out.iter().find(named).or_else(|| left_out.iter().find(placed)) {
        Some(one) => {
            let why = Box::new(one.why.clone());
            LeadError::NoChannel { source_name, column, lead, why, known }
        }
        None => LeadError::UnknownColumn { source_name, column, lead, known },
    }
}

fn column_names(capture: &Capture) -> String {
    let name = |channel: &Channel| format!("{} \"{}\"", channel.column, channel.name);
    capture.channels.iter().map(name).collect::<Vec<_>>().join(", ")
}

fn lead_names(engine: &Engine) -> String {
    let cams = engine.cams.iter().map(|cam| cam.name.as_str());
    ["crank"]
        .into_iter()
        .chain(cams)
        .chain(["starter", "battery", "ignition N", "pressure N"])
        .collect::<Vec<_>>()
        .join(", ")
}

/// Amperes of a starter lead per unit of its channel; `None` when the channel is in volts and no
/// scale was given.
#[must_use]
pub fn starter_scale(lead: &Lead, channel: &Channel) -> Option<f64> {
    match channel.unit {
        Unit::Amperes => Some(lead.amperes_per_volt.unwrap_or(1.0)),
        Unit::Volts | Unit::Level => lead.amperes_per_volt,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lead_requests_read_as_written() {
        let read = |text: &str| text.parse::<LeadRequest>();
        let crank = read("crank=A").unwrap();
        assert_eq!((crank.name.as_str(), crank.column.as_str()), ("crank", "A"));
        assert_eq!(read("starter=D:100A/V").unwrap().amperes_per_volt, Some(100.0));
        assert_eq!(read("starter=D:10mV/A").unwrap().amperes_per_volt, Some(100.0));
        // A colon that is no scale belongs to the column's name.
        assert_eq!(read("crank=CH1: crank").unwrap().column, "CH1: crank");
        for bad in ["crank", "=A", "crank=", "  =  "] {
            assert!(read(bad).is_err(), "{bad}");
        }
    }
}
