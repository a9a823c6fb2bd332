//! What every cam would read by the other kind of edge of the crank signal, where that may be the one
//! that marks the teeth.

use crate::cam::{CamPosition, measure};
use crate::crank::{CrankLock, WhyDoubted};
use crate::edges::EdgeTrain;
use crate::engine::Engine;
use crate::units::{CrankDeg, CrankDelta};
use crate::wheel::EdgeKind;

/// The reading that was not taken.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherEdge {
    /// The edge that was taken.
    pub taken: EdgeKind,
    /// Why it may be the other.
    pub why: WhyDoubted,
    /// How much later everything would read by the other, negative for earlier; `None` when the wheel cannot be
    /// read by it.
    pub later: Option<CrankDelta>,
    /// Where each cam stands by the edge taken and by the other: index into the engine's cams.
    pub cams: Vec<(usize, CrankDeg, CrankDeg)>,
}

/// Reads the cams once more; `None` where the marking edge is not in doubt. `positions` are those by the edge taken.
pub(super) fn other_edge<'a>(
    engine: &Engine,
    crank: &CrankLock,
    cams: impl Iterator<Item = (usize, &'a str, &'a EdgeTrain)>,
    positions: &[CamPosition],
) -> Option<OtherEdge> {
    let doubt = crank.edge_doubt.as_ref()?;
    let modulo = crank.angle.known_modulo();
    let cams = cams
        .filter_map(|(cam, lead, train)| {
            let (angle, later) = (doubt.angle.as_ref()?, doubt.later?);
            let taken = positions.iter().find(|position| position.cam == cam)?.position;
            let other = measure(cam, &engine.cams[cam], lead, train, angle)?.position;
            // Each stretch counts from a datum pass of its own.
            let off = CrankDelta(other.get() - taken.get() - later.0).wrap(modulo);
            Some((cam, taken, taken + later + off))
        })
        .collect();
    Some(OtherEdge { taken: crank.marking_edge, why: doubt.why, later: doubt.later, cams })
}
