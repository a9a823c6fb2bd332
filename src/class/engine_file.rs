//! The engine file a student is given: that of the engine, without its comments, or with one
//! mistake in it; and the wheel files it names.

use std::path::{Path, PathBuf};

use toml::{Table, Value};

use super::error::ClassError;
use super::exercise::Exercise;
use crate::engine::Engine;
use crate::error::FileError;
use crate::units::{CrankDelta, TURN_DEG};
use crate::wheel::{EdgeKind, Wheel, WheelSource};

/// Name of a student's engine file.
pub const ENGINE_FILE: &str = "engine.toml";
/// Wheels that are described instead of the right one: the first that is another.
const OTHER_WHEELS: [&str; 2] = ["60-2", "36-2"];
const CRANK: &str = "crank";

/// An engine file with what it names.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct EngineFile {
    /// The file it was read from.
    path: PathBuf,
    /// What stands in it, with the wheels it names.
    named: Table,
    /// The same with the names that a student's wheel files have.
    table: Table,
    /// Wheel files: the names a student's file has for them, and their text.
    wheels: Vec<(String, String)>,
}

impl EngineFile {
    /// Reads an engine file that was checked before. Every comment is left behind: it may say what
    /// is wrong with the engine.
    pub(super) fn read(path: &Path) -> Result<EngineFile, ClassError> {
        let named = read_table(path)?;
        let mut table = named.clone();
        let mut wheels: Vec<(String, String)> = Vec::new();
        let mut sections: Vec<&mut Value> = Vec::new();
        for (name, value) in &mut table {
            match name.as_str() {
                CRANK => sections.push(value),
                "cam" => sections.extend(value.as_array_mut().into_iter().flatten()),
                _ => {}
            }
        }
        let places = sections.into_iter().filter_map(|section| section.get_mut("wheel"));
        for place in places {
            let Some(name) = place.as_str() else { continue };
            let Some(file) = WheelSource::Named(name.to_owned()).path(path.parent()) else {
                continue;
            };
            let text = read_table(&file)?.to_string();
            let there = wheels.iter().position(|(_, other)| *other == text);
            let number = there.unwrap_or_else(|| {
                wheels.push((format!("wheel-{}.toml", wheels.len() + 1), text));
                wheels.len() - 1
            });
            *place = Value::String(wheels[number].0.clone());
        }
        Ok(EngineFile { path: path.to_owned(), named, table, wheels })
    }

    /// The text a student gets.
    pub(super) fn text(&self) -> String {
        self.table.to_string()
    }

    /// The wheel files that belong to it: name and text. One that is no longer named stays out,
    /// because it would show the right wheel.
    pub(super) fn wheels(&self) -> Vec<(String, String)> {
        let text = self.text();
        let named = |(name, _): &&(String, String)| text.contains(&format!("\"{name}\""));
        self.wheels.iter().filter(named).cloned().collect()
    }

    /// The engine as it describes it.
    pub(super) fn engine(&self) -> Result<Engine, ClassError> {
        Ok(Engine::parse(&self.named.to_string(), &self.path)?)
    }

    /// The file with the mistake of an exercise in it, where that has one.
    pub(super) fn with(&self, exercise: &Exercise, engine: &Engine) -> Result<Self, ClassError> {
        let mut changed = self.clone();
        match exercise {
            Exercise::WrongEdge(name) => {
                let (edge, cam) = edge_of(engine, name)?;
                let word = Value::String(edge.opposite().word().to_owned());
                for section in changed.sections(cam) {
                    section.insert("edge".into(), word.clone());
                }
            }
            Exercise::WrongFile => {
                let is = engine.crank.wheel.form();
                let other = OTHER_WHEELS.into_iter().find(|name| {
                    let wheel = WheelSource::Named((*name).to_owned()).resolve(None, "", "");
                    wheel.is_ok_and(|wheel| wheel.form() != is)
                });
                for (section, other) in changed.sections(None).into_iter().zip(other.iter().cycle())
                {
                    section.insert("wheel".into(), Value::String((*other).to_owned()));
                    // An edge goes with any of these, and a wheel of teeth had none.
                    section.entry("edge").or_insert(Value::String("falling".into()));
                }
            }
            Exercise::Sound | Exercise::LowRate | Exercise::Fault(_) => {}
        }
        Ok(changed)
    }

    /// The tables of the crank, or of a cam, in both.
    fn sections(&mut self, cam: Option<usize>) -> Vec<&mut Table> {
        let both = [&mut self.named, &mut self.table];
        both.into_iter().filter_map(|table| section(table, cam)).collect()
    }
}

/// The table of the crank, or of a cam.
fn section(table: &mut Table, cam: Option<usize>) -> Option<&mut Table> {
    match cam {
        None => table.get_mut(CRANK)?.as_table_mut(),
        Some(cam) => table.get_mut("cam")?.as_array_mut()?.get_mut(cam)?.as_table_mut(),
    }
}

/// The edge that marks a wheel, and the cam it is on, where it is not the crank's.
fn edge_of(engine: &Engine, name: &str) -> Result<(EdgeKind, Option<usize>), ClassError> {
    let refuse = |what: String| {
        let exercise = Exercise::WrongEdge(name.to_owned());
        Err(ClassError::Exercise { exercise: exercise.to_string(), what })
    };
    let (wheel, edge, cam) = if name.eq_ignore_ascii_case(CRANK) {
        (&engine.crank.wheel, engine.crank.edge.unwrap_or(EdgeKind::Falling), None)
    } else if let Some(cam) = engine.cam_index(name) {
        (&engine.cams[cam].wheel, engine.cams[cam].edge, Some(cam))
    } else {
        let has: Vec<&str> = engine.cams.iter().map(|cam| cam.name.as_str()).collect();
        return refuse(format!(
            "this engine has no wheel on \"{name}\". It has: crank, {}",
            has.join(", ")
        ));
    };
    if wheel.slot_marks().is_none() {
        return refuse(format!(
            "the wheel \"{}\" is given as teeth, and no edge is named for it. Take a wheel given as slots",
            wheel.name()
        ));
    }
    Ok((edge, cam))
}

/// Where the zero of a wheel lies when its teeth are counted from the wrong edge: shaft degrees
/// after the right one. Of a wheel without a gap, the nearest.
fn edge_shift(wheel: &Wheel, right: EdgeKind) -> f64 {
    /// Far below what any sensor resolves.
    const SAME_DEG: f64 = 1e-6;
    let starts = |edge| wheel.teeth(edge).into_iter().map(|tooth| tooth.start.get());
    let turned = |degrees: f64| CrankDelta(degrees).wrap(CrankDelta(TURN_DEG)).0;
    let wrong: Vec<f64> = starts(right.opposite()).collect();
    let right: Vec<f64> = starts(right).collect();
    let first = wrong.first().copied().unwrap_or(0.0);
    let fits = |shift: &f64| {
        wrong
            .iter()
            .all(|tooth| right.iter().any(|other| turned(tooth + shift - other).abs() < SAME_DEG))
    };
    let shifts = right.iter().map(|start| turned(start - first)).filter(fits);
    shifts.min_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(0.0)
}

/// How much later every cam reads with the wrong engine file than it stands, in crank degrees, in
/// the order of the engine.
pub(super) fn read_later(exercise: &Exercise, engine: &Engine) -> Vec<f64> {
    let mut later = vec![0.0; engine.cams.len()];
    let Exercise::WrongEdge(name) = exercise else { return later };
    match edge_of(engine, name) {
        Ok((edge, None)) => later.fill(-edge_shift(&engine.crank.wheel, edge)),
        // A cam turns half as far as the crank.
        Ok((edge, Some(cam))) => later[cam] = 2.0 * edge_shift(&engine.cams[cam].wheel, edge),
        Err(_) => {}
    }
    later
}

fn read_table(path: &Path) -> Result<Table, ClassError> {
    let text = std::fs::read_to_string(path).map_err(|source| FileError {
        path: PathBuf::from(path),
        doing: "read",
        source,
        advice: "Check that it is there".into(),
    })?;
    text.parse().map_err(|error: toml::de::Error| ClassError::Exercise {
        exercise: path.display().to_string(),
        what: format!("this file cannot be read again: {}", error.message()),
    })
}
