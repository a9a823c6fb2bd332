//! A piece of a capture drawn: to drag a stretch on, and to tell leads apart that look alike.

use serde::{Deserialize, Serialize};

use super::answer::{Answer, Refusal};
use super::seen::outline;
use super::session::Session;
use crate::capture::stretch;
use crate::units::Seconds;

/// Which piece of which capture; without times, the whole.
#[derive(Deserialize)]
pub(super) struct Asked {
    capture: u64,
    from: Option<f64>,
    to: Option<f64>,
}

/// The piece, one outline a channel.
#[derive(Serialize)]
struct Drawn {
    from: f64,
    to: f64,
    traces: Vec<String>,
}

/// Draws it.
pub(super) fn show(session: &Session, asked: &Asked) -> Result<Answer, Refusal> {
    let held = session.capture(asked.capture).ok_or_else(|| Refusal::missing("capture"))?;
    let part = stretch(&held.capture, asked.from.map(Seconds), asked.to.map(Seconds));
    let part = part.map_err(Refusal::mendable)?;
    let (from, to) = part.span();
    let traces = part.channels.iter().map(|channel| {
        let (low, high) = channel.values.all().limits();
        outline(&part, channel.values.all(), low, high)
    });
    Ok(Answer::json(&Drawn { from: from.0, to: to.0, traces: traces.collect() }))
}
