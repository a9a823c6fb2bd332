//! From the keys of an engine file to a checked [`Engine`].
//!
//! Every refusal names the file, the line of the table and the key.

mod cams;
mod drive;

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::path::{Path, PathBuf};

use toml::Spanned;

use super::file::{CrankFile, EngineFile, GeometryFile, TABLES, ValvesFile};
use super::{
    Crank, DEFAULT_TOLERANCE, Engine, Geometry, Lines, Sensor, Valves, Written, WrittenWheel, notes,
};
use crate::error::{DescriptionError, line_of};
use crate::input::{parse, read_description};
use crate::remedy::{Remedy, Setting};
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta, TURN_DEG};
use crate::wheel::{Form, WheelSource};

/// Most cylinders of an engine.
const MOST_CYLINDERS: usize = 24;
const ADVICE: &str = "The README lists the keys of an engine file.";
/// Name of the crankshaft in a drive.
const CRANK: &str = "crank";

type Checked<T> = Result<T, DescriptionError>;

/// Where a message points: the file, its text for line numbers, its folder for wheel paths.
struct Place<'a> {
    file: &'a str,
    text: &'a str,
    folder: Option<&'a Path>,
}

impl Place<'_> {
    fn refuse<T>(&self, span: Range<usize>, key: &str, what: String, advice: &str) -> Checked<T> {
        Err(DescriptionError {
            file: self.file.to_owned(),
            line: Some(line_of(self.text, span.start)),
            key: key.to_owned(),
            what,
            advice: advice.to_owned().into(),
        })
    }

    /// Requires a finite number in a range.
    fn number(&self, span: Range<usize>, key: &str, value: f64, range: Range<f64>) -> Checked<f64> {
        if range.contains(&value) {
            return Ok(value);
        }
        let what = format!("{value} is outside {} up to {}", range.start, range.end);
        self.refuse(span, key, what, "Give a number in that range.")
    }
}

impl Engine {
    /// Reads the text of an engine file. `file` names it in messages; wheel paths in it
    /// are relative to its folder.
    ///
    /// # Errors
    /// Anything missing, unknown, out of range or contradictory, with its line and key.
    pub fn parse(text: &str, file: &Path) -> Checked<Engine> {
        let shown = file.display().to_string();
        let place = Place { file: &shown, text, folder: file.parent() };
        let parsed: EngineFile = parse(text, &shown, TABLES, ADVICE)?;
        let (firing_order, firing_angles) = firing(&place, &parsed)?;
        let banks = banks(&place, &parsed, &firing_order)?;
        let tolerance = match &parsed.tolerance {
            Some(given) => tolerance(&place, given.span(), "tolerance", *given.get_ref())?,
            None => DEFAULT_TOLERANCE,
        };
        let crank = match &parsed.crank {
            Some(described) => crank(&place, described)?,
            None => without_crank(&place, &parsed)?,
        };
        let cams = cams::cams(&place, &parsed.cams, &banks, tolerance)?;
        let drive = drive::drive(&place, &parsed.chains, &cams)?;
        let bank_places = bank_places(&place, &parsed, &banks)?;
        let mut engine = Engine {
            name: parsed.name,
            firing_order,
            firing_assumed: parsed.firing_order_assumed,
            firing_angles,
            banks,
            bank_places,
            interference: parsed.interference,
            crank,
            cams,
            drive,
            valves: valves(&place, parsed.valves.as_ref())?,
            geometry: geometry(&place, parsed.geometry.as_ref())?,
            notes: Vec::new(),
            written: written(text, file),
        };
        engine.notes = notes::of(
            &engine,
            &notes::AsWritten {
                ats: parsed.cams.iter().map(|cam| cam.get_ref().at).collect(),
                angles: parsed.firing_angles.is_some(),
            },
        );
        Ok(engine)
    }

    /// Reads an engine file from disk.
    ///
    /// ```
    /// # fn main() -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
    /// # use std::path::Path;
    /// use camwitness::Engine;
    ///
    /// let engine = Engine::read(Path::new("demo-data/engine.toml"))?;
    /// assert_eq!(engine.firing_order.len(), 6);
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    /// As [`Engine::parse`], or that the file cannot be read.
    pub fn read(path: &Path) -> Checked<Engine> {
        let text = read_description(path).map_err(|error| DescriptionError {
            file: path.display().to_string(),
            line: None,
            key: String::new(),
            what: format!("cannot read this engine file: {error}"),
            advice: Remedy::Check(Setting::EngineFile),
        })?;
        Engine::parse(&text, path)
    }
}

/// The wheel files that an engine file names; none where it cannot be read.
#[must_use]
pub fn wheel_files(path: &Path) -> Vec<PathBuf> {
    let text = read_description(path).unwrap_or_default();
    wheels_named(&text, path.parent()).into_iter().map(|(_, path)| path).collect()
}

/// The wheel files that the text of an engine file names: as written there, and where they are.
fn wheels_named(text: &str, folder: Option<&Path>) -> Vec<(String, PathBuf)> {
    let Ok(parsed) = toml::from_str::<EngineFile>(text) else { return Vec::new() };
    let cams = parsed.cams.iter().filter_map(|cam| cam.get_ref().wheel.as_ref());
    let crank = parsed.crank.as_ref().map(|crank| &crank.get_ref().wheel);
    let named = crank.into_iter().chain(cams).filter_map(|wheel| match wheel {
        WheelSource::Named(name) => Some((name.clone(), wheel.path(folder)?)),
        WheelSource::Inline(_) => None,
    });
    named.collect()
}

/// The text of an engine file with those of its wheel files, which have just been read.
fn written(text: &str, file: &Path) -> Written {
    let mut wheels: Vec<WrittenWheel> = Vec::new();
    for (named, path) in wheels_named(text, file.parent()) {
        if !wheels.iter().any(|wheel| wheel.named == named) {
            wheels.push(WrittenWheel { named, text: read_description(&path).unwrap_or_default() });
        }
    }
    let file = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
    Written { file, text: text.to_owned(), wheels }
}

fn firing(place: &Place, parsed: &EngineFile) -> Checked<(Vec<u32>, Vec<CrankDelta>)> {
    let order = parsed.firing_order.get_ref().clone();
    let span = parsed.firing_order.span();
    let advice = "List every cylinder once, in firing order, cylinder 1 first.";
    if order.len() > MOST_CYLINDERS {
        let what = format!("{} cylinders are more than {MOST_CYLINDERS}", order.len());
        return place.refuse(span, "firing_order", what, advice);
    }
    if order.first() != Some(&1) {
        return place.refuse(
            span,
            "firing_order",
            "it does not start with cylinder 1".into(),
            advice,
        );
    }
    let distinct: BTreeSet<u32> = order.iter().copied().collect();
    if distinct.len() != order.len() || distinct.contains(&0) {
        return place.refuse(
            span,
            "firing_order",
            "a cylinder is listed twice or is 0".into(),
            advice,
        );
    }
    let Some(given) = &parsed.firing_angles else {
        let interval = CYCLE_DEG / order.len() as f64;
        let even = (0..order.len()).map(|i| CrankDelta(i as f64 * interval)).collect();
        return Ok((order, even));
    };
    let angles = given.get_ref();
    let grows = angles.windows(2).all(|pair| pair[1] > pair[0]);
    let in_cycle = angles.iter().all(|angle| (0.0..CYCLE_DEG).contains(angle));
    if angles.len() != order.len() || angles.first() != Some(&0.0) || !grows || !in_cycle {
        return place.refuse(
            given.span(),
            "firing_angles",
            format!(
                "{} angles for {} cylinders, or not growing from 0 to below 720",
                angles.len(),
                order.len()
            ),
            "Give one growing angle per cylinder of firing_order, the first 0.",
        );
    }
    Ok((order, angles.iter().copied().map(CrankDelta).collect()))
}

fn banks(place: &Place, parsed: &EngineFile, order: &[u32]) -> Checked<BTreeMap<u32, Vec<u32>>> {
    let Some(given) = &parsed.banks else {
        return Ok(BTreeMap::from([(1, order.to_vec())]));
    };
    let mut banks = BTreeMap::new();
    let mut seen = BTreeSet::new();
    for (name, members) in given.get_ref() {
        let Ok(number) = name.parse::<u32>() else {
            let what = format!("\"{name}\" is not a bank number");
            return place.refuse(given.span(), "banks", what, "Number the banks 1, 2, ….");
        };
        for cylinder in members {
            if !order.contains(cylinder) || !seen.insert(*cylinder) {
                let what =
                    format!("cylinder {cylinder} is not in firing_order, or is in two banks");
                return place.refuse(given.span(), "banks", what, "Give each cylinder one bank.");
            }
        }
        banks.insert(number, members.clone());
    }
    if let Some(left) = order.iter().find(|cylinder| !seen.contains(cylinder)) {
        let what = format!("cylinder {left} is in no bank");
        return place.refuse(given.span(), "banks", what, "Give each cylinder one bank.");
    }
    Ok(banks)
}

fn bank_places(
    place: &Place,
    parsed: &EngineFile,
    banks: &BTreeMap<u32, Vec<u32>>,
) -> Checked<BTreeMap<u32, String>> {
    let Some(given) = &parsed.bank_places else { return Ok(BTreeMap::new()) };
    let mut places = BTreeMap::new();
    for (name, text) in given.get_ref() {
        let Some(bank) = name.parse().ok().filter(|bank| banks.contains_key(bank)) else {
            let what = format!("bank {name} is not in [banks]");
            return place.refuse(given.span(), "bank_places", what, "Name a bank of this file.");
        };
        places.insert(bank, text.trim().to_owned());
    }
    Ok(places)
}

fn tolerance(place: &Place, span: Range<usize>, key: &str, value: f64) -> Checked<CrankDelta> {
    // A tolerance of nothing judges noise; one of half a turn judges nothing.
    place.number(span, key, value, 0.1..180.0).map(CrankDelta)
}

/// An engine by its firing order and banks alone. Cams and chains count from the crank.
fn without_crank(place: &Place, parsed: &EngineFile) -> Checked<Crank> {
    let cam = parsed.cams.first().map(|cam| (cam.span(), "cam"));
    let chain = parsed.chains.first().map(|chain| (chain.span(), "chain"));
    match cam.or(chain) {
        None => Ok(Crank::undescribed()),
        Some((span, key)) => place.refuse(
            span,
            key,
            format!("there is a [[{key}]] but no [crank], from whose mark its place counts"),
            "Add [crank] with `wheel` and `sensor`; or leave the cams and chains out, and compression alone is judged.",
        ),
    }
}

fn crank(place: &Place, parsed: &Spanned<CrankFile>) -> Checked<Crank> {
    let (span, crank) = (parsed.span(), parsed.get_ref());
    let lines = Lines::of(place.text, span.clone());
    let wheel = crank.wheel.resolve(place.folder, place.file, "crank.wheel")?;
    if let Form::Teeth(teeth) = wheel.form() {
        if crank.edge.is_some() {
            return place.refuse(
                span,
                "crank.edge",
                "a crank wheel given as teeth takes no `edge`: its first rising edge is the datum"
                    .into(),
                "Remove `edge`.",
            );
        }
        if teeth[0].start.get() != 0.0 {
            return place.refuse(
                span,
                "crank.wheel",
                format!("the first tooth starts at {}°", teeth[0].start.get()),
                "Give a crank wheel's first tooth `start = 0.0`: that edge is the datum.",
            );
        }
    }
    let teeth = matches!(wheel.form(), Form::Teeth(_));
    if crank.over_tooth.is_some() && (teeth || crank.sensor != Sensor::Hall) {
        let why = if teeth {
            "a crank wheel given as teeth is high over each of them"
        } else {
            "only a Hall signal keeps one level over a tooth"
        };
        return place.refuse(span, "crank.over_tooth", why.into(), "Remove `over_tooth`.");
    }
    let tdc = match crank.tdc {
        Some(tdc) => Some(CrankDelta(place.number(span, "crank.tdc", tdc, 0.0..TURN_DEG)?)),
        None => None,
    };
    let CrankFile { sensor, edge, over_tooth, .. } = *crank;
    Ok(Crank { wheel, sensor, edge, over_tooth, tdc, lines, described: true })
}

fn valves(place: &Place, parsed: Option<&Spanned<ValvesFile>>) -> Checked<Valves> {
    let Some(parsed) = parsed else { return Ok(Valves::default()) };
    let (span, valves) = (parsed.span(), parsed.get_ref());
    let event = |name: &str, value: Option<f64>| match value {
        None => Ok(None),
        Some(angle) => place
            .number(span.clone(), &format!("valves.{name}"), angle, 0.0..CYCLE_DEG)
            .map(|angle| Some(CrankDeg::new(angle))),
    };
    Ok(Valves {
        intake_opens: event("intake_opens", valves.intake_opens)?,
        intake_closes: event("intake_closes", valves.intake_closes)?,
        exhaust_opens: event("exhaust_opens", valves.exhaust_opens)?,
        exhaust_closes: event("exhaust_closes", valves.exhaust_closes)?,
    })
}

fn geometry(place: &Place, parsed: Option<&Spanned<GeometryFile>>) -> Checked<Geometry> {
    let Some(parsed) = parsed else { return Ok(Geometry::default()) };
    let (span, geometry) = (parsed.span(), parsed.get_ref());
    let within = |name: &str, value: Option<f64>, range: Range<f64>| match value {
        None => Ok(None),
        Some(value) => {
            place.number(span.clone(), &format!("geometry.{name}"), value, range).map(Some)
        }
    };
    Ok(Geometry {
        compression_ratio: within("compression_ratio", geometry.compression_ratio, 4.0..30.0)?,
        rod_ratio: within("rod_ratio", geometry.rod_ratio, 1.5..10.0)?,
        displacement_litres: within(
            "displacement_litres",
            geometry.displacement_litres,
            0.02..60.0,
        )?,
    })
}
