//! Signal health: said before any timing, and holding the verdict back as far as it should.
//!
//! A bad crank signal makes every angle doubtful: with probability [`crank_angle_wrong`] the
//! readings say nothing and the prior stands. A bad cam signal makes that cam's reading an outlier
//! more often, which is said where readings are made.

use super::Notice;
use super::evidence::Evidence;
use super::readings::{edges_lost, kind_offs};
use crate::cam::CamPosition;
use crate::crank::Polarity;
use crate::edges::{Glitches, SignalFault};
use crate::engine::Sensor;
use crate::wheel::Form;

/// Share of lost or extra crank teeth that costs nothing: start-up and firing lose a few.
const CRANK_TEETH_FREE: f64 = 0.02;
/// Each further share of lost teeth is this likely to hide a slip of the whole count.
const CRANK_TEETH_DOUBT: f64 = 0.5;
/// Rising and falling edges further apart than this (crank degrees) are a threshold or an air gap.
const EDGE_KIND_APART_DEG: f64 = 2.0;
/// Fewer cycles than this are too few to see scatter.
const FEW_CYCLES: usize = 3;

/// Probability that the crank angle is wrong altogether, 0..1.
pub(super) fn crank_angle_wrong(evidence: &Evidence) -> f64 {
    let crank = &evidence.crank;
    let lost = crank_lost(evidence);
    let doubt = (lost - CRANK_TEETH_FREE).max(0.0) * CRANK_TEETH_DOUBT;
    let confidence = if crank.confidence.is_finite() { crank.confidence } else { 0.0 };
    (1.0 - confidence + doubt).clamp(0.0, 1.0)
}

fn crank_lost(evidence: &Evidence) -> f64 {
    let crank = &evidence.crank;
    (crank.missed + crank.extra) as f64 / crank.teeth_seen.max(1) as f64
}

/// Everything wrong with the signals, in words; the crank first.
pub(super) fn notices(evidence: &Evidence) -> Vec<Notice> {
    let mut notices = crank_notices(evidence);
    for (lead, fault) in evidence.faults {
        notices.push(Notice { about: lead.clone(), text: fault_text(*fault) });
    }
    for result in evidence.cams {
        notices.extend(cam_notices(evidence, &result.measured));
    }
    for cam in evidence.unmeasured() {
        notices.push(Notice {
            about: evidence.engine.cams[cam].name.clone(),
            text: "Not measured. The finding does not cover this cam.".into(),
        });
    }
    notices
}

fn crank_notices(evidence: &Evidence) -> Vec<Notice> {
    let crank = &evidence.crank;
    let notice = |text: String| Notice { about: crank.lead.clone(), text };
    let mut notices = Vec::new();
    if crank.confidence < super::SURE {
        notices.push(notice(
            "The crank wheel's teeth could not be counted beyond doubt, so no angle is sure. Check the \
             wheel in the engine file and the crank lead."
                .into(),
        ));
    }
    if crank_lost(evidence) > CRANK_TEETH_FREE {
        notices.push(notice(format!(
            "{} teeth missing and {} extra edges among {}. Check the crank sensor's air gap, the wheel and \
             the lead.",
            crank.missed, crank.extra, crank.teeth_seen
        )));
    }
    if let Some(jitter) = crank.jitter {
        notices.push(notice(format!(
            "The edges jitter by about {:.1}°: the sensor, its air gap, or the recorder. No tooth is \
             missing for it.",
            jitter.0
        )));
    }
    // Of a wheel given as slots only the edge that marks them counts, and what is doubtful of that is said apart.
    let as_teeth = matches!(evidence.engine.crank.wheel.form(), Form::Teeth(_));
    if crank.polarity == Polarity::Inverted && as_teeth {
        notices.push(notice(reversed(false)));
    }
    notices
}

fn reversed(reluctance: bool) -> String {
    if reluctance {
        "The signal is the other way up than described: the two wires, or the scope's leads, are \
         exchanged. The angles allow for it."
            .into()
    } else {
        "The signal is the other way up than described. The angles allow for it.".into()
    }
}

fn fault_text(fault: SignalFault) -> String {
    match fault {
        SignalFault::Dead => {
            "No signal: the level never changes. Check the lead, the sensor's supply and \
                              ground, and the scope's range."
                .into()
        }
        SignalFault::Clipped(share) => format!(
            "The signal lies on the limit of the scope's range for {:.0} % of the time. Choose a \
             wider range.",
            share * 100.0
        ),
        SignalFault::Noisy(share) => format!(
            "Noise of {:.0} % of the signal. Check the ground lead and keep clear of ignition leads.",
            share * 100.0
        ),
        SignalFault::Wrapped(times) => {
            let times = if times == 1 { "once".into() } else { format!("{times} times") };
            format!("The scope's range overflowed {times}. Choose a wider range.")
        }
        SignalFault::Glitches(Glitches { count, longest }) => {
            let pulses = if count == 1 { "pulse" } else { "pulses" };
            let micros = longest.0 * 1e6;
            // Three digits, in the unit people would say it in.
            let longest = if micros < 1e3 {
                format!("{micros:.0} µs")
            } else {
                format!("{:.1} ms", micros / 1e3)
            };
            format!(
                "Too short to be a tooth at this speed and left out: {count} {pulses}, the longest {longest}. \
                 Bounce, or ignition picked up by the lead."
            )
        }
    }
}

fn cam_notices(evidence: &Evidence, measured: &CamPosition) -> Vec<Notice> {
    let Some(cam) = evidence.engine.cams.get(measured.cam) else { return vec![] };
    let notice = |text: String| Notice { about: cam.name.clone(), text };
    let mut notices = Vec::new();
    if measured.polarity == Polarity::Inverted {
        notices.push(notice(reversed(cam.sensor == Sensor::Reluctance)));
    }
    if measured.cycles.len() < FEW_CYCLES {
        notices.push(notice(format!(
            "Only {} cycles: too few to see scatter. Crank longer, within the starter's limits.",
            measured.cycles.len()
        )));
    }
    let lost = edges_lost(cam, measured);
    if lost > 0 {
        notices.push(notice(format!(
            "{lost} edges of the wheel were never seen. Check for a missing tooth and the air gap."
        )));
    }
    if let (Some(rising), Some(falling)) = kind_offs(measured)
        && (rising - falling).abs() > EDGE_KIND_APART_DEG
    {
        notices.push(notice(format!(
            "All rising edges lie {:.1}° from all falling ones: threshold or air gap, not timing.",
            (rising - falling).abs()
        )));
    }
    notices
}
