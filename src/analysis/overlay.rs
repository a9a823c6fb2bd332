//! A recording of a sound engine laid over the one that is judged, at the same crank degrees. It is
//! looked at, and nothing is held against it: that is what a known-good reference is for.

use super::{Analysis, AnalysisError, Options, analyse};
use crate::capture::Capture;
use crate::engine::Engine;
use crate::units::{CYCLE_DEG, CrankDelta};

/// A recording that is laid over another.
#[derive(Debug, Clone)]
pub struct Overlay {
    /// What was found of it.
    pub analysis: Analysis,
    /// The recording; one.
    pub captures: Vec<Capture>,
    /// To be added to its places: the turns by which its cycle begins elsewhere, where the two turns
    /// of a cycle cannot be told apart. Else 0.
    pub later: CrankDelta,
}

impl Overlay {
    /// Reads a recording for being laid over what `main` was made of, with the same engine and
    /// known-good reference.
    ///
    /// # Errors
    /// As [`analyse`].
    pub fn of(
        main: &Analysis,
        capture: Capture,
        engine: &Engine,
        asked: &Options,
    ) -> Result<Overlay, AnalysisError> {
        let captures = vec![capture];
        let asked = Options {
            leads: asked.leads.clone(),
            known: asked.known.clone(),
            ..Options::default()
        };
        let analysis = analyse(&captures, engine, &asked)?;
        let later = later(main, &analysis);
        Ok(Overlay { analysis, captures, later })
    }
}

/// By how many of the turns that cannot be told apart the cams of `over` come nearest to those of
/// `main`.
fn later(main: &Analysis, over: &Analysis) -> CrankDelta {
    let modulo = main.known_modulo.0.min(over.known_modulo.0).max(1.0);
    let passes = (CYCLE_DEG / modulo).round() as usize;
    let apart = |pass: usize| -> f64 {
        let shift = CrankDelta(pass as f64 * modulo);
        let same = over.cams.iter().filter_map(|cam| {
            let other = main.cams.iter().find(|other| other.measured.cam == cam.measured.cam)?;
            let off = cam.measured.position + shift - other.measured.position;
            Some(off.wrap(cam.measured.known_modulo).0.abs())
        });
        same.sum()
    };
    let best = (0..passes).min_by(|&a, &b| apart(a).total_cmp(&apart(b))).unwrap_or(0);
    CrankDelta(best as f64 * modulo)
}
