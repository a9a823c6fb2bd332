//! The leads of a practice capture: what each carries, and its name.

use crate::engine::Engine;
use crate::leads::Role;

pub(super) use crate::leads::Extra as ExtraLead;

use super::error::PracticeError;

/// What a lead is connected to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum PracticeLead {
    Crank,
    /// Index into the engine's cams.
    Cam(usize),
    Extra(ExtraLead),
}

impl From<PracticeLead> for Role {
    fn from(lead: PracticeLead) -> Role {
        match lead {
            PracticeLead::Crank => Role::Crank,
            PracticeLead::Cam(index) => Role::Cam(index),
            PracticeLead::Extra(extra) => extra.into(),
        }
    }
}

impl PracticeLead {
    /// The lead's name, which is its column's header.
    pub(super) fn name(self, engine: &Engine) -> String {
        Role::from(self).name(engine)
    }
}

/// Every lead of a capture: crank, the cams in their order, or those of them that are named, then
/// the others.
///
/// # Errors
/// A lead that the engine has not got, or one on a cylinder that it has not got.
pub(super) fn all_leads(
    engine: &Engine,
    sensors: Option<&[String]>,
    extra: &[ExtraLead],
) -> Result<Vec<PracticeLead>, PracticeError> {
    let mut leads = vec![PracticeLead::Crank];
    leads.extend((0..engine.cams.len()).map(PracticeLead::Cam));
    if let Some(named) = sensors {
        let all = leads;
        let find = |name: &String| find_lead(engine, &all, "chosen leads", name);
        let mut kept =
            named.iter().map(find).collect::<Result<Vec<PracticeLead>, PracticeError>>()?;
        kept.dedup();
        leads = kept;
    }
    for &lead in extra {
        if let ExtraLead::Ignition(cylinder)
        | ExtraLead::Injector(cylinder)
        | ExtraLead::Pressure(cylinder) = lead
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
        if !leads.contains(&PracticeLead::Extra(lead)) {
            leads.push(PracticeLead::Extra(lead));
        }
    }
    Ok(leads)
}

/// Finds a lead of the capture by its name.
pub(super) fn find_lead(
    engine: &Engine,
    leads: &[PracticeLead],
    fault: &str,
    name: &str,
) -> Result<PracticeLead, PracticeError> {
    let role = Role::parse(name, engine);
    let named = |lead: &&PracticeLead| role == Some(Role::from(**lead));
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
