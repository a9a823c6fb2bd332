//! What was measured, in the owner's words.

use crate::analysis::Analysis;
use crate::crank::Condition;
use crate::report::words::{compression_owner, list};
use crate::units::CYCLE_DEG;
use crate::verdict::{CompressionState, State};

/// What was measured, and what it was held against.
#[must_use]
pub fn measured(analysis: &Analysis) -> String {
    let cams = match analysis.cams.len() {
        0 if !without_cams(analysis) => return no_cam(analysis),
        1 => "one camshaft sensor".into(),
        several => format!("{several} camshaft sensors"),
    };
    let doing = match analysis.crank.condition {
        Condition::Cranking => "while the starter turned the engine",
        Condition::Running => "while the engine ran",
        Condition::Mixed => "while the engine was started and ran",
    };
    let turns = match analysis.cycles {
        1 => "1 whole engine cycle".to_owned(),
        cycles => format!("{cycles} whole engine cycles"),
    };
    let compression = if analysis.compression.measured.is_some() {
        " The compression of the cylinders was compared as well."
    } else {
        ""
    };
    let modulo = if analysis.known_modulo.0 < CYCLE_DEG {
        " Some positions look alike to the sensors that were connected."
    } else {
        ""
    };
    let unknown = nowhere(analysis);
    if without_cams(analysis) {
        return format!(
            "The crankshaft sensor, recorded {doing}, over {turns}.{compression} The engine was not taken apart."
        );
    }
    let held = match (
        analysis.cams.iter().any(|cam| cam.deviation().is_some()),
        analysis.cams.len(),
    ) {
        (true, _) => ", and that was held against where it should stand",
        (false, 1) => "; where it should stand is not known, so it was held against nothing",
        (false, _) => {
            "; where they should stand is not known, so none was held against a place of its own"
        }
    };
    format!(
        "The crankshaft sensor and {cams}, recorded {doing}, over {turns}. From the signals it was worked out where \
         each camshaft stands{held}. The engine was not taken apart.{compression}{modulo}{unknown}"
    )
}

/// What stands out in the compressions, in the owner's words; `None` where nothing does, nothing is
/// judged, or "what it means" says it already.
#[must_use]
pub fn compression(analysis: &Analysis) -> Option<String> {
    let finding = &analysis.compression_finding;
    let said = match finding.state {
        CompressionState::Withheld => return None,
        CompressionState::Even => format!(
            "{} No single cylinder or side is weak, so a valve that no longer closes is unlikely. All of them weak alike would not \
             show.",
            compression_owner(finding)
        ),
        // A jumped chain's own bank is low: that is said with it.
        CompressionState::BankLow if analysis.verdict.state == State::Jumped => return None,
        _ => compression_owner(finding),
    };
    Some(said)
}

/// Whether the engine was described without camshafts, to compare its cylinders alone.
pub(super) fn without_cams(analysis: &Analysis) -> bool {
    analysis.engine.cams.is_empty()
}

/// The camshafts that could not be held against anything.
fn nowhere(analysis: &Analysis) -> String {
    let names: Vec<&str> = analysis
        .cams
        .iter()
        .filter(|cam| cam.deviation().is_none())
        .map(|cam| analysis.engine.cams[cam.measured.cam].name.as_str())
        .collect();
    match names.as_slice() {
        [] => String::new(),
        // Said already where it is all of them.
        names if names.len() == analysis.cams.len() => String::new(),
        names => format!(" Where it should stand is not known for {}.", list(names)),
    }
}

/// What was measured where no camshaft could be read.
fn no_cam(analysis: &Analysis) -> String {
    let compared = if analysis.compression.measured.is_some() {
        " The compression of the cylinders was compared with one another."
    } else {
        ""
    };
    format!(
        "The crankshaft sensor, but no camshaft sensor that could be read.{compared} The engine was not taken apart."
    )
}
