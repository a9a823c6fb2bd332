//! In what two captures of one engine differ beside the cams, and whether that keeps them from
//! being compared.

use super::{SPEEDS_APART, result};
use crate::analysis::Analysis;
use crate::crank::Condition;
use crate::units::Rpm;

/// One thing in which the two captures differ: why they cannot be compared, or only with care.
/// Cams are indices into the engine's.
#[derive(Debug, Clone, PartialEq)]
pub enum Difference {
    /// The engine was cranked in one and ran in the other.
    Condition {
        /// Before.
        before: Condition,
        /// After.
        after: Condition,
    },
    /// It turned at clearly different speeds, in mean.
    Speeds {
        /// Before.
        before: Rpm,
        /// After.
        after: Rpm,
    },
    /// No cam was measured both times.
    NoCamInBoth,
    /// Measured before alone.
    BeforeOnly(Vec<usize>),
    /// Measured after alone.
    AfterOnly(Vec<usize>),
    /// This cam's signal is the other way up than before.
    Inverted(usize),
    /// No cylinder is known by its number both times.
    NoCylinderInBoth,
}

/// What differs between the two captures, and whether they can be compared all the same.
pub(super) fn differences(before: &Analysis, after: &Analysis) -> (Vec<Difference>, bool) {
    let mut found = Vec::new();
    let mut comparable = true;
    let (was, is) = (before.crank.condition, after.crank.condition);
    if was != is {
        comparable = false;
        found.push(Difference::Condition { before: was, after: is });
    } else {
        found.extend(speeds_differ(before.crank.rpm_mean, after.crank.rpm_mean));
    }
    let cams = |analysis: &Analysis| -> Vec<usize> {
        analysis.cams.iter().map(|cam| cam.measured.cam).collect()
    };
    let (had, has) = (cams(before), cams(after));
    let lost: Vec<usize> = had.iter().copied().filter(|cam| !has.contains(cam)).collect();
    let gained: Vec<usize> = has.iter().copied().filter(|cam| !had.contains(cam)).collect();
    if had.iter().all(|cam| lost.contains(cam)) {
        comparable = false;
        found.push(Difference::NoCamInBoth);
    } else if !lost.is_empty() {
        comparable = false;
        found.push(Difference::BeforeOnly(lost));
    }
    if !gained.is_empty() {
        found.push(Difference::AfterOnly(gained));
    }
    for cam in &after.cams {
        let Some(was) = result(before, cam.measured.cam) else { continue };
        if was.measured.polarity != cam.measured.polarity {
            found.push(Difference::Inverted(cam.measured.cam));
        }
    }
    (found, comparable)
}

/// That the two turned at different speeds, where they did.
pub(super) fn speeds_differ(before: Rpm, after: Rpm) -> Option<Difference> {
    let ratio = before.0 / after.0.max(1.0);
    (ratio.max(1.0 / ratio) > SPEEDS_APART).then_some(Difference::Speeds { before, after })
}
