//! What the pressure and the controller show, in the result.

use serde::Serialize;

use super::{delta, name, place};
use crate::analysis::Analysis;
use crate::compression::{CompressionOutcome, PressureResult, ValveEventKind};
use crate::engine::Engine;
use crate::stats::NORMAL95;
use crate::units::CrankDelta;
use crate::verdict::errors;

/// One pressure lead; places in crank degrees, TDC from the datum, valve events from the firing TDC
/// that the pressure shows.
#[derive(Serialize)]
pub(super) struct PressurePart {
    cylinder: u32,
    cycles: usize,
    tdc_deg: Option<f64>,
    tdc_off_deg: Option<f64>,
    intake_closes_deg: Option<f64>,
    intake_closes_off_deg: Option<f64>,
    exhaust_opens_deg: Option<f64>,
    exhaust_opens_off_deg: Option<f64>,
    ci95_deg: IntervalsPart,
}

#[derive(Serialize)]
struct IntervalsPart {
    tdc: Option<[f64; 2]>,
    intake_closes: Option<[f64; 2]>,
    exhaust_opens: Option<[f64; 2]>,
}

/// What was typed in of one cam.
#[derive(Serialize)]
pub(super) struct ControllerPart<'a> {
    cam: &'a str,
    phaser_deg: Option<f64>,
    learned_deg: Option<f64>,
}

pub(super) fn pressure_part(engine: &Engine, outcome: &CompressionOutcome) -> Vec<PressurePart> {
    outcome.pressure.iter().map(|one| part(engine, one)).collect()
}

fn part(engine: &Engine, one: &PressureResult) -> PressurePart {
    let tdc = one.tdc_off.and_then(|off| Some(engine.firing_tdc(one.cylinder)? + off));
    let around = |at: f64, sd: f64| {
        [at - NORMAL95 * sd, at + NORMAL95 * sd].map(|end| delta(CrankDelta(end)))
    };
    let event = |kind: ValveEventKind| one.events.iter().find(|event| event.kind == kind);
    let interval = |kind: ValveEventKind| {
        let event = event(kind)?;
        let model = errors::VALVE_EVENT_SD.0.hypot(errors::VALVE_EVENT_OWN_SD.0);
        Some(around(event.at.get(), event.mean_sd().0.hypot(model)))
    };
    let (intake, exhaust) = (ValveEventKind::IntakeCloses, ValveEventKind::ExhaustOpens);
    let at = |kind: ValveEventKind| event(kind).map(|event| place(event.at));
    let off = |kind: ValveEventKind| event(kind).and_then(|event| event.off).map(delta);
    PressurePart {
        cylinder: one.cylinder,
        cycles: one.cycles,
        tdc_deg: tdc.map(place),
        tdc_off_deg: one.tdc_off.map(delta),
        intake_closes_deg: at(intake),
        intake_closes_off_deg: off(intake),
        exhaust_opens_deg: at(exhaust),
        exhaust_opens_off_deg: off(exhaust),
        ci95_deg: IntervalsPart {
            tdc: tdc.map(|tdc| around(tdc.get(), one.mean_sd().0.hypot(errors::PRESSURE_TDC_SD.0))),
            intake_closes: interval(intake),
            exhaust_opens: interval(exhaust),
        },
    }
}

pub(super) fn controller_part(analysis: &Analysis) -> Vec<ControllerPart<'_>> {
    let one = |reading: &crate::verdict::ControllerReading| ControllerPart {
        cam: name(analysis, reading.cam),
        phaser_deg: reading.phaser.map(delta),
        learned_deg: reading.learned.map(delta),
    };
    analysis.verdict.controller.iter().map(one).collect()
}
