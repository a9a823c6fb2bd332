//! Cams of captures without a crank.

use serde::Serialize;

use super::{delta, round};
use crate::analysis::CrankingTest;

#[derive(Serialize)]
pub(super) struct CoarsePart<'a> {
    name: &'a str,
    lead: &'a str,
    deviation_deg: f64,
    half_width95_deg: f64,
    known_modulo_deg: f64,
}

pub(super) fn coarse_part(test: &CrankingTest) -> Vec<CoarsePart<'_>> {
    let cams = test.main().cams.iter();
    cams.map(|cam| CoarsePart {
        name: &test.engine.cams[cam.cam].name,
        lead: &cam.lead,
        deviation_deg: round(cam.deviation.0, 1),
        half_width95_deg: round(cam.half_width95.0, 1),
        known_modulo_deg: delta(cam.known_modulo),
    })
    .collect()
}
