//! How well the figures of a description are trusted.

use camwitness::known::{KnownGood, LearnedFrom, Seen};
use camwitness::units::CrankDelta;

use super::case::Case;
use super::engines::Known;

/// Whether sound engines have shown where the cams belong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trust {
    /// Somebody typed them.
    Typed,
    /// A known-good of [`ENGINES`] engines agrees with them, where every cam has a place.
    Confirmed,
}

/// As many as make a prediction about as good as a stated `at_sd` of a degree.
const ENGINES: u32 = 4;

/// The known-good of an engine whose places are to be confirmed.
pub fn known_good(case: &Case, trust: Trust) -> Option<KnownGood> {
    if trust == Trust::Typed || case.drawn.known != Known::Absolute {
        return None;
    }
    let engine = &case.drawn.engine;
    let cams = || {
        let seen = |cam: usize| {
            Some(Seen {
                cam: engine.cams[cam].name.clone(),
                at: engine.expected(cam)?.0,
                half_width95: CrankDelta(0.3),
                known_modulo: CrankDelta(720.0 / f64::from(engine.cams[cam].wheel.repeats())),
            })
        };
        (0..engine.cams.len()).filter_map(seen).collect()
    };
    let of = |vehicle| LearnedFrom { capture: format!("sound {vehicle}"), vehicle, cams: cams() };
    let captures = (1..=ENGINES).map(of).collect();
    Some(KnownGood { captures, ..KnownGood::new(engine, true) })
}
