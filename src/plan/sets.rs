//! Which lead goes on which channel, over as many captures as the scope's channels ask for.

use crate::engine::{Engine, Sensor};
use crate::leads::Role;

/// A lead to connect.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedLead {
    /// Channel of the scope, counted from 1.
    pub channel: usize,
    /// Name to give the lead, which `check` recognises as a column header.
    pub name: String,
    /// What it is connected to.
    pub role: Role,
    /// Kind of position sensor; `None` for the other leads.
    pub sensor: Option<Sensor>,
}

/// One capture of the plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CaptureSet {
    /// What to connect for it.
    pub leads: Vec<PlannedLead>,
}

impl CaptureSet {
    fn of(engine: &Engine, roles: impl IntoIterator<Item = Role>) -> Self {
        let lead = |(channel, role): (usize, Role)| PlannedLead {
            channel,
            name: role.name(engine),
            role,
            sensor: match role {
                Role::Crank => Some(engine.crank.sensor),
                Role::Cam(cam) => Some(engine.cams[cam].sensor),
                _ => None,
            },
        };
        CaptureSet { leads: (1..).zip(roles).map(lead).collect() }
    }

    /// Whether a coil marks the cycles of this capture: its spark has to stay alive.
    #[must_use]
    pub fn has_coil(&self) -> bool {
        self.leads.iter().any(|lead| matches!(lead.role, Role::Ignition(_)))
    }
}

/// Shares the cams out over captures. The crank is in every one of them; the starter's current in
/// every one that has room, because it is the independent evidence. A two-channel scope has none:
/// there the clamp and one cylinder's coil come first, in a capture of their own, which says which
/// bank to look at. So do they where the engine file has no crank.
pub(super) fn share_out(engine: &Engine, channels: usize) -> Vec<CaptureSet> {
    let with_starter = channels > 2;
    let clamp = || {
        let coil = engine.firing_order.first().map(|&cylinder| Role::Ignition(cylinder));
        CaptureSet::of(engine, [Role::Starter].into_iter().chain(coil))
    };
    if !engine.crank.described {
        return vec![clamp()];
    }
    let room = channels.saturating_sub(1 + usize::from(with_starter)).max(1);
    let cams: Vec<usize> = (0..engine.cams.len()).collect();
    let groups: Vec<&[usize]> =
        if cams.is_empty() { vec![&[]] } else { cams.chunks(room).collect() };
    let timing = groups.into_iter().map(|group| {
        let cams = group.iter().map(|&cam| Role::Cam(cam));
        let starter = with_starter.then_some(Role::Starter);
        CaptureSet::of(engine, [Role::Crank].into_iter().chain(cams).chain(starter))
    });
    (!with_starter).then(clamp).into_iter().chain(timing).collect()
}
