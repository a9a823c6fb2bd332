//! What a result rests on, in words.

use crate::analysis::Options;
use crate::capture::{CaptureFacts, CaptureKind, ChannelFacts, Unit};
use crate::engine::{Engine, Sensor};
use crate::verdict::{Kind, priors};

use super::percent;
use crate::analysis::Analysis;
use crate::units::{CrankDeg, ShaftDeg, TURN_DEG};
use crate::wheel::{Form, ToothCount};

/// Version of the program that found a result.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// What the odds were held against.
pub const CALIBRATION: &str = "The odds were counted on simulated engines with known faults and tried on real recordings. On real engines with known \
                               faults they were not counted.";

/// The leads that were asked for, as they would be typed; a file by its name alone.
#[must_use]
pub fn leads_asked(asked: &Options) -> Vec<String> {
    let lead = |one: &crate::leads::LeadRequest| {
        let scale = one.amperes_per_volt.map_or(String::new(), |scale| format!(":{scale}A/V"));
        format!("{}={}{scale}", without_folder(&one.name), one.column)
    };
    asked.leads.iter().map(lead).collect()
}

/// A lead's name without the folders of the file that may stand before it.
#[must_use]
pub fn without_folder(name: &str) -> &str {
    match name.rsplit_once(':') {
        Some((file, _)) => {
            let kept = file.rfind(['/', '\\']).map_or(0, |at| at + 1);
            &name[kept..]
        }
        None => name,
    }
}

/// Rows, rate and length of a recording.
#[must_use]
pub fn recording(facts: &CaptureFacts) -> String {
    let rows = match facts.kind {
        CaptureKind::Sampled => "rows",
        CaptureKind::Events => "rows, one for each change",
    };
    let rate = facts
        .rate
        .map_or("each with a time of its own".to_owned(), |rate| format!("{rate:.0} a second"));
    format!("{} {rows}, {rate}, {:.3} s", facts.rows, facts.seconds.0)
}

/// The finest step of a column: "crank 0.04 V".
#[must_use]
pub fn resolution(channel: &ChannelFacts) -> String {
    let unit = match channel.unit {
        Unit::Volts => " V",
        Unit::Amperes => " A",
        Unit::Level => return format!("{}: levels", channel.name),
    };
    match channel.step {
        Some(step) if step >= 0.001 => format!("{}: {step:.3}{unit}", channel.name),
        Some(step) => format!("{}: {step:.1e}{unit}", channel.name),
        None => format!("{}: does not change", channel.name),
    }
}

/// What was said beside the captures, each as a sentence.
#[must_use]
pub fn options_used(engine: &Engine, asked: &Options) -> Vec<String> {
    let mut said = Vec::new();
    let leads = leads_asked(asked);
    said.push(match leads.as_slice() {
        [] => "Leads: by the names of the columns.".into(),
        leads => format!("Leads: {}.", leads.join("; ")),
    });
    said.push(match asked.codes.as_slice() {
        [] => "Stored codes: none given.".into(),
        codes => format!("Stored codes: {}.", codes.join(", ")),
    });
    if asked.no_code_evidence {
        said.push("Which bank the codes name was left out of the odds.".into());
    }
    for one in &asked.controller {
        let cam = &engine.cams[one.cam].name;
        said.extend(one.phaser.map(|at| format!("Scan tool: phaser of {cam} at {:.1}°.", at.0)));
        said.extend(one.learned.map(|off| format!("Scan tool: learned offset of {cam} {off}.")));
    }
    if asked.after_repair {
        said.push("The drive was just put together.".into());
    }
    said.push(match &asked.known {
        None => "No known-good reference was given.".into(),
        Some(known) if known.engines() == 1 => {
            "Known-good reference: learned from 1 engine.".into()
        }
        Some(known) => format!("Known-good reference: learned from {} engines.", known.engines()),
    });
    said
}

/// The odds of each kind of fault before anything was measured.
#[must_use]
pub fn prior_odds(asked: &Options) -> Vec<(&'static str, String)> {
    let told = |(kind, odds): (Kind, f64)| (kind_in_short(kind), percent(odds));
    priors::stated(&asked.codes, asked.after_repair).into_iter().map(told).collect()
}

/// Which odds these are.
#[must_use]
pub fn prior_of(asked: &Options) -> &'static str {
    if asked.after_repair {
        "of an engine that was just put together"
    } else if priors::correlation_code(&asked.codes) {
        "of an engine with a stored code that crank and camshaft disagree"
    } else {
        "of an engine without a stored code that crank and camshaft disagree"
    }
}

fn kind_in_short(kind: Kind) -> &'static str {
    match kind {
        Kind::InTime => "in time",
        Kind::Skip => "skipped teeth",
        Kind::Wear => "worn past tolerance",
        Kind::PhaserOffRest => "phaser off its rest",
        Kind::CrankReferenceMoved => "crank wheel or key moved",
        Kind::CamWheelMoved => "cam wheel moved",
        Kind::DamagedTooth => "damaged tooth",
        Kind::LeadsCrossed => "leads exchanged",
        Kind::DoesNotFit => "description or leads wrong",
    }
}

/// What degrees are counted from, in words.
#[must_use]
pub fn counted_from(engine: &Engine) -> String {
    let tdc = match engine.crank.tdc {
        Some(tdc) => format!(" Top dead centre of cylinder 1 is at {:.1}°.", tdc.0),
        None => String::new(),
    };
    let mark = datum_mark(engine);
    let pass =
        "the pass before firing of cylinder 1, where the two turns of a cycle can be told apart";
    format!("Degrees count from {mark}, as it passes the sensor ({pass}), in crank degrees.{tdc}")
}

/// Teeth of the crank wheel from tooth 1 to each edge of each cam: the cam's name, and its edges as
/// measured and as they should be.
#[must_use]
pub fn teeth_to_edges(analysis: &Analysis) -> Vec<(String, Vec<String>)> {
    let counted = counted_on(&analysis.engine);
    let count = |at: CrankDeg| {
        let place = ShaftDeg::new(at.get().rem_euclid(TURN_DEG));
        // A turn begins with its tooth 1.
        let second = (at.get() >= TURN_DEG) != counted.before_first(place);
        (if second { 2 } else { 1 }, format!("{:.1}", counted.at(place)))
    };
    let told = |measured: (u32, String), expected: Option<(u32, String)>| match expected {
        None => format!("{} in turn {}", measured.1, measured.0),
        Some(expected) if expected.0 == measured.0 => {
            format!("{} where {} should be, in turn {}", measured.1, expected.1, measured.0)
        }
        Some(expected) => format!(
            "{} in turn {} where {} in turn {} should be",
            measured.1, measured.0, expected.1, expected.0
        ),
    };
    let cams = analysis.cams.iter().map(|cam| {
        let edges = cam.measured.edges.iter().map(|edge| {
            let expected = cam.deviation().map(|off| count(edge.at - edge.off - off));
            format!("{} {}", edge.kind.word(), told(count(edge.at), expected))
        });
        (analysis.engine.cams[cam.measured.cam].name.clone(), edges.collect())
    });
    cams.collect()
}

/// The crank wheel's teeth as somebody counts them on the signal of its sensor.
#[must_use]
pub fn counted_on(engine: &Engine) -> ToothCount {
    engine.crank.wheel.counted(engine.crank.sensor == Sensor::Reluctance)
}

/// Which tooth is the first.
#[must_use]
pub fn first_tooth(engine: &Engine) -> &'static str {
    match engine.crank.wheel.form() {
        Form::Slots { slots, missing, .. } if missing.contains(slots) => "the first after the gap",
        Form::Slots { .. } => "the one the engine file counts from",
        Form::Teeth(_) => "the first in the wheel’s list",
    }
}

/// What of the crank wheel is at 0°.
#[must_use]
pub fn datum_mark(engine: &Engine) -> &'static str {
    match engine.crank.wheel.form() {
        Form::Slots { slots, missing, .. } if missing.contains(slots) => {
            "the marking edge of the crank wheel’s tooth 1, the first after the gap"
        }
        Form::Slots { .. } => "the marking edge of the crank wheel’s tooth 1",
        Form::Teeth(_) => "the start of the crank wheel’s first tooth",
    }
}
