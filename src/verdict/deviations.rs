//! The deviations a reader is shown, for one choice of the datum pass.

use super::readings::{RowKind, Rows, wrap};
use crate::units::CrankDelta;

/// A cam's deviation as it is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CamDeviation {
    pub cam: usize,
    pub deviation: CrankDelta,
    /// The cam it is held against, when no absolute position is known.
    pub against: Option<usize>,
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
