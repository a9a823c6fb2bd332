//! The cams of an engine file and how they are related.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::Spanned;

use super::{CRANK, Checked, Place, tolerance};
use crate::engine::file::{CamFile, PhaserPart};
use crate::engine::{Cam, Lines, Phaser, Reference, Sensor};
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta};
use crate::wheel::{EdgeKind, Wheel};

/// Most cams of an engine: four banks with an intake and an exhaust cam each have eight.
const MOST_CAMS: usize = 16;

/// Builds every cam, each after the cam it is related to.
pub(super) fn cams(
    place: &Place,
    parsed: &[Spanned<CamFile>],
    banks: &BTreeMap<u32, Vec<u32>>,
    tolerance: CrankDelta,
) -> Checked<Vec<Cam>> {
    if let Some(one_more) = parsed.get(MOST_CAMS) {
        let what = format!("{} cams are more than {MOST_CAMS}", parsed.len());
        return place.refuse(one_more.span(), "cam", what, "Describe one engine in one file.");
    }
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
    let lines = Lines::of(place.text, span.clone());
    let key = |end: &str| format!("cam \"{}\".{end}", cam.name);
    let serves = &cam.bank.0;
    if let Some(bank) = serves.iter().find(|bank| !banks.contains_key(bank)) {
        let what = format!("bank {bank} is not in [banks]");
        let known: Vec<String> = banks.keys().map(u32::to_string).collect();
        let advice = format!("This file has bank {}.", known.join(", "));
        return place.refuse(span, &key("bank"), what, &advice);
    }
    if (1..serves.len()).any(|at| serves[..at].contains(&serves[at])) {
        let what = "a bank is listed twice".into();
        return place.refuse(span, &key("bank"), what, "List each bank it serves once.");
    }
    let sd = match cam.at_sd {
        Some(sd) => Some(CrankDelta(place.number(span.clone(), &key("at_sd"), sd, 0.0..180.0)?)),
        None => None,
    };
    let source = stated_source(cam);
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
            let reference = Reference::SameAs { cam: source, later, sd, assumed: relation.assumed };
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
        Some(PhaserPart::Described(phaser)) => {
            let travel = place.number(span, &key("phaser.travel"), phaser.travel, 0.1..180.0)?;
            Some(Phaser { rest: phaser.rest, travel: CrankDelta(travel) })
        }
        Some(PhaserPart::None) | None => None,
    };
    Ok(Cam {
        name: cam.name.trim().to_owned(),
        bank: serves[0],
        banks: serves.clone(),
        place: said(cam.place.as_ref()),
        shaft: cam.shaft,
        wheel,
        sensor,
        edge,
        reference,
        source,
        tolerance,
        phaser,
        without_phaser: matches!(cam.phaser, Some(PhaserPart::None)),
        lines,
    })
}

/// Where the figure of a cam is from: beside it, within its relation, or, where two are given that
/// differ, both.
fn stated_source(cam: &CamFile) -> Option<String> {
    let within = cam.same_as.as_ref().and_then(|to| said(to.source.as_ref()));
    match (said(cam.source.as_ref()), within) {
        (Some(own), Some(within)) if own != within => Some(format!("{own}; {within}")),
        (own, within) => own.or(within),
    }
}

/// Free text; blank text says nothing.
fn said(text: Option<&String>) -> Option<String> {
    text.map(|text| text.trim().to_owned()).filter(|text| !text.is_empty())
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
            "Write `sensor = \"hall\"`, `\"reluctance\"` or `\"pulse\"`.",
        );
    };
    let reference = match (cam.at, sd) {
        (Some(at), sd) => {
            // A place past the cycle's end is wrapped, which a note says; one far off is no place.
            let at = place.number(span, &key("at"), at, -CYCLE_DEG..2.0 * CYCLE_DEG)?;
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
