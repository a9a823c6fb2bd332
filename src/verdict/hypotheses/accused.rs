//! Which bank the stored codes accuse, as evidence of its own.
//!
//! A controller knows its own reference, learned when the engine was sound: the bank that its
//! correlation code names is the one that stands off, as far as it can tell. Both banks named
//! together point at what they have in common, the crank's side.

use std::collections::BTreeSet;

use super::hypothesis::Cause;
use crate::codes::Complaint;
use crate::engine::Engine;
use crate::verdict::Kind;
use crate::verdict::evidence::Evidence;

/// A code names the bank that stands off so many times as often as another one (*judgement, no
/// source*: the codes are set after several cycles of agreement, and a harness can still be
/// crossed).
pub(crate) const CODE_ODDS: f64 = 10.0;

/// Banks named by correlation codes, of an engine with several; empty where none is, or where codes
/// are not to count. A bank the engine has not is no evidence.
pub(crate) fn accused(evidence: &Evidence) -> BTreeSet<u32> {
    if !evidence.code_evidence || evidence.engine.banks.len() < 2 {
        return BTreeSet::new();
    }
    let complaints = evidence.codes.iter().filter_map(|code| Complaint::of(code));
    complaints
        .filter_map(|complaint| match complaint {
            Complaint::Bank(bank) | Complaint::Correlation(bank, _) => Some(bank),
            _ => None,
        })
        .filter(|bank| evidence.engine.banks.contains_key(bank))
        .collect()
}

/// Likelihood of the accusation under a cause, of all the controller may accuse: each bank alone,
/// or several together.
pub(crate) fn likelihood(engine: &Engine, accused: &BTreeSet<u32>, cause: &Cause) -> f64 {
    if accused.is_empty() {
        return 1.0;
    }
    let answers = engine.banks.len() as f64 + 1.0;
    let off: BTreeSet<u32> = match cause.kind {
        // Leads exchanged for this test set no code, and a sound engine's code is of something
        // else; nor does a mistyped number.
        Kind::InTime | Kind::LeadsCrossed | Kind::DoesNotFit => return 1.0 / answers,
        _ => cause.moves.iter().flat_map(|&cam| engine.cams[cam].banks.iter().copied()).collect(),
    };
    let named = (accused.len() > 1) == (off.len() > 1) && (off.len() > 1 || off == *accused);
    (if named { CODE_ODDS } else { 1.0 }) / (CODE_ODDS + answers - 1.0)
}
