//! The deviations a reader is shown, for one choice of the datum pass.

use super::evidence::Evidence;
use super::readings::{Row, RowKind, Rows, wrap};
use crate::cam::deviation::common_period;
use crate::units::CrankDelta;

/// A cam's deviation as it is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CamDeviation {
    /// Index into the engine's cams.
    pub cam: usize,
    /// How late it stands.
    pub deviation: CrankDelta,
    /// The cam it is held against, where no place of its own is known; itself where it is held
    /// against nothing.
    pub against: Option<usize>,
}

/// The cam furthest from its place, of those that are held against anything.
pub(super) fn furthest(deviations: &[CamDeviation]) -> Option<&CamDeviation> {
    deviations
        .iter()
        .filter(|one| one.against != Some(one.cam))
        .max_by(|a, b| a.deviation.0.abs().total_cmp(&b.deviation.0.abs()))
}

/// Deviations of all measured cams. Leads as labelled are counted from the datum pass that every
/// table of the result counts from; `exchanged` ones, put right, from the pass that makes the
/// largest deviation smallest.
///
/// Each is brought into the range in which it is known, as every table of the result has it: that
/// of the cam's result, and between two cams the range in which both are known.
pub(super) fn deviations(rows: &Rows, evidence: &Evidence, exchanged: bool) -> Vec<CamDeviation> {
    let placed = |cam: usize, row: &Row, pass: f64| {
        let known = evidence.cam(cam).map(|result| result.known_modulo);
        let period = shared_period(row.period, known);
        CrankDelta(wrap(row.reading - pass, period))
    };
    let at = |pass: f64| -> Vec<CamDeviation> {
        let cams = rows.list.iter().filter_map(|row| match row.kind {
            RowKind::Cam(cam) => Some((cam, row)),
            _ => None,
        });
        cams.map(|(cam, row)| match row.unreferenced {
            None => CamDeviation { cam, deviation: placed(cam, row, pass), against: None },
            Some(group) => {
                let first =
                    rows.list.iter().find(|other| other.unreferenced == Some(group)).unwrap_or(row);
                let against = match first.kind {
                    RowKind::Cam(other) => Some(other),
                    _ => None,
                };
                let period = shared_period(row.period, first.period.map(CrankDelta));
                let apart = wrap(row.reading - first.reading, period);
                CamDeviation { cam, deviation: CrankDelta(apart), against }
            }
        })
        .collect()
    };
    // Leads as labelled: the pass that the tables count from is settled.
    if !exchanged {
        return at(0.0);
    }
    let worst =
        |shown: &[CamDeviation]| shown.iter().map(|cam| cam.deviation.0.abs()).fold(0.0, f64::max);
    rows.passes
        .iter()
        .map(|&pass| at(pass))
        .min_by(|a, b| worst(a).total_cmp(&worst(b)))
        .unwrap_or_default()
}

/// The period in which an angle is known that two things each leave open.
fn shared_period(one: Option<f64>, other: Option<CrankDelta>) -> Option<f64> {
    match (one, other) {
        (Some(one), Some(other)) => Some(common_period(CrankDelta(one), other).0),
        (one, other) => one.or(other.map(|other| other.0)),
    }
}
