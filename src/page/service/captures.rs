//! Captures dropped on the page.

use serde::Deserialize;

use super::answer::{Answer, Refusal};
use super::held::HeldCapture;
use super::request::Request;
use super::seen;
use super::session::Session;
use crate::capture::{ReadOptions, read_bytes};
use crate::practice::Demonstration;

/// Longest name kept of an upload, in characters.
const LONGEST_NAME: usize = 120;

/// What comes with an upload. The name is a label and never a path.
#[derive(Debug, Deserialize)]
pub(super) struct Upload {
    #[serde(default)]
    pub name: String,
    /// Samples per second, for a file without times.
    pub rate: Option<f64>,
}

/// A name for showing: the last part of whatever was sent, without control characters.
pub(super) fn label(name: &str, otherwise: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or("");
    let clean: String = last.chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect();
    if clean.trim().is_empty() { otherwise.to_owned() } else { clean.trim().to_owned() }
}

/// Reads an uploaded capture.
pub(super) fn upload(session: &Session, request: &mut Request) -> Result<Answer, Refusal> {
    let about: Upload = request.query()?;
    let name = label(&about.name, "capture");
    let watch = request.watch();
    let options = ReadOptions {
        rate: about.rate,
        identify: true,
        watch: watch.clone(),
        ..ReadOptions::default()
    };
    if about.rate.is_some_and(|rate| !(rate.is_finite() && rate > 0.0)) {
        return Err(Refusal::unusable("The rate is in samples per second: give a number above 0")
            .at("rate"));
    }
    let bytes = std::mem::take(&mut request.body);
    let capture = read_bytes(&bytes, &name, &options).map_err(Refusal::mendable)?;
    drop(bytes);
    let about = seen::shown(&capture);
    watch.go_on().map_err(Refusal::unusable)?;
    let (id, held) = session.add_capture(HeldCapture { capture, about });
    Ok(shown(id, &held))
}

/// Makes a capture of the demonstration, by the name of its file, and reads it as any other.
pub(super) fn demonstration(session: &Session, name: &str) -> Result<Answer, Refusal> {
    let which = Demonstration::ALL.into_iter().find(|one| one.file() == name);
    let which = which.ok_or_else(|| Refusal::missing("capture of the demonstration"))?;
    let text = which.csv().map_err(Refusal::broken)?;
    let capture =
        read_bytes(text.as_bytes(), name, &ReadOptions::default()).map_err(Refusal::mendable)?;
    let about = seen::shown(&capture);
    let (id, held) = session.add_capture(HeldCapture { capture, about });
    Ok(shown(id, &held))
}

fn shown(id: u64, held: &HeldCapture) -> Answer {
    Answer::json(&held.about.numbered(id))
}

/// Shows a capture again.
pub(super) fn show(session: &Session, id: u64) -> Result<Answer, Refusal> {
    let held = session.capture(id).ok_or_else(|| Refusal::missing("capture"))?;
    Ok(shown(id, &held))
}

/// Forgets a capture.
pub(super) fn remove(session: &Session, id: u64) -> Result<Answer, Refusal> {
    if session.remove_capture(id) {
        Ok(Answer::json(&()))
    } else {
        Err(Refusal::missing("capture"))
    }
}
