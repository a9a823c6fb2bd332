//! Engine descriptions: the demonstration's, uploaded ones, and those written with the form.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::answer::{Answer, Refusal};
use super::captures::{Upload, label};
use super::form::{EngineForm, FormValues, values};
use super::held::{HeldEngine, lock};
use super::request::Request;
use super::session::Session;
use super::wheel::names_a_file;
use super::{places, remedies};
use crate::engine::Engine;
use crate::error::DescriptionError;
use crate::leads::Role;
use crate::report::words::capital;

/// An engine as the page shows it.
#[derive(Serialize)]
struct Shown {
    id: u64,
    name: String,
    /// Names of leads this engine can have.
    roles: Vec<String>,
    cams: Vec<String>,
    toml: String,
    /// Its name on the shelf.
    shelf: Option<String>,
    /// On how many engines its known-good rests.
    known: Option<usize>,
    /// The fields of the form that write it; absent where the file holds more than the form does.
    form: Option<FormValues>,
}

/// The form, and what was answered to its questions.
#[derive(Deserialize)]
pub(super) struct AskedForm {
    #[serde(flatten)]
    form: EngineForm,
    /// The capture shown beside it.
    #[serde(default)]
    capture: Option<u64>,
    /// Names of cams whose place was taken over from that capture.
    #[serde(default)]
    taken: Vec<String>,
    /// Places a tooth and more from what the capture measured are meant so.
    #[serde(default)]
    insisted: bool,
}

/// What came of the form.
#[derive(Serialize, Default)]
struct FormAnswer {
    /// The field at fault; empty for the form as a whole.
    field: Option<String>,
    message: Option<String>,
    /// The message is a question, which may be answered with yes.
    asks: bool,
    /// The file as far as it could be written.
    toml: Option<String>,
    engine: Option<Shown>,
}

/// Reads a description that came from a browser: as any other, but wheels are never opened as
/// files.
///
/// # Errors
/// It does not read, or names a wheel file.
pub fn read(text: &str, name: &str) -> Result<Engine, DescriptionError> {
    if let Ok(table) = text.parse::<toml::Table>() {
        let wheels = table
            .get("crank")
            .into_iter()
            .chain(cams_of(&table))
            .filter_map(|part| part.get("wheel"));
        if let Some(wheel) =
            wheels.filter_map(toml::Value::as_str).find(|wheel| names_a_file(wheel))
        {
            return Err(DescriptionError {
                file: name.to_owned(),
                line: None,
                key: String::new(),
                what: format!("the wheel \"{wheel}\" is a file, and the page opens none"),
                advice:
                    "Write the wheel into the engine file as a table, or name one of the library."
                        .into(),
            });
        }
    }
    Engine::parse(text, Path::new(name))
}

fn cams_of(table: &toml::Table) -> impl Iterator<Item = &toml::Value> {
    table.get("cam").and_then(toml::Value::as_array).into_iter().flatten()
}

fn shown(id: u64, held: &HeldEngine) -> Shown {
    let engine = &held.engine;
    let cams: Vec<String> = engine.cams.iter().map(|cam| cam.name.clone()).collect();
    let roles = Role::all(engine).into_iter().map(|role| role.name(engine)).collect();
    Shown {
        id,
        name: engine.name.clone(),
        roles,
        cams,
        toml: held.text.clone(),
        shelf: held.shelf.clone(),
        known: lock(&held.known).as_ref().map(crate::known::KnownGood::engines),
        form: values(&held.text),
    }
}

/// An engine of the session as the page shows it.
pub(super) fn answer(id: u64, held: &HeldEngine) -> Answer {
    Answer::json(&shown(id, held))
}

/// Takes an engine file.
pub(super) fn upload(session: &Session, request: &mut Request) -> Result<Answer, Refusal> {
    let about: Upload = request.query()?;
    let name = label(&about.name, "engine.toml");
    let text = String::from_utf8(std::mem::take(&mut request.body)).map_err(|_| {
        Refusal::unusable(format!("{name}: this is no text. Choose an engine file (TOML)"))
    })?;
    let engine = read(&text, &name).map_err(Refusal::unusable)?;
    let (id, held) = session.add_engine(HeldEngine::new(engine, text));
    Ok(answer(id, &held))
}

/// Writes an engine file from the form; a field that cannot be used is named.
pub(super) fn from_form(session: &Session, asked: &AskedForm) -> Result<Answer, Refusal> {
    let form = &asked.form;
    let refused = |field: String, message: String, toml: Option<String>| FormAnswer {
        field: Some(field),
        message: Some(message),
        toml,
        ..FormAnswer::default()
    };
    let text = match form.to_toml() {
        Ok(text) => text,
        Err(error) => return Ok(Answer::json(&refused(error.field, error.message, None))),
    };
    let engine = match read(&text, "the form") {
        Ok(engine) => engine,
        // Whoever fills a form has no file and no lines: the field says where.
        Err(error) => {
            let todo = capital(&remedies::words(&error.advice));
            let message = format!("{}. {}.", capital(&error.what), todo.trim_end_matches('.'));
            let field = form.field_of(&error.key);
            return Ok(Answer::json(&refused(field, message, Some(text))));
        }
    };
    if let Some(capture) = asked.capture.filter(|_| !asked.insisted)
        // A capture in which nothing can be measured asks nothing.
        && let Ok(places) = places::of(session, capture, &engine)
        && let Some((at, doubt)) =
            places.iter().enumerate().find_map(|(at, place)| Some((at, place.doubt.clone()?)))
        && !asked.taken.contains(&places[at].cam)
    {
        let answer = refused(format!("cam{at}_at"), doubt, Some(text));
        return Ok(Answer::json(&FormAnswer { asks: true, ..answer }));
    }
    let taken = asked.capture.into_iter();
    let taken = taken.flat_map(|id| asked.taken.iter().map(move |cam| (id, cam.clone())));
    let held = HeldEngine { taken: taken.collect(), ..HeldEngine::new(engine, text.clone()) };
    let (id, held) = session.add_engine(held);
    let engine = Some(shown(id, &held));
    Ok(Answer::json(&FormAnswer { toml: Some(text), engine, ..FormAnswer::default() }))
}

/// Shows an engine again.
pub(super) fn show(session: &Session, id: u64) -> Result<Answer, Refusal> {
    let held = session.engine(id).ok_or_else(|| Refusal::missing("engine"))?;
    Ok(answer(id, &held))
}

/// Takes an engine out of the session. What was measured against it stays.
pub(super) fn remove(session: &Session, id: u64) -> Result<Answer, Refusal> {
    session.engines.remove(id).ok_or_else(|| Refusal::missing("engine"))?;
    Ok(Answer::json(&()))
}
