//! The deviations a reader is told, for one way to assign the leads and one pass of the datum.

use super::readings::{Row, RowKind, Rows, wrap};
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

/// Deviations of all measured cams when they are misread by this pass.
pub(super) fn deviations(rows: &Rows, pass: CrankDelta) -> Vec<CamDeviation> {
    let cams = rows.list.iter().filter_map(|row| match row.kind {
        RowKind::Cam(cam) => Some((cam, row)),
        RowKind::Tdc | RowKind::Compression => None,
    });
    let one = |(cam, row): (usize, &Row)| {
        if let Some(group) = row.unreferenced {
            return against_first(rows, group, cam, row);
        }
        let deviation = CrankDelta(wrap(row.reading - pass.0, row.period));
        CamDeviation { cam, deviation, against: None }
    };
    cams.map(one).collect()
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

/// By which pass the cams are misread, where their readings leave that open: the likeliest under what
/// is found. Of one cam alone every pass says the same: the one that leaves it nearest its place.
/// `log_density` is that of what is found.
pub(super) fn likeliest_pass(rows: &Rows, log_density: impl Fn(&Rows) -> f64) -> CrankDelta {
    let placed: Vec<&Row> =
        rows.list.iter().filter(|row| row.kind.is_cam() && row.unreferenced.is_none()).collect();
    let worth = |pass: f64| match placed[..] {
        [] => 0.0,
        [one] => -wrap(one.reading - pass, one.period).abs(),
        _ => log_density(&rows.at_pass(pass)),
    };
    // Of equals the first, which is the pass that the cams themselves chose.
    let first = rows.passes.first().copied().unwrap_or(0.0);
    let better = |best: (f64, f64), pass: f64| {
        let worth = worth(pass);
        if worth > best.1 + EQUAL { (pass, worth) } else { best }
    };
    let rest = rows.passes.iter().skip(1).copied();
    CrankDelta(rest.fold((first, worth(first)), better).0)
}

/// Logarithms of densities, or degrees, nearer than this are equal: rounding is far less, and what is
/// told of a cam should not hang on it.
const EQUAL: f64 = 1e-6;
