//! Edge times become slots of the crank wheel, then an angle at any instant.

mod angle;
mod choice;
mod condition;
mod cycle;
mod ends;
mod habits;
mod holes;
mod identify;
pub mod interpolate;
mod jitter;
mod lock;
mod marks;
mod mean_cycle;
mod noise;
mod parts;
mod pattern;
mod picked;
mod polarity;
mod reading;
mod search;
mod slips;
mod stops;
mod stretch;
mod swings;
mod teeth;
mod track;

pub use angle::{CrankAngle, Mark};
pub use condition::Condition;
pub use lock::lock;
pub(crate) use mean_cycle::MeanCycle;
pub(crate) use swings::{Swings, laid_out};
pub(crate) use teeth::{TEETH_ALIKE, Teeth};

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

/// What the choice of the marking edge rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EdgeFrom {
    /// The description states it.
    Stated,
    /// Only this edge is spaced as the wheel is.
    Spacing,
    /// The wheel is given tooth by tooth, so that both kinds are marks.
    Wheel,
    /// Nothing: neither stated nor to be told.
    Assumed,
}

/// Why the other kind of edge may be the one that marks the teeth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhyDoubted {
    /// The description does not state the edge, and the spacing does not tell.
    Unstated,
    /// The spacing decides for the other edge than the one stated: the lead is inverted, or the
    /// description is of another car.
    SpacingContradicts,
    /// The same of a reluctance sensor, whose other zero crossing is no tooth at all: its two
    /// wires, or the scope's leads, are exchanged, and the crossing that marks the teeth was taken.
    WiresExchanged,
    /// The gap shows the other level over a tooth than described; the edge is read as stated.
    OtherWayUp,
}

/// A doubt about the marking edge: all cams, and top dead centre, stand elsewhere by the other.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeDoubt {
    /// Why.
    pub why: WhyDoubted,
    /// How much later everything would read by the other edge, negative for earlier, wrapped to
    /// what the wheel repeats after; `None` when the wheel cannot be read by it.
    pub later: Option<CrankDelta>,
    /// The crank's angle by the other edge.
    pub angle: Option<CrankAngle>,
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
    /// What that rests on.
    pub edge_from: EdgeFrom,
    /// Why it may be the other edge, and what that would change.
    pub edge_doubt: Option<EdgeDoubt>,
    /// Marks used.
    pub teeth_seen: usize,
    /// Teeth that should have been there and were not.
    pub missed: usize,
    /// Edges that are no tooth.
    pub extra: usize,
    /// Scatter of a single edge about smooth motion, in crank degrees, where it stands out from
    /// what a wheel and its engine's own ripple leave.
    pub jitter: Option<CrankDelta>,
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
    /// More edges than a crank could make.
    #[error(
        "the crank lead \"{lead}\" carries {per_second:.0} edges a second: no crank sensor gives so many. It is noise, or a \
         signal of another kind; check the lead, its ground, and which column carries what"
    )]
    TooManyEdges {
        /// The lead.
        lead: String,
        /// Edges per second.
        per_second: f64,
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
