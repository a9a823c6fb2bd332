//! What is in a capture, without any description: kinds of signal, likely roles, the crank wheel found from the
//! intervals alone, the cams' wheels.

mod cams;
mod cylinders;
mod engine_file;
mod facts;
mod given;
mod period;
mod signal;
mod steps;
mod tone;
mod turns;
mod wheel_text;
mod wheels;

pub use cams::CamWheel;
pub use engine_file::start_engine_file;
pub use facts::{Facts, TdcProposal, common_layouts, read_banks, read_firing};
pub use given::with_wheel;
pub use signal::SignalKind;
pub use wheels::{Doubt, WheelGuess};

use crate::capture::{Capture, CaptureKind, Clock, Notes};
use crate::crank::CrankLock;
use crate::edges::{EdgeTrain, SignalFault, find_edges};
use crate::leads::{LeadRequest, RoleGuess, Words};
use crate::units::Seconds;

/// One channel.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelLook {
    /// Header text.
    pub name: String,
    /// Position in the file, from 1.
    pub column: usize,
    /// What kind of signal it is.
    pub kind: SignalKind,
    /// Low and high: levels of a square wave, else the usual extremes, in the channel's unit.
    pub levels: (f64, f64),
    /// Standard deviation of the noise, in the channel's unit; absent for a logic capture.
    pub noise: Option<f64>,
    /// Strongest frequency, per second.
    pub rate: Option<f64>,
    /// Edges found.
    pub edges: usize,
    /// What is wrong with it.
    pub faults: Vec<SignalFault>,
    /// What it probably carries.
    pub role: RoleGuess,
    /// Why; a few words.
    pub reason: String,
}

/// Everything seen in a capture.
#[derive(Debug, Clone)]
pub struct Look {
    /// File name.
    pub source: String,
    /// What its rows mean.
    pub kind: CaptureKind,
    /// Rows per second, where they are even.
    pub rate: Option<f64>,
    /// Rows.
    pub rows: usize,
    /// First and last time.
    pub span: (Seconds, Seconds),
    /// The channels in order.
    pub channels: Vec<ChannelLook>,
    /// What the reader has to tell.
    pub notes: Notes,
    /// Index of the channel taken for the crank.
    pub crank: Option<usize>,
    /// Its wheel, or why it is not named.
    pub wheel: Result<WheelGuess, Doubt>,
    /// The crank's angle with that wheel.
    pub lock: Option<CrankLock>,
    /// Wheels of the channels taken for cams.
    pub cams: Vec<CamWheel>,
}

impl Look {
    /// How many cylinders the engine has, by the beat of its speed; `None` where none stands out.
    #[must_use]
    pub fn cylinders(&self) -> Option<u32> {
        cylinders::cylinders(self.lock.as_ref()?)
    }
}

/// Fewest edges of a position sensor's channel: two turns of a one-tooth wheel.
const LEAST_EDGES: usize = 4;

/// Looks at a capture. Of `requests` only which column carries the crank, and which others are named, matters.
#[must_use]
pub fn look(capture: &Capture, requests: &[LeadRequest]) -> Look {
    let trains: Vec<EdgeTrain> =
        capture.channels.iter().map(|channel| find_edges(capture, channel, None)).collect();
    let mut channels: Vec<ChannelLook> = capture
        .channels
        .iter()
        .zip(&trains)
        .map(|(channel, train)| signal::look_at(capture, channel, train))
        .collect();
    name_by_request(capture, requests, &mut channels);
    let crank = choose_crank(&channels, &trains);
    let others: Vec<&EdgeTrain> = (0..channels.len())
        .filter(|&index| Some(index) != crank && is_position(&channels[index]))
        .map(|index| &trains[index])
        .collect();
    let found = match crank {
        Some(index) => wheels::find(&trains[index], &others),
        None => Err(Doubt::NoSignal),
    };
    let (wheel, lock) = match found {
        Ok((guess, lock)) => (Ok(guess), Some(lock)),
        Err(doubt) => (Err(doubt), None),
    };
    if let Some(index) = crank {
        channels[index].role = RoleGuess::Crank;
    }
    let mut cams = Vec::new();
    for index in 0..channels.len() {
        if Some(index) == crank || !is_position(&channels[index]) {
            continue;
        }
        channels[index].role = RoleGuess::Cam;
        let Some(lock) = &lock else { continue };
        match cams::describe(&channels[index].name, &trains[index], lock) {
            Some(cam) => cams.push(cam),
            None => {
                channels[index].role = RoleGuess::Unknown;
                channels[index].reason =
                    "its edges do not come back every two turns of the crank".into();
            }
        }
    }
    Look {
        source: capture.source.clone(),
        kind: capture.kind,
        rate: match capture.clock {
            Clock::Uniform { step, .. } => Some(1.0 / step.0),
            Clock::Stamped(_) => None,
        },
        rows: capture.rows(),
        span: capture.span(),
        channels,
        notes: capture.notes.clone(),
        crank,
        wheel,
        lock,
        cams,
    }
}

/// Whether a channel may be a position sensor.
fn is_position(channel: &ChannelLook) -> bool {
    matches!(channel.role, RoleGuess::Crank | RoleGuess::Cam)
        || (channel.role == RoleGuess::Unknown
            && matches!(channel.kind, SignalKind::Square | SignalKind::Reluctance)
            && channel.edges >= LEAST_EDGES)
}

/// Takes what the user says and what headers say before what signals look like.
fn name_by_request(capture: &Capture, requests: &[LeadRequest], channels: &mut [ChannelLook]) {
    for (channel, look) in capture.channels.iter().zip(channels) {
        let asked = requests.iter().find(|request| {
            channel.name.eq_ignore_ascii_case(&request.column)
                || request.column.parse() == Ok(channel.column)
        });
        let (name, reason) = match asked {
            Some(request) => (request.name.as_str(), "you named it"),
            None => (channel.name.as_str(), "its header says so"),
        };
        if look.edges < LEAST_EDGES && look.kind == SignalKind::Dead {
            continue;
        }
        if let Some(role) = Words::of(name).kind {
            look.role = role;
            look.reason = reason.into();
        }
    }
}

/// The channel named so, else the position sensor with most edges: crank wheels turn twice as fast as cams
/// and have more teeth.
fn choose_crank(channels: &[ChannelLook], trains: &[EdgeTrain]) -> Option<usize> {
    let named = channels.iter().position(|channel| channel.role == RoleGuess::Crank);
    named.or_else(|| {
        (0..channels.len())
            .filter(|&index| {
                is_position(&channels[index]) && channels[index].role != RoleGuess::Cam
            })
            .max_by_key(|&index| trains[index].edges.len())
    })
}

#[cfg(test)]
mod tests;
