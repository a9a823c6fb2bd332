//! An engine that has no file: what a capture shows and the user knows, made into a description of
//! the moment.

use std::path::Path;

use super::{Facts, Look, look, start_engine_file, with_wheel};
use crate::capture::Capture;
use crate::engine::Engine;
use crate::error::DescriptionError;
use crate::leads::{LeadRequest, RoleGuess, Words};

/// Why no engine can be described.
#[derive(Debug)]
pub enum Undescribable {
    /// The wheel that was named does not go with the capture: why.
    WheelGiven(String),
    /// The crank's wheel is not seen: why.
    NoWheel(String),
    /// How many cylinders there are is not seen, and no firing order was given.
    NoCylinders,
    /// What was made of it is no engine.
    Engine(DescriptionError),
}

/// An engine described from a capture, the leads to read it with, and what was taken for granted.
pub struct Undescribed {
    /// The description.
    pub engine: Engine,
    /// Its text.
    pub text: String,
    /// Which column carries what.
    pub leads: Vec<LeadRequest>,
    /// Columns whose lead was guessed by their signal.
    pub guessed: Vec<String>,
    /// What the capture shows.
    pub seen: Look,
}

/// Looks at a capture with what is known of its crank wheel.
///
/// # Errors
/// The wheel that was named does not go with the capture.
pub fn look_with(
    capture: &Capture,
    requests: &[LeadRequest],
    facts: &Facts,
) -> Result<Look, Undescribable> {
    let seen = look(capture, requests);
    let wheel = match (&facts.wheel, &seen.wheel, facts.edge) {
        (Some((wheel, _)), ..) => wheel.clone(),
        (None, Ok(guess), Some(_)) => guess.wheel.clone(),
        _ => return Ok(seen),
    };
    with_wheel(seen, capture, &wheel, facts.edge)
        .map_err(|error| Undescribable::WheelGiven(error.to_string()))
}

/// Describes the engine of a capture.
///
/// # Errors
/// The crank's wheel is not sure, or the number of cylinders.
pub fn describe(
    capture: &Capture,
    requests: &[LeadRequest],
    facts: &Facts,
) -> Result<Undescribed, Undescribable> {
    let seen = look_with(capture, requests, facts)?;
    let Some(text) = start_engine_file(&seen, requests, facts) else {
        let doubt = seen.wheel.as_ref().err().map(ToString::to_string).unwrap_or_default();
        return Err(Undescribable::NoWheel(doubt));
    };
    if facts.firing.is_none() && seen.cylinders().is_none() {
        return Err(Undescribable::NoCylinders);
    }
    let name = format!("engine of {}", seen.source);
    let engine = Engine::parse(&text, Path::new(&name)).map_err(Undescribable::Engine)?;
    let mut leads = requests.to_vec();
    let mut guessed = Vec::new();
    let asked = |leads: &[LeadRequest], name: &str| {
        leads.iter().any(|lead| lead.name.eq_ignore_ascii_case(name))
    };
    for (index, channel) in seen.channels.iter().enumerate() {
        let named = leads.iter().any(|lead| {
            lead.column.eq_ignore_ascii_case(&channel.name)
                || lead.column.parse() == Ok(channel.column)
        });
        let only = seen.channels.iter().filter(|other| other.role == channel.role).count() == 1;
        let name = match channel.role {
            RoleGuess::Crank if seen.crank == Some(index) => "crank",
            RoleGuess::Starter if only => "starter",
            _ => continue,
        };
        if named || asked(&leads, name) || channel.name.eq_ignore_ascii_case(name) {
            continue;
        }
        if Words::of(&channel.name).kind.is_none() {
            guessed.push(format!("\"{}\" is read as {name}, by its signal", channel.name));
        }
        leads.push(LeadRequest {
            name: name.into(),
            column: channel.column.to_string(),
            amperes_per_volt: None,
        });
    }
    Ok(Undescribed { engine, text, leads, guessed, seen })
}
