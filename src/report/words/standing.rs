//! Where cams stand, in words.

use super::phrases::{list, skipped_by};
use crate::cam::{CamResult, ExpectedFrom};
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

/// As [`teeth`] for a narrow column, whose head says that a tooth is a link.
pub(crate) fn teeth_alone(cam: &CamResult) -> String {
    teeth(&CamResult { by_links: false, ..cam.clone() })
}

/// "1 tooth (1 link) late + 0.4° late": whole teeth and what is left over, or what is missing to
/// count them.
pub(crate) fn teeth(cam: &CamResult) -> String {
    match cam.teeth() {
        Some((0, _)) => "none".into(),
        Some((teeth, left)) => {
            let links = cam.by_links.then_some(teeth);
            format!("{} + {left}", skipped_by(teeth, links))
        }
        None if cam.step.is_some() => "place unknown".into(),
        None => "no drive described".into(),
    }
}

/// Where an expected place is from: "from the engine file (handbook, page 12), never confirmed".
pub(crate) fn place_source(engine: &Engine, cam: usize, from: ExpectedFrom) -> String {
    match from {
        ExpectedFrom::KnownGood => "learned from sound engines".into(),
        ExpectedFrom::EngineFile => {
            let source =
                engine.source_of(cam).map_or_else(String::new, |said| format!(" ({said})"));
            format!("from the engine file{source}, never confirmed on a sound engine")
        }
    }
}

/// That a place repeats: "known up to a multiple of 360°".
pub(crate) fn repeats(cam: &CamResult) -> String {
    format!("known up to a multiple of {:.0}°", cam.known_modulo.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cam::{CamPosition, Expected, ExpectedFrom};
    use crate::crank::Polarity;
    use crate::units::{CrankDeg, CrankDelta};

    #[test]
    fn teeth_that_cannot_be_counted_say_what_is_missing() {
        let at = |expected: f64| Expected {
            at: CrankDeg::new(expected),
            sd: None,
            from: ExpectedFrom::EngineFile,
        };
        let step = Some(CrankDelta(17.142_857));
        // (expected place, step of the drive, what stands in the table)
        let rows = [
            (Some(95.5), step, "1 tooth late + 0.4° late"),
            (Some(147.0), step, "2 teeth early + 0.3° late"),
            (Some(112.4), step, "none"),
            (None, step, "place unknown"),
            (Some(112.4), None, "no drive described"),
            (None, None, "no drive described"),
        ];
        for (expected, step, said) in rows {
            let measured = position(CrankDeg::new(113.0));
            let result = CamResult {
                name: "B1 intake".into(),
                known_modulo: measured.known_modulo,
                measured,
                expected: expected.map(at),
                step,
                by_links: false,
            };
            assert_eq!(teeth(&result), said, "{expected:?} {step:?}");
        }
    }

    /// A measurement of a cam; only its place is read.
    fn position(at: CrankDeg) -> CamPosition {
        CamPosition {
            cam: 0,
            lead: "B1 intake".into(),
            polarity: Polarity::Normal,
            position: at,
            half_width95: CrankDelta(0.3),
            cycle_sd: None,
            cycles: vec![],
            edges: vec![],
            known_modulo: CrankDelta(720.0),
            missed: 0,
            extra: 0,
            fit: 1.0,
        }
    }
}
