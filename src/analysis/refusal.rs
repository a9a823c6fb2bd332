//! What the signal is, where it is not the crank wheel of the description: a refusal that says what to change, and not
//! only to capture again.

use super::AnalysisError;
use crate::capture::Capture;
use crate::crank::{CrankError, CrankLock, lock};
use crate::edges::{EdgeTrain, find_edges};
use crate::engine::Engine;
use crate::leads::{Lead, LeadRequest, Role};
use crate::look::look;
use crate::notice::Notice;
use crate::stats::median;
use crate::units::{CrankDelta, Rpm};

/// Speeds an engine turns at: slower no starter turns it, faster none runs (common practice, no source).
const SPEEDS_RPM: std::ops::RangeInclusive<f64> = 40.0..=9000.0;
/// A usual cranking speed (common practice, no source).
const USUAL_RPM: f64 = 200.0;
/// A wheel found on another lead must be as sure as a finding.
const SURE: f64 = 0.99;
/// A wheel that is known modulo less than this repeats so often that many signals could be read as it.
const LEAST_MODULO: CrankDelta = CrankDelta(90.0);

/// Adds to a crank error what the capture shows instead, where that can be told.
pub(super) fn explained(
    capture: &Capture,
    engine: &Engine,
    leads: &[Lead],
    lead: &str,
    train: &EdgeTrain,
    error: CrankError,
) -> AnalysisError {
    let seen = match error {
        CrankError::NeverLocks { .. } | CrankError::TooShort { .. } => wrong_clock(engine, train)
            .or_else(|| exchanged(capture, engine, leads, lead))
            .or_else(|| recognised(capture, engine, lead)),
        _ => None,
    };
    let capture = capture.source.clone();
    match seen {
        Some(seen) => AnalysisError::NotThisWheel {
            capture,
            lead: lead.to_owned(),
            wheel: engine.crank.wheel.name().to_owned(),
            seen,
        },
        None => AnalysisError::Crank { capture, error },
    }
}

/// A speed that no engine turns at, although the wheel was recognised.
pub(super) fn odd_speed(crank: &CrankLock) -> Option<Notice> {
    let rpm = crank.rpm_mean.0;
    (!SPEEDS_RPM.contains(&rpm)).then(|| Notice {
        about: "crank".into(),
        text: format!(
            "The crank would turn at {rpm:.0} rpm, which no engine does. The time unit or the sample rate of the capture is \
             probably wrong; angles do not depend on it, speeds do."
        ),
    })
}

/// Speed at which the wheel's teeth would come like this.
fn implied(engine: &Engine, train: &EdgeTrain) -> Option<Rpm> {
    let steps: Vec<f64> =
        train.edges.windows(3).map(|three| (three[2].at - three[0].at).0).collect();
    let step = median(&steps).filter(|step| *step > 0.0)?;
    Some(Rpm(60.0 / (step * engine.crank.wheel.tooth_count() as f64)))
}

/// An implied speed no engine has, and the wheel all the same once time is stretched to a usual one: the clock is wrong.
fn wrong_clock(engine: &Engine, train: &EdgeTrain) -> Option<String> {
    let rpm = implied(engine, train).filter(|rpm| !SPEEDS_RPM.contains(&rpm.0))?;
    let stretch = rpm.0 / USUAL_RPM;
    let mut stretched = train.clone();
    for edge in &mut stretched.edges {
        edge.at = edge.at * stretch;
    }
    lock(&stretched, &engine.crank, "crank").ok()?;
    Some(format!(
        "The wheel is there, but at {:.3} rpm, which no engine turns at: the time unit or the sample rate of the capture is \
         wrong. Give the right one with --time-unit or --rate",
        rpm.0
    ))
}

/// The described wheel on another column.
fn exchanged(capture: &Capture, engine: &Engine, leads: &[Lead], lead: &str) -> Option<String> {
    let found = capture.channels.iter().enumerate().find_map(|(index, channel)| {
        if channel.name == lead {
            return None;
        }
        let train = find_edges(capture, channel, Some(engine.crank.sensor));
        let found = lock(&train, &engine.crank, &channel.name).ok()?;
        let sure = found.confidence >= SURE && found.angle.known_modulo() >= LEAST_MODULO;
        sure.then_some((index, channel, found.rpm_mean))
    });
    let (index, channel, rpm) = found?;
    let carried = leads.iter().find(|lead| lead.channel == index).map(|lead| lead.role);
    let mixed = match carried {
        Some(role @ Role::Cam(_)) => format!(
            "The leads of the crank and of {} look exchanged: that wheel",
            role.name(engine)
        ),
        _ => "That wheel".into(),
    };
    Some(format!(
        "{mixed} is on column \"{}\", at {:.0} rpm. Give --lead \"crank={}\"",
        channel.name, rpm.0, channel.name
    ))
}

/// What the lead looks like without a description.
fn recognised(capture: &Capture, engine: &Engine, lead: &str) -> Option<String> {
    let request: LeadRequest = format!("crank={lead}").parse().ok()?;
    let seen = look(capture, &[request]);
    let (guess, rpm) = (seen.wheel.as_ref().ok()?, seen.lock.as_ref()?.rpm_mean);
    if guess.wheel.form() == engine.crank.wheel.form() {
        return None;
    }
    Some(format!(
        "It looks like {} at {:.0} rpm. Check `wheel` in [crank] of the engine file, or whether this is that engine",
        guess.name, rpm.0
    ))
}
