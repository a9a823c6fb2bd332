//! In what two captures of one engine differ beside the cams, and whether that keeps them from being
//! compared.

use super::{SPEEDS_APART, result};
use crate::analysis::Analysis;
use crate::crank::Condition;
use crate::units::Rpm;

/// What differs between the two captures, and whether they can be compared all the same.
pub(super) fn differences(before: &Analysis, after: &Analysis) -> (Vec<String>, bool) {
    let mut found = Vec::new();
    let mut comparable = true;
    let (was, is) = (before.crank.condition, after.crank.condition);
    if was != is {
        comparable = false;
        let words = |condition: Condition| match condition {
            Condition::Cranking => "cranked by the starter",
            Condition::Running => "running by itself",
            Condition::Mixed => "partly cranked and partly running",
        };
        found.push(format!(
            "Before, the engine was {}; after, {}. Phasers and wear show differently then: capture both cranking.",
            words(was),
            words(is)
        ));
    } else {
        found.extend(speeds_differ(before.crank.rpm_mean, after.crank.rpm_mean));
    }
    let cams = |analysis: &Analysis| -> Vec<usize> {
        analysis.cams.iter().map(|cam| cam.measured.cam).collect()
    };
    let (had, has) = (cams(before), cams(after));
    let names = |list: Vec<usize>| -> String {
        let names = list.into_iter().map(|cam| after.engine.cams[cam].name.as_str());
        names.collect::<Vec<_>>().join(", ")
    };
    let lost: Vec<usize> = had.iter().copied().filter(|cam| !has.contains(cam)).collect();
    let gained: Vec<usize> = has.iter().copied().filter(|cam| !had.contains(cam)).collect();
    if had.iter().all(|cam| lost.contains(cam)) {
        comparable = false;
        found.push("No cam was measured both before and after: connect the same leads.".into());
    } else if !lost.is_empty() {
        comparable = false;
        found.push(format!(
            "Measured before but not after: {}. Connect the same leads.",
            names(lost)
        ));
    }
    if !gained.is_empty() {
        found.push(format!(
            "Measured after but not before: {}. How far they moved is not known.",
            names(gained)
        ));
    }
    for cam in &after.cams {
        let Some(was) = result(before, cam.measured.cam) else { continue };
        if was.measured.polarity != cam.measured.polarity {
            found.push(format!(
                "{}: the signal is the other way up than before. Was the sensor or its wiring changed?",
                after.engine.cams[cam.measured.cam].name
            ));
        }
    }
    (found, comparable)
}

/// That the two turned at different speeds, where they did.
pub(super) fn speeds_differ(before: Rpm, after: Rpm) -> Option<String> {
    let ratio = before.0 / after.0.max(1.0);
    (ratio.max(1.0 / ratio) > SPEEDS_APART).then(|| {
        format!("The speeds differ: {:.0} rpm before, {:.0} rpm after.", before.0, after.0)
    })
}
