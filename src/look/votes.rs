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
            // Pulses that come evenly may as well be an output's, one for each firing.
            Other::Cam { teeth, parts } => !parts.is_multiple_of(2) && !comes_evenly(teeth, parts),
            Other::TooFew { .. } => true,
            _ => false,
        }
    }
}

/// Log of what a header costs when the lead is something else.
pub(super) fn header(called: Called, is: Called) -> f64 {
    if called == Called::Nothing || called == is { 0.0 } else { -priors::HEADER_ODDS.ln() }
}

/// Several like pulses a cycle, all as far from each other.
fn comes_evenly(teeth: usize, parts: usize) -> bool {
    teeth > 1 && teeth == parts
}

/// Log of the sum of two probabilities by their logs.
fn either(a: f64, b: f64) -> f64 {
    a.max(b) + (-(a - b).abs()).exp().ln_1p()
}

/// Log of the probability of another lead, without its header, and what the header adds. `finer`:
/// it has far more edges than the wheel that is supposed.
pub(super) fn vote(says: Other, beside: Beside, called: Called, finer: bool) -> (f64, f64) {
    match says {
        Other::Cam { teeth, parts } => {
            let alone = priors::cam_wheel(teeth, parts, beside, false);
            let named = priors::cam_wheel(teeth, parts, beside, called == Called::Cam)
                + header(called, Called::Cam);
            // An ignition or injector line goes with the firings, and its pulses show only at other
            // speeds that they last a time.
            let (alone, named) = if comes_evenly(teeth, parts) {
                let named_output = priors::NO_WHEEL + header(called, Called::Other);
                (either(alone, priors::NO_WHEEL), either(named, named_output))
            } else {
                (alone, named)
            };
            (alone, named - alone)
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn even_pulses_may_be_an_outputs_and_tell_no_turns_apart() {
        for (teeth, parts, tells) in [(3, 3, false), (6, 6, false), (3, 1, true), (1, 1, true)] {
            assert_eq!(Other::Cam { teeth, parts }.tells_turns_apart(), tells, "{teeth} {parts}");
        }
        let beside = Beside { marked: false, told: false };
        let of = |teeth, parts, called| vote(Other::Cam { teeth, parts }, beside, called, false);
        // ln(e^a + e^b), worked by hand for a = b.
        assert!((either(-2.0, -2.0) - (-2.0 + 2_f64.ln())).abs() < 1e-12);
        let (even, _) = of(6, 6, Called::Nothing);
        let cam = priors::cam_wheel(6, 6, beside, false);
        assert!(
            even > cam && even > priors::NO_WHEEL && even < either(cam, priors::NO_WHEEL) + 1e-9
        );
        // A header that has it an output says nothing against one.
        assert!(of(6, 6, Called::Other).1 > of(6, 2, Called::Other).1);
    }
}
