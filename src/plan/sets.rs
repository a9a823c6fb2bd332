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
    /// Kind of position sensor; `None` for the starter's current.
    pub sensor: Option<Sensor>,
}

/// One capture of the plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CaptureSet {
    /// What to connect for it.
    pub leads: Vec<PlannedLead>,
}

/// Shares the cams out over captures. The crank is in every one; the starter's current in every one
/// that has room, because it is the independent evidence, and a two-channel scope has none.
pub(super) fn share_out(engine: &Engine, channels: usize) -> Vec<CaptureSet> {
    let with_starter = channels > 2;
    let room = channels.saturating_sub(1 + usize::from(with_starter)).max(1);
    let cams: Vec<(String, Option<Sensor>)> =
        engine.cams.iter().map(|cam| (cam.name.clone(), Some(cam.sensor))).collect();
    let groups: Vec<&[(String, Option<Sensor>)]> =
        if cams.is_empty() { vec![&[]] } else { cams.chunks(room).collect() };
    groups
        .into_iter()
        .map(|group| {
            let crank = (Role::Crank.name(engine), Some(engine.crank.sensor));
            let starter = with_starter.then(|| (Role::Starter.name(engine), None));
            let all = [crank].into_iter().chain(group.iter().cloned()).chain(starter);
            let leads = (1..)
                .zip(all)
                .map(|(channel, (name, sensor))| PlannedLead { channel, name, sensor })
                .collect();
            CaptureSet { leads }
        })
        .collect()
}
