//! A known-good reference: where the cams of sound engines of one kind were measured to stand.
//!
//! It stands in for the figures nobody publishes. Every engine it was learned from is kept, so that
//! another one can be added later and the whole is worked out afresh.
//!
//! How well a *new* engine's place is predicted: engines of one kind scatter with an unknown
//! standard deviation s about an unknown mean. Of s something is known beforehand (`SPREAD_PRIOR`,
//! worth `PRIOR_FREEDOM` degrees of freedom: the conjugate, scaled-inverse-χ² prior; Gelman et al.,
//! *Bayesian Data Analysis*, §3.3). The prediction is then Student's t with ν = n − 1 + prior
//! degrees, scale s √(1 + 1/n), whose standard deviation is that times √(ν / (ν − 2)). One engine
//! alone predicts poorly; each further one narrows it.

mod error;
mod file;

pub use error::KnownError;
pub(crate) use file::quoted;

use std::collections::{BTreeMap, BTreeSet};

use crate::engine::{DEFAULT_RELATION_SD, Engine, Reference};
use crate::stats::mean;
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta};

/// Spread of sound engines expected before any was measured: sprocket, dowel, head height and
/// sensor seat (common practice, no source). More than the build scatter the verdict takes for one
/// cam (0.6°), because here the crank wheel's own (0.5°) and what `at` would be off by are in it
/// too.
const SPREAD_PRIOR: CrankDelta = CrankDelta(1.0);
/// What that expectation is worth in degrees of freedom: about as much as four engines.
const PRIOR_FREEDOM: f64 = 4.0;
/// A prediction is never better than this: wheel errors that repeat in every turn.
const LEAST_SD: CrankDelta = CrankDelta(0.4);

/// Two figures this close are one figure: the rounding of the file.
const SAME_FIGURE: CrankDelta = CrankDelta(0.05);
/// Sound engines of one type differ by no more than this between themselves: three standard
/// deviations of a difference of two with a build scatter of 1° each. A tooth of a common drive is
/// 14° to 21°.
pub(crate) const ENGINES_APART: CrankDelta = CrankDelta(4.2);

/// Where one cam stood in one capture.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Name of the cam.
    pub cam: String,
    /// Crank degrees from the datum to shaft angle 0 of its wheel.
    pub at: CrankDeg,
    /// Half width of the 95 % interval of the measurement.
    pub half_width95: CrankDelta,
    /// `at` is known up to a multiple of this: less than 720 on a wheel that looks the same several
    /// times a turn.
    pub known_modulo: CrankDelta,
}

/// One capture that was learned from.
#[derive(Debug, Clone, PartialEq)]
pub struct LearnedFrom {
    /// Its file name.
    pub capture: String,
    /// Number of the engine it was made on, counted from 1 within the file.
    pub vehicle: u32,
    /// The cams it showed.
    pub cams: Vec<Seen>,
}

/// A known-good reference.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownGood {
    /// Name of the engine description it belongs to.
    pub engine: String,
    /// Name of the crank wheel its angles count from.
    pub crank_wheel: String,
    /// Whether its angles count from the datum pass before *firing* TDC of cylinder 1. If not, all
    /// of them may be off by the same multiple of what the crank wheel tells apart.
    pub pass_known: bool,
    /// What it was learned from, in order.
    pub captures: Vec<LearnedFrom>,
    /// The engine file's places that these engines bear out, by name of the cam: as they stood in
    /// the file when it was learned.
    pub confirms: BTreeMap<String, CrankDeg>,
}

/// The figures for one cam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures {
    /// Mean place over engines.
    pub at: CrankDeg,
    /// Standard deviation between engines; absent for one.
    pub spread: Option<CrankDelta>,
    /// How many engines.
    pub engines: usize,
    /// Standard deviation with which a further engine's place is predicted.
    pub predicts: CrankDelta,
}

impl KnownGood {
    /// An empty reference for an engine.
    #[must_use]
    pub fn new(engine: &Engine, pass_known: bool) -> KnownGood {
        KnownGood {
            engine: engine.name.clone(),
            crank_wheel: engine.crank.wheel.name().to_owned(),
            pass_known,
            captures: Vec::new(),
            confirms: BTreeMap::new(),
        }
    }

    /// Names of the cams it knows, sorted.
    #[must_use]
    pub fn cams(&self) -> BTreeSet<&str> {
        self.captures.iter().flat_map(|one| one.cams.iter().map(|seen| seen.cam.as_str())).collect()
    }

    /// Number of engines it was learned from.
    #[must_use]
    pub fn engines(&self) -> usize {
        self.captures.iter().map(|one| one.vehicle).collect::<BTreeSet<u32>>().len()
    }

    /// The figures for a cam; `None` for one it does not know.
    #[must_use]
    pub fn figures(&self, cam: &str) -> Option<Figures> {
        let seen: Vec<(u32, CrankDeg)> = self
            .captures
            .iter()
            .flat_map(|one| one.cams.iter().map(move |seen| (one.vehicle, seen)))
            .filter(|(_, seen)| seen.cam.eq_ignore_ascii_case(cam))
            .map(|(vehicle, seen)| (vehicle, seen.at))
            .collect();
        // Angles are averaged as differences from the first, so that 719° and 1° give 0°.
        let first = seen.first()?.1;
        let vehicles: BTreeSet<u32> = seen.iter().map(|&(vehicle, _)| vehicle).collect();
        let means: Vec<f64> = vehicles
            .iter()
            .filter_map(|vehicle| {
                let own = seen.iter().filter(|(of, _)| of == vehicle);
                mean(&own.map(|&(_, at)| (at - first).0).collect::<Vec<f64>>())
            })
            .collect();
        let middle = mean(&means)?;
        let squares: f64 = means.iter().map(|value| (value - middle).powi(2)).sum();
        let count = means.len() as f64;
        let freedom = count - 1.0 + PRIOR_FREEDOM;
        let variance = (squares + PRIOR_FREEDOM * SPREAD_PRIOR.0.powi(2)) / freedom;
        let predicts = (variance * (1.0 + 1.0 / count) * freedom / (freedom - 2.0)).sqrt();
        Some(Figures {
            at: first + CrankDelta(middle),
            spread: (means.len() > 1).then(|| CrankDelta((squares / (count - 1.0)).sqrt())),
            engines: means.len(),
            predicts: CrankDelta(predicts.max(LEAST_SD.0)),
        })
    }

    /// Where a cam of the engine should stand and how well that is known: its own figures, or those
    /// of the cam it is described by. `None` when neither is known, or nobody confirmed how the two
    /// are related.
    #[must_use]
    pub fn expected(&self, engine: &Engine, cam: usize) -> Option<(CrankDeg, CrankDelta)> {
        if let Some(figures) = self.figures(&engine.cams[cam].name) {
            return Some((figures.at, figures.predicts));
        }
        let Reference::SameAs { cam: other, later, sd, assumed: false } =
            engine.cams[cam].reference
        else {
            return None;
        };
        let (at, predicts) = self.expected(engine, other)?;
        Some((at + later, CrankDelta(predicts.0.hypot(sd.unwrap_or(DEFAULT_RELATION_SD).0))))
    }

    /// Notes which places of the engine file the captures bear out: those no further from what was
    /// measured than a sound cam may stand from its place. A figure that is not borne out is not
    /// noted, and neither file is changed for it.
    pub fn note_confirmed(&mut self, engine: &Engine) {
        let confirmed = |cam: usize| {
            let (typed, _) = engine.expected(cam)?;
            let name = &engine.cams[cam].name;
            let off = (self.figures(name)?.at - typed).0.abs();
            (self.pass_known && off <= engine.cams[cam].tolerance.0).then(|| (name.clone(), typed))
        };
        self.confirms = (0..engine.cams.len()).filter_map(confirmed).collect();
    }

    /// Cams whose place in the engine file is no longer the one that was confirmed: index, the
    /// confirmed place, the file's.
    #[must_use]
    pub fn changed_since(&self, engine: &Engine) -> Vec<(usize, CrankDeg, CrankDeg)> {
        let changed = |cam: usize| {
            let confirmed = *self.confirms.get(&engine.cams[cam].name)?;
            let (typed, _) = engine.expected(cam)?;
            ((typed - confirmed).0.abs() > SAME_FIGURE.0).then_some((cam, confirmed, typed))
        };
        (0..engine.cams.len()).filter_map(changed).collect()
    }

    /// Checks that the reference belongs to an engine description.
    ///
    /// # Errors
    /// Another engine, another crank wheel, or a cam the description has not got. `file` names the
    /// reference.
    pub fn belongs_to(&self, engine: &Engine, file: &str) -> Result<(), KnownError> {
        let differs = |what: &'static str, known: &str, described: &str| KnownError::OtherEngine {
            file: file.to_owned(),
            what,
            known: known.to_owned(),
            described: described.to_owned(),
        };
        if self.engine.trim() != engine.name.trim() {
            return Err(differs("engine", &self.engine, &engine.name));
        }
        if self.crank_wheel != engine.crank.wheel.name() {
            return Err(differs("crank wheel", &self.crank_wheel, engine.crank.wheel.name()));
        }
        match self.cams().into_iter().find(|cam| engine.cam_index(cam).is_none()) {
            Some(cam) => {
                let names: Vec<&str> = engine.cams.iter().map(|cam| cam.name.as_str()).collect();
                Err(differs("cam", cam, &names.join(", ")))
            }
            None => Ok(()),
        }
    }

    /// Moves every angle of a capture by the multiple of `modulo` that brings it nearest to what is
    /// known already. For a reference whose pass is open: the pass of each capture was chosen at
    /// random.
    #[must_use]
    pub fn aligned(&self, mut capture: LearnedFrom, modulo: CrankDelta) -> LearnedFrom {
        let passes = (CYCLE_DEG / modulo.0.max(1.0)).round() as usize;
        let far = |pass: usize| -> f64 {
            let shift = CrankDelta(pass as f64 * modulo.0);
            let known =
                capture.cams.iter().filter_map(|seen| Some((seen, self.figures(&seen.cam)?)));
            known
                .map(|(seen, figures)| {
                    (seen.at + shift - figures.at).wrap(seen.known_modulo).0.abs()
                })
                .sum()
        };
        let best = (0..passes).min_by(|&a, &b| far(a).total_cmp(&far(b))).unwrap_or(0);
        for seen in &mut capture.cams {
            seen.at = seen.at + CrankDelta(best as f64 * modulo.0);
        }
        self.nearest(capture)
    }

    /// Brings the places of cams whose wheels look the same several times a turn next to what is
    /// known of them: which of the like places was read is chance.
    #[must_use]
    pub fn nearest(&self, mut capture: LearnedFrom) -> LearnedFrom {
        for seen in &mut capture.cams {
            if let Some(figures) = self.figures(&seen.cam) {
                seen.at = figures.at + (seen.at - figures.at).wrap(seen.known_modulo);
            }
        }
        capture
    }
}

#[cfg(test)]
mod tests;
