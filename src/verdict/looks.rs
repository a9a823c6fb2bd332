//! How every cam's reading looks apart from its place, worked out once for all explanations.

use super::behaviour::{Behaviour, Motion};
use super::evidence::Evidence;
use super::explanations::Variant;
use super::likelihood::Look;
use super::rows::{Row, RowKind, Rows};
use super::wheel_edges::{EdgeLook, edge_look};

/// The looks of one cam's reading.
struct CamLook {
    cam: usize,
    motion: Motion,
    edges: EdgeLook,
}

/// The looks of all cams' readings.
pub(super) struct Looks {
    cams: Vec<CamLook>,
}

impl Looks {
    pub(super) fn new(evidence: &Evidence) -> Looks {
        let engine = evidence.engine;
        let measured = evidence.cams.iter().map(|result| &result.measured);
        let cams = measured.filter(|measured| measured.cam < engine.cams.len());
        let look = |measured: &crate::cam::CamPosition| CamLook {
            cam: measured.cam,
            motion: Motion::of(measured),
            edges: edge_look(&engine.cams[measured.cam], measured),
        };
        Looks { cams: cams.map(look).collect() }
    }

    /// The looks of the rows under one variant, in their order, a slack chain swinging or not. A cam that only a
    /// crossed lead shows has none.
    pub(super) fn of(&self, rows: &Rows, variant: &Variant, swings: bool) -> Vec<Look> {
        let one = |row: &Row| {
            let RowKind::Cam(cam) = row.kind else { return Look::default() };
            let Some(look) = self.cams.iter().find(|look| look.cam == cam) else {
                return Look::default();
            };
            let moving = variant.moving.iter().find(|(moved, _)| *moved == cam);
            let motion = match moving.map_or(Behaviour::Steady, |(_, behaviour)| *behaviour) {
                Behaviour::Worn if swings => look.motion.swinging,
                Behaviour::Steady | Behaviour::Worn => look.motion.steady,
                Behaviour::Loose => look.motion.loose,
            };
            let damaged = variant.damaged == Some(cam);
            let edges = if damaged { look.edges.damaged } else { look.edges.sound };
            Look { real: motion + edges, noise: look.motion.noise + look.edges.noise }
        };
        rows.list.iter().map(one).collect()
    }
}
