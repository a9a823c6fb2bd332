//! Crank angle without a crank wheel.
//!
//! The crank's wheel is the fine source of angle; others give a coarser one. A coil (or an
//! injector) of one cylinder marks every cycle, or every turn; the peak of a pressure lead marks
//! its cylinder's top dead centre; and the compressions themselves, by the starter's current or the
//! battery's voltage, beat once per firing interval. Each gives the same [`CrankAngle`] that the
//! crank's teeth do, with what it is worth beside it, so that every later stage is the same.
//!
//! The walk: a lead becomes a slow series ([`Series`]); its `attempts` at cranking are found; in
//! each the compressions are counted (`beat`); marks are freed of bursts and of what does not fit
//! (`strikes`); between them the angle follows the compressions (`between`).

mod attempts;
mod beat;
mod between;
mod pattern;
mod series;
mod strikes;

use pattern::Pattern;

pub use beat::Beat;
pub use series::Series;
pub use strikes::{BURST_DEG, Strikes, pointed_at, without_bursts};

use thiserror::Error;

use crate::crank::CrankAngle;
use crate::engine::Engine;
use crate::units::{CrankDelta, Seconds};

/// What gave the angle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum AngleFrom {
    /// The crank's wheel.
    #[default]
    Crank,
    /// Sparks of a cylinder.
    Ignition(u32),
    /// Openings of a cylinder's injector.
    Injector(u32),
    /// Peaks of a cylinder's pressure.
    Pressure(u32),
    /// Compressions in the starter's current.
    Current,
    /// Compressions in the battery's voltage.
    Battery,
}

impl AngleFrom {
    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            AngleFrom::Crank => "crank",
            AngleFrom::Ignition(_) => "ignition",
            AngleFrom::Injector(_) => "injector",
            AngleFrom::Pressure(_) => "pressure",
            AngleFrom::Current => "current",
            AngleFrom::Battery => "battery",
        }
    }
}

/// Marks of one lead: the same place of every cycle, or of every turn.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkLead {
    /// What they are of.
    pub from: AngleFrom,
    /// When each was, growing; several of one burst as they come.
    pub at: Vec<Seconds>,
}

/// What angle is taken from.
#[derive(Debug, Clone)]
pub struct AngleInput<'a> {
    /// The engine description.
    pub engine: &'a Engine,
    /// A lead that rises with every compression, and which it is.
    pub rhythm: Option<(AngleFrom, &'a Series)>,
    /// Leads that mark a place of the cycle, best first.
    pub marks: &'a [MarkLead],
}

/// One attempt at cranking, with its angle.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundAngle {
    /// Time and angle. Its zero is no place of the engine.
    pub angle: CrankAngle,
    /// What it is from.
    pub from: AngleFrom,
    /// Standard deviation of an angle against another of the same cycle.
    pub sd: CrankDelta,
    /// The marks, where a lead gave some.
    pub strikes: Option<Strikes>,
}

/// Why there is no angle.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum AngleError {
    /// No lead that marks a place or beats with the compressions.
    #[error("no lead tells how far the crank has turned")]
    NoLead,
    /// The rhythm of the compressions does not show.
    #[error("no rhythm of compressions shows in the lead")]
    NoRhythm,
    /// The lead that should show it is off the scope's range.
    #[error(
        "the {lead} lead stands at the limit of the scope's range for {percent:.0} % of the time: choose a wider range"
    )]
    OffRange {
        /// Which lead.
        lead: &'static str,
        /// How much of the time.
        percent: f64,
    },
    /// Too little of it.
    #[error("it covers {cycles:.1} cycles of cranking; three are needed")]
    TooShort {
        /// How many.
        cycles: f64,
    },
}

/// How far speed swings with the compressions, amplitude over the mean (±10 to ±25 % at the
/// extremes while cranking, common practice; a sine through them has about half of that).
const USUAL_SWING: f64 = 0.08;
/// Fewest cycles an attempt must last to be one.
const LEAST_CYCLES: f64 = 2.0;

/// Every attempt at cranking that has an angle, in the order of time.
///
/// # Errors
/// No lead to take it from, no rhythm, or too little of it.
pub fn find(input: &AngleInput) -> Result<Vec<FoundAngle>, AngleError> {
    let Some((rhythm, series)) = input.rhythm else { return by_marks_alone(input) };
    let mut found = Vec::new();
    let mut failed = AngleError::NoRhythm;
    for span in attempts::of(series) {
        match one(input, rhythm, series, span) {
            Ok(one) => found.push(one),
            Err(error) => failed = error,
        }
    }
    if found.is_empty() { Err(failed) } else { Ok(found) }
}

/// The angle of one attempt.
fn one(
    input: &AngleInput,
    rhythm: AngleFrom,
    series: &Series,
    span: (usize, usize),
) -> Result<FoundAngle, AngleError> {
    let (from, to) = (series.at(span.0), series.at(span.1.saturating_sub(1)));
    let within = |lead: &MarkLead| -> Vec<Seconds> {
        lead.at.iter().copied().filter(|at| (from..=to).contains(at)).collect()
    };
    // The lead that marks most regularly says how long a cycle is.
    let periods: Vec<f64> =
        input.marks.iter().filter_map(|lead| strikes::period(&within(lead))).collect();
    let pattern = Pattern::of(input.engine);
    let counted = |period: Option<f64>| {
        let beat = Beat::find(series, span, &pattern, period)?;
        let marked = input.marks.iter().find_map(|lead| {
            let strikes = Strikes::find(&within(lead), &|at| beat.cycles_at(at))?;
            Some((lead.from, strikes))
        });
        Some((beat, marked))
    };
    // Marks that point nowhere in the cycles counted by them, as hum has, tell nothing of a cycle's
    // length either.
    let by_marks = periods.first().and_then(|&period| counted(Some(period)));
    let pointing = by_marks.filter(|(_, marked)| marked.is_some());
    let (beat, marked) = pointing.or_else(|| counted(None)).ok_or(AngleError::NoRhythm)?;
    let cycles = beat.cycles();
    if cycles < LEAST_CYCLES {
        return Err(AngleError::TooShort { cycles });
    }
    let (from, strikes) = match marked {
        Some((from, strikes)) => (from, Some(strikes)),
        None => (rhythm, None),
    };
    let (angle, sd) =
        between::lay(&beat, strikes.as_ref(), USUAL_SWING).ok_or(AngleError::NoRhythm)?;
    Ok(FoundAngle { angle, from, sd, strikes })
}

/// Marks with nothing between them: straight on from one to the next.
fn by_marks_alone(input: &AngleInput) -> Result<Vec<FoundAngle>, AngleError> {
    let lead = input.marks.first().ok_or(AngleError::NoLead)?;
    let mut found = Vec::new();
    for run in strikes::runs(&lead.at) {
        let Some(period) = strikes::period(&run) else { continue };
        let begins = run[0].0;
        let steady = |at: Seconds| Some((at.0 - begins) / period);
        let Some(strikes) = strikes::Strikes::one_after_the_other(&run, &steady) else { continue };
        if let Some((angle, sd)) = between::straight(&strikes, input.engine.firing_order.len()) {
            found.push(FoundAngle { angle, from: lead.from, sd, strikes: Some(strikes) });
        }
    }
    if found.is_empty() { Err(AngleError::TooShort { cycles: 0.0 }) } else { Ok(found) }
}
