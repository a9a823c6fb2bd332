//! What the engine's controller shows of single cams, typed in from a scan tool.
//!
//! Two figures: where it has a phaser stand (0: at rest), and the offset of a cam that it has
//! learned since that was new. Controllers differ in what they call these and in their signs; here,
//! as everywhere, crank degrees, late is positive.

use std::collections::BTreeSet;

use thiserror::Error;

use super::Kind;
use super::hypotheses::{Cause, SecondFault};
use crate::engine::Engine;
use crate::units::CrankDelta;

/// What a scan tool shows of one cam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ControllerReading {
    /// Index into the engine's cams.
    pub cam: usize,
    /// Where the controller has the phaser, crank degrees from rest; 0 at rest. Absent when not
    /// given.
    pub phaser: Option<CrankDelta>,
    /// Offset of the cam it has learned since new, positive late. Absent when not given.
    pub learned: Option<CrankDelta>,
}

/// A phaser that is shown within this of rest is at rest: displays round, and sensors jitter (crank
/// degrees; judgement).
const AT_REST: CrankDelta = CrankDelta(1.0);
/// A phaser that stands away is shown at rest this often: one that is stuck or leaks before the oil
/// is up, or is not read until the engine runs (judgement, no source).
const AWAY_SHOWN_AT_REST: f64 = 0.3;
/// One at rest is shown away this often: the figure is of another moment, running (judgement, no
/// source).
const AT_REST_SHOWN_AWAY: f64 = 0.1;

impl ControllerReading {
    /// Likelihood of what is shown of the phaser, when that is away and when it is at rest.
    fn phaser_likelihood(&self, away: bool) -> f64 {
        let Some(shown) = self.phaser else { return 1.0 };
        let shown_at_rest = if away { AWAY_SHOWN_AT_REST } else { 1.0 - AT_REST_SHOWN_AWAY };
        if shown.0.abs() <= AT_REST.0 { shown_at_rest } else { 1.0 - shown_at_rest }
    }

    /// How likely it is that the phaser stands away, `before` what is shown of it is counted.
    pub(super) fn away(&self, before: f64) -> f64 {
        let (away, rest) =
            (before * self.phaser_likelihood(true), (1.0 - before) * self.phaser_likelihood(false));
        away / (away + rest)
    }
}

/// Likelihood of what is shown of the phasers under a cause and what comes along with it.
pub(super) fn likelihood(
    readings: &[ControllerReading],
    cause: &Cause,
    second: &SecondFault,
) -> f64 {
    let away = |cam: usize| {
        let first = cause.kind == Kind::PhaserOffRest && cause.moves.contains(&cam);
        first || matches!(second, SecondFault::Phasers(cams) if cams.contains(&cam))
    };
    readings.iter().map(|one| one.phaser_likelihood(away(one.cam))).product()
}

/// Why something typed is no figure of the controller.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ControllerError {
    /// No figure behind an equals sign.
    #[error(
        "\"{typed}\" is not a cam and a number. Write it like \"B1 intake=-1.5\", in crank degrees, late above 0"
    )]
    NoNumber {
        /// As typed.
        typed: String,
    },
    /// No cam of that name.
    #[error("\"{typed}\": no cam is called \"{cam}\". The engine file has {has}")]
    NoSuchCam {
        /// As typed.
        typed: String,
        /// The name.
        cam: String,
        /// Those there are.
        has: String,
    },
    /// A phaser's place for a cam that has none.
    #[error(
        "\"{typed}\": the engine file describes no phaser on \"{cam}\". Leave it out, or describe the phaser in the engine file"
    )]
    NoPhaser {
        /// As typed.
        typed: String,
        /// The cam.
        cam: String,
    },
    /// One cam twice.
    #[error("\"{typed}\": \"{cam}\" was given before. Give each cam one figure")]
    Twice {
        /// As typed.
        typed: String,
        /// The cam.
        cam: String,
    },
    /// Further than anything moves.
    #[error(
        "\"{typed}\": {degrees}° is more than a cam can stand off by. Give crank degrees between -{most} and {most}"
    )]
    TooFar {
        /// As typed.
        typed: String,
        /// The figure.
        degrees: String,
        /// The most.
        most: u32,
    },
}

/// Most crank degrees of a figure: phasers reach 80° and more, half a turn is none.
const MOST_DEG: u32 = 120;

/// Reads `CAM=DEGREES`, for phasers and for learned offsets.
///
/// # Errors
/// The first that cannot be used with this engine.
pub fn read_controller(
    phasers: &[String],
    learned: &[String],
    engine: &Engine,
) -> Result<Vec<ControllerReading>, ControllerError> {
    let mut readings: Vec<ControllerReading> = Vec::new();
    let mut put = |cam: usize, phaser: Option<CrankDelta>, learned: Option<CrankDelta>| {
        let known = readings.iter().position(|one| one.cam == cam);
        let at = known.unwrap_or_else(|| {
            readings.push(ControllerReading { cam, phaser: None, learned: None });
            readings.len() - 1
        });
        readings[at].phaser = readings[at].phaser.or(phaser);
        readings[at].learned = readings[at].learned.or(learned);
    };
    for (cam, typed, degrees) in figures(phasers, engine)? {
        let described = &engine.cams[cam];
        if described.phaser.is_none() {
            let cam = described.name.clone();
            return Err(ControllerError::NoPhaser { typed: typed.clone(), cam });
        }
        put(cam, Some(degrees), None);
    }
    for (cam, _, degrees) in figures(learned, engine)? {
        put(cam, None, Some(degrees));
    }
    readings.sort_by_key(|one| one.cam);
    Ok(readings)
}

/// Cams with their figures, each cam once.
fn figures<'a>(
    typed: &'a [String],
    engine: &Engine,
) -> Result<Vec<(usize, &'a String, CrankDelta)>, ControllerError> {
    let mut seen = BTreeSet::new();
    let one = |typed: &'a String| {
        let no_number = || ControllerError::NoNumber { typed: typed.clone() };
        let (name, number) = typed.rsplit_once('=').ok_or_else(no_number)?;
        let number = number.trim().trim_end_matches('°').trim();
        // Minus signs of a word processor, and a decimal comma.
        let number = number.replace('\u{2212}', "-").replace(',', ".");
        let degrees: f64 = number.parse().map_err(|_| no_number())?;
        let cam = engine.cam_index(name).ok_or_else(|| {
            let has: Vec<&str> = engine.cams.iter().map(|cam| cam.name.as_str()).collect();
            let has = if has.is_empty() { "none".into() } else { has.join(", ") };
            ControllerError::NoSuchCam { typed: typed.clone(), cam: name.trim().into(), has }
        })?;
        if !degrees.is_finite() {
            return Err(no_number());
        }
        if degrees.abs() > f64::from(MOST_DEG) {
            let typed = typed.clone();
            return Err(ControllerError::TooFar { typed, degrees: number, most: MOST_DEG });
        }
        if !seen.insert(cam) {
            let cam = engine.cams[cam].name.clone();
            return Err(ControllerError::Twice { typed: typed.clone(), cam });
        }
        Ok((cam, typed, CrankDelta(degrees)))
    };
    typed.iter().map(one).collect()
}
