//! The questions an owner asks, each by itself: has a chain skipped, where, is the timing drive
//! due, and does what was recorded stand in its place.

use super::explanation::Weighed;
use super::hypotheses::{Cause, SecondFault, Variant};
use super::readings::Rows;
use super::{Kind, Mistake};

/// Probability of a yes to each question.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Questions {
    /// A chain skipped, wherever and however far.
    pub skipped: f64,
    /// The timing drive is due: a chain skipped, or is worn beyond tolerance. The same covers come
    /// off for either.
    pub drive_due: f64,
    /// Every cam that was recorded stands in its place, its wheel damaged or not; cams that were
    /// not recorded are left out of it.
    pub recorded_in_place: f64,
    /// The same, and nothing else is wrong with them either: what "in time" asks for.
    pub recorded_in_time: f64,
    /// The part of it in which a typed figure is a little off.
    pub figure_off: f64,
}

/// A place at which a chain may have skipped.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// The shaft whose sprocket it is; absent where no drive is described.
    pub on: Option<String>,
    /// The chain that skipped there.
    pub chain: Option<String>,
    /// Teeth, positive late.
    pub teeth: Option<i32>,
    /// Links by which that chain stands off, signed like `teeth`; absent for belts and gears.
    pub links: Option<i32>,
    /// Names of the cams displaced.
    pub moves: Vec<String>,
    /// Its probability.
    pub probability: f64,
}

/// A place with less than this share of the odds of all skips together is left out of the list: one
/// in a hundred, as a finding may be wrong.
const WORTH_LISTING: f64 = 0.01;

/// Where a chain may have skipped, likeliest first.
pub(super) fn places(explanations: &[Weighed]) -> Vec<Place> {
    let skips = || explanations.iter().filter(|one| one.kind == Kind::Skip);
    let all: f64 = skips().map(|one| one.probability).sum();
    skips()
        .filter(|one| one.probability > 0.0 && one.probability >= WORTH_LISTING * all)
        .map(|one| Place {
            on: one.on.clone(),
            chain: one.chain.clone(),
            teeth: one.teeth,
            links: one.links,
            moves: one.moves.clone(),
            probability: one.probability,
        })
        .collect()
}

/// Adds up the answers; `posterior` of each variant, in their order. `within`: whether every cam reads
/// within its tolerance.
pub(super) fn questions(
    causes: &[Cause],
    variants: &[Variant],
    posterior: &[f64],
    rows: &Rows,
    within: bool,
) -> Questions {
    let all = || variants.iter().zip(posterior);
    let of = |kind: Kind| -> f64 {
        all().filter(|(one, _)| causes[one.cause].kind == kind).map(|(_, odds)| odds).sum()
    };
    let (in_time, skipped, worn) = (of(Kind::InTime), of(Kind::Skip), of(Kind::Wear));
    // Beside a fault elsewhere a chain is worn within tolerance as often as without one.
    let slightly = in_time / (in_time + worn).max(f64::MIN_POSITIVE);
    // Faults that leave every recorded cam where it is, with what comes along with them.
    let leaves = |wanted: &dyn Fn(&Cause) -> bool| -> f64 {
        all()
            .filter(|(one, _)| wanted(&causes[one.cause]) && one.swap.is_none())
            .map(|(one, odds)| match one.second {
                SecondFault::None => *odds,
                SecondFault::Wear(_) => odds * slightly,
                _ => 0.0,
            })
            .sum()
    };
    let recorded = |cause: &Cause| cause.moves.iter().any(|&cam| rows.row_of(cam).is_some());
    let elsewhere = leaves(&|cause| {
        let kinds =
            [Kind::Skip, Kind::Wear, Kind::PhaserOffRest, Kind::CamWheelMoved, Kind::DamagedTooth];
        kinds.contains(&cause.kind) && !recorded(cause)
    });
    // A typed figure that is a little off, and nothing besides: with it put right every cam stands in its
    // place, and without that they read so. Whichever it is, the engine is in time. Where the figure is
    // the likelier of the two it is to be told.
    let figure_off =
        leaves(&|cause| within && cause.mistake.as_ref().is_some_and(Mistake::is_a_figure));
    let figure_off = if figure_off <= in_time { figure_off } else { 0.0 };
    let damaged = leaves(&|cause| cause.kind == Kind::DamagedTooth && recorded(cause));
    Questions {
        skipped,
        drive_due: skipped + worn,
        recorded_in_place: in_time + elsewhere + figure_off + damaged,
        recorded_in_time: in_time + elsewhere + figure_off,
        figure_off,
    }
}
