//! Two cranking tests without a crank: what each cylinder's compression did.

use super::differences::{Difference, speeds_differ};
use super::{CompareError, Outcome};
use crate::analysis::{Attempt, CrankingTest};
use crate::compression::CylinderResult;
use crate::verdict::CompressionState;

/// One cylinder before and after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CylinderChange {
    /// The cylinder.
    pub cylinder: u32,
    /// Its compression over the mean of all, before: value and 95 % interval.
    pub before: (f64, (f64, f64)),
    /// The same after.
    pub after: (f64, (f64, f64)),
    /// After less before, and the half width of its 95 % interval.
    pub change: (f64, f64),
}

/// Compression before and after a repair.
#[derive(Debug, Clone)]
pub struct CompressionComparison {
    /// Before the repair.
    pub before: CrankingTest,
    /// After it.
    pub after: CrankingTest,
    /// Cylinders that are named in both, in the order of their numbers.
    pub cylinders: Vec<CylinderChange>,
    /// Why the two cannot be compared, or only with care.
    pub differences: Vec<Difference>,
    /// What comes of it: all alike again, or not.
    pub outcome: Outcome,
}

/// Compares two cranking tests of one engine. `in_order`: the user insists on the order.
///
/// # Errors
/// [`CompareError::WrongWayRound`], unless `in_order`.
pub fn compare_compression(
    before: CrankingTest,
    after: CrankingTest,
    in_order: bool,
) -> Result<CompressionComparison, CompareError> {
    let (was, is) = (before.finding.state, after.finding.state);
    if !in_order && was == CompressionState::Even && is_low(is) {
        return Err(CompareError::WrongWayRound {
            before: before.captures.join(", "),
            after: after.captures.join(", "),
            furthest: None,
        });
    }
    let cylinders = cylinders(&before, &after);
    let differences = differences(before.main(), after.main(), cylinders.is_empty());
    let outcome = match is {
        CompressionState::Even => Outcome::AllBack,
        CompressionState::Withheld => Outcome::CannotTell,
        _ => Outcome::NotBack,
    };
    Ok(CompressionComparison { before, after, cylinders, differences, outcome })
}

fn is_low(state: CompressionState) -> bool {
    !matches!(state, CompressionState::Even | CompressionState::Withheld)
}

fn cylinders(before: &CrankingTest, after: &CrankingTest) -> Vec<CylinderChange> {
    let of = |test: &CrankingTest| -> Vec<CylinderResult> {
        let measured = test.main().compression.measured.as_ref();
        measured.map_or_else(Vec::new, |measured| measured.cylinders.clone())
    };
    let had = of(before);
    let half = |(low, high): (f64, f64)| 0.5 * (high - low);
    let mut found: Vec<CylinderChange> = of(after)
        .iter()
        .filter_map(|is| {
            let cylinder = is.cylinder?;
            let was = had.iter().find(|was| was.cylinder == Some(cylinder))?;
            Some(CylinderChange {
                cylinder,
                before: (was.relative, was.ci95),
                after: (is.relative, is.ci95),
                change: (is.relative - was.relative, half(was.ci95).hypot(half(is.ci95))),
            })
        })
        .collect();
    found.sort_by_key(|one| one.cylinder);
    found
}

fn differences(before: &Attempt, after: &Attempt, unnamed: bool) -> Vec<Difference> {
    let speeds = speeds_differ(before.rpm.0, after.rpm.0);
    speeds.into_iter().chain(unnamed.then_some(Difference::NoCylinderInBoth)).collect()
}
