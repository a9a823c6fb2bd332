//! The deviations a reader is shown, for one choice of the datum pass.

use super::readings::{RowKind, Rows, wrap};
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

/// Deviations of all measured cams, at the pass that makes the largest of them smallest.
pub(super) fn deviations(rows: &Rows) -> Vec<CamDeviation> {
    let at = |pass: f64| -> Vec<CamDeviation> {
        let cams = rows.list.iter().filter_map(|row| match row.kind {
            RowKind::Cam(cam) => Some((cam, row)),
            _ => None,
        });
        cams.map(|(cam, row)| match row.unreferenced {
            None => CamDeviation {
                cam,
                deviation: CrankDelta(wrap(row.reading - pass, row.period)),
                against: None,
            },
            Some(group) => {
                let first =
                    rows.list.iter().find(|other| other.unreferenced == Some(group)).unwrap_or(row);
                let against = match first.kind {
                    RowKind::Cam(other) => Some(other),
                    _ => None,
                };
                let apart = wrap(row.reading - first.reading, row.period);
                CamDeviation { cam, deviation: CrankDelta(apart), against }
            }
        })
        .collect()
    };
    let worst =
        |shown: &[CamDeviation]| shown.iter().map(|cam| cam.deviation.0.abs()).fold(0.0, f64::max);
    rows.passes
        .iter()
        .map(|&pass| at(pass))
        .min_by(|a, b| worst(a).total_cmp(&worst(b)))
        .unwrap_or_default()
}
