//! Engine descriptions: the demonstration's, uploaded ones, and those written with the form.

use std::path::Path as FilePath;
use std::sync::Arc;

use axum::Json;
use axum::body::Body;
use axum::extract::{Path, Query, State};
use axum::http::HeaderMap;
use serde::Serialize;

use super::answer::Refusal;
use super::captures::{Upload, body, label};
use super::form::EngineForm;
use super::session::{HeldEngine, Session};
use super::wheel::names_a_file;
use crate::engine::Engine;
use crate::error::DescriptionError;
use crate::leads::Role;
use crate::report::words::capital;

/// Largest engine file taken: a hundred times the longest that makes sense.
const MOST_BYTES: u64 = 1_000_000;

/// An engine as the page shows it.
#[derive(Serialize)]
pub(super) struct Shown {
    id: u64,
    name: String,
    /// Names of leads this engine can have.
    roles: Vec<String>,
    cams: Vec<String>,
    toml: String,
}

/// What came of the form.
#[derive(Serialize)]
pub(super) struct FormAnswer {
    /// The field at fault; empty for the form as a whole.
    field: Option<String>,
    message: Option<String>,
    /// The file as far as it could be written.
    toml: Option<String>,
    engine: Option<Shown>,
}

/// Reads a description that came from a browser: as any other, but wheels are never opened as files.
pub(super) fn read(text: &str, name: &str) -> Result<Engine, DescriptionError> {
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
    Engine::parse(text, FilePath::new(name))
}

fn cams_of(table: &toml::Table) -> impl Iterator<Item = &toml::Value> {
    table.get("cam").and_then(toml::Value::as_array).into_iter().flatten()
}

fn add(session: &Session, text: String, name: &str) -> Result<Shown, DescriptionError> {
    let engine = read(&text, name)?;
    let (id, held) = session.add_engine(HeldEngine { engine, text });
    Ok(shown(id, &held))
}

pub(super) fn shown(id: u64, held: &HeldEngine) -> Shown {
    let engine = &held.engine;
    let cams: Vec<String> = engine.cams.iter().map(|cam| cam.name.clone()).collect();
    let roles = Role::all(engine).into_iter().map(|role| role.name(engine)).collect();
    Shown { id, name: engine.name.clone(), roles, cams, toml: held.text.clone() }
}

/// Takes an engine file.
pub(super) async fn upload(
    State(session): State<Arc<Session>>,
    Query(about): Query<Upload>,
    headers: HeaderMap,
    content: Body,
) -> Result<Json<Shown>, Refusal> {
    let bytes = body(&headers, content, MOST_BYTES).await?;
    let name = label(&about.name, "engine.toml");
    let text = String::from_utf8(bytes).map_err(|_| {
        Refusal::unusable(format!("{name}: this is no text. Choose an engine file (TOML)"))
    })?;
    add(&session, text, &name).map(Json).map_err(Refusal::unusable)
}

/// Writes an engine file from the form; a field that cannot be used is named.
pub(super) async fn from_form(
    State(session): State<Arc<Session>>,
    Json(form): Json<EngineForm>,
) -> Json<FormAnswer> {
    let refused = |field: String, message: String, toml: Option<String>| FormAnswer {
        field: Some(field),
        message: Some(message),
        toml,
        engine: None,
    };
    Json(match form.to_toml() {
        Err(error) => refused(error.field, error.message, None),
        Ok(text) => match add(&session, text.clone(), "the form") {
            Ok(engine) => {
                FormAnswer { field: None, message: None, toml: Some(text), engine: Some(engine) }
            }
            // Whoever fills a form has no file and no lines: the field says where.
            Err(error) => {
                let message = format!("{}. {}", capital(&error.what), error.advice);
                refused(form.field_of(&error.key), message, Some(text))
            }
        },
    })
}

/// Shows an engine again.
pub(super) async fn show(
    State(session): State<Arc<Session>>,
    Path(id): Path<u64>,
) -> Result<Json<Shown>, Refusal> {
    let held = session.engine(id).ok_or_else(|| Refusal::missing("engine"))?;
    Ok(Json(shown(id, &held)))
}
