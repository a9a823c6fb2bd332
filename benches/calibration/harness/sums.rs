//! Outcomes added up.

use camwitness::verdict::{SURE, State};

use super::case::{Class, Stock};
use super::judge::Right;
use super::run::{Outcome, Told};

/// Counts over some outcomes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    pub captures: usize,
    pub refused: usize,
    pub in_time: usize,
    pub jumped: usize,
    pub drive_due: usize,
    pub off_not_jumped: usize,
    pub cannot_tell: usize,
    /// Findings stated at 0.99 or more.
    pub stated: usize,
    pub right: usize,
    /// `jumped` where no chain skipped.
    pub false_jumped: usize,
    /// ... among sound, worn and phaser-only engines.
    pub false_jumped_sound: usize,
    /// None of the three questions decided, and of these that could be told.
    pub undecided: usize,
    pub tellable_undecided: usize,
    /// `in_time` of every cam where a chain skipped.
    pub false_in_time: usize,
    /// Rightly `jumped`, and of these with another place or number of teeth.
    pub truly_jumped: usize,
    pub wrong_place: usize,
    /// Could be told in principle, and of these left open (refused ones among them).
    pub tellable: usize,
    pub tellable_open: usize,
    /// ... and of these left open by perfect readings as well.
    pub open_by_the_odds: usize,
}

impl Counts {
    /// Adds up those that pass a filter.
    pub fn of<'a>(outcomes: impl Iterator<Item = &'a Outcome>) -> Counts {
        let mut counts = Counts::default();
        outcomes.for_each(|outcome| counts.add(outcome));
        counts
    }

    fn add(&mut self, outcome: &Outcome) {
        self.captures += 1;
        let Ok(told) = &outcome.told else {
            self.refused += 1;
            return;
        };
        match told.state {
            State::InTime => self.in_time += 1,
            State::Jumped => self.jumped += 1,
            State::DriveDue => self.drive_due += 1,
            State::OffNotJumped => self.off_not_jumped += 1,
            State::DoesNotFit | State::CannotTell => self.cannot_tell += 1,
        }
        let skipped = told.truth == 1;
        if told.state.answers() {
            self.stated += usize::from(told.probability >= SURE);
            self.right += usize::from(told.right == Right::Yes);
        }
        if told.state == State::Jumped {
            self.false_jumped += usize::from(!skipped);
            self.false_jumped_sound += usize::from(!skipped && innocent(outcome.class));
            self.truly_jumped += usize::from(skipped);
            self.wrong_place += usize::from(told.right == Right::WrongPlace);
        }
        let whole = told.state == State::InTime && told.covers_every_cam;
        self.false_in_time += usize::from(whole && skipped);
        let undecided = told.questions.iter().all(|question| question.said().is_none());
        self.undecided += usize::from(undecided);
        if told.untellable.is_none() {
            self.tellable += 1;
            self.tellable_undecided += usize::from(undecided);
            self.tellable_open += usize::from(!told.state.answers());
            self.open_by_the_odds += usize::from(told.by_the_odds);
        }
    }
}

/// How one of the three questions was answered over some outcomes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Answers {
    pub asked: usize,
    pub said_yes: usize,
    pub rightly_yes: usize,
    pub said_no: usize,
    pub rightly_no: usize,
}

/// The three questions counted: skipped, drive due, recorded cams in place.
pub fn answers<'a>(outcomes: impl Iterator<Item = &'a Outcome>) -> [Answers; 3] {
    let mut counts = [Answers::default(); 3];
    for told in outcomes.filter_map(|one| one.told.as_ref().ok()) {
        for (count, question) in counts.iter_mut().zip(told.questions) {
            count.asked += 1;
            match question.said() {
                Some(true) => {
                    count.said_yes += 1;
                    count.rightly_yes += usize::from(question.yes);
                }
                Some(false) => {
                    count.said_no += 1;
                    count.rightly_no += usize::from(!question.yes);
                }
                None => {}
            }
        }
    }
    counts
}

/// Sound, worn or with phasers away only.
fn innocent(class: Class) -> bool {
    matches!(
        class,
        Class::Sound
            | Class::WornWithinTolerance
            | Class::Wear
            | Class::Phaser
            | Class::PhaserWanders
            | Class::SeveralPhasers
    )
}

/// One tenth of stated odds.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bin {
    pub claims: usize,
    pub stated: f64,
    pub true_ones: usize,
}

/// Stated against observed odds over the captures drawn as in the trade: three claims each.
pub fn bins(outcomes: &[Outcome]) -> [Bin; 10] {
    let mut bins = [Bin::default(); 10];
    for told in trade(outcomes) {
        for (claim, &odds) in told.odds.iter().enumerate() {
            let bin = &mut bins[((odds * 10.0) as usize).min(9)];
            bin.claims += 1;
            bin.stated += odds;
            bin.true_ones += usize::from(told.truth == claim);
        }
    }
    bins
}

fn trade(outcomes: &[Outcome]) -> impl Iterator<Item = &Told> {
    let trade = outcomes.iter().filter(|outcome| outcome.stock == Stock::Trade);
    trade.filter_map(|outcome| outcome.told.as_ref().ok())
}

/// Share of right findings among those stated at 0.99 or more, every capture counted as often as
/// the trade sees it: the share, and its standard error (of a ratio of sums).
pub fn weighted_right<'a>(outcomes: impl Iterator<Item = &'a Outcome>) -> Option<(f64, f64)> {
    let stated: Vec<(f64, f64)> = outcomes
        .filter_map(|one| Some((one.weight, one.told.as_ref().ok()?)))
        .filter(|(_, told)| told.state.answers() && told.probability >= SURE)
        .map(|(weight, told)| (weight, f64::from(u8::from(told.right == Right::Yes))))
        .collect();
    let total: f64 = stated.iter().map(|one| one.0).sum();
    let share = stated.iter().map(|(weight, right)| weight * right).sum::<f64>() / total;
    let squares: f64 =
        stated.iter().map(|(weight, right)| (weight * (right - share)).powi(2)).sum();
    share.is_finite().then_some((share, squares.sqrt() / total))
}

/// Findings that were wrong.
pub fn wrong(outcomes: &[Outcome]) -> Vec<(&Outcome, &Told)> {
    let all = outcomes.iter().filter_map(|outcome| Some((outcome, outcome.told.as_ref().ok()?)));
    all.filter(|(_, told)| matches!(told.right, Right::No | Right::WrongPlace)).collect()
}
