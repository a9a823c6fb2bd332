//! Builds a [`KnownGood`] reference from captures of sound engines, and refuses what is not sound.
//!
//! A reference learned from a faulty engine would call that fault good for ever after. So every
//! capture is judged first, by everything that can be known without a reference: its crank signal,
//! the verdict where the description or an earlier reference gives one, the relation between its
//! cams, its compression, and whether it agrees with the other captures.

mod pass;
mod sound;

use crate::analysis::{Analysis, AnalysisError, Options, analyse};
use crate::cam::CamResult;
use crate::capture::Capture;
use crate::engine::Engine;
use crate::known::{ENGINES_APART, KnownGood, LearnedFrom, Seen};
use crate::leads::LeadRequest;
use crate::remedy::{Insistence, Mend, Remedy, Setting, mended_errors};
use crate::units::CrankDelta;

/// Captures of one engine may differ by this much more than their intervals: warm and cold, phaser
/// seating, another day (common practice, no source).
const SAME_ENGINE_APART: CrankDelta = CrankDelta(1.5);
/// Two captures whose cams agree to this are one and the same file under two names.
const SAME_CAPTURE: f64 = 0.002;

/// What the user said beside the captures.
#[derive(Debug, Clone, Default)]
pub struct LearnOptions {
    /// Which column carries what.
    pub leads: Vec<LeadRequest>,
    /// Each capture is of another engine; else all are of one.
    pub several_engines: bool,
    /// Learn in spite of what looks faulty.
    pub accept_faulty: bool,
}

/// Why nothing was learned.
#[derive(Debug)]
pub enum LearnError {
    /// A capture does not fit the engine description.
    Analysis(AnalysisError),
    /// No cam was measured.
    NoCams {
        /// The capture.
        capture: String,
    },
    /// A capture looks faulty.
    Faulty {
        /// The capture.
        capture: String,
        /// What is wrong.
        why: String,
    },
    /// Two captures disagree.
    Disagree {
        /// The later capture.
        capture: String,
        /// The earlier one, or the reference.
        other: String,
        /// The cam.
        cam: String,
        /// By how much, crank degrees.
        apart: f64,
        /// Both are taken to be of one engine.
        one_engine: bool,
        /// As captures of two engines of one type they would agree.
        as_two_engines: bool,
    },
    /// A capture is in the reference already.
    Again {
        /// The capture.
        capture: String,
        /// Under this name.
        other: String,
    },
}

impl From<AnalysisError> for LearnError {
    fn from(error: AnalysisError) -> Self {
        LearnError::Analysis(error)
    }
}

impl Mend for LearnError {
    fn complaint(&self) -> String {
        let why = match self {
            LearnError::Analysis(error) => error.complaint(),
            LearnError::NoCams { capture } => {
                format!("{capture}: no cam of the engine file was found on any lead")
            }
            LearnError::Faulty { capture, why } => format!("{capture} looks faulty: {why}"),
            LearnError::Disagree { capture, other, cam, apart, one_engine, .. } => format!(
                "{capture} and {other} disagree about \"{cam}\" by {apart:.1}°, more than {} differ. One of them is faulty, or \
                 they are of different engine types",
                if *one_engine { "captures of one engine" } else { "sound engines" }
            ),
            LearnError::Again { capture, other } => {
                format!("{capture} is in this reference already, as {other}")
            }
        };
        format!("nothing was learned: {why}")
    }

    fn remedies(&self) -> Vec<Remedy> {
        let insist = |when: &'static str, on| Remedy::Insist(on).only_if(when);
        match self {
            LearnError::Analysis(error) => error.remedies(),
            LearnError::NoCams { .. } => vec![
                Remedy::to(
                    "check that the capture is of this engine and that its columns are named",
                ),
                Remedy::give(Setting::Lead),
            ],
            LearnError::Faulty { .. } => vec![
                Remedy::to("learn only from sound engines"),
                insist("this one is known to be sound", Insistence::AcceptFaulty),
            ],
            LearnError::Disagree { as_two_engines, .. } => {
                let several =
                    insist("they are of several engines of this type", Insistence::SeveralEngines);
                [Remedy::to("take one out")]
                    .into_iter()
                    .chain(as_two_engines.then_some(several))
                    .chain([insist("both are known to be right", Insistence::AcceptFaulty)])
                    .collect()
            }
            LearnError::Again { .. } => vec![Remedy::to("take it out")],
        }
    }
}

mended_errors!(LearnError);

/// What speaks against a capture being one of a sound engine; `None` when nothing does.
#[must_use]
pub fn looks_faulty(analysis: &Analysis) -> Option<String> {
    sound::fault(analysis)
}

/// Learns from captures, adding to `known` where there is one.
///
/// # Errors
/// [`LearnError`]: a capture that does not fit, looks faulty, disagrees, or is there already.
pub fn learn(
    captures: &[Capture],
    engine: &Engine,
    known: Option<KnownGood>,
    options: &LearnOptions,
) -> Result<KnownGood, LearnError> {
    let mut learned = known;
    let mut vehicle = learned
        .as_ref()
        .map_or(0, |known| known.captures.iter().map(|one| one.vehicle).max().unwrap_or(0));
    let mut mine: Vec<LearnedFrom> = Vec::new();
    for (index, capture) in captures.iter().enumerate() {
        let asked =
            Options { leads: options.leads.clone(), known: learned.clone(), ..Options::default() };
        let analysis = analyse(std::slice::from_ref(capture), engine, &asked)?;
        if analysis.cams.is_empty() {
            return Err(LearnError::NoCams { capture: capture.source.clone() });
        }
        let reference =
            learned.get_or_insert_with(|| KnownGood::new(engine, pass_known(&analysis)));
        if index == 0 || options.several_engines {
            vehicle += 1;
        }
        let seen = in_frame(reference, capture, &analysis, vehicle, options);
        if let Some(other) = reference.captures.iter().find(|other| same(other, &seen)) {
            let (capture, other) = (seen.capture, other.capture.clone());
            return Err(LearnError::Again { capture, other });
        }
        if !options.accept_faulty {
            if let Some(why) = sound::fault(&analysis) {
                return Err(LearnError::Faulty { capture: seen.capture, why });
            }
            agrees(reference, &mine, &seen)?;
        }
        mine.push(seen.clone());
        reference.captures.push(seen);
    }
    let mut learned = learned.unwrap_or_else(|| KnownGood::new(engine, false));
    learned.note_confirmed(engine);
    Ok(learned)
}

/// Whether the description gave the capture's cams places, and with them the pass of the cycle.
fn pass_known(analysis: &Analysis) -> bool {
    analysis.cams.iter().any(|cam| cam.expected.is_some())
}

/// The capture's places in the frame of the reference: passes brought into line, and the reference
/// itself moved to the pass before firing TDC of cylinder 1 once a spark tells it.
fn in_frame(
    reference: &mut KnownGood,
    capture: &Capture,
    analysis: &Analysis,
    vehicle: u32,
    options: &LearnOptions,
) -> LearnedFrom {
    let seen = seen(analysis, vehicle);
    if reference.pass_known {
        return reference.nearest(seen);
    }
    let modulo = analysis.crank.angle.known_modulo();
    let Some(shift) = pass::from_ignition(capture, analysis, &options.leads) else {
        return reference.aligned(seen, modulo);
    };
    let mut settled = seen;
    for one in &mut settled.cams {
        one.at = one.at + shift;
    }
    let frame = KnownGood { captures: vec![settled.clone()], ..reference.clone() };
    let earlier = std::mem::take(&mut reference.captures);
    reference.captures = earlier.into_iter().map(|one| frame.aligned(one, modulo)).collect();
    reference.pass_known = true;
    settled
}

fn seen(analysis: &Analysis, vehicle: u32) -> LearnedFrom {
    let of = |result: &CamResult| Seen {
        cam: analysis.engine.cams[result.measured.cam].name.clone(),
        at: result.measured.position,
        half_width95: result.measured.half_width95,
        known_modulo: result.measured.known_modulo,
    };
    LearnedFrom {
        capture: analysis.captures.join(", "),
        vehicle,
        cams: analysis.cams.iter().map(of).collect(),
    }
}

fn same(a: &LearnedFrom, b: &LearnedFrom) -> bool {
    a.cams.len() == b.cams.len()
        && a.cams.iter().all(|seen| {
            let other = b.cams.iter().find(|other| other.cam == seen.cam);
            other.is_some_and(|other| {
                (other.at - seen.at).0.abs() < SAME_CAPTURE
                    && (other.half_width95 - seen.half_width95).0.abs() < SAME_CAPTURE
            })
        })
}

/// Holds a capture against every earlier one: those of this run on the same engine closely, others
/// as engines of a kind.
fn agrees(
    known: &KnownGood,
    mine: &[LearnedFrom],
    capture: &LearnedFrom,
) -> Result<(), LearnError> {
    let earlier = known.captures.iter().chain(mine);
    for other in earlier {
        let one_engine = other.vehicle == capture.vehicle;
        let allowed = if one_engine { SAME_ENGINE_APART } else { ENGINES_APART };
        for seen in &capture.cams {
            let Some(theirs) = other.cams.iter().find(|theirs| theirs.cam == seen.cam) else {
                continue;
            };
            let period = CrankDelta(seen.known_modulo.0.min(theirs.known_modulo.0));
            let apart = (seen.at - theirs.at).wrap(period).0.abs();
            if apart - seen.half_width95.0.hypot(theirs.half_width95.0) > allowed.0 {
                return Err(LearnError::Disagree {
                    capture: capture.capture.clone(),
                    other: other.capture.clone(),
                    cam: seen.cam.clone(),
                    apart,
                    one_engine,
                    as_two_engines: one_engine && apart < 3.0 * ENGINES_APART.0,
                });
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests;
