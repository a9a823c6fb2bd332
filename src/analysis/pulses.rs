//! What a direction-sensing crank sensor says beside the angle: that the engine rocked back, that
//! the samples lie too far apart for its pulses.

use super::AnalysisError;
use super::refusal::{CrankLead, explained};
use crate::capture::{Capture, CaptureKind};
use crate::crank::CrankError;
use crate::edges::{EdgeTrain, SAMPLES_PER_PULSE, USUAL_PULSE};
use crate::engine::{Engine, Sensor};
use crate::notice::Notice;
use crate::units::{Seconds, TURN_DEG};
use crate::wheel::Form;

/// Samples per second of a capture in which the sensor's pulses fall between the samples; `None`
/// when they do not, or it gives none.
fn too_low(capture: &Capture, engine: &Engine, train: &EdgeTrain) -> Option<f64> {
    if capture.kind == CaptureKind::Events {
        return None;
    }
    let (first, last) = capture.span();
    let rate = capture.rows().saturating_sub(1) as f64 / (last - first).0;
    let missed = match &train.pulses {
        Some(pulses) => !pulses.tells_direction,
        None => engine.crank.sensor == Sensor::Pulse && rate * USUAL_PULSE.0 < 2.0,
    };
    missed.then_some(rate)
}

/// Why the crank could not be read: the rate, where pulses fall between samples; else what the
/// search says.
pub(super) fn refusal(crank: &CrankLead, error: CrankError) -> AnalysisError {
    match too_low(crank.capture, crank.engine, crank.train) {
        Some(rate) => AnalysisError::PulsesMissed {
            capture: crank.capture.source.clone(),
            lead: crank.lead.to_owned(),
            rate,
            pulse: USUAL_PULSE,
            need: need(),
        },
        None => explained(crank, error),
    }
}

/// Least samples per second, up to the next thousand.
fn need() -> f64 {
    (SAMPLES_PER_PULSE / USUAL_PULSE.0 / 1e3).ceil() * 1e3
}

/// What is to be said of the crank sensor's pulses.
pub(super) fn notices(capture: &Capture, engine: &Engine, train: &EdgeTrain) -> Vec<Notice> {
    let notice = |text: String| Notice { about: "crank".into(), text };
    let mut notices = Vec::new();
    let stated = engine.crank.sensor == Sensor::Pulse;
    if let Some(rate) = too_low(capture, engine, train) {
        notices.push(notice(format!(
            "The sensor gives output pulses of some tens of microseconds. At {rate:.0} samples per second some fall between \
             two samples, and teeth are lost. Capture at {:.0} per second or more.",
            need()
        )));
    }
    let Some(pulses) = &train.pulses else {
        if stated {
            notices.push(notice(
                "The engine file has a direction-sensing sensor (sensor = \"pulse\"), but the signal shows no short pulses. It \
                 was read as it is. Check the sensor in the engine file."
                    .into(),
            ));
        }
        return notices;
    };
    if !stated {
        notices.push(notice(
            "The signal is made of short output pulses, as direction-sensing sensors give them. Write sensor = \"pulse\" \
             in the engine file, and rocking back is told from them."
                .into(),
        ));
    }
    for run in &pulses.backward {
        let Seconds(at) = run.from;
        notices.push(notice(format!(
            "Longer pulses: the engine rocked back by {} teeth, about {:.0}°, at {at:.2} s. Teeth passed backwards are \
             left out.",
            run.teeth,
            run.teeth as f64 * pitch(engine)
        )));
    }
    notices
}

/// Crank degrees from tooth to tooth, on most of the wheel.
fn pitch(engine: &Engine) -> f64 {
    match engine.crank.wheel.form() {
        Form::Slots { slots, .. } => TURN_DEG / f64::from(*slots),
        Form::Teeth(teeth) => TURN_DEG / teeth.len().max(1) as f64,
    }
}
