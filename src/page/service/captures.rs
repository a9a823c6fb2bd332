//! Captures dropped on the page.

use std::io::Write;

use flate2::Compression;
use flate2::read::GzDecoder;
use flate2::write::GzEncoder;
use serde::{Deserialize, Serialize};

use super::answer::{Answer, Refusal};
use super::held::HeldCapture;
use super::request::Request;
use super::seen;
use super::session::Session;
use super::typed;
use crate::capture::{CaptureKind, ReadOptions, TimeUnit, read_bytes};
use crate::leads::LeadRequest;
use crate::practice::Demonstration;
use crate::watch::Watch;

/// Longest name kept of an upload, in characters.
const LONGEST_NAME: usize = 120;
/// Longest time of day kept of one.
const LONGEST_TIME: usize = 20;

/// What comes with an upload. The name is a label and never a path.
#[derive(Debug, Default, Deserialize)]
pub(super) struct Upload {
    #[serde(default)]
    pub name: String,
    /// When it came, by the browser's clock.
    #[serde(default)]
    pub came: String,
    #[serde(flatten)]
    pub reading: Reading,
}

/// How a file is read that leaves something open. Empty is what the file shows by itself.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Reading {
    /// Samples per second, as typed.
    pub rate: String,
    /// Unit of the times: s, ms, us or ns.
    pub time_unit: String,
    /// Between the cells: comma, semicolon, tab, pipe or blanks.
    pub separator: String,
    /// Within numbers: point or comma.
    pub decimal: String,
    /// What the rows are: sampled or events.
    pub kind: String,
    /// The column of the times.
    pub time: String,
}

impl Reading {
    pub(super) fn options(&self, watch: Watch) -> Result<ReadOptions, Refusal> {
        let rate = match typed::large(&self.rate) {
            Ok(rate) if rate.is_none_or(|rate| rate > 0.0) => rate,
            _ => {
                let why =
                    "The rate is in samples per second: give a number above 0, for example 20000";
                return Err(Refusal::unusable(why).at("rate"));
            }
        };
        let one_of = |text: &str| Refusal::unusable(format!("“{text}” is no choice of this field"));
        fn chosen<T: Copy>(text: &str, of: &[(&str, T)]) -> Result<Option<T>, ()> {
            let found = of.iter().find(|(word, _)| *word == text).map(|(_, value)| *value);
            if text.is_empty() { Ok(None) } else { found.map(Some).ok_or(()) }
        }
        let units = [
            ("s", TimeUnit::Seconds),
            ("ms", TimeUnit::Milliseconds),
            ("us", TimeUnit::Microseconds),
            ("ns", TimeUnit::Nanoseconds),
        ];
        let marks =
            [("comma", ','), ("semicolon", ';'), ("tab", '\t'), ("pipe", '|'), ("blanks", ' ')];
        let kinds = [("sampled", CaptureKind::Sampled), ("events", CaptureKind::Events)];
        let time = self.time.trim();
        Ok(ReadOptions {
            rate,
            time_unit: chosen(&self.time_unit, &units).map_err(|()| one_of(&self.time_unit))?,
            separator: chosen(&self.separator, &marks).map_err(|()| one_of(&self.separator))?,
            decimal: chosen(&self.decimal, &[("point", '.'), ("comma", ',')])
                .map_err(|()| one_of(&self.decimal))?,
            force_kind: chosen(&self.kind, &kinds).map_err(|()| one_of(&self.kind))?,
            time: (!time.is_empty()).then(|| time.to_owned()),
            identify: true,
            watch,
            ..ReadOptions::default()
        })
    }
}

/// Begins each word a job keeps of how it was read: the command line takes them as they are.
const OPTION: &str = "--";

impl Reading {
    /// How a capture was read, as options of the command line: a job that is kept is read again by
    /// them.
    #[must_use]
    pub fn words(&self, leads: &[LeadRequest], stretch: (Option<f64>, Option<f64>)) -> Vec<String> {
        let scale = |lead: &LeadRequest| {
            lead.amperes_per_volt.map_or(String::new(), |scale| format!(":{scale}A/V"))
        };
        let leads = leads
            .iter()
            .map(|lead| ("lead", format!("{}={}{}", lead.name, lead.column, scale(lead))));
        let part = [("from", stretch.0), ("to", stretch.1)];
        let part = part.into_iter().filter_map(|(name, at)| Some((name, at?.to_string())));
        let rest = [
            ("rate", &self.rate),
            ("time", &self.time),
            ("separator", &self.separator),
            ("decimal", &self.decimal),
            ("time-unit", &self.time_unit),
            ("kind", &self.kind),
        ];
        let rest = rest.map(|(name, text)| (name, text.trim().to_owned()));
        let rest = rest.into_iter().filter(|(_, text)| !text.is_empty());
        leads.chain(part).chain(rest).map(|(name, text)| format!("{OPTION}{name}={text}")).collect()
    }

    /// What [`words`](Reading::words) says, with leads and part; nothing where a word is not one of
    /// these.
    #[must_use]
    pub fn of_words(words: &[String]) -> Option<(Reading, Vec<LeadRequest>, Stretch)> {
        let (mut reading, mut leads, mut part) = (Reading::default(), Vec::new(), (None, None));
        for word in words {
            let (name, text) = word.strip_prefix(OPTION)?.split_once('=')?;
            let text = text.to_owned();
            match name {
                "lead" => leads.push(text.parse().ok()?),
                "from" => part.0 = Some(text.parse().ok()?),
                "to" => part.1 = Some(text.parse().ok()?),
                "rate" => reading.rate = text,
                "time" => reading.time = text,
                "separator" => reading.separator = text,
                "decimal" => reading.decimal = text,
                "time-unit" => reading.time_unit = text,
                "kind" => reading.kind = text,
                _ => return None,
            }
        }
        Some((reading, leads, part))
    }
}

/// First and last second of a capture that are used.
type Stretch = (Option<f64>, Option<f64>);

/// A name for showing: the last part of whatever was sent, without control characters.
pub(super) fn label(name: &str, otherwise: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or("");
    let clean: String = last.chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect();
    if clean.trim().is_empty() { otherwise.to_owned() } else { clean.trim().to_owned() }
}

/// A file packed, for whoever keeps it.
pub(super) fn packed(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut packing = GzEncoder::new(Vec::new(), Compression::fast());
    packing.write_all(bytes).ok()?;
    packing.finish().ok()
}

/// The file of `packed`.
pub fn unpacked(packed: &[u8]) -> impl std::io::Read + '_ {
    GzDecoder::new(packed)
}

/// Reads an uploaded capture.
pub(super) fn upload(session: &Session, request: &mut Request) -> Result<Answer, Refusal> {
    let about: Upload = request.query()?;
    let watch = request.watch();
    let bytes = std::mem::take(&mut request.body);
    let held = read(session, &bytes, about, watch.clone())?;
    drop(bytes);
    watch.go_on().map_err(Refusal::unusable)?;
    let (id, held) = session.add_capture(held);
    Ok(shown(id, &held))
}

/// Reads the bytes of a capture.
pub(super) fn read(
    session: &Session,
    bytes: &[u8],
    about: Upload,
    watch: Watch,
) -> Result<HeldCapture, Refusal> {
    let name = label(&about.name, "capture");
    let options = about.reading.options(watch)?;
    // As a number, for whoever reads the capture again.
    let rate = options.rate.map_or_else(String::new, |rate| rate.to_string());
    let capture = read_bytes(bytes, &name, &options).map_err(Refusal::mendable)?;
    let came = about.came.chars().filter(|c| !c.is_control()).take(LONGEST_TIME).collect();
    Ok(HeldCapture {
        about: seen::shown(&capture),
        capture,
        came,
        original: session.shop().and_then(|_| packed(bytes)),
        reading: Reading { rate, ..about.reading },
    })
}

/// When something came that the page asked for, by the browser's clock.
#[derive(Debug, Default, Deserialize)]
pub(super) struct When {
    #[serde(default)]
    came: String,
}

/// Makes a capture of the demonstration, by the name of its file, and reads it as any other.
pub(super) fn demonstration(session: &Session, name: &str, when: When) -> Result<Answer, Refusal> {
    let which = Demonstration::ALL.into_iter().find(|one| one.file() == name);
    let which = which.ok_or_else(|| Refusal::missing("capture of the demonstration"))?;
    let text = which.csv().map_err(Refusal::broken)?;
    let about = Upload { name: name.to_owned(), came: when.came, ..Upload::default() };
    let held = read(session, text.as_bytes(), about, Watch::default())?;
    let (id, held) = session.add_capture(held);
    Ok(shown(id, &held))
}

pub(super) fn shown(id: u64, held: &HeldCapture) -> Answer {
    Answer::json(&held.about.numbered(id))
}

/// Shows a capture again.
pub(super) fn show(session: &Session, id: u64) -> Result<Answer, Refusal> {
    let held = session.capture(id).ok_or_else(|| Refusal::missing("capture"))?;
    Ok(shown(id, &held))
}

/// Forgets a capture.
pub(super) fn remove(session: &Session, id: u64) -> Result<Answer, Refusal> {
    let gone = session.captures.remove(id).ok_or_else(|| Refusal::missing("capture"))?;
    drop(gone);
    Ok(Answer::json(&()))
}
