//! What the words of a fault name, found on the engine; refused with what it has.

use super::error::PracticeError;
use super::faults::Fault;
use super::leads::{ExtraLead, PracticeLead, find_lead, lead_names};
use crate::engine::Engine;

pub(super) fn find_cam(engine: &Engine, fault: &Fault, name: &str) -> Result<usize, PracticeError> {
    engine.cam_index(name).ok_or_else(|| {
        let has: Vec<String> = engine.cams.iter().map(|cam| cam.name.clone()).collect();
        unknown(fault, "cam", name, &has)
    })
}

/// A coil's lead, or an injector's.
pub(super) fn find_coil(
    engine: &Engine,
    leads: &[PracticeLead],
    fault: &Fault,
    name: &str,
) -> Result<PracticeLead, PracticeError> {
    let coil = |lead: &PracticeLead| {
        matches!(lead, PracticeLead::Extra(ExtraLead::Ignition(_) | ExtraLead::Injector(_)))
    };
    let coils: Vec<PracticeLead> = leads.iter().copied().filter(coil).collect();
    find_lead(engine, &coils, &fault.to_string(), name)
}

pub(super) fn check_cylinder(
    engine: &Engine,
    fault: &Fault,
    cylinder: u32,
) -> Result<(), PracticeError> {
    if engine.firing_order.contains(&cylinder) {
        return Ok(());
    }
    let has: Vec<String> = engine.firing_order.iter().map(ToString::to_string).collect();
    Err(unknown(fault, "cylinder", &cylinder.to_string(), &has))
}

pub(super) fn find_chain(
    engine: &Engine,
    fault: &Fault,
    name: &str,
) -> Result<usize, PracticeError> {
    let chains = &engine.drive.chains;
    chains.iter().position(|chain| chain.name.eq_ignore_ascii_case(name.trim())).ok_or_else(|| {
        let has: Vec<String> = chains.iter().map(|chain| chain.name.clone()).collect();
        unknown(fault, "chain", name, &has)
    })
}

pub(super) fn unknown(
    fault: &Fault,
    what: &'static str,
    name: &str,
    has: &[String],
) -> PracticeError {
    PracticeError::Unknown {
        fault: fault.to_string(),
        what,
        name: name.to_owned(),
        has: lead_names(has),
    }
}

pub(super) fn require(
    fault: &Fault,
    value: f64,
    low: f64,
    high: f64,
    of: &str,
) -> Result<(), PracticeError> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(PracticeError::FaultOutOfRange {
        fault: fault.to_string(),
        why: format!("{value} is outside {low} to {high} {of}"),
        advice: "Give a number in that range",
    })
}
