//! A skip on an engine whose description is wrong besides. Who mistypes a figure has an engine on the
//! hoist that may have skipped: were the two not weighed together, another place or number of teeth
//! would be called sure because it comes near what both make.

use super::{Typed, delayed, figures, rates, rows_of_cams};
use crate::units::CYCLE_DEG;
use crate::verdict::Mistake;
use crate::verdict::hypotheses::context::Context;
use crate::verdict::hypotheses::hypothesis::{Draft, SecondFault};
use crate::verdict::readings::Delayed;

/// A skip on an engine whose typed places are all off alike besides: bank against bank shows it all
/// the same.
pub(crate) fn with_places_off(context: &Context, skip: &Draft) -> Vec<Draft> {
    let typed = Typed::new(context);
    if !typed.all_placed(context.rows) || skip.model.shared.is_some() {
        return vec![];
    }
    let share = skip.share * rates::WRONG_UNCONFIRMED * rates::ALL_PLACES;
    // Near, or anywhere in the turn: the spread of half a turn either way alike (a half range /
    // √3).
    let anywhere = CYCLE_DEG / 4.0 / 3.0_f64.sqrt();
    let near = rates::ALIKE_NEAR;
    let one = |(part, sd): (f64, f64)| {
        let mut both = Draft { share: share * part, ..skip.clone() };
        both.model.normal.push((rows_of_cams(context.rows, &typed.placed), sd));
        both.model.together = true;
        both.second = SecondFault::Places;
        both
    };
    [(near, rates::ALIKE_NEAR_SD.0), (1.0 - near, anywhere)].map(one).to_vec()
}

/// A skip beside figures that misplace the cams unequally: one `at`, one `later`, or all of them in
/// the wrong unit. As rare as on any engine, and as unconnected.
pub(crate) fn with_a_figure_off(context: &Context, skip: &Draft) -> Vec<Draft> {
    let wrong = || figures::unequal(context, &Typed::new(context));
    with_each(context, skip, wrong, |mistake| Some(SecondFault::Figure(mistake.clone())))
}

/// A skip where a lead is delayed besides: the crank's makes every cam early, and what is left of one
/// that skipped late may be near none.
pub(crate) fn with_a_lead_delayed(context: &Context, skip: &Draft) -> Vec<Draft> {
    let of = |mistake: &Mistake| match mistake {
        Mistake::Delayed(of) => Some(SecondFault::Delayed(*of)),
        _ => None,
    };
    with_each(context, skip, || delayed(context), of)
}

/// A skip beside each of some mistakes, as rare as on any engine.
fn with_each(
    context: &Context,
    skip: &Draft,
    mistakes: impl Fn() -> Vec<Draft>,
    second: impl Fn(&Mistake) -> Option<SecondFault>,
) -> Vec<Draft> {
    // One shared amount is taken where the size of the skip is not known.
    if skip.model.shared.is_some() {
        return vec![];
    }
    let moved = |row: usize| skip.model.own.iter().any(|(own, _)| *own == row);
    let one = |wrong: Draft| {
        // A row has one amount of its own.
        if wrong.model.own.iter().any(|(row, _)| moved(*row)) {
            return None;
        }
        let mut both = Draft { share: skip.share * wrong.share, ..skip.clone() };
        both.second = second(wrong.cause.mistake.as_ref()?)?;
        both.model.mean.iter_mut().zip(&wrong.model.mean).for_each(|(at, by)| *at += by);
        both.model.shared = wrong.model.shared;
        both.model.own.extend(wrong.model.own);
        // The skip takes no part in the delay.
        let skipped = |cam| context.rows.row_of(cam).map_or(0.0, |row| skip.model.mean[row]);
        let beside =
            |delayed: Delayed| Delayed { stands: delayed.stands + skipped(delayed.cam), ..delayed };
        both.delayed = wrong.delayed.into_iter().map(beside).collect();
        both.share *= rates::WRONG_UNCONFIRMED;
        Some(both)
    };
    mistakes().into_iter().filter_map(one).collect()
}
