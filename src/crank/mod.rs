//! Edge times become slots of the crank wheel, then an angle at any instant.

mod angle;
mod condition;
mod identify;
pub mod interpolate;
mod lock;
mod pattern;
mod polarity;
mod stretch;

pub use angle::{CrankAngle, Mark};
pub use condition::Condition;
pub use lock::lock;

use thiserror::Error;

use crate::units::{CrankDelta, Rpm, Seconds};
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
    /// The kind that an edge of a signal of this polarity would have on one of normal polarity.
    #[must_use]
    pub fn upright(self, kind: EdgeKind) -> EdgeKind {
        match self {
            Polarity::Normal => kind,
            Polarity::Inverted => kind.opposite(),
        }
    }

    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Polarity::Normal => "normal",
            Polarity::Inverted => "inverted",
        }
    }
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
    /// Which way up the signal is; `None` when neither the wheel nor the description can tell.
    pub polarity: Option<Polarity>,
    /// The marking edge was neither stated nor clear from the spacing. The other edge would move
    /// every cam by this much.
    pub edge_assumed: Option<CrankDelta>,
    /// Marks used.
    pub teeth_seen: usize,
    /// Teeth that should have been there and were not.
    pub missed: usize,
    /// Edges that are no tooth.
    pub extra: usize,
    /// Mean speed.
    pub rpm_mean: Rpm,
    /// Least speed over a quarter turn.
    pub rpm_min: Rpm,
    /// Greatest speed over a quarter turn.
    pub rpm_max: Rpm,
    /// What the engine was doing.
    pub condition: Condition,
    /// Time covered by the stretch used.
    pub seconds_used: Seconds,
}

/// Why no crank angle could be found.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CrankError {
    /// The lead shows nothing that changes.
    #[error(
        "the crank lead \"{lead}\" shows no rotation: {edges} edges in {seconds:.2} s. Check the lead and its connection, \
         and that the engine was turning while the capture ran"
    )]
    NoRotation {
        /// The lead.
        lead: String,
        /// Edges found.
        edges: usize,
        /// Length of the capture.
        seconds: f64,
    },
    /// Edges, but no way to read them as the wheel.
    #[error(
        "the crank lead \"{lead}\" never locks to the wheel \"{wheel}\": {edges} edges do not follow its pattern. \
         Check that the lead is the crank sensor and that the engine file names the right wheel"
    )]
    NeverLocks {
        /// The lead.
        lead: String,
        /// The wheel.
        wheel: String,
        /// Edges searched.
        edges: usize,
    },
    /// Locked, but not for long enough.
    #[error(
        "the crank turns only {turns:.1} times in this capture; two whole turns are the least that can be judged. \
         Capture at least five seconds of steady cranking"
    )]
    TooShort {
        /// Turns found.
        turns: f64,
    },
}
