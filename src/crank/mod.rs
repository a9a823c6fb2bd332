//! Edge times become slots of the crank wheel, then an angle at any instant.

mod condition;

pub use condition::Condition;

use crate::units::{CrankDelta, CrankTurned, Rpm, Seconds};
use crate::wheel::EdgeKind;

/// Whether a square-wave signal is high over a tooth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polarity {
    /// High over a tooth; for reluctance, the stated edge marks the tooth.
    Normal,
    /// The other way up.
    Inverted,
}

impl Polarity {
    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Polarity::Normal => "normal",
            Polarity::Inverted => "inverted",
        }
    }
}

/// A tooth edge that was identified: when it passed and what angle it stands at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// When.
    pub at: Seconds,
    /// Crank degrees since the first datum of the stretch.
    pub turned: CrankTurned,
}

/// Time ↔ crank angle over one unbroken stretch of rotation.
///
/// Angle 0 is a datum pass. Which of the datum passes of a cycle it is (two, or more on a
/// crank wheel that repeats) is not known here: every angle may be off by one
/// multiple of [`CrankAngle::known_modulo`], the same for the whole stretch.
#[derive(Debug, Clone, PartialEq)]
pub struct CrankAngle {
    /// Identified marks, strictly growing in both time and angle; at least two.
    marks: Vec<Mark>,
    /// Slope in degrees per second at each mark.
    slopes: Vec<f64>,
    known_modulo: CrankDelta,
}

/// How the crank wheel was recognised.
#[derive(Debug, Clone, PartialEq)]
pub struct CrankLock {
    /// Angle over the stretch used.
    pub angle: CrankAngle,
    /// Probability that the slots are identified rightly, 0..1.
    pub confidence: f64,
    /// Which electrical edge marks the slots.
    pub marking_edge: EdgeKind,
    /// Which way up the signal is.
    pub polarity: Polarity,
    /// Marks used.
    pub teeth_seen: usize,
    /// Teeth that should have been there and were not.
    pub missed: usize,
    /// Edges that are no tooth.
    pub extra: usize,
    /// Mean, least and greatest speed.
    pub rpm: (Rpm, Rpm, Rpm),
    /// Seconds of the capture in the stretch, and left out.
    pub seconds: (Seconds, Seconds),
}
