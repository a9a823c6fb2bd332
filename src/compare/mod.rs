//! Before and after a repair: what each cam did, and whether it is back where it should be.

mod compression;
mod differences;

pub use compression::{CompressionComparison, CylinderChange, compare_compression};
pub use differences::Difference;
use differences::differences;

use serde::Serialize;

use crate::analysis::{Analysis, Checked};
use crate::cam::CamResult;
use crate::cam::deviation::{late, whole_teeth};
use crate::remedy::{Insistence, Mend, Remedy, mended_errors};
use crate::stats::NORMAL95;
use crate::units::CrankDelta;
use crate::verdict::{CamDeviation, State};

/// Mean speeds further apart than this factor are two conditions: a tired battery, or plugs out.
const SPEEDS_APART: f64 = 1.4;
/// A change of relative compression between banks is said when it is beyond this share: sound banks
/// differ by as much (common practice, no source).
const LEVEL_BANKS: f64 = 0.05;

/// Is a cam back in tolerance?
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Back {
    /// Within tolerance, with all that is uncertain.
    Within,
    /// Outside, with all that is uncertain.
    Outside,
    /// The interval reaches across the tolerance.
    Unsure,
    /// Nothing says where it should be, but it stands with the cams it is known against.
    Agrees,
    /// Nothing says where it should be.
    NoPlaceKnown,
    /// Not measured after the repair.
    NotMeasured,
}

/// One cam before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct CamChange {
    /// Index into the engine's cams.
    pub cam: usize,
    /// Deviation before; absent when not measured or no place is known.
    pub before: Option<CrankDelta>,
    /// Deviation after.
    pub after: Option<CrankDelta>,
    /// Half width of the 95 % interval of `after`, that of the expected place included.
    pub after_half_width95: Option<CrankDelta>,
    /// How much later it stands after; absent unless measured both times.
    pub change: Option<Change>,
    /// Is it back?
    pub back: Back,
}

/// How far a cam moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// After − before; positive is later.
    pub moved: CrankDelta,
    /// Half width of its 95 % interval. No reference is in it.
    pub half_width95: CrankDelta,
    /// Whole teeth nearest to it, positive later, and what is left over.
    pub teeth: Option<(i32, CrankDelta)>,
}

/// Bank difference of compression before and after: lower bank's mean over the others', less 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    /// The lower bank, where known by number.
    pub bank: Option<u32>,
    /// The difference; never positive.
    pub relative: f64,
    /// 95 % interval.
    pub ci95: (f64, f64),
}

/// What a rebuilder would sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Every cam of the engine is back in tolerance.
    AllBack,
    /// Nothing says where the cams should be, but what was out by teeth moved back by as many, and
    /// the cams agree with each other.
    BanksAgree,
    /// At least one is not.
    NotBack,
    /// It cannot be said.
    CannotTell,
}

/// The whole comparison.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// Before the repair.
    pub before: Analysis,
    /// After it.
    pub after: Analysis,
    /// Every cam of the engine.
    pub cams: Vec<CamChange>,
    /// Compression balance, before and after.
    pub balance: (Option<Balance>, Option<Balance>),
    /// Whether compression after is level or no longer as low; `None` when not measured after.
    pub banks_level: Option<bool>,
    /// Why the two cannot be compared, or only with care.
    pub differences: Vec<Difference>,
    /// By how much cams known only against each other differ at most, with all that is uncertain,
    /// where they agree.
    pub agree_within: Option<CrankDelta>,
    /// What comes of it.
    pub outcome: Outcome,
}

/// Why two captures are not compared.
#[derive(Debug, Clone, PartialEq)]
pub enum CompareError {
    /// Before is in time and after is not.
    WrongWayRound {
        /// The first capture.
        before: String,
        /// The second.
        after: String,
        /// The cam that stands furthest from its place in the second, and how far it is late.
        furthest: Option<(String, CrankDelta)>,
    },
    /// The crank was recorded in one of them only.
    UnlikeLeads {
        /// The capture with the crank.
        with_crank: String,
        /// The other one.
        without: String,
    },
}

impl Mend for CompareError {
    fn complaint(&self) -> String {
        match self {
            CompareError::WrongWayRound { before, after, furthest: Some((cam, off)) } => format!(
                "{before} is in time and {after} is not (\"{cam}\" stands {off}): the two are the wrong way round, or the \
                 repair made it worse"
            ),
            CompareError::WrongWayRound { before, after, furthest: None } => format!(
                "{before} is sound and {after} is not: the two are the wrong way round, or the repair made it worse"
            ),
            CompareError::UnlikeLeads { with_crank, without } => format!(
                "{with_crank} holds the crank's signal and {without} does not: timing is not compared with compression"
            ),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        match self {
            CompareError::WrongWayRound { .. } => vec![
                Remedy::to("give the capture made before the repair first"),
                Remedy::Insist(Insistence::InOrder).only_if("they are in order"),
            ],
            CompareError::UnlikeLeads { .. } => {
                vec![Remedy::to("record the same leads before and after")]
            }
        }
    }
}

mended_errors!(CompareError);

/// Two results of one engine compared: timing, or compression alone.
#[derive(Debug, Clone)]
pub enum Compared {
    /// Of captures with the crank.
    Timing(Box<Comparison>),
    /// Of captures without it.
    Compression(Box<CompressionComparison>),
}

impl Compared {
    /// What comes of it.
    #[must_use]
    pub fn outcome(&self) -> Outcome {
        match self {
            Compared::Timing(comparison) => comparison.outcome,
            Compared::Compression(comparison) => comparison.outcome,
        }
    }
}

/// Compares what two captures turned out to be.
///
/// # Errors
/// [`CompareError`]: the wrong way round, unless `in_order`, or one with the crank and one without.
pub fn compare_checked(
    before: Checked,
    after: Checked,
    in_order: bool,
) -> Result<Compared, CompareError> {
    Ok(match (before, after) {
        (Checked::Timing(before), Checked::Timing(after)) => {
            Compared::Timing(Box::new(compare(*before, *after, in_order)?))
        }
        (Checked::Compression(before), Checked::Compression(after)) => {
            Compared::Compression(Box::new(compare_compression(*before, *after, in_order)?))
        }
        (Checked::Timing(timing), Checked::Compression(test))
        | (Checked::Compression(test), Checked::Timing(timing)) => {
            return Err(CompareError::UnlikeLeads {
                with_crank: timing.captures.join(", "),
                without: test.captures.join(", "),
            });
        }
    })
}

/// Compares two analyses of one engine. `in_order`: the user insists on the order.
///
/// # Errors
/// [`CompareError::WrongWayRound`], unless `in_order`.
pub fn compare(
    before: Analysis,
    after: Analysis,
    in_order: bool,
) -> Result<Comparison, CompareError> {
    let off = |state: State| matches!(state, State::Jumped | State::DriveDue | State::OffNotJumped);
    if !in_order && before.verdict.state == State::InTime && off(after.verdict.state) {
        return Err(CompareError::WrongWayRound {
            before: before.captures.join(", "),
            after: after.captures.join(", "),
            furthest: after
                .verdict
                .furthest()
                .map(|one| (after.engine.cams[one.cam].name.clone(), one.deviation)),
        });
    }
    let (differences, comparable) = differences(&before, &after);
    let mut cams: Vec<CamChange> =
        (0..after.engine.cams.len()).map(|cam| change(&before, &after, cam)).collect();
    let balance = (balance_of(&before), balance_of(&after));
    let banks_level =
        balance.1.map(|after| after.relative > -LEVEL_BANKS || after.ci95.1 > -LEVEL_BANKS / 2.0);
    let agree_within =
        agree(&cams, &before, &after).filter(|_| comparable && banks_level != Some(false));
    if agree_within.is_some() {
        let unplaced = cams.iter_mut().filter(|cam| cam.back == Back::NoPlaceKnown);
        unplaced.for_each(|cam| cam.back = Back::Agrees);
    }
    let outcome = match agree_within {
        Some(_) => Outcome::BanksAgree,
        None => outcome(&cams, &after, comparable),
    };
    Ok(Comparison { before, after, cams, balance, banks_level, differences, agree_within, outcome })
}

fn result(analysis: &Analysis, cam: usize) -> Option<&CamResult> {
    analysis.cams.iter().find(|result| result.measured.cam == cam)
}

fn change(before: &Analysis, after: &Analysis, cam: usize) -> CamChange {
    let (was, is) = (result(before, cam), result(after, cam));
    let moved = was.zip(is).map(|(was, is)| {
        let period = CrankDelta(was.known_modulo.0.min(is.known_modulo.0));
        let moved = late(is.measured.position, was.measured.position, period);
        let half_width = was.measured.half_width95.0.hypot(is.measured.half_width95.0);
        // A verdict of jumped has chosen the chain whose teeth are counted.
        let step = if before.verdict.state == State::Jumped { was.step } else { is.step };
        let teeth = step.map(|step| whole_teeth(moved, step));
        Change { moved, half_width95: CrankDelta(half_width), teeth }
    });
    let after_half_width95 = is.and_then(|is| {
        let reference =
            is.expected.and_then(|expected| expected.sd).map_or(0.0, |sd| NORMAL95 * sd.0);
        is.deviation().map(|_| CrankDelta(is.measured.half_width95.0.hypot(reference)))
    });
    let tolerance = after.engine.cams[cam].tolerance;
    let back = match (is, is.and_then(CamResult::deviation), after_half_width95) {
        (None, _, _) => Back::NotMeasured,
        (_, Some(off), Some(half_width)) if off.0.abs() + half_width.0 <= tolerance.0 => {
            Back::Within
        }
        (_, Some(off), Some(half_width)) if off.0.abs() - half_width.0 > tolerance.0 => {
            Back::Outside
        }
        (_, Some(_), _) => Back::Unsure,
        (_, None, _) => Back::NoPlaceKnown,
    };
    CamChange {
        cam,
        before: was.and_then(CamResult::deviation),
        after: is.and_then(CamResult::deviation),
        after_half_width95,
        change: moved,
        back,
    }
}

fn balance_of(analysis: &Analysis) -> Option<Balance> {
    let measured = analysis.compression.measured.as_ref()?;
    let difference = measured.bank_difference.as_ref()?;
    Some(Balance { bank: difference.bank, relative: difference.relative, ci95: difference.ci95 })
}

/// By how much the cams differ at most after the repair, with their intervals, where every one of
/// them was measured, those without a place of their own stand within tolerance of those they are
/// known against, and the repair moved one of them by teeth to get there.
fn agree(cams: &[CamChange], before: &Analysis, after: &Analysis) -> Option<CrankDelta> {
    let known = |cam: &CamChange| matches!(cam.back, Back::Within | Back::NoPlaceKnown);
    let unplaced = cams.iter().any(|cam| cam.back == Back::NoPlaceKnown);
    if !unplaced || !cams.iter().all(known) || after.verdict.rests_on_assumption() {
        return None;
    }
    // What is decided against it stands; that all may be off alike is what a relation leaves open.
    if after.verdict.state.answers() && after.verdict.state != State::InTime {
        return None;
    }
    let moved = |cam: &CamChange| {
        cam.change.and_then(|change| change.teeth).is_some_and(|(teeth, _)| teeth != 0)
    };
    if !cams.iter().any(moved) || !apart(before) {
        return None;
    }
    let half = |cam: usize| result(after, cam).map_or(0.0, |cam| cam.measured.half_width95.0);
    let off = |one: &CamDeviation| {
        let other = one.against?;
        let engine = &after.engine;
        let tolerance = engine.cams[one.cam].tolerance.0.min(engine.cams[other].tolerance.0);
        let most = one.deviation.0.abs() + half(one.cam).hypot(half(other));
        Some((most, tolerance))
    };
    let all: Vec<(f64, f64)> = against_others(after).filter_map(off).collect();
    let within = !all.is_empty() && all.iter().all(|(most, tolerance)| most <= tolerance);
    within.then(|| CrankDelta(all.iter().map(|one| one.0).fold(0.0, f64::max)))
}

/// Cams told against another one.
fn against_others(analysis: &Analysis) -> impl Iterator<Item = &CamDeviation> {
    let other = |one: &&CamDeviation| one.against.is_some_and(|other| other != one.cam);
    analysis.verdict.deviations.iter().filter(other)
}

/// Whether two cams stand further from each other than the tolerance.
fn apart(analysis: &Analysis) -> bool {
    against_others(analysis)
        .any(|one| one.deviation.0.abs() > analysis.engine.cams[one.cam].tolerance.0)
}

fn outcome(cams: &[CamChange], after: &Analysis, comparable: bool) -> Outcome {
    let any = |back: Back| cams.iter().any(|cam| cam.back == back);
    // A cam that is off is off, however well the two captures compare.
    if any(Back::Outside) || matches!(after.verdict.state, State::Jumped | State::DriveDue) {
        return Outcome::NotBack;
    }
    let all_within = !cams.is_empty() && cams.iter().all(|cam| cam.back == Back::Within);
    if comparable && all_within && after.verdict.state == State::InTime {
        Outcome::AllBack
    } else {
        Outcome::CannotTell
    }
}

#[cfg(test)]
mod tests;
