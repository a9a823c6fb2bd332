//! Engine descriptions: the demonstration's, uploaded ones, and those written with the form.

use std::path::Path;

use serde::Serialize;

use super::answer::{Answer, Refusal};
use super::captures::{Upload, label};
use super::form::EngineForm;
use super::held::HeldEngine;
use super::remedies;
use super::request::Request;
use super::session::Session;
use super::wheel::names_a_file;
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
}

/// What came of the form.
#[derive(Serialize)]
struct FormAnswer {
    /// The field at fault; empty for the form as a whole.
    field: Option<String>,
    message: Option<String>,
    /// The file as far as it could be written.
    toml: Option<String>,
    engine: Option<Shown>,
}

/// Reads a description that came from a browser: as any other, but wheels are never opened as
/// files.
fn read(text: &str, name: &str) -> Result<Engine, DescriptionError> {
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

fn add(session: &Session, text: String, name: &str) -> Result<Shown, DescriptionError> {
    let engine = read(&text, name)?;
    let (id, held) = session.add_engine(HeldEngine { engine, text });
    Ok(shown(id, &held))
}

fn shown(id: u64, held: &HeldEngine) -> Shown {
    let engine = &held.engine;
    let cams: Vec<String> = engine.cams.iter().map(|cam| cam.name.clone()).collect();
    let roles = Role::all(engine).into_iter().map(|role| role.name(engine)).collect();
    Shown { id, name: engine.name.clone(), roles, cams, toml: held.text.clone() }
}

/// Takes an engine file.
pub(super) fn upload(session: &Session, request: &mut Request) -> Result<Answer, Refusal> {
    let about: Upload = request.query()?;
    let name = label(&about.name, "engine.toml");
    let text = String::from_utf8(std::mem::take(&mut request.body)).map_err(|_| {
        Refusal::unusable(format!("{name}: this is no text. Choose an engine file (TOML)"))
    })?;
    add(session, text, &name).map(|added| Answer::json(&added)).map_err(Refusal::unusable)
}

/// Writes an engine file from the form; a field that cannot be used is named.
pub(super) fn from_form(session: &Session, form: &EngineForm) -> Result<Answer, Refusal> {
    let refused = |field: String, message: String, toml: Option<String>| FormAnswer {
        field: Some(field),
        message: Some(message),
        toml,
        engine: None,
    };
    Ok(Answer::json(&match form.to_toml() {
        Err(error) => refused(error.field, error.message, None),
        Ok(text) => match add(session, text.clone(), "the form") {
            Ok(engine) => {
                FormAnswer { field: None, message: None, toml: Some(text), engine: Some(engine) }
            }
            // Whoever fills a form has no file and no lines: the field says where.
            Err(error) => {
                let todo = remedies::words(&error.advice);
                let message = format!("{}. {todo}", capital(&error.what));
                refused(form.field_of(&error.key), message, Some(text))
            }
        },
    }))
}

/// Shows an engine again.
pub(super) fn show(session: &Session, id: u64) -> Result<Answer, Refusal> {
    let held = session.engine(id).ok_or_else(|| Refusal::missing("engine"))?;
    Ok(Answer::json(&shown(id, &held)))
}
