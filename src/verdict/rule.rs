//! What is decided: the finding, and what of it has a name.
//!
//! | finding | odds that must reach 0.99 | if it is wrong |
//! | --- | --- | --- |
//! | `in_time` | every recorded cam in its place; nothing that moves one of them would stay hidden | an engine runs whose pistons may meet its valves |
//! | `jumped` | all skips together | covers are opened that could have stayed on |
//! | its place, teeth | that place, those teeth | the covers of the other bank are opened first |
//! | `off_not_jumped` | everything but skips and "in time", leads on other sensors among it | a jumped engine is taken for one that is not |
//! | `drive_due` | skips and wear together | covers are opened that could have stayed on |
//!
//! The price of a wrong finding differs, the threshold does not: the dearest asks for 0.99, and
//! none is said for less.

use super::explanation::Weighed;
use super::hypotheses::Cause;
use super::questions::{Place, Questions};
use super::unobservable::UnobservableFaults;
use super::{Kind, SURE, State};

/// From here on the description is told not to fit: likelier than everything that can happen to an
/// engine together. It condemns no engine and clears none, so it needs no overwhelming odds.
const LEADS: f64 = 0.5;

/// What the rule looks at, beside the odds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Grounds {
    /// Whether any cam was held against a known place, or another it is related to.
    pub judged: bool,
    /// Whether a cam reads so far out of tolerance, or moved out of it, that "in time" would
    /// contradict it.
    pub far_out: bool,
    /// What would not show.
    pub hidden: UnobservableFaults,
    /// Whether a wheel that repeats within a turn leaves open where a cam stands.
    pub repeats: bool,
    /// Odds that more leads than two are on other sensors, and with them put right every cam stands
    /// in its place.
    pub leads_alone: f64,
}

/// The finding and its probability; `ranked` are causes with their odds, likeliest first.
///
/// `in_time` must rest on what was measured: a fault of a recorded cam that would not show keeps it
/// at `cannot_tell`, however rare such faults are; and so does a cam whose reading stands far out
/// of tolerance, however likely it is that the reading is at fault.
pub(super) fn state(
    causes: &[Cause],
    ranked: &[(usize, f64)],
    questions: &Questions,
    grounds: Grounds,
) -> (State, f64) {
    let sum = |counts: &dyn Fn(&Cause) -> bool| -> f64 {
        ranked.iter().filter(|(cause, _)| counts(&causes[*cause])).map(|(_, odds)| odds).sum()
    };
    let likeliest = |kind: Kind| {
        ranked.iter().find(|(cause, _)| causes[*cause].kind == kind).map_or(0.0, |one| one.1)
    };
    let open = (State::CannotTell, ranked.first().map_or(0.0, |one| one.1));
    // Leads on each other's sensors show by the wheels, wherever the cams stand.
    let crossed = sum(&|cause| cause.kind == Kind::LeadsCrossed);
    if !grounds.judged {
        // With nothing held against anything the odds are the priors, which find nothing.
        return if crossed >= SURE { (State::OffNotJumped, crossed) } else { open };
    }
    let unfit = sum(&|cause| cause.kind == Kind::DoesNotFit);
    let others = sum(&|cause| !matches!(cause.kind, Kind::InTime | Kind::Skip | Kind::DoesNotFit));
    // Where two leads are likeliest exchanged, it may as well be more of them: no chain skipped
    // either way.
    let likeliest_crossed =
        ranked.first().is_some_and(|one| causes[one.0].kind == Kind::LeadsCrossed);
    let others = others + if likeliest_crossed { grounds.leads_alone } else { 0.0 };
    if questions.recorded_in_time >= SURE {
        // What cannot be seen is not in time because it is rare.
        if grounds.far_out || grounds.hidden.of_recorded.is_some() || grounds.repeats {
            return open;
        }
        (State::InTime, questions.recorded_in_time)
    } else if questions.skipped >= SURE {
        // With its place, as far as that is as sure.
        let place = likeliest(Kind::Skip);
        (State::Jumped, if place >= SURE { place } else { questions.skipped })
    } else if others >= SURE {
        (State::OffNotJumped, others)
    } else if questions.drive_due >= SURE {
        (State::DriveDue, questions.drive_due)
    } else if unfit > LEADS {
        (State::DoesNotFit, unfit)
    } else {
        open
    }
}

/// What of a finding has a name that is sure.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Named {
    pub on: Option<String>,
    pub chain: Option<String>,
    pub teeth: Option<i32>,
    pub links: Option<i32>,
    pub moves: Vec<String>,
}

impl Named {
    /// `explanations` likeliest first; `places` those a chain may have skipped at.
    pub(super) fn new(state: State, explanations: &[Weighed], places: &[Place]) -> Named {
        let Some(head) = explanations.first() else { return Named::default() };
        match state {
            State::InTime | State::DoesNotFit | State::CannotTell => Named::default(),
            State::OffNotJumped => Named {
                on: head.on.clone(),
                chain: head.chain.clone(),
                moves: head.moves.clone(),
                ..Named::default()
            },
            State::DriveDue => {
                let due = |one: &&Weighed| matches!(one.kind, Kind::Skip | Kind::Wear);
                let due: Vec<&Weighed> = explanations.iter().filter(due).collect();
                let chain = common(&due, |one| one.probability, |one| one.chain.clone());
                Named { chain: chain.flatten(), ..Named::default() }
            }
            State::Jumped => Named::place(places),
        }
    }

    /// What the places of a skip have in common, at the odds of a finding.
    fn place(places: &[Place]) -> Named {
        let listed: Vec<&Place> = places.iter().collect();
        let odds = |one: &Place| one.probability;
        Named {
            on: common(&listed, odds, |one| one.on.clone()).flatten(),
            chain: common(&listed, odds, |one| one.chain.clone()).flatten(),
            teeth: common(&listed, odds, |one| one.teeth).flatten(),
            links: common(&listed, odds, |one| one.links).flatten(),
            moves: common(&listed, odds, |one| one.moves.clone()).unwrap_or_default(),
        }
    }
}

/// What those that say one thing say, where their odds together are those of a finding.
fn common<T, V: PartialEq>(
    list: &[&T],
    odds: impl Fn(&T) -> f64,
    says: impl Fn(&T) -> V,
) -> Option<V> {
    list.iter().map(|&one| says(one)).find(|value| {
        list.iter().filter(|&&one| says(one) == *value).map(|&one| odds(one)).sum::<f64>() >= SURE
    })
}
