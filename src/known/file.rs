//! The known-good file: TOML, `camwitness-known/1`.
//!
//! ```toml
//! format      = "camwitness-known/1"
//! engine      = "Demonstration V6"
//! crank_wheel = "36-2, one gap"
//! pass_known  = true
//!
//! [[cam]]                     # for the reader; worked out from the captures below
//! name     = "B1 intake"
//! at       = 113.24
//! spread   = 0.81             # absent for one engine
//! engines  = 3
//! predicts = 1.45
//! confirms = 113.0            # the engine file's place, where these engines bear it out
//!
//! [[capture]]
//! file    = "good-1.csv"
//! vehicle = 1
//! at      = { "B1 intake" = 113.1, "B2 intake" = 473.4 }
//! ci95    = { "B1 intake" = 0.4, "B2 intake" = 0.4 }   # half widths
//! ```

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use serde::Deserialize;
use toml::Spanned;

use super::{ENGINES_APART, KnownError, KnownGood, LearnedFrom, Seen};
use crate::error::{DescriptionError, FileError, line_of};
use crate::input::{parse, read_description};
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta};

/// Name and version of the format.
const FORMAT: &str = "camwitness-known/1";
/// The summary may differ from the captures by this: rounding in print.
const ROUNDING: f64 = 0.06;
/// Most captures a file may hold, so that a hostile file costs little.
const MOST_CAPTURES: usize = 10_000;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    format: String,
    engine: String,
    crank_wheel: String,
    pass_known: bool,
    #[serde(default, rename = "cam")]
    cams: Vec<Spanned<CamPart>>,
    #[serde(default, rename = "capture")]
    captures: Vec<Spanned<CapturePart>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct CamPart {
    name: String,
    at: f64,
    spread: Option<f64>,
    engines: usize,
    predicts: f64,
    confirms: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct CapturePart {
    file: String,
    vehicle: u32,
    at: BTreeMap<String, f64>,
    ci95: BTreeMap<String, f64>,
}

const ADVICE: &str =
    "Known-good files are written by `camwitness learn`; learn afresh if this one was edited.";

impl KnownGood {
    /// Reads the text of a known-good file. `file` names it in messages.
    ///
    /// # Errors
    /// Anything missing, unknown or out of range, or a summary that the captures listed do not
    /// give.
    pub fn parse(text: &str, file: &str) -> Result<KnownGood, DescriptionError> {
        let refuse = |line: Option<usize>, key: &str, what: String| DescriptionError {
            file: file.to_owned(),
            line,
            key: key.to_owned(),
            what,
            advice: ADVICE.into(),
        };
        let parsed: File = parse(text, file, &[], ADVICE)?;
        if parsed.format != FORMAT {
            let what = format!("the format is \"{}\", not \"{FORMAT}\"", parsed.format);
            return Err(refuse(None, "format", what));
        }
        if parsed.captures.is_empty() || parsed.captures.len() > MOST_CAPTURES {
            let what = format!("{} captures, not 1 to {MOST_CAPTURES}", parsed.captures.len());
            return Err(refuse(None, "capture", what));
        }
        let mut captures = Vec::new();
        for part in &parsed.captures {
            let line = Some(line_of(text, part.span().start));
            let capture = capture(part.get_ref()).map_err(|(key, what)| refuse(line, key, what))?;
            captures.push(capture);
        }
        let confirms = parsed.cams.iter().map(Spanned::get_ref);
        let confirms = confirms
            .filter_map(|part| Some((part.name.clone(), CrankDeg::new(part.confirms?))))
            .collect();
        let known = KnownGood {
            engine: parsed.engine,
            crank_wheel: parsed.crank_wheel,
            pass_known: parsed.pass_known,
            captures,
            confirms,
        };
        for part in &parsed.cams {
            let line = Some(line_of(text, part.span().start));
            if let Some(what) = contradiction(&known, part.get_ref()) {
                return Err(refuse(line, &format!("cam \"{}\"", part.get_ref().name), what));
            }
        }
        Ok(known)
    }

    /// Reads a known-good file from disk.
    ///
    /// # Errors
    /// As [`KnownGood::parse`], or that the file cannot be read.
    pub fn read(path: &Path) -> Result<KnownGood, KnownError> {
        let text = read_description(path).map_err(|source| FileError {
            path: path.to_owned(),
            doing: "read",
            source,
            advice: "Check the name of the known-good file".into(),
        })?;
        Ok(KnownGood::parse(&text, &path.display().to_string())?)
    }

    /// The file's text.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = String::from(
            "# Where the cams of sound engines of this kind were measured to stand.\n\
             # Written by `camwitness learn`, for `camwitness check`. Angles are crank degrees.\n",
        );
        let _ = writeln!(out, "format      = {}", quoted(FORMAT));
        let _ = writeln!(out, "engine      = {}", quoted(&self.engine));
        let _ = writeln!(out, "crank_wheel = {}", quoted(&self.crank_wheel));
        let _ = writeln!(out, "pass_known  = {}", self.pass_known);
        for cam in self.cams() {
            let Some(figures) = self.figures(cam) else { continue };
            let _ = writeln!(out, "\n[[cam]]\nname     = {}", quoted(cam));
            let _ = writeln!(out, "at       = {:.2}", figures.at.get());
            if let Some(spread) = figures.spread {
                let _ = writeln!(out, "spread   = {:.2}", spread.0);
            }
            let _ = writeln!(
                out,
                "engines  = {}\npredicts = {:.2}",
                figures.engines, figures.predicts.0
            );
            if let Some(confirmed) = self.confirms.get(cam) {
                let _ = writeln!(out, "confirms = {:.2}", confirmed.get());
            }
        }
        for capture in &self.captures {
            let _ = writeln!(out, "\n[[capture]]\nfile    = {}", quoted(&capture.capture));
            let _ = writeln!(out, "vehicle = {}", capture.vehicle);
            let list = |value: &dyn Fn(&Seen) -> f64| -> String {
                let cells = capture
                    .cams
                    .iter()
                    .map(|seen| format!("{} = {:.3}", quoted(&seen.cam), value(seen)));
                cells.collect::<Vec<_>>().join(", ")
            };
            let _ = writeln!(out, "at      = {{ {} }}", list(&|seen| seen.at.get()));
            let _ = writeln!(out, "ci95    = {{ {} }}", list(&|seen| seen.half_width95.0));
        }
        out
    }
}

/// A TOML string or quoted key.
pub(crate) fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn capture(part: &CapturePart) -> Result<LearnedFrom, (&'static str, String)> {
    if part.at.is_empty() || !part.at.keys().eq(part.ci95.keys()) {
        return Err(("at", "`at` and `ci95` do not list the same cams, or list none".into()));
    }
    let mut cams = Vec::new();
    for ((cam, &at), &half_width) in part.at.iter().zip(part.ci95.values()) {
        if !(0.0..=CYCLE_DEG).contains(&at) {
            return Err(("at", format!("{at} is outside 0 to 720")));
        }
        if !(0.0..=180.0).contains(&half_width) {
            return Err(("ci95", format!("{half_width} is outside 0 to 180")));
        }
        cams.push(Seen {
            cam: cam.clone(),
            at: CrankDeg::new(at),
            half_width95: CrankDelta(half_width),
            // The places of a file are already those next to each other.
            known_modulo: CrankDelta(CYCLE_DEG),
        });
    }
    Ok(LearnedFrom { capture: part.file.clone(), vehicle: part.vehicle, cams })
}

/// How the summary of a cam differs from what its captures give.
fn contradiction(known: &KnownGood, part: &CamPart) -> Option<String> {
    let Some(figures) = known.figures(&part.name) else {
        return Some("no capture of this file shows this cam".into());
    };
    let spread = |value: Option<f64>| value.unwrap_or(0.0);
    let off = [
        (CrankDeg::new(part.at) - figures.at).0,
        part.predicts - figures.predicts.0,
        spread(part.spread) - spread(figures.spread.map(CrankDelta::get)),
        part.engines as f64 - figures.engines as f64,
    ];
    // Written so that a number that is none counts as off.
    let agrees = off.iter().all(|off| off.abs() <= ROUNDING);
    let unconfirmed = part.confirms.filter(|&confirmed| {
        let borne_out = (CrankDeg::new(confirmed) - figures.at).0.abs() <= ENGINES_APART.0;
        !confirmed.is_finite() || !borne_out
    });
    if let Some(confirmed) = unconfirmed.filter(|_| agrees) {
        let at = figures.at.get();
        return Some(format!("the captures listed give {at:.2}: they do not confirm {confirmed}"));
    }
    (!agrees).then(|| {
        format!(
            "the captures listed give {:.2} from so many engines: {}; not {} from {}",
            figures.at.get(),
            figures.engines,
            part.at,
            part.engines
        )
    })
}
