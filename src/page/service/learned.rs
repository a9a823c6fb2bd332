//! What captures of sound engines teach: the known-good of an engine.

use serde::{Deserialize, Serialize};

use super::answer::{Answer, Refusal};
use super::captures::{Upload, label};
use super::engines;
use super::held::lock;
use super::joined;
use super::request::Request;
use super::runs::AskedLead;
use super::session::Session;
use crate::capture::Capture;
use crate::known::KnownGood;
use crate::leads::LeadRequest;
use crate::learn::{LearnOptions, learn};
use crate::report::learn as written;

/// Columns of the table.
const WIDE: usize = 80;

/// From what is to be learned.
#[derive(Deserialize)]
pub(super) struct Asked {
    engine: u64,
    captures: Vec<u64>,
    /// Leads of every one of them, by the column of the capture shown.
    #[serde(default)]
    leads: Vec<AskedLead>,
    /// Each is of another engine of the type.
    #[serde(default)]
    several_engines: bool,
    /// Learn although one looks faulty.
    #[serde(default)]
    accept_faulty: bool,
}

/// What was learned.
#[derive(Serialize)]
struct Learned {
    text: String,
    /// The known-good file, to be saved.
    file: String,
    name: String,
    /// It was added to the shelf's.
    on_shelf: bool,
}

/// Learns, and holds captures of this engine against it from now on.
pub(super) fn from_captures(session: &Session, asked: &Asked) -> Result<Answer, Refusal> {
    let engine = session.engine(asked.engine).ok_or_else(|| Refusal::missing("engine"))?;
    if asked.captures.is_empty() {
        return Err(Refusal::unusable("Choose the captures of sound engines to learn from"));
    }
    let held = asked
        .captures
        .iter()
        .map(|id| session.capture(*id).ok_or_else(|| Refusal::missing("capture")))
        .collect::<Result<Vec<_>, Refusal>>()?;
    let captures: Vec<Capture> = held
        .iter()
        .zip(joined::names(&held))
        .map(|(one, source)| Capture { source, ..one.capture.clone() })
        .collect();
    let options = LearnOptions {
        leads: asked.leads.iter().map(LeadRequest::from).collect(),
        several_engines: asked.several_engines,
        accept_faulty: asked.accept_faulty,
    };
    let before = lock(&engine.known).clone();
    let known = learn(&captures, &engine.engine, before, &options).map_err(Refusal::mendable)?;
    let on_shelf = match (session.shop(), &engine.shelf) {
        (Some(shop), Some(name)) => {
            shop.keep_known(name, &known).map_err(Refusal::unusable)?;
            true
        }
        _ => false,
    };
    let name = format!("{}.known.toml", engine.engine.name);
    let text =
        written::write_to_width(&known, &engine.engine, captures.len(), "in this session", WIDE);
    let file = known.text();
    *lock(&engine.known) = Some(known);
    Ok(Answer::json(&Learned { text, file, name, on_shelf }))
}

/// For which engine a known-good file is.
#[derive(Deserialize)]
pub(super) struct For {
    engine: u64,
}

/// Takes a known-good file for an engine.
pub(super) fn upload(session: &Session, request: &mut Request) -> Result<Answer, Refusal> {
    let about: Upload = request.query()?;
    let For { engine } = request.query()?;
    let held = session.engine(engine).ok_or_else(|| {
        Refusal::unusable("A known-good belongs to an engine. Choose the engine first").at("engine")
    })?;
    let name = label(&about.name, "known-good");
    let text = String::from_utf8(std::mem::take(&mut request.body))
        .map_err(|_| Refusal::unusable(format!("{name}: this is no text")))?;
    let known = KnownGood::parse(&text, &name).map_err(Refusal::unusable)?;
    known.belongs_to(&held.engine, &name).map_err(Refusal::unusable)?;
    *lock(&held.known) = Some(known);
    Ok(engines::answer(engine, &held))
}

/// Takes what was learned off an engine again.
pub(super) fn forget(session: &Session, engine: u64) -> Result<Answer, Refusal> {
    let held = session.engine(engine).ok_or_else(|| Refusal::missing("engine"))?;
    *lock(&held.known) = None;
    Ok(engines::answer(engine, &held))
}
