//! Uploads on their way: how far, and a way to stop them.

use std::sync::Arc;

use serde::Serialize;

use super::answer::{Answer, Refusal};
use super::held::lock;
use super::session::Session;
use crate::watch::Watch;

/// An upload from its first byte until the capture is held. Dropped in between, it stops.
pub(super) struct Reading {
    session: Arc<Session>,
    number: Option<u64>,
    watch: Watch,
}

impl Reading {
    /// Begins an upload, which others can ask about when its tab gave it a number.
    pub fn begin(session: &Arc<Session>, number: Option<u64>) -> Reading {
        let watch = Watch::new();
        if let Some(number) = number {
            lock(&session.readings).insert(number, watch.clone());
        }
        Reading { session: session.clone(), number, watch }
    }

    pub fn watch(&self) -> Watch {
        self.watch.clone()
    }
}

impl Drop for Reading {
    fn drop(&mut self) {
        self.watch.stop();
        if let Some(number) = self.number {
            lock(&self.session.readings).remove(&number);
        }
    }
}

/// How far an upload is read.
#[derive(Serialize)]
struct Share {
    /// 0 to 1; `None` once it has ended, which between two questions it may at any time.
    share: Option<f64>,
}

/// Tells how far.
pub(super) fn show(session: &Session, number: u64) -> Answer {
    Answer::json(&Share { share: lock(&session.readings).get(&number).map(Watch::share) })
}

/// Stops one.
pub(super) fn stop(session: &Session, number: u64) -> Result<Answer, Refusal> {
    let watch = lock(&session.readings).get(&number).cloned();
    watch.ok_or_else(|| Refusal::missing("upload"))?.stop();
    Ok(Answer::json(&()))
}
