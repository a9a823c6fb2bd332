//! Where cams stand, in words.

use super::phrases::list;
use crate::engine::Engine;
use crate::verdict::CamDeviation;

/// "B1 intake 18.2° late", "B2 exhaust 0.9° early against B1 exhaust".
pub(super) fn stands(engine: &Engine, one: &CamDeviation) -> String {
    let name = |cam: usize| engine.cams[cam].name.as_str();
    let place = if one.deviation.word().is_empty() {
        "in place".to_owned()
    } else {
        one.deviation.to_string()
    };
    let cam = name(one.cam);
    match one.against {
        Some(other) if other != one.cam => format!("{cam} {place} against {}", name(other)),
        Some(_) => format!("{cam} of unknown place"),
        None => format!("{cam} {place}"),
    }
}

/// Some cams, or that none of them was measured.
pub(super) fn all_stand(engine: &Engine, cams: &[CamDeviation]) -> String {
    let told: Vec<String> = cams.iter().map(|one| stands(engine, one)).collect();
    if told.is_empty() { "not measured, so only its prior odds speak".into() } else { list(&told) }
}

/// The cam furthest from its place, beside its tolerance.
pub(super) fn furthest(engine: &Engine, furthest: Option<&CamDeviation>) -> String {
    match furthest {
        None => "No cam could be held against a known place.".into(),
        Some(one) => format!(
            "The largest deviation is {}; the tolerance is {:.1}°.",
            stands(engine, one),
            engine.cams[one.cam].tolerance.0
        ),
    }
}
