//! From the keys of an engine file to a checked [`Engine`].
//!
//! Every refusal names the file, the line of the table and the key.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::path::Path;

use toml::Spanned;

use super::drive::{Chain, Drive, Ratio, Sprocket};
use super::file::{
    CamFile, ChainFile, CrankFile, EngineFile, GeometryFile, SprocketFile, ValvesFile,
};
use super::{Cam, Crank, DEFAULT_TOLERANCE, Engine, Geometry, Phaser, Reference, Sensor, Valves};
use crate::error::{DescriptionError, line_of};
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta, TURN_DEG};
use crate::wheel::{EdgeKind, Form, Wheel};

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
            advice: advice.to_owned(),
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
        let parsed: EngineFile = toml::from_str(text).map_err(|error| DescriptionError {
            file: shown.clone(),
            line: error.span().map(|span| line_of(text, span.start)),
            key: String::new(),
            what: error.message().trim().replace('\n', ", "),
            advice: "The README lists the keys of an engine file.".into(),
        })?;
        let (firing_order, firing_angles) = firing(&place, &parsed)?;
        let banks = banks(&place, &parsed, &firing_order)?;
        let tolerance = match &parsed.tolerance {
            Some(given) => tolerance(&place, given.span(), "tolerance", *given.get_ref())?,
            None => DEFAULT_TOLERANCE,
        };
        let crank = crank(&place, &parsed.crank)?;
        let cams = cams(&place, &parsed.cams, &banks, tolerance)?;
        let drive = drive(&place, &parsed.chains, &cams)?;
        Ok(Engine {
            name: parsed.name,
            firing_order,
            firing_angles,
            banks,
            crank,
            cams,
            drive,
            valves: valves(&place, parsed.valves.as_ref())?,
            geometry: geometry(&place, parsed.geometry.as_ref())?,
        })
    }

    /// Reads an engine file from disk.
    ///
    /// # Errors
    /// As [`Engine::parse`], or that the file cannot be read.
    pub fn read(path: &Path) -> Checked<Engine> {
        let text = std::fs::read_to_string(path).map_err(|error| DescriptionError {
            file: path.display().to_string(),
            line: None,
            key: String::new(),
            what: format!("cannot read this engine file: {error}"),
            advice: "Check the name after --engine.".into(),
        })?;
        Engine::parse(&text, path)
    }
}

fn firing(place: &Place, parsed: &EngineFile) -> Checked<(Vec<u32>, Vec<CrankDelta>)> {
    let order = parsed.firing_order.get_ref().clone();
    let span = parsed.firing_order.span();
    let advice = "List every cylinder once, in firing order, cylinder 1 first.";
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

fn tolerance(place: &Place, span: Range<usize>, key: &str, value: f64) -> Checked<CrankDelta> {
    // A tolerance of nothing judges noise; one of half a turn judges nothing.
    place.number(span, key, value, 0.1..180.0).map(CrankDelta)
}

fn crank(place: &Place, parsed: &Spanned<CrankFile>) -> Checked<Crank> {
    let (span, crank) = (parsed.span(), parsed.get_ref());
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
    let tdc = match crank.tdc {
        Some(tdc) => Some(CrankDelta(place.number(span, "crank.tdc", tdc, 0.0..TURN_DEG)?)),
        None => None,
    };
    Ok(Crank { wheel, sensor: crank.sensor, edge: crank.edge, tdc })
}

fn cams(
    place: &Place,
    parsed: &[Spanned<CamFile>],
    banks: &BTreeMap<u32, Vec<u32>>,
    tolerance: CrankDelta,
) -> Checked<Vec<Cam>> {
    let names: Vec<&str> = parsed.iter().map(|cam| cam.get_ref().name.as_str()).collect();
    for (index, cam) in parsed.iter().enumerate() {
        let name = names[index];
        let taken = names[..index].iter().any(|earlier| earlier.eq_ignore_ascii_case(name));
        if taken || name.trim().is_empty() || name.eq_ignore_ascii_case(CRANK) {
            return place.refuse(
                cam.span(),
                "cam.name",
                format!("the name \"{name}\" is empty, used twice, or the crank's"),
                "Give each cam a name of its own.",
            );
        }
    }
    let mut order: Vec<usize> = (0..parsed.len()).collect();
    // A relation is followed to a cam with a wheel of its own before this cam is built.
    let depth = |start: usize| relation_depth(place, parsed, &names, start);
    let depths = (0..parsed.len()).map(depth).collect::<Checked<Vec<usize>>>()?;
    order.sort_by_key(|&index| depths[index]);
    let mut built: Vec<Option<Cam>> = vec![None; parsed.len()];
    for index in order {
        built[index] = Some(cam(place, &parsed[index], &names, &built, banks, tolerance)?);
    }
    Ok(built.into_iter().flatten().collect())
}

/// How many relations lead from a cam to one that has none; refuses a ring and a stranger.
fn relation_depth(
    place: &Place,
    parsed: &[Spanned<CamFile>],
    names: &[&str],
    start: usize,
) -> Checked<usize> {
    let (mut at, mut depth) = (start, 0);
    while let Some(relation) = &parsed[at].get_ref().same_as {
        let key = format!("cam \"{}\".same_as", names[at]);
        let found = names.iter().position(|name| name.eq_ignore_ascii_case(relation.cam.trim()));
        let Some(next) = found else {
            let what = format!("no cam is called \"{}\"", relation.cam);
            return place.refuse(parsed[at].span(), &key, what, "Name a cam of this file.");
        };
        depth += 1;
        if depth > parsed.len() {
            let what = "the relations run in a ring".into();
            return place.refuse(
                parsed[at].span(),
                &key,
                what,
                "Give one of these cams a `wheel` of its own.",
            );
        }
        at = next;
    }
    Ok(depth)
}

fn cam(
    place: &Place,
    parsed: &Spanned<CamFile>,
    names: &[&str],
    built: &[Option<Cam>],
    banks: &BTreeMap<u32, Vec<u32>>,
    tolerance_default: CrankDelta,
) -> Checked<Cam> {
    let (span, cam) = (parsed.span(), parsed.get_ref());
    let key = |end: &str| format!("cam \"{}\".{end}", cam.name);
    if !banks.contains_key(&cam.bank) {
        let what = format!("bank {} is not in [banks]", cam.bank);
        return place.refuse(span, &key("bank"), what, "Name a bank of this file.");
    }
    let sd = match cam.at_sd {
        Some(sd) => Some(CrankDelta(place.number(span.clone(), &key("at_sd"), sd, 0.0..180.0)?)),
        None => None,
    };
    let (wheel, sensor, edge, reference) = match &cam.same_as {
        Some(relation) => {
            if cam.at.is_some() || cam.wheel.is_some() {
                let what = "`same_as` stands instead of `wheel` and `at`".into();
                return place.refuse(span, &key("same_as"), what, "Keep one of the two.");
            }
            let source =
                names.iter().position(|name| name.eq_ignore_ascii_case(relation.cam.trim()));
            let source = source.expect("checked by relation_depth");
            let base = built[source].as_ref().expect("built in order of depth");
            let later = place.number(
                span.clone(),
                &key("same_as.later"),
                relation.later,
                -CYCLE_DEG..CYCLE_DEG,
            )?;
            let later = CrankDelta(later.rem_euclid(CYCLE_DEG));
            let reference = Reference::SameAs { cam: source, later, sd };
            let edge = cam.edge.unwrap_or(base.edge);
            (base.wheel.clone(), cam.sensor.unwrap_or(base.sensor), edge, reference)
        }
        None => own_wheel(place, span.clone(), cam, sd)?,
    };
    let tolerance = match cam.tolerance {
        Some(given) => tolerance(place, span.clone(), &key("tolerance"), given)?,
        None => tolerance_default,
    };
    let phaser = match &cam.phaser {
        Some(phaser) => {
            let travel = place.number(span, &key("phaser.travel"), phaser.travel, 0.1..180.0)?;
            Some(Phaser { rest: phaser.rest, travel: CrankDelta(travel) })
        }
        None => None,
    };
    Ok(Cam {
        name: cam.name.trim().to_owned(),
        bank: cam.bank,
        shaft: cam.shaft,
        wheel,
        sensor,
        edge,
        reference,
        tolerance,
        phaser,
    })
}

fn own_wheel(
    place: &Place,
    span: Range<usize>,
    cam: &CamFile,
    sd: Option<CrankDelta>,
) -> Checked<(Wheel, Sensor, EdgeKind, Reference)> {
    let key = |end: &str| format!("cam \"{}\".{end}", cam.name);
    let Some(source) = &cam.wheel else {
        let what = "the cam has neither a `wheel` nor a `same_as`".into();
        return place.refuse(span, &key("wheel"), what, "Give one of the two.");
    };
    let wheel = source.resolve(place.folder, place.file, &key("wheel"))?;
    let Some(sensor) = cam.sensor else {
        let what = "the kind of sensor is missing".into();
        return place.refuse(
            span,
            &key("sensor"),
            what,
            "Write `sensor = \"hall\"` or `\"reluctance\"`.",
        );
    };
    let reference = match (cam.at, sd) {
        (Some(at), sd) => {
            let at = place.number(span, &key("at"), at, -CYCLE_DEG..CYCLE_DEG)?;
            Reference::At { at: CrankDeg::new(at), sd }
        }
        (None, None) => Reference::Unknown,
        (None, Some(_)) => {
            let what = "`at_sd` is given without `at`".into();
            return place.refuse(span, &key("at_sd"), what, "Give `at`, or remove `at_sd`.");
        }
    };
    Ok((wheel, sensor, cam.edge.unwrap_or(EdgeKind::Falling), reference))
}

/// Builds the drive in an order in which every driver already turns.
fn drive(place: &Place, parsed: &[Spanned<ChainFile>], cams: &[Cam]) -> Checked<Drive> {
    let mut ratios: BTreeMap<String, Ratio> = BTreeMap::from([(CRANK.to_owned(), Ratio::ONE)]);
    let mut waiting: Vec<&Spanned<ChainFile>> = parsed.iter().collect();
    let mut chains = Vec::new();
    while !waiting.is_empty() {
        let shaft_of = |on: &str| shaft_name(on, cams);
        let ready = waiting
            .iter()
            .position(|chain| ratios.contains_key(&shaft_of(&chain.get_ref().driver.on)));
        let Some(ready) = ready else {
            let chain = waiting[0];
            let what = format!("nothing drives \"{}\" from the crank", chain.get_ref().driver.on);
            let key = format!("chain \"{}\".driver", chain.get_ref().name);
            return place.refuse(
                chain.span(),
                &key,
                what,
                "Drive that shaft by another [[chain]], once.",
            );
        };
        chains.push(chain(place, waiting.remove(ready), cams, &mut ratios)?);
    }
    let drive = Drive { chains };
    for cam in cams.iter().filter(|_| !parsed.is_empty()) {
        let span = parsed[0].span();
        match ratios.get(&cam.name) {
            None => {
                let what = format!("no chain drives the cam \"{}\"", cam.name);
                return place.refuse(
                    span,
                    "chain",
                    what,
                    "Drive every cam, or give no [[chain]] at all.",
                );
            }
            Some(&ratio) if ratio != Ratio::HALF => {
                let what = format!(
                    "the cam \"{}\" would turn at {ratio} of crank speed, not 1/2",
                    cam.name
                );
                return place.refuse(
                    span,
                    "chain",
                    what,
                    "Check the tooth counts from the crank to this cam.",
                );
            }
            Some(_) => {}
        }
    }
    if let Some((chain, file)) = drive.chains.iter().find_map(|chain| {
        let useless = !cams.iter().any(|cam| {
            drive.path_to(&cam.name).iter().any(|&index| drive.chains[index].name == chain.name)
        });
        let file = parsed.iter().find(|file| file.get_ref().name == chain.name)?;
        useless.then_some((chain, file))
    }) {
        let key = format!("chain \"{}\"", chain.name);
        let what = "it drives no cam of this file".into();
        return place.refuse(file.span(), &key, what, "Remove it, or add the cam it drives.");
    }
    Ok(drive)
}

/// The name a shaft goes by: a cam's own spelling, "crank", or the text itself.
fn shaft_name(on: &str, cams: &[Cam]) -> String {
    let on = on.trim();
    if on.eq_ignore_ascii_case(CRANK) {
        return CRANK.to_owned();
    }
    cams.iter()
        .find(|cam| cam.name.eq_ignore_ascii_case(on))
        .map_or_else(|| on.to_owned(), |cam| cam.name.clone())
}

fn chain(
    place: &Place,
    parsed: &Spanned<ChainFile>,
    cams: &[Cam],
    ratios: &mut BTreeMap<String, Ratio>,
) -> Checked<Chain> {
    let (span, chain) = (parsed.span(), parsed.get_ref());
    let key = |end: &str| format!("chain \"{}\".{end}", chain.name);
    let all_teeth = [&chain.driver].into_iter().chain(&chain.driven);
    if let Some(bad) = all_teeth.clone().find(|sprocket| !(5..=1000).contains(&sprocket.teeth)) {
        let what = format!("{} teeth on \"{}\" is outside 5 to 1000", bad.teeth, bad.on);
        return place.refuse(span, &key("teeth"), what, "Count the teeth of that sprocket.");
    }
    if chain.driven.is_empty() {
        return place.refuse(
            span,
            &key("driven"),
            "it drives nothing".into(),
            "List what it drives.",
        );
    }
    let sprocket =
        |file: &SprocketFile| Sprocket { on: shaft_name(&file.on, cams), teeth: file.teeth };
    let driver = sprocket(&chain.driver);
    let driver_ratio = ratios[&driver.on];
    let driven: Vec<Sprocket> = chain.driven.iter().map(sprocket).collect();
    for sprocket in &driven {
        let ratio = driver_ratio.geared(driver.teeth, sprocket.teeth);
        let Some(ratio) = ratio else {
            return place.refuse(
                span,
                &key("teeth"),
                "the ratio is out of range".into(),
                "Check the tooth counts.",
            );
        };
        if ratios.insert(sprocket.on.clone(), ratio).is_some() {
            let what = format!("\"{}\" is driven twice, or is the crank", sprocket.on);
            return place.refuse(span, &key("driven"), what, "Drive every shaft once.");
        }
    }
    Ok(Chain { name: chain.name.clone(), kind: chain.kind, driver, driver_ratio, driven })
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
