//! What is in a capture, without any description: kinds of signal, likely roles, the crank wheel
//! found from the intervals alone, the cams' wheels.

mod align;
mod answers;
mod base;
mod beats;
mod broken;
mod cams;
mod crankless;
mod cylinders;
mod displaced;
mod engine_file;
mod facts;
mod fit;
mod fold;
mod gaps_met;
mod given;
mod grid;
mod guess;
mod hypotheses;
mod lossy;
mod newton;
mod output;
mod pair;
mod parts;
mod places;
mod priors;
mod readings;
mod ripple;
mod signal;
mod step_slots;
mod steps;
mod tone;
mod turns;
mod undescribed;
mod votes;
mod wheel_text;
mod wheels;

use std::cmp::Ordering;

pub use cams::CamWheel;
pub use engine_file::start_engine_file;
pub use facts::{Facts, TdcProposal, common_layouts, read_banks, read_firing};
pub use given::with_wheel;
pub use guess::{Doubt, Pair, PairPlace, PairReading, RestsOn, WheelGuess};
pub use signal::SignalKind;
pub use undescribed::{Undescribable, Undescribed, describe, look_with};

use crate::capture::{Capture, CaptureKind, Clock, Notes};
use crate::crank::CrankLock;
use crate::edges::{EdgeTrain, SignalFault, find_edges, is_one_signal};
use crate::engine::Sensor;
use crate::leads::{LeadRequest, RoleGuess, Words};
use crate::units::Seconds;
use output::Output;
use votes::{EdgeLead, Other};

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
    /// The kind of the crank's sensor, by the signal alone.
    fn crank_sensor(&self) -> Sensor {
        let kind = self.crank.map(|index| self.channels[index].kind);
        if kind == Some(SignalKind::Reluctance) { Sensor::Reluctance } else { Sensor::Hall }
    }

    /// How many cylinders the engine has, by the beat of its speed; `None` where none stands out.
    #[must_use]
    pub fn cylinders(&self) -> Option<u32> {
        cylinders::cylinders(self.lock.as_ref()?)
    }
}

/// Fewest edges of a position sensor's channel: two turns of a one-tooth wheel.
const LEAST_EDGES: usize = 4;

/// Looks at a capture. Of `requests` only which column carries the crank, and which others are
/// named, matters.
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
    let headers = name_by_request(capture, requests, &mut channels);
    let sensors: Vec<usize> = (0..channels.len())
        .filter(|&index| is_position(&channels[index], &headers[index]))
        .collect();
    let copies = copies(&sensors, &channels, &trains, &headers);
    let sensors: Vec<usize> =
        sensors.into_iter().filter(|index| copies.iter().all(|copy| copy.0 != *index)).collect();
    for (copy, of) in copies {
        let name = channels[of].name.clone();
        channels[copy].role = RoleGuess::Unknown;
        channels[copy].reason = format!("its edges are those of \"{name}\", which stands for both");
    }
    let leads: Vec<EdgeLead> = sensors
        .iter()
        .map(|&index| EdgeLead {
            train: &trains[index],
            called: wheels::called(headers[index].role.as_ref()),
            asked: headers[index].asked && headers[index].role == Some(RoleGuess::Crank),
        })
        .collect();
    let found = wheels::find(&leads);
    let crank = found.lead.map(|lead| sensors[lead]);
    let wheel = found.wheel.map_err(|doubt| doubt.on_channels(&sensors));
    let mut cams = Vec::new();
    if let Some(index) = crank {
        channels[index].is(RoleGuess::Crank, &headers[index], "its teeth go with every turn");
        for (lead, other) in found.others {
            let index = sensors[lead];
            let cam = match (&other, &found.lock) {
                (Other::Cam { .. } | Other::TooFew { .. }, Some(lock)) => {
                    cams::describe(&channels[index].name, &trains[index], lock)
                }
                _ => None,
            };
            let (role, reason) = role_of(other, cam.is_some());
            channels[index].is(role, &headers[index], reason);
            cams.extend(cam);
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
        lock: found.lock,
        cams,
    }
}

/// A role as it stands in a sentence.
fn in_words(role: RoleGuess) -> &'static str {
    match role {
        RoleGuess::Crank => "the crank sensor",
        RoleGuess::Cam => "a cam sensor",
        RoleGuess::Starter => "the starter current",
        RoleGuess::Battery => "the battery",
        RoleGuess::Ignition => "an ignition lead",
        RoleGuess::Injector => "an injector lead",
        RoleGuess::Pressure => "a cylinder's pressure",
        RoleGuess::Unknown => "nothing that is known",
    }
}

/// What another lead is, and why.
fn role_of(other: Other, described: bool) -> (RoleGuess, &'static str) {
    match other {
        Other::Cam { .. } => (RoleGuess::Cam, "its edges come back every two turns of the crank"),
        Other::TooFew { .. } if described => {
            (RoleGuess::Cam, "its edges come back every two turns of the crank")
        }
        Other::TooFew { .. } => {
            (RoleGuess::Unknown, "too few edges to say how often they come back")
        }
        Other::Output(Output::FixedTime) => (
            RoleGuess::Unknown,
            "its pulses last as long at any speed, so it is an output and no wheel",
        ),
        Other::Output(Output::Copies) => (
            RoleGuess::Unknown,
            "its pulses repeat those of another lead, so it is no wheel of its own",
        ),
        Other::Not | Other::Otherwise | Other::LeftOver => {
            (RoleGuess::Unknown, "its edges do not come back every two turns of the crank")
        }
    }
}

/// Whether a channel may be a position sensor: by its signal, whatever its header says, unless the
/// user says otherwise.
fn is_position(channel: &ChannelLook, header: &Header) -> bool {
    let asked_otherwise =
        header.asked && !matches!(header.role, Some(RoleGuess::Crank | RoleGuess::Cam));
    let sensor = matches!(channel.kind, SignalKind::Square | SignalKind::Reluctance);
    sensor && channel.edges >= LEAST_EDGES && !asked_otherwise
}

/// A swing of this share of another is as wide, and the first of the two stands for both.
const AS_WIDE: f64 = 0.9;

/// Channels whose edges are those of another, with that one: the same sensor on two channels, or an
/// input that is open and picks up its neighbour. The one that is named a position sensor stands for
/// both, else the one that swings wider; two votes of one signal would be one against itself.
fn copies(
    sensors: &[usize],
    channels: &[ChannelLook],
    trains: &[EdgeTrain],
    headers: &[Header],
) -> Vec<(usize, usize)> {
    let swing = |index: usize| channels[index].levels.1 - channels[index].levels.0;
    let named = |index: usize| {
        let position = matches!(headers[index].role, Some(RoleGuess::Crank | RoleGuess::Cam));
        (position && headers[index].asked, position)
    };
    let mut copies: Vec<(usize, usize)> = Vec::new();
    for (at, &first) in sensors.iter().enumerate() {
        for &second in &sensors[at + 1..] {
            let known = |index: usize| copies.iter().any(|copy| copy.0 == index);
            if known(first) || known(second) || !is_one_signal(&trains[first], &trains[second]) {
                continue;
            }
            let first_is_copy = match named(first).cmp(&named(second)) {
                Ordering::Less => true,
                Ordering::Equal => swing(first) < AS_WIDE * swing(second),
                Ordering::Greater => false,
            };
            let (copy, of) = if first_is_copy { (first, second) } else { (second, first) };
            copies.push((copy, of));
        }
    }
    copies
}

/// What a column's header or the user says of it.
struct Header {
    role: Option<RoleGuess>,
    asked: bool,
}

impl ChannelLook {
    /// Gives the channel a role found from the signals, and says so where its header has it
    /// otherwise.
    fn is(&mut self, role: RoleGuess, header: &Header, reason: &str) {
        let said = match &header.role {
            Some(said) if header.asked && *said == role => "you named it".to_owned(),
            Some(said) if *said == role => format!("its header says so, and {reason}"),
            Some(said) => {
                let by = if header.asked { "you named it" } else { "its header calls it" };
                format!("{by} {}, but {reason}", in_words(*said))
            }
            None => reason.to_owned(),
        };
        self.role = role;
        self.reason = said;
    }
}

/// Takes what the user says and what headers say for a first guess; the signals may overrule
/// headers.
fn name_by_request(
    capture: &Capture,
    requests: &[LeadRequest],
    channels: &mut [ChannelLook],
) -> Vec<Header> {
    let headers = capture.channels.iter().zip(channels).map(|(channel, look)| {
        let asked = requests.iter().find(|request| {
            channel.name.eq_ignore_ascii_case(&request.column)
                || request.column.parse() == Ok(channel.column)
        });
        let (name, reason) = match asked {
            Some(request) => (request.name.as_str(), "you named it"),
            None => (channel.name.as_str(), "its header says so"),
        };
        let role = Words::of(name).kind;
        let dead = look.edges < LEAST_EDGES && look.kind == SignalKind::Dead;
        if let Some(role) = role.filter(|_| !dead) {
            look.role = role;
            look.reason = reason.into();
        }
        Header { role, asked: asked.is_some() }
    });
    headers.collect()
}

#[cfg(test)]
mod tests;
