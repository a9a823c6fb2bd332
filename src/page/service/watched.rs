//! A folder in which a scope saves: what appears there is read and judged by itself.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::answer::{Answer, Refusal};
use super::captures::{self, Upload};
use super::held::lock;
use super::runs::{self, AskedLead, Start};
use super::session::Session;
use super::{Service, Work, leads};
use crate::watch::Watch;

/// With what a watched capture is judged, and what came to nothing.
#[derive(Debug, Clone, Default)]
pub(super) struct Watched {
    engine: Option<u64>,
    /// Leads as they were last said, by the headers of their columns: a capture with the same
    /// headers is hooked up alike.
    leads: Vec<(String, AskedLead)>,
    /// Files that could not be read, and why, the last first.
    refused: Vec<String>,
}

/// Most refusals that are remembered.
const REFUSED: usize = 10;

/// With which engine captures of the folder are judged, and as what their columns are read.
#[derive(Deserialize)]
pub(super) struct Chosen {
    engine: Option<u64>,
    #[serde(default)]
    capture: Option<u64>,
    #[serde(default)]
    leads: Vec<AskedLead>,
}

/// Takes the choice.
pub(super) fn choose(session: &Session, chosen: Chosen) -> Result<Answer, Refusal> {
    if let Some(id) = chosen.engine {
        session.engine(id).ok_or_else(|| Refusal::missing("engine"))?;
    }
    let capture = chosen.capture.and_then(|id| session.capture(id));
    let header = |column: usize| {
        let channels = &capture.as_ref()?.capture.channels;
        channels.iter().find(|one| one.column == column).map(|one| one.name.clone())
    };
    let leads = chosen.leads.into_iter().filter_map(|lead| Some((header(lead.column)?, lead)));
    let mut watched = lock(&session.watched);
    watched.leads = leads.collect();
    watched.engine = chosen.engine;
    Ok(Answer::json(&()))
}

/// How the watching stands.
#[derive(Serialize)]
pub(super) struct Shown {
    folder: String,
    engine: Option<u64>,
    refused: Vec<String>,
}

/// How the watching stands; `None` where no folder is watched.
pub(super) fn shown(session: &Session) -> Option<Shown> {
    let watched = lock(&session.watched);
    Some(Shown {
        folder: session.watching()?.to_owned(),
        engine: watched.engine,
        refused: watched.refused.clone(),
    })
}

impl Service {
    /// Takes in a capture that appeared in the watched folder, and gives the work of judging it
    /// where an engine is chosen. One that cannot be read is said on the page.
    pub fn appeared(&self, name: &str, came: &str, bytes: &[u8]) -> Option<Work> {
        let session = &self.session;
        let about = Upload { name: name.into(), came: came.into(), ..Upload::default() };
        let id = match captures::read(session, bytes, about, Watch::default()) {
            Ok(held) => session.add_capture(held).0,
            Err(refusal) => {
                self.unreadable(refusal.message().to_owned());
                return None;
            }
        };
        let (engine, said) = {
            let watched = lock(&session.watched);
            (watched.engine?, watched.leads.clone())
        };
        let leads = match leads_of(session, id, engine, &said) {
            Ok(leads) => leads,
            Err(why) => {
                self.unreadable(format!("{name}: {why}"));
                return None;
            }
        };
        let start = Start::of(id, engine, leads, came);
        match runs::begin(session, start, true) {
            Ok((_, _, work)) => Some(work),
            Err(refusal) => {
                self.unreadable(format!("{name}: {}", refusal.message()));
                None
            }
        }
    }

    /// Says why a file of the watched folder came to nothing.
    pub fn unreadable(&self, why: String) {
        let mut watched = lock(&self.session.watched);
        // A folder that cannot be listed is so every time it is looked at.
        if watched.refused.first() == Some(&why) {
            return;
        }
        watched.refused.insert(0, why);
        watched.refused.truncate(REFUSED);
    }
}

/// What the columns of a watched capture are: as said of the same headers before, else those whose
/// header is a lead's own name. A guess nobody has confirmed is not judged.
fn leads_of(
    session: &Arc<Session>,
    capture: u64,
    engine: u64,
    said: &[(String, AskedLead)],
) -> Result<Vec<AskedLead>, String> {
    let gone = || "the capture or the engine is not in the session any more.".to_owned();
    let held = session.capture(capture).ok_or_else(gone)?;
    let engine = session.engine(engine).ok_or_else(gone)?;
    let column = |header: &str| held.capture.channels.iter().find(|one| one.name == header);
    if !said.is_empty() && said.iter().all(|(header, _)| column(header).is_some()) {
        let as_said = said.iter().filter_map(|(header, lead)| {
            Some(AskedLead { column: column(header)?.column, ..lead.clone() })
        });
        return Ok(as_said.collect());
    }
    let sure = leads::sure(&held, &engine.engine);
    if sure.iter().any(|(role, _)| role == "crank") {
        let leads = sure.into_iter();
        Ok(leads.map(|(name, column)| AskedLead { name, column, amperes_per_volt: None }).collect())
    } else {
        Err("which column is the crank is not sure from its name. Choose the capture in step 1, say what its columns are, and press “Measure”: those that follow are read alike.".into())
    }
}
