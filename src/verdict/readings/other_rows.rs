//! Rows of what is no cam: what a controller has learned, TDC, compression by bank.

use super::errors;
use super::rows::{Row, RowKind};
use crate::verdict::ControllerReading;
use crate::verdict::evidence::Evidence;

/// What the controller has learned of each cam, crank degrees late.
pub(super) fn learned_rows(evidence: &Evidence) -> Vec<Row> {
    let row = |one: &ControllerReading| {
        let learned = one.learned?;
        // A controller stops learning at its limit: from there on the cam may be any further off.
        let at_limit = learned.0.abs() > errors::LEARNING_LIMIT.0;
        let sd = if at_limit { errors::LEARNED_AT_LIMIT_SD } else { errors::LEARNED_SD };
        Some(Row {
            kind: RowKind::Learned(one.cam),
            reading: learned.0,
            period: None,
            variance: sd.0.powi(2),
            outlier: errors::LEARNED_OUTLIER,
            misregistered: 0.0,
            outlier_density: errors::LEARNED_OUTLIER_DENSITY,
            unreferenced: None,
        })
    };
    evidence.controller.iter().filter_map(row).collect()
}

/// Top dead centre by the motion, degrees late of where the description has it.
pub(super) fn tdc_row(evidence: &Evidence) -> Option<Row> {
    let tdc = evidence.tdc?;
    Some(Row {
        kind: RowKind::Tdc { by_motion: true },
        reading: tdc.off.0,
        period: Some(tdc.known_modulo.0),
        variance: tdc.sd.0.powi(2) + errors::TDC_MODEL_SD.0.powi(2),
        outlier: errors::TDC_OUTLIER,
        misregistered: 0.0,
        outlier_density: 1.0 / tdc.known_modulo.0,
        unreferenced: None,
    })
}

/// The signs that a difference between banks may have: both where nothing names the banks.
pub(super) fn namings(evidence: &Evidence) -> Vec<f64> {
    let unnamed = evidence.compression.as_ref().is_some_and(|compression| compression.unnamed);
    if unnamed { vec![1.0, -1.0] } else { vec![1.0] }
}

/// The difference of compression between banks, a share of the mean.
pub(super) fn compression_row(evidence: &Evidence) -> Option<Row> {
    let compression = evidence.compression.as_ref()?;
    // How well the size of an effect is known is the business of whoever supposes one: see
    // `likelihood`.
    Some(Row {
        kind: RowKind::Compression,
        reading: compression.difference,
        period: None,
        variance: compression.sd.powi(2) + errors::BANK_COMPRESSION_SD.powi(2),
        outlier: errors::COMPRESSION_OUTLIER,
        misregistered: 0.0,
        outlier_density: errors::COMPRESSION_OUTLIER_DENSITY,
        unreferenced: None,
    })
}
