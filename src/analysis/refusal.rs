//! What the signal is, where it is not the crank wheel of the description: a refusal that says what
//! to change, and not only to capture again.

use std::fmt;

use super::AnalysisError;
use crate::capture::Capture;
use crate::crank::{CrankError, CrankLock, lock};
use crate::edges::{EdgeTrain, SignalShape, find_edges_of};
use crate::engine::{Engine, Sensor};
use crate::leads::{Lead, LeadRequest, Role};
use crate::look::look;
use crate::notice::Notice;
use crate::remedy::{Remedy, Setting};
use crate::stats::median;
use crate::units::{CrankDelta, Rpm};

/// Speeds an engine turns at: slower no starter turns it, faster none runs (common practice, no
/// source).
const SPEEDS_RPM: std::ops::RangeInclusive<f64> = 40.0..=9000.0;
/// Edges that are enough to see whether a wheel is there: hundreds of turns.
const ENOUGH_EDGES: usize = 20_000;
/// A usual cranking speed (common practice, no source).
const USUAL_RPM: f64 = 200.0;
/// A wheel found on another lead must be as sure as a finding.
const SURE: f64 = 0.99;
/// A wheel that is known modulo less than this repeats so often that many signals could be read as
/// it.
const LEAST_MODULO: CrankDelta = CrankDelta(90.0);

/// What a crank lead carries that does not show the wheel of the description. Printed as a sentence
/// without its full stop: what is seen.
#[derive(Debug, Clone, PartialEq)]
pub enum SeenInstead {
    /// The described wheel, but at a speed no engine has.
    WrongClock {
        /// That speed.
        rpm: Rpm,
    },
    /// The described wheel is on another column.
    OnColumn {
        /// Header of that column.
        column: String,
        /// Mean speed.
        rpm: Rpm,
        /// Name of the lead that was thought to be on that column.
        taken_for: Option<String>,
    },
    /// Another wheel.
    OtherWheel {
        /// Name of the wheel.
        wheel: String,
        /// Mean speed.
        rpm: Rpm,
        /// The sensor, where it is not as described.
        sensor: Option<Sensor>,
    },
}

impl fmt::Display for SeenInstead {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SeenInstead::WrongClock { rpm } => write!(
                out,
                "The wheel is there, but at {} rpm, at which no engine turns: the time unit or the sample rate of the capture is \
                 wrong",
                readable(*rpm)
            ),
            SeenInstead::OnColumn { column, rpm, taken_for: Some(lead) } => write!(
                out,
                "The leads of the crank and of {lead} look exchanged: that wheel is on column \"{column}\", at {:.0} rpm",
                rpm.0
            ),
            SeenInstead::OnColumn { column, rpm, taken_for: None } => {
                write!(out, "That wheel is on column \"{column}\", at {:.0} rpm", rpm.0)
            }
            SeenInstead::OtherWheel { wheel, rpm, sensor } => {
                write!(out, "It shows another wheel: {wheel} at {:.0} rpm", rpm.0)?;
                if let Some(sensor) = sensor {
                    write!(out, ", of a {} sensor", sensor_word(*sensor))?;
                }
                Ok(())
            }
        }
    }
}

impl SeenInstead {
    /// What would mend it. `on` is the column that was taken for the crank.
    #[must_use]
    pub fn remedies(&self, on: &str) -> Vec<Remedy> {
        let put = |lead: &str, column: &str| Remedy::set(Setting::Lead, format!("{lead}={column}"));
        match self {
            SeenInstead::WrongClock { .. } => vec![
                Remedy::give(Setting::TimeUnit),
                Remedy::give(Setting::SampleRate).only_if("it has no column of times"),
            ],
            SeenInstead::OnColumn { column, taken_for: Some(lead), .. } => {
                vec![Remedy::All(vec![put("crank", column), put(lead, on)])]
            }
            SeenInstead::OnColumn { column, taken_for: None, .. } => vec![put("crank", column)],
            SeenInstead::OtherWheel { .. } => vec![
                Remedy::to("check the wheel in [crank] of the engine file"),
                Remedy::to("see whether the file is of this engine"),
            ],
        }
    }
}

fn sensor_word(sensor: Sensor) -> &'static str {
    match sensor {
        Sensor::Hall => "Hall",
        Sensor::Reluctance => "reluctance",
        Sensor::Pulse => "direction-sensing",
    }
}

/// A speed that may be tiny or huge.
fn readable(rpm: Rpm) -> String {
    if rpm.0 < 10.0 { format!("{:.2}", rpm.0) } else { format!("{:.0}", rpm.0) }
}

/// A crank lead as it was read, in its capture.
pub(super) struct CrankLead<'a> {
    pub capture: &'a Capture,
    pub engine: &'a Engine,
    /// Every lead of the capture.
    pub leads: &'a [Lead],
    /// Name of its column.
    pub lead: &'a str,
    pub train: &'a EdgeTrain,
}

/// Adds to a crank error what the capture shows instead, where that can be told.
pub(super) fn explained(crank: &CrankLead, error: CrankError) -> AnalysisError {
    let CrankLead { capture, engine, leads, lead, train } = *crank;
    let seen = match error {
        CrankError::NeverLocks { .. }
        | CrankError::TooShort { .. }
        | CrankError::TooManyEdges { .. }
        | CrankError::NoRotation { .. } => wrong_clock(engine, train)
            .or_else(|| exchanged(capture, engine, leads, lead))
            .or_else(|| recognised(capture, engine, lead, train)),
    };
    let capture = capture.source.clone();
    match seen {
        Some(seen) => AnalysisError::NotThisWheel {
            capture,
            lead: lead.to_owned(),
            wheel: engine.crank.wheel.name().to_owned(),
            seen: Box::new(seen),
        },
        None => AnalysisError::Crank { capture, error },
    }
}

/// A speed that no engine turns at, although the wheel was recognised.
pub(super) fn odd_speed(crank: &CrankLock) -> Option<Notice> {
    let rpm = crank.rpm_mean;
    let cause = if rpm.0 < *SPEEDS_RPM.start() {
        "which is slower than any starter turns an engine. Unless it was turned by hand, the"
    } else if rpm.0 > *SPEEDS_RPM.end() {
        "which is faster than any engine runs. The"
    } else {
        return None;
    };
    Some(Notice {
        about: "crank".into(),
        text: format!(
            "It turns at {} rpm, {cause} time unit or the sample rate of the capture is probably wrong. Angles do not depend on \
             it, speeds do.",
            readable(rpm)
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

/// An implied speed no engine has, and the wheel all the same once time is stretched to a usual
/// one: the clock is wrong.
fn wrong_clock(engine: &Engine, train: &EdgeTrain) -> Option<SeenInstead> {
    let rpm = implied(engine, train).filter(|rpm| !SPEEDS_RPM.contains(&rpm.0))?;
    let stretch = rpm.0 / USUAL_RPM;
    let spare = train.edges.len().saturating_sub(ENOUGH_EDGES) / 2;
    let mut stretched = train.clone();
    stretched.edges.truncate(train.edges.len() - spare);
    stretched.edges.drain(..spare);
    for edge in &mut stretched.edges {
        edge.at = edge.at * stretch;
    }
    let found = lock(&stretched, &engine.crank, "crank").ok()?;
    (found.confidence >= SURE)
        .then_some(SeenInstead::WrongClock { rpm: Rpm(found.rpm_mean.0 * stretch) })
}

/// The described wheel on another column.
fn exchanged(
    capture: &Capture,
    engine: &Engine,
    leads: &[Lead],
    lead: &str,
) -> Option<SeenInstead> {
    let found = capture.channels.iter().enumerate().find_map(|(index, channel)| {
        if channel.name == lead {
            return None;
        }
        let train = find_edges_of(capture, channel, engine.crank.sensor, &engine.crank.wheel);
        let found = lock(&train, &engine.crank, &channel.name).ok()?;
        let sure = found.confidence >= SURE
            && found.angle.known_modulo() >= LEAST_MODULO
            && SPEEDS_RPM.contains(&found.rpm_mean.0);
        sure.then_some((index, channel, found.rpm_mean))
    });
    let (index, channel, rpm) = found?;
    let carried = leads.iter().find(|lead| lead.channel == index).map(|lead| lead.role);
    let taken_for = match carried {
        Some(role @ Role::Cam(_)) => Some(role.name(engine)),
        _ => None,
    };
    Some(SeenInstead::OnColumn { column: channel.name.clone(), rpm, taken_for })
}

/// What the lead looks like without a description.
fn recognised(
    capture: &Capture,
    engine: &Engine,
    lead: &str,
    train: &EdgeTrain,
) -> Option<SeenInstead> {
    let request =
        LeadRequest { name: "crank".into(), column: lead.to_owned(), amperes_per_volt: None };
    let seen = look(capture, &[request]);
    let (guess, rpm) = (seen.wheel.as_ref().ok()?, seen.lock.as_ref()?.rpm_mean);
    if guess.wheel.form() == engine.crank.wheel.form() {
        return None;
    }
    // `look` may have found the wheel on another column than the one that was asked for.
    let on = &capture.channels[seen.crank?].name;
    if on != lead {
        return None;
    }
    let alternates = train.shape == SignalShape::Alternating;
    let described = engine.crank.sensor == Sensor::Reluctance;
    let sensor = (alternates != described && engine.crank.sensor != Sensor::Pulse)
        .then_some(if alternates { Sensor::Reluctance } else { Sensor::Hall });
    Some(SeenInstead::OtherWheel { wheel: guess.name.clone(), rpm, sensor })
}
