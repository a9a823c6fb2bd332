//! Where the cams stand in a capture, beside what is typed for them. For comparison only: a place
//! taken over from a capture holds that capture's own fault, so it judges nothing in it.

use serde::{Deserialize, Serialize};

use super::answer::{Answer, Refusal};
use super::engines;
use super::form::EngineForm;
use super::session::Session;
use crate::analysis::{Options, analyse};
use crate::engine::{Engine, Reference};
use crate::units::{CYCLE_DEG, CrankDelta};

/// How far a typed place may be from a measured one without a question where nothing says how many
/// degrees a tooth is: the smallest step of the usual drives, 720° over a camshaft's sprocket of 48.
const USUAL_TOOTH: f64 = 15.0;

/// The form, and the capture it stands beside.
#[derive(Deserialize)]
pub(super) struct Asked {
    form: EngineForm,
    capture: u64,
}

/// A cam of the form in the capture.
#[derive(Debug, Serialize)]
pub(super) struct Place {
    pub cam: String,
    /// Crank degrees, to a tenth; absent where the cam was not measured.
    pub at: Option<f64>,
    /// How the typed place differs, where it does by more than a tooth.
    pub doubt: Option<String>,
}

/// What the capture measured of every cam of the form.
pub(super) fn show(session: &Session, asked: &Asked) -> Result<Answer, Refusal> {
    let text = asked.form.to_toml().map_err(|error| Refusal::unusable(error.message))?;
    let engine = engines::read(&text, "the form").map_err(|error| {
        Refusal::unusable(format!("First make the engine whole: {}", error.what))
    })?;
    Ok(Answer::json(&of(session, asked.capture, &engine)?))
}

/// Where the cams of an engine stand in a capture whose columns have the cams' names, or are the
/// only ones that can be meant.
pub(super) fn of(session: &Session, capture: u64, engine: &Engine) -> Result<Vec<Place>, Refusal> {
    let held = session.capture(capture).ok_or_else(|| Refusal::missing("capture"))?;
    let mut bare = engine.clone();
    // Measured against nothing: what is typed must not steer it.
    for cam in &mut bare.cams {
        if matches!(cam.reference, Reference::At { .. }) {
            cam.reference = Reference::Unknown;
        }
    }
    let leads = super::leads::likely(&held, &bare);
    let options = Options { leads, ..Options::default() };
    let captures = std::slice::from_ref(&held.capture);
    let analysis = analyse(captures, &bare, &options).map_err(Refusal::mendable)?;
    let places = engine.cams.iter().enumerate().map(|(index, cam)| {
        let found = analysis.cams.iter().find(|one| one.measured.cam == index);
        let at = found.map(|one| one.measured.position.get());
        let tooth = found.and_then(|one| one.step).map_or(USUAL_TOOTH, |step| step.0.abs());
        let modulo = found.map_or(CYCLE_DEG, |one| one.known_modulo.0);
        let typed = match cam.reference {
            Reference::At { at, .. } => Some(at.get()),
            _ => None,
        };
        let doubt = at.zip(typed).and_then(|(measured, typed)| {
            let off = CrankDelta(apart(typed - measured, modulo));
            (off.0.abs() > tooth).then(|| {
                format!(
                    "You typed {typed:.1}°, and this capture measured {measured:.1}°: {:.1}° apart, more than a tooth ({tooth:.1}°). Either it is a slip, or the engine has jumped. Is {typed:.1}° what the maker's information says?",
                    off.0.abs()
                )
            })
        });
        Place { cam: cam.name.clone(), at: at.map(|at| (at * 10.0).round() / 10.0), doubt }
    });
    Ok(places.collect())
}

/// A difference to the nearest multiple of `modulo`.
fn apart(degrees: f64, modulo: f64) -> f64 {
    (degrees + modulo / 2.0).rem_euclid(modulo) - modulo / 2.0
}
