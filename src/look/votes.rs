//! The leads, and what each says of a hypothesis about another.

use super::output::Output;
use super::priors::{self, Beside};
use crate::edges::EdgeTrain;

/// What a header or the user says of a lead.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Called {
    /// Nothing.
    Nothing,
    /// The crank.
    Crank,
    /// A cam.
    Cam,
    /// Something that is no position sensor.
    Other,
}

/// A lead that may carry a position sensor.
#[derive(Debug, Clone, Copy)]
pub(super) struct EdgeLead<'a> {
    /// Its edges.
    pub train: &'a EdgeTrain,
    /// What its header says.
    pub called: Called,
    /// The user named it the crank.
    pub asked: bool,
}

/// What another lead says of a hypothesis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Other {
    /// It comes back every cycle: so many teeth, in so many like parts.
    Cam {
        /// Teeth in a cycle.
        teeth: usize,
        /// Like parts of a cycle.
        parts: usize,
    },
    /// It is an output.
    Output(Output),
    /// Its edges do not come back.
    Not,
    /// They come back, but not with the cycle.
    Otherwise,
    /// They do not, though they have a pattern that only a wheel makes.
    LeftOver,
    /// There are too few cycles to say; so many teeth come in one.
    TooFew {
        /// Edges of a kind in a cycle.
        teeth: usize,
    },
}

impl Other {
    /// Whether it shows which of a cycle's two turns is which.
    pub fn tells_turns_apart(self) -> bool {
        match self {
            Other::Cam { parts, .. } => !parts.is_multiple_of(2),
            Other::TooFew { .. } => true,
            _ => false,
        }
    }
}

/// Log of what a header costs when the lead is something else.
pub(super) fn header(called: Called, is: Called) -> f64 {
    if called == Called::Nothing || called == is { 0.0 } else { -priors::HEADER_ODDS.ln() }
}

/// Log of the probability of another lead, without its header, and what the header adds. `finer`:
/// it has far more edges than the wheel that is supposed.
pub(super) fn vote(says: Other, beside: Beside, called: Called, finer: bool) -> (f64, f64) {
    match says {
        Other::Cam { teeth, parts } => {
            let alone = priors::cam_wheel(teeth, parts, beside, false);
            let named = priors::cam_wheel(teeth, parts, beside, called == Called::Cam);
            (alone, named - alone + header(called, Called::Cam))
        }
        Other::Output(_) | Other::Not => {
            let rare = if finer && says == Other::Not { priors::FINER_NO_WHEEL } else { 0.0 };
            (priors::NO_WHEEL + rare, header(called, Called::Other))
        }
        Other::Otherwise => (priors::COMES_BACK_OTHERWISE, header(called, Called::Other)),
        Other::LeftOver => (priors::PATTERN_LEFT_OVER, header(called, Called::Other)),
        Other::TooFew { teeth } => {
            (priors::TOO_FEW + priors::cam_wheel(teeth, 1, beside, false), 0.0)
        }
    }
}

/// Whether a lead has many times as many edges as a wheel with so many teeth a second.
pub(super) fn is_finer(train: &EdgeTrain, teeth_a_second: f64) -> bool {
    const FINER: f64 = 3.0;
    let (Some(first), Some(last)) = (train.edges.first(), train.edges.last()) else { return false };
    // Two edges a tooth.
    train.edges.len() as f64 > FINER * 2.0 * teeth_a_second * (last.at - first.at).0
}
