//! Where a chain may have skipped, and what a finding covers.

use super::phrases::{capital, chain, list, percent, skipped_by};
use crate::engine::{Chain, Engine, SkipPlace};
use crate::verdict::{Place, Verdict};

/// That a chain has skipped, and the places it may have skipped at with their odds: bank against
/// bank where every place comes to the same between the banks.
pub(super) fn somewhere(engine: &Engine, verdict: &Verdict) -> String {
    let odds = percent(verdict.questions.skipped);
    if let Some(apart) = bank_against_bank(engine, &verdict.places) {
        let which: Vec<String> =
            verdict.places.iter().filter_map(|place| by_bank(engine, place)).collect();
        return format!(
            "One bank has moved {apart} against the other ({odds}). Which: {}.",
            list(&which)
        );
    }
    let told: Vec<String> = verdict
        .places
        .iter()
        .map(|place| format!("{} ({})", place_words(engine, place), percent(place.probability)))
        .collect();
    let open = match told.len() {
        0 | 1 => "Likeliest",
        _ => "Where or how far is open",
    };
    format!("A chain has very likely skipped ({odds}). {open}: {}.", told.join("; "))
}

/// "the primary chain at B1 intake, 1 tooth (1 link) late".
pub(super) fn place_words(engine: &Engine, place: &Place) -> String {
    let Some(skipped) = chain_named(engine, place.chain.as_deref()) else {
        return format!(
            "{} moved by an unknown number of teeth, as no chain is described",
            list(&place.moves)
        );
    };
    format!(
        "the {} at {}, {}",
        chain(skipped),
        place.on.as_deref().unwrap_or("a sprocket"),
        place.teeth.map(|teeth| skipped_by(teeth, place.links)).unwrap_or_default()
    )
}

fn chain_named<'a>(engine: &'a Engine, name: Option<&str>) -> Option<&'a Chain> {
    engine.drive.chains.iter().find(|chain| Some(chain.name.as_str()) == name)
}

/// The bank of the cams that a place moves, where it is one and the same.
fn bank_of(engine: &Engine, place: &Place) -> Option<u32> {
    let cams = || place.moves.iter().filter_map(|name| engine.cam_index(name));
    let bank = engine.cams[cams().next()?].bank;
    cams().all(|cam| engine.cams[cam].bank == bank).then_some(bank)
}

/// "1 tooth (1 link)": by so much one of two banks stands against the other, where every place
/// moves one bank alone and all come to the same between the two.
fn bank_against_bank(engine: &Engine, places: &[Place]) -> Option<String> {
    if places.len() < 2 || engine.banks.len() != 2 {
        return None;
    }
    let first = *engine.banks.keys().next()?;
    let apart = |place: &Place| {
        let side = if bank_of(engine, place)? == first { 1 } else { -1 };
        Some((place.chain.clone()?, side * place.teeth?))
    };
    let all: Vec<Option<(String, i32)>> = places.iter().map(apart).collect();
    if all[0].is_none() || all.iter().any(|one| *one != all[0]) {
        return None;
    }
    let place = &places[0];
    let words = skipped_by(place.teeth?, place.links);
    words.rsplit_once(' ').map(|(size, _)| size.to_owned())
}

/// "bank 2 late, 55.0 %".
fn by_bank(engine: &Engine, place: &Place) -> Option<String> {
    let side = if place.teeth? > 0 { "late" } else { "early" };
    Some(format!("bank {} {side} ({})", bank_of(engine, place)?, percent(place.probability)))
}

/// Names of the cams that a finding covers, and of the others.
pub(super) fn covered<'a>(engine: &'a Engine, verdict: &Verdict) -> (Vec<&'a str>, Vec<&'a str>) {
    let (is, rest): (Vec<usize>, Vec<usize>) =
        (0..engine.cams.len()).partition(|cam| verdict.covers.contains(cam));
    let name = |cam: usize| engine.cams[cam].name.as_str();
    (is.into_iter().map(name).collect(), rest.into_iter().map(name).collect())
}

/// What the drive says of cams that were not measured: a skip that would have moved a measured cam
/// as well did not happen; one that moves them alone may have. A sentence with a space before it,
/// or nothing where nothing follows.
pub(super) fn follows(engine: &Engine, verdict: &Verdict) -> String {
    let names: Vec<&str> = engine.cams.iter().map(|cam| cam.name.as_str()).collect();
    let is_covered = |cam: &usize| verdict.covers.contains(cam);
    let concerned = |place: &SkipPlace| place.moves.iter().any(|cam| !is_covered(cam));
    let (shown, left): (Vec<SkipPlace>, Vec<SkipPlace>) = engine
        .drive
        .skip_places(&names)
        .into_iter()
        .filter(concerned)
        .partition(|place| place.moves.iter().any(is_covered));
    let told = |places: &[SkipPlace]| -> Vec<String> {
        let at = |place: &SkipPlace| {
            format!("the {} at {}", chain(&engine.drive.chains[place.chain]), place.on)
        };
        places.iter().map(at).collect()
    };
    match (told(&shown), told(&left)) {
        (shown, _) if shown.is_empty() => String::new(),
        (shown, left) if left.is_empty() => {
            format!(
                " {} did not skip, or a measured cam would have moved too.",
                capital(&list(&shown))
            )
        }
        (shown, left) => format!(
            " {} did not skip, or a measured cam would have moved too; {} may have.",
            capital(&list(&shown)),
            list(&left)
        ),
    }
}
