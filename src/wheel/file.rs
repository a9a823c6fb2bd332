//! Wheel files, inline wheel tables, and the words that name a wheel.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::library::by_name;
use super::{Form, Tooth, Wheel, notation};
use crate::error::DescriptionError;
use crate::input::{Tables, parse, read_description};
use crate::remedy::{Remedy, Task};
use crate::units::{CamDelta, ShaftDeg, TURN_DEG};

/// The keys of a wheel, as a file or an inline table writes them.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct WheelFile {
    name: Option<String>,
    slots: Option<i64>,
    missing: Option<Vec<i64>>,
    width: Option<f64>,
    teeth: Option<Vec<ToothFile>>,
    notes: Option<String>,
    source: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ToothFile {
    start: f64,
    end: f64,
}

/// A wheel as an engine file or the command line asks for it.
#[derive(Debug, Clone, PartialEq)]
pub enum WheelSource {
    /// A library name, a path, or a notation.
    Named(String),
    /// A table written in place.
    Inline(toml::Table),
}

impl<'de> Deserialize<'de> for WheelSource {
    fn deserialize<D: serde::Deserializer<'de>>(input: D) -> Result<Self, D::Error> {
        match toml::Value::deserialize(input)? {
            toml::Value::String(name) => Ok(WheelSource::Named(name)),
            toml::Value::Table(table) => Ok(WheelSource::Inline(table)),
            other => Err(serde::de::Error::custom(format!(
                "a wheel is a name, a notation such as \"60-2\" in quotes, or a table; found {}",
                other.type_str()
            ))),
        }
    }
}

impl WheelSource {
    /// The file this names, relative to `folder`; `None` for a wheel that is in no file.
    #[must_use]
    pub fn path(&self, folder: Option<&Path>) -> Option<PathBuf> {
        let WheelSource::Named(named) = self else { return None };
        let is_path = named.ends_with(".toml") || named.contains(['/', '\\']);
        let in_library = by_name(named).is_some();
        (is_path && !in_library)
            .then(|| folder.map_or_else(|| named.into(), |folder| folder.join(named)))
    }

    /// Finds the wheel: library, then file (relative to `folder`), then notation.
    ///
    /// # Errors
    /// When nothing of that name exists or its description cannot be used; `file`
    /// and `key` say in the message where the wheel was asked for.
    pub fn resolve(
        &self,
        folder: Option<&Path>,
        file: &str,
        key: &str,
    ) -> Result<Wheel, DescriptionError> {
        let named = match self {
            WheelSource::Inline(table) => {
                let parsed = WheelFile::deserialize(toml::Value::Table(table.clone()));
                let parsed = parsed.map_err(|error| DescriptionError {
                    file: file.to_owned(),
                    line: None,
                    key: key.to_owned(),
                    what: error.message().to_owned(),
                    advice: KEYS_ADVICE.into(),
                })?;
                return build(parsed, "inline wheel", file, key);
            }
            WheelSource::Named(named) => named,
        };
        if let Some(entry) = by_name(named) {
            return parse_wheel(entry.text, entry.name);
        }
        if let Some(path) = self.path(folder) {
            let text = read_description(&path).map_err(|error| DescriptionError {
                file: file.to_owned(),
                line: None,
                key: key.to_owned(),
                what: format!("the wheel file {} cannot be read: {error}", path.display()),
                advice: "Give the path of a wheel file, or a name from `camwitness wheels`.".into(),
            })?;
            return parse_wheel(&text, &path.display().to_string());
        }
        notation::parse(named).ok_or_else(|| DescriptionError {
            file: file.to_owned(),
            line: None,
            key: key.to_owned(),
            what: match notation::too_many(named) {
                Some(slots) => {
                    let most = notation::MOST_SLOTS;
                    format!("{slots} slots of \"{named}\" are more than {most}")
                }
                None => format!("no wheel is called \"{named}\""),
            },
            advice: Remedy::Task(Task::NameWheel),
        })
    }
}

const TABLES: Tables = &[("", &["name", "slots", "missing", "width", "teeth", "notes", "source"])];
const KEYS_ADVICE: &str = "A wheel has `slots` with optional `missing` and `width`, or `teeth` with \
                           `start` and `end`, and optional `name`, `notes`, `source`.";

/// Reads the text of a wheel file. `file` names it in messages.
///
/// # Errors
/// Names the key: no teeth, overlap, slots out of range, an angle outside
/// 0..360, both forms at once, unknown keys.
pub fn parse_wheel(text: &str, file: &str) -> Result<Wheel, DescriptionError> {
    let parsed: WheelFile = parse(text, file, TABLES, KEYS_ADVICE)?;
    let stem = Path::new(file).file_stem().map_or(file.into(), |stem| stem.to_string_lossy());
    build(parsed, &stem, file, "")
}

/// What is wrong with a wheel, before it is known where the wheel was written.
struct Fault {
    key: &'static str,
    what: String,
    advice: &'static str,
}

fn build(
    parsed: WheelFile,
    fallback_name: &str,
    file: &str,
    outer_key: &str,
) -> Result<Wheel, DescriptionError> {
    let name = parsed.name.clone().unwrap_or_else(|| fallback_name.to_owned());
    let (notes, source) = (parsed.notes.clone(), parsed.source.clone());
    match form(parsed) {
        Ok(form) => Ok(Wheel { name, form, notes, source }),
        Err(Fault { key, what, advice }) => Err(DescriptionError {
            file: file.to_owned(),
            line: None,
            key: if outer_key.is_empty() { key.to_owned() } else { format!("{outer_key}.{key}") },
            what,
            advice: advice.into(),
        }),
    }
}

fn form(parsed: WheelFile) -> Result<Form, Fault> {
    match (parsed.slots, parsed.teeth) {
        (Some(_), Some(_)) => Err(Fault {
            key: "teeth",
            what: "the wheel gives both `slots` and `teeth`".into(),
            advice: "Keep one of the two.",
        }),
        (None, None) => Err(Fault {
            key: "slots",
            what: "the wheel has no teeth: neither `slots` nor `teeth` is given".into(),
            advice: "Give `slots` for an even wheel, or list `teeth`.",
        }),
        (Some(slots), None) => slot_form(slots, parsed.missing.unwrap_or_default(), parsed.width),
        (None, Some(teeth)) => {
            let misplaced =
                parsed.missing.as_ref().map(|_| "missing").or(parsed.width.map(|_| "width"));
            if let Some(key) = misplaced {
                return Err(Fault {
                    key,
                    what: format!("`{key}` goes with `slots`, not with `teeth`"),
                    advice: "Remove it.",
                });
            }
            teeth_form(&teeth)
        }
    }
}

/// Most slots or teeth of a wheel: half a degree each, finer than any trigger wheel.
const MOST_SLOTS: i64 = 720;

fn slot_form(slots: i64, missing: Vec<i64>, width: Option<f64>) -> Result<Form, Fault> {
    if !(1..=MOST_SLOTS).contains(&slots) {
        return Err(Fault {
            key: "slots",
            what: format!("{slots} slots is outside 1 to {MOST_SLOTS}"),
            advice: "Give the number of equal slots per turn.",
        });
    }
    if let Some(&wrong) = missing.iter().find(|slot| !(1..=slots).contains(*slot)) {
        return Err(Fault {
            key: "missing",
            what: format!("slot {wrong} is outside 1 to {slots}"),
            advice: "Count slots from 1 in the direction of rotation.",
        });
    }
    let mut sorted = missing;
    sorted.sort_unstable();
    if let Some(pair) = sorted.windows(2).find(|pair| pair[0] == pair[1]) {
        return Err(Fault {
            key: "missing",
            what: format!("slot {} is listed twice", pair[0]),
            advice: "List each missing slot once.",
        });
    }
    if sorted.len() as i64 == slots {
        return Err(Fault {
            key: "missing",
            what: "every slot is missing, so the wheel has no teeth".into(),
            advice: "Leave at least one slot with a tooth.",
        });
    }
    let pitch = TURN_DEG / slots as f64;
    if let Some(width) = width
        && !(width > 0.0 && width < pitch)
    {
        return Err(Fault {
            key: "width",
            what: format!(
                "a tooth {width}° wide overlaps its neighbour or is not there: a slot is {pitch}°"
            ),
            advice: "Give the shaft degrees a tooth is high, more than 0 and less than a slot.",
        });
    }
    Ok(Form::Slots {
        slots: slots as u32,
        missing: sorted.into_iter().map(|slot| slot as u32).collect(),
        width: width.map(CamDelta),
    })
}

fn teeth_form(teeth: &[ToothFile]) -> Result<Form, Fault> {
    let fault = |what: String, advice| Err(Fault { key: "teeth", what, advice });
    if teeth.is_empty() {
        return fault("the list of teeth is empty".into(), "List at least one tooth.");
    }
    if teeth.len() as i64 > MOST_SLOTS {
        let what = format!("{} teeth are more than {MOST_SLOTS}", teeth.len());
        return fault(what, "Check that the list is of one turn.");
    }
    for (number, tooth) in (1..).zip(teeth) {
        let in_turn = |angle: f64| (0.0..=TURN_DEG).contains(&angle);
        if !in_turn(tooth.start) || !in_turn(tooth.end) {
            return fault(
                format!(
                    "tooth {number} runs from {}° to {}°, outside 0 to 360",
                    tooth.start, tooth.end
                ),
                "Give shaft degrees from 0 to 360.",
            );
        }
        if tooth.start == tooth.end || (tooth.end < tooth.start && number < teeth.len()) {
            return fault(
                format!(
                    "tooth {number} ends at {}°, not after its start at {}°",
                    tooth.end, tooth.start
                ),
                "Give `start` before `end`; only the last tooth may run past 360 to a smaller number.",
            );
        }
        if let Some(next) = teeth.get(number)
            && next.start <= tooth.end
        {
            return fault(
                format!(
                    "tooth {} starts at {}°, which overlaps tooth {number} ending at {}°",
                    number + 1,
                    next.start,
                    tooth.end
                ),
                "List the teeth in the direction of rotation, without overlap.",
            );
        }
    }
    let (first, last) = (&teeth[0], &teeth[teeth.len() - 1]);
    let last_runs_over = last.end < last.start || last.end >= TURN_DEG;
    if last_runs_over && last.end % TURN_DEG >= first.start {
        return fault(
            format!("the last tooth ends at {}°, which overlaps the first", last.end),
            "List the teeth in the direction of rotation, without overlap.",
        );
    }
    Ok(Form::Teeth(
        teeth
            .iter()
            .map(|tooth| Tooth {
                start: ShaftDeg::new(tooth.start),
                width: CamDelta((tooth.end - tooth.start).rem_euclid(TURN_DEG)),
            })
            .collect(),
    ))
}
