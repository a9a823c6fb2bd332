//! The leads of a practice capture: what each carries, and its name.

use std::str::FromStr;

use crate::engine::Engine;

use super::error::PracticeError;

/// What a lead is connected to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Lead {
    Crank,
    /// Index into the engine's cams.
    Cam(usize),
    Extra(ExtraLead),
}

/// A lead beside the position sensors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExtraLead {
    /// Starter current, by a clamp.
    Starter,
    /// Battery voltage.
    Battery,
    /// Ignition trigger of a cylinder.
    Ignition(u32),
    /// Pressure in a cylinder.
    Pressure(u32),
}

impl std::fmt::Display for ExtraLead {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            ExtraLead::Starter => out.write_str("starter"),
            ExtraLead::Battery => out.write_str("battery"),
            ExtraLead::Ignition(cylinder) => write!(out, "ignition {cylinder}"),
            ExtraLead::Pressure(cylinder) => write!(out, "pressure {cylinder}"),
        }
    }
}

impl FromStr for ExtraLead {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let lower = text.trim().to_ascii_lowercase();
        let cylinder = |rest: &str| rest.trim().parse::<u32>().ok();
        let numbered = |word: &str| lower.strip_prefix(word).and_then(cylinder);
        match lower.as_str() {
            "starter" => Ok(ExtraLead::Starter),
            "battery" => Ok(ExtraLead::Battery),
            _ => numbered("ignition")
                .map(ExtraLead::Ignition)
                .or_else(|| numbered("pressure").map(ExtraLead::Pressure))
                .ok_or_else(|| {
                    format!(
                        "no lead is called \"{text}\". Use starter, battery, \"ignition 1\" or \"pressure 1\""
                    )
                }),
        }
    }
}

impl Lead {
    /// The lead's name, which is its column's header.
    pub(super) fn name(self, engine: &Engine) -> String {
        match self {
            Lead::Crank => "crank".to_owned(),
            Lead::Cam(index) => engine.cams[index].name.clone(),
            Lead::Extra(extra) => extra.to_string(),
        }
    }
}

/// Every lead of a capture: crank, the cams in their order, then the others.
///
/// # Errors
/// An ignition or pressure lead on a cylinder the engine has not got.
pub(super) fn all_leads(engine: &Engine, extra: &[ExtraLead]) -> Result<Vec<Lead>, PracticeError> {
    let mut leads = vec![Lead::Crank];
    leads.extend((0..engine.cams.len()).map(Lead::Cam));
    for &lead in extra {
        if let ExtraLead::Ignition(cylinder) | ExtraLead::Pressure(cylinder) = lead
            && !engine.firing_order.contains(&cylinder)
        {
            let has: Vec<String> = engine.firing_order.iter().map(ToString::to_string).collect();
            return Err(PracticeError::Unknown {
                fault: format!("lead \"{lead}\""),
                what: "cylinder",
                name: cylinder.to_string(),
                has: lead_names(&has),
            });
        }
        if !leads.contains(&Lead::Extra(lead)) {
            leads.push(Lead::Extra(lead));
        }
    }
    Ok(leads)
}

/// Finds a lead of the capture by its name.
pub(super) fn find_lead(
    engine: &Engine,
    leads: &[Lead],
    fault: &str,
    name: &str,
) -> Result<Lead, PracticeError> {
    let named = |lead: &&Lead| lead.name(engine).eq_ignore_ascii_case(name.trim());
    leads.iter().find(named).copied().ok_or_else(|| {
        let has: Vec<String> = leads.iter().map(|lead| lead.name(engine)).collect();
        PracticeError::Unknown {
            fault: fault.to_owned(),
            what: "lead",
            name: name.to_owned(),
            has: lead_names(&has),
        }
    })
}

/// Names as a list a reader can copy from; says so when there are none.
pub(super) fn lead_names(names: &[String]) -> String {
    if names.is_empty() { "none".to_owned() } else { names.join(", ") }
}
