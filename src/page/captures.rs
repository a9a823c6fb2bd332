//! Captures dropped on the page.

use std::sync::Arc;

use axum::Json;
use axum::body::Body;
use axum::extract::{Path, Query, State};
use axum::http::HeaderMap;
use axum::http::header::CONTENT_LENGTH;
use http_body_util::BodyExt;
use serde::{Deserialize, Serialize};

use super::answer::Refusal;
use super::reading::Reading;
use super::session::{HeldCapture, Session};
use super::wheel;
use crate::capture::{Capture, CaptureKind, Clock, ReadOptions, Unit, read_bytes};
use crate::engine::{CamShaft, Sensor};
use crate::leads::{RoleGuess, Words};
use crate::look::look;
use crate::units::Seconds;

/// Longest name kept of an upload, in characters.
const LONGEST_NAME: usize = 120;
/// Columns of a small trace.
const COLUMNS: usize = 260;

/// What comes with an upload. The name is a label and never a path.
#[derive(Debug, Deserialize)]
pub(super) struct Upload {
    #[serde(default)]
    pub name: String,
    /// Samples per second, for a file without times.
    pub rate: Option<f64>,
    /// Number under which the tab asks how far its upload is, and stops it.
    pub reading: Option<u64>,
}

/// A capture as the page shows it.
#[derive(Clone, Serialize)]
pub(super) struct Shown {
    id: u64,
    name: String,
    rows: usize,
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

/// A name for showing: the last part of whatever was sent, without control characters.
pub(super) fn label(name: &str, otherwise: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or("");
    let clean: String = last.chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect();
    if clean.trim().is_empty() { otherwise.to_owned() } else { clean.trim().to_owned() }
}

/// Takes the body of a request into memory, as much as is allowed.
pub(super) async fn body(
    headers: &HeaderMap,
    mut body: Body,
    most: u64,
) -> Result<Vec<u8>, Refusal> {
    let refuse = || {
        Refusal::too_large(format!(
            "The file is larger than the {:.0} MB this page takes. Export a shorter capture, or start the page with a larger --max-upload",
            most as f64 / 1e6
        ))
    };
    let length =
        headers.get(CONTENT_LENGTH).and_then(|value| value.to_str().ok()?.parse::<u64>().ok());
    if length.is_some_and(|length| length > most) {
        return Err(refuse());
    }
    let mut bytes = Vec::new();
    while let Some(frame) = body.frame().await {
        let frame =
            frame.map_err(|_| Refusal::unusable("The upload broke off. Drop the file again"))?;
        let Ok(data) = frame.into_data() else { continue };
        if (bytes.len() + data.len()) as u64 > most {
            return Err(refuse());
        }
        bytes.extend_from_slice(&data);
    }
    Ok(bytes)
}

/// Reads an uploaded capture.
pub(super) async fn upload(
    State(session): State<Arc<Session>>,
    Query(about): Query<Upload>,
    headers: HeaderMap,
    content: Body,
) -> Result<Json<Shown>, Refusal> {
    // Held to the end: a tab that is closed, or breaks the upload off, stops the reading as well.
    let reading = Reading::begin(&session, about.reading);
    let bytes = body(&headers, content, session.max_upload()).await?;
    let name = label(&about.name, "capture");
    let watch = reading.watch();
    let options = ReadOptions { rate: about.rate, watch: watch.clone(), ..ReadOptions::default() };
    if about.rate.is_some_and(|rate| !(rate.is_finite() && rate > 0.0)) {
        return Err(Refusal::unusable("The rate is in samples per second: give a number above 0"));
    }
    let held = session.clone();
    let read = move || {
        let capture = read_bytes(&bytes, &name, &options).map_err(Refusal::unusable)?;
        drop(bytes);
        let about = shown(&capture);
        watch.go_on().map_err(Refusal::unusable)?;
        let (id, held) = held.add_capture(HeldCapture { capture, about });
        Ok(Json(Shown { id, ..held.about.clone() }))
    };
    let shown = tokio::task::spawn_blocking(read).await.map_err(Refusal::broken)?;
    drop(reading);
    shown
}

/// Shows a capture again.
pub(super) async fn show(
    State(session): State<Arc<Session>>,
    Path(id): Path<u64>,
) -> Result<Json<Shown>, Refusal> {
    let held = session.capture(id).ok_or_else(|| Refusal::missing("capture"))?;
    Ok(Json(Shown { id, ..held.about.clone() }))
}

/// Forgets a capture.
pub(super) async fn remove(
    State(session): State<Arc<Session>>,
    Path(id): Path<u64>,
) -> Result<Json<()>, Refusal> {
    if session.remove_capture(id) { Ok(Json(())) } else { Err(Refusal::missing("capture")) }
}

impl Shown {
    /// What each channel looks like, in their order.
    pub fn guesses(&self) -> impl Iterator<Item = RoleGuess> {
        self.channels.iter().map(|channel| channel.kind)
    }
}

/// What is shown of a capture, under no number yet.
fn shown(capture: &Capture) -> Shown {
    let (first, last) = capture.span();
    let seen = look(capture, &[]);
    let channels = capture.channels.iter().zip(&seen.channels).map(|(channel, look)| {
        let low = channel.values.iter().copied().fold(f32::INFINITY, f32::min);
        let high = channel.values.iter().copied().fold(f32::NEG_INFINITY, f32::max);
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
            trace: outline(capture, &channel.values, low, high),
        }
    });
    Shown {
        id: 0,
        name: capture.source.clone(),
        rows: capture.rows(),
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
fn outline(capture: &Capture, values: &[f32], low: f32, high: f32) -> String {
    let (first, last) = capture.span();
    let rows = capture.rows();
    let width = (last - first).0 / COLUMNS as f64;
    let y = |value: f32| if high > low { 100.0 * (high - value) / (high - low) } else { 50.0 };
    let (mut tops, mut bottoms) = (String::new(), Vec::new());
    let mut held = values.first().copied().unwrap_or(0.0);
    for column in 0..COLUMNS {
        let from = capture.clock.row_at_or_after(Seconds(first.0 + width * column as f64), rows);
        let to =
            capture.clock.row_at_or_after(Seconds(first.0 + width * (column + 1) as f64), rows);
        let inside = &values[from.min(rows)..to.clamp(from.min(rows), rows)];
        // A level holds until the next change.
        let (least, most) = inside.iter().fold((held, held), |(l, m), &v| (l.min(v), m.max(v)));
        held = inside.last().copied().unwrap_or(held);
        tops.push_str(&format!("{column},{:.1} ", y(most)));
        bottoms.push(format!("{column},{:.1}", y(least)));
    }
    bottoms.reverse();
    tops + &bottoms.join(" ")
}
