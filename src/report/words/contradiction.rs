//! Which two things contradict each other, in words.

use super::explanation::{beside, explanation};
use crate::compression::lower_by;
use crate::engine::Engine;
use crate::verdict::{Contradiction, Verdict};

/// A contradiction as a clause without a full stop.
#[must_use]
pub fn contradiction(engine: &Engine, verdict: &Verdict, contradiction: &Contradiction) -> String {
    let name = |cam: usize| engine.cams[cam].name.as_str();
    match contradiction {
        Contradiction::SameSensor(first, second) => format!(
            "the leads of {} and {} show the same edges at the same moments, so both are on one sensor",
            name(*first),
            name(*second)
        ),
        Contradiction::Compression { expected, measured } => format!(
            "the cams stand as if compression between the banks differed by {:.0} %, and it differs by {:.0} %: the cams' \
             sensor wheels and the valves contradict each other",
            lower_by(*expected) * 100.0,
            // Against the expected sense it is the other way.
            lower_by(*measured) * (measured * expected).signum() * 100.0 + 0.0
        ),
        Contradiction::TwoFaults => {
            let leading = verdict.explanations.first();
            let both = leading.map_or_else(String::new, |leading| {
                let second = beside(engine, leading);
                format!("{}.{}", explanation(engine, leading), second.trim_end_matches('.'))
            });
            format!(
                "two rare faults at once that have nothing to do with each other would be needed: {both}"
            )
        }
        Contradiction::KnownGood { cam, later } => format!(
            "the known-good reference has {} {} of the engine file's place: one of the two is wrong",
            name(*cam),
            later
        ),
    }
}
