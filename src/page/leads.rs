//! Which lead a column may carry, by the library's one rule.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Query, State};
use serde::{Deserialize, Serialize};

use super::answer::Refusal;
use super::session::Session;
use crate::leads::{Seen, suggest};

/// A capture and an engine of the session.
#[derive(Deserialize)]
pub(super) struct Asked {
    capture: u64,
    engine: u64,
}

/// What one column may carry.
#[derive(Serialize)]
pub(super) struct Shown {
    /// The lead; empty where none fits or several do.
    role: String,
    /// Whether its header is the lead's own name; else somebody has to confirm it.
    sure: bool,
    /// Leads among which it is open.
    open: Vec<String>,
}

/// Suggests a lead for every channel of a capture, in their order.
pub(super) async fn show(
    State(session): State<Arc<Session>>,
    Query(asked): Query<Asked>,
) -> Result<Json<Vec<Shown>>, Refusal> {
    let capture = session.capture(asked.capture).ok_or_else(|| Refusal::missing("capture"))?;
    let engine = session.engine(asked.engine).ok_or_else(|| Refusal::missing("engine"))?;
    let engine = &engine.engine;
    let channels = capture.capture.channels.iter().zip(capture.about.guesses());
    let seen: Vec<Seen> =
        channels.map(|(channel, kind)| Seen { header: &channel.name, kind }).collect();
    let shown = suggest(&seen, engine).into_iter().map(|one| Shown {
        role: one.role.map_or_else(String::new, |role| role.name(engine)),
        sure: one.sure,
        open: one.open.iter().map(|role| role.name(engine)).collect(),
    });
    Ok(Json(shown.collect()))
}
