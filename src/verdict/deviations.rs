//! The deviations a reader is told, for one way to assign the leads.
//!
//! A cam on the lead as labelled stands where its own result says, so that the finding and the table
//! beside it never differ. What has no such result (a cam on an exchanged lead, or one whose
//! reference has no place) is taken from its row.

use super::evidence::Evidence;
use super::readings::{Row, RowKind, Rows, wrap};
use crate::units::CrankDelta;

/// A cam's deviation as it is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CamDeviation {
    pub cam: usize,
    pub deviation: CrankDelta,
    /// The cam it is held against, when no absolute position is known.
    pub against: Option<usize>,
}

/// Deviations of all measured cams.
pub(super) fn deviations(evidence: &Evidence, rows: &Rows) -> Vec<CamDeviation> {
    let pass = likeliest_pass(rows);
    let cams = rows.list.iter().filter_map(|row| match row.kind {
        RowKind::Cam(cam) => Some((cam, row)),
        RowKind::Tdc | RowKind::Compression => None,
    });
    let one = |(cam, row): (usize, &Row)| {
        if let Some(group) = row.unreferenced {
            return against_first(rows, group, cam, row);
        }
        let own = as_labelled(evidence, rows, cam);
        let off = own.map_or(row.reading - pass, |deviation| deviation.0);
        let deviation = CrankDelta(wrap(off, row.period));
        CamDeviation { cam, deviation, against: None }
    };
    cams.map(one).collect()
}

/// The deviation of a cam's own result, where its lead is taken as labelled.
fn as_labelled(evidence: &Evidence, rows: &Rows, cam: usize) -> Option<CrankDelta> {
    let exchanged = rows.crossed.is_some_and(|(one, other)| cam == one || cam == other);
    if exchanged { None } else { evidence.cam(cam)?.deviation() }
}

/// A cam of unknown place, against the first of those that hang on the same reference.
fn against_first(rows: &Rows, group: usize, cam: usize, row: &Row) -> CamDeviation {
    let first = rows.list.iter().find(|other| other.unreferenced == Some(group)).unwrap_or(row);
    let against = match first.kind {
        RowKind::Cam(other) => Some(other),
        RowKind::Tdc | RowKind::Compression => None,
    };
    let apart = wrap(row.reading - first.reading, row.period);
    CamDeviation { cam, deviation: CrankDelta(apart), against }
}

/// The pass of the datum that makes all deviations together smallest: the rule by which the cams
/// chose their pass.
fn likeliest_pass(rows: &Rows) -> f64 {
    let placed = || rows.list.iter().filter(|row| row.kind.is_cam() && row.unreferenced.is_none());
    let total =
        |pass: f64| -> f64 { placed().map(|row| wrap(row.reading - pass, row.period).abs()).sum() };
    let passes = rows.passes.iter().copied();
    passes.min_by(|&a, &b| total(a).total_cmp(&total(b))).unwrap_or(0.0)
}
