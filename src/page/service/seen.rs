//! What the page shows of a capture.

use serde::Serialize;

use super::wheel;
use crate::capture::{Capture, CaptureKind, Clock, Samples, Unit};
use crate::engine::{CamShaft, Sensor};
use crate::leads::{RoleGuess, Words};
use crate::look::{Look, look};
use crate::units::Seconds;

/// Columns of a small trace.
const COLUMNS: usize = 260;

/// A capture as the page shows it.
#[derive(Clone, Serialize)]
pub(super) struct Shown {
    id: u64,
    name: String,
    rows: usize,
    /// Time of the first row.
    first: f64,
    seconds: f64,
    kind: &'static str,
    rate: Option<f64>,
    channels: Vec<ShownChannel>,
    /// The crank's wheel as it would be typed, where it is recognised.
    crank_wheel: Option<SeenWheel>,
    /// Why it is not.
    doubt: Option<String>,
    /// Wheels of the channels taken for cams.
    cam_wheels: Vec<SeenWheel>,
}

impl Shown {
    /// The same under the number it has in its session.
    pub fn numbered(&self, id: u64) -> Shown {
        Shown { id, ..self.clone() }
    }
}

/// A wheel recognised in a capture, to begin an engine file with.
#[derive(Clone, Serialize)]
struct SeenWheel {
    /// Header of its channel.
    channel: String,
    /// The bank and the shaft that header speaks of.
    bank: Option<u32>,
    shaft: Option<&'static str>,
    spec: String,
    sensor: &'static str,
}

#[derive(Clone, Serialize)]
struct ShownChannel {
    name: String,
    column: usize,
    unit: &'static str,
    low: f32,
    high: f32,
    /// The lead it probably is: a lead's name, "cam" while no engine says which, or empty.
    guess: &'static str,
    #[serde(skip)]
    kind: RoleGuess,
    /// Why, in a few words.
    reason: String,
    /// Outline of a small trace, 260 wide and 100 tall: least and greatest of every column.
    trace: String,
}

impl Shown {
    /// What each channel looks like, in their order.
    pub fn guesses(&self) -> impl Iterator<Item = RoleGuess> {
        self.channels.iter().map(|channel| channel.kind)
    }
}

/// What is in a capture, looked at anew.
pub(super) fn seen_again(capture: &Capture) -> Look {
    look(capture, &[])
}

/// What is shown of a capture, under no number yet.
pub(super) fn shown(capture: &Capture) -> Shown {
    let (first, last) = capture.span();
    let seen = look(capture, &[]);
    let channels = capture.channels.iter().zip(&seen.channels).map(|(channel, look)| {
        let (low, high) = channel.values.all().limits();
        ShownChannel {
            name: channel.name.clone(),
            column: channel.column,
            unit: match channel.unit {
                Unit::Volts => "V",
                Unit::Amperes => "A",
                Unit::Level => "level",
            },
            low,
            high,
            guess: look.role.word(),
            kind: look.role,
            reason: look.reason.clone(),
            trace: outline(capture, channel.values.all(), low, high),
        }
    });
    Shown {
        id: 0,
        name: capture.source.clone(),
        rows: capture.rows(),
        first: first.0,
        seconds: (last - first).0,
        kind: match capture.kind {
            CaptureKind::Sampled => "sampled",
            CaptureKind::Events => "changes of level",
        },
        rate: match capture.clock {
            Clock::Uniform { step, .. } => Some(1.0 / step.0),
            Clock::Stamped(_) => None,
        },
        channels: channels.collect(),
        crank_wheel: seen.wheel.as_ref().ok().map(|guess| {
            let channel = seen.crank.map_or("", |at| seen.channels[at].name.as_str());
            seen_wheel(channel, wheel::typed(&guess.wheel), guess.sensor)
        }),
        doubt: seen.wheel.as_ref().err().map(ToString::to_string),
        cam_wheels: seen
            .cams
            .iter()
            .map(|cam| {
                let spec = wheel::typed_teeth(cam.teeth.iter().copied());
                seen_wheel(&cam.name, spec, cam.sensor)
            })
            .collect(),
    }
}

fn seen_wheel(channel: &str, spec: String, of: Sensor) -> SeenWheel {
    let words = Words::of(channel);
    let shaft = words.shaft.map(CamShaft::word);
    SeenWheel { channel: channel.to_owned(), bank: words.bank, shaft, spec, sensor: of.word() }
}

/// A closed outline through the greatest value of every column and back through the least.
pub(super) fn outline(capture: &Capture, values: Samples<'_>, low: f32, high: f32) -> String {
    let (first, last) = capture.span();
    let rows = capture.rows();
    let width = (last - first).0 / COLUMNS as f64;
    let y = |value: f32| if high > low { 100.0 * (high - value) / (high - low) } else { 50.0 };
    let (mut tops, mut bottoms) = (String::new(), Vec::new());
    let mut held = values.get(0).unwrap_or(0.0);
    for column in 0..COLUMNS {
        let from = capture.clock.row_at_or_after(Seconds(first.0 + width * column as f64), rows);
        let to =
            capture.clock.row_at_or_after(Seconds(first.0 + width * (column + 1) as f64), rows);
        let inside = values.slice(from.min(rows)..to.clamp(from.min(rows), rows));
        // A level holds until the next change.
        let (least, most) = inside.iter().fold((held, held), |(l, m), &v| (l.min(v), m.max(v)));
        held = inside.last().unwrap_or(held);
        tops.push_str(&format!("{column},{:.1} ", y(most)));
        bottoms.push(format!("{column},{:.1}", y(least)));
    }
    bottoms.reverse();
    tops + &bottoms.join(" ")
}
