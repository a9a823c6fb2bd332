//! What the pressure in a cylinder adds: top dead centre, and the valves themselves.
//!
//! Valve events are counted from the top dead centre the same pressure shows, so neither the
//! crank's wheel nor a cam's has any part in them: they tell a shaft that really stands off from a
//! wheel that slipped.

use super::errors;
use super::rows::{Row, RowKind};
use crate::engine::{CamShaft, Engine};
use crate::units::{CYCLE_DEG, CrankDelta};
use crate::verdict::evidence::{Evidence, ValveEvidence};

/// Top dead centre by pressure, known as far as the crank's wheel tells its turns apart.
pub(super) fn tdc_row(evidence: &Evidence) -> Option<Row> {
    let tdc = evidence.pressure_tdc?;
    let period = tdc.known_modulo.0.min(evidence.crank.known_modulo.0);
    Some(Row {
        kind: RowKind::Tdc { by_motion: false },
        reading: tdc.off.wrap(CrankDelta(period)).0,
        period: Some(period),
        variance: tdc.sd.0.powi(2) + errors::PRESSURE_TDC_SD.0.powi(2),
        outlier: errors::PRESSURE_TDC_OUTLIER,
        misregistered: 0.0,
        outlier_density: 1.0 / period,
        unreferenced: None,
    })
}

/// A row for each valve event that some cam of the engine makes.
pub(super) fn valve_rows(evidence: &Evidence) -> Vec<Row> {
    let row = |valve: &ValveEvidence| {
        let cam = cam_of(evidence.engine, valve)?;
        // Without a place in the description only cylinders of one sort can be held against each
        // other.
        let first = evidence.valves.iter().find(|one| one.intake == valve.intake)?;
        let reading = valve.off.unwrap_or(valve.at - first.at);
        Some(Row {
            kind: RowKind::Valve { cam, intake: valve.intake },
            reading: reading.0,
            period: Some(CYCLE_DEG),
            variance: valve.scatter.0.powi(2) + errors::VALVE_EVENT_OWN_SD.0.powi(2),
            outlier: errors::VALVE_EVENT_OUTLIER,
            misregistered: 0.0,
            outlier_density: errors::VALVE_EVENT_OUTLIER_DENSITY,
            unreferenced: None,
        })
    };
    evidence.valves.iter().filter_map(row).collect()
}

/// What the valve events of one sort have in common: how well that sort can be read at all, or,
/// where the description does not place it, anything.
pub(super) fn shared(list: &[Row], evidence: &Evidence) -> Vec<(Vec<f64>, f64)> {
    let of = |sort: bool| {
        let has = |row: &Row| matches!(row.kind, RowKind::Valve { intake, .. } if intake == sort);
        let stated = evidence.valves.iter().any(|one| one.intake == sort && one.off.is_some());
        let sd = if stated { errors::VALVE_EVENT_SD } else { errors::VALVE_EVENT_UNPLACED_SD };
        let pattern: Vec<f64> = list.iter().map(|row| f64::from(u8::from(has(row)))).collect();
        list.iter().any(has).then_some((pattern, sd.0))
    };
    [true, false].into_iter().filter_map(of).collect()
}

/// The cam that works those valves of that cylinder.
fn cam_of(engine: &Engine, valve: &ValveEvidence) -> Option<usize> {
    let bank = engine.bank_of(valve.cylinder)?;
    let shaft = if valve.intake { CamShaft::Intake } else { CamShaft::Exhaust };
    engine.cams.iter().position(|cam| {
        cam.banks.contains(&bank) && (cam.shaft == shaft || cam.shaft == CamShaft::Single)
    })
}
