//! Every skip the drive tree allows, alone and with what likely comes along.

use super::context::Context;
use super::description::groups_without_drive;
use super::effects::EffectPrior;
use super::hypothesis::{Cause, Draft, SecondFault};
use super::model::Model;
use super::pairs::skip_in_pairs;
use super::priors;
use crate::engine::{ChainKind, SkipPlace};
use crate::verdict::Kind;
use crate::verdict::readings::Rows;

/// Skips of ±1 to ±4 teeth at every place, and of two sprockets of a bank together.
pub(crate) fn skips(context: &Context) -> Vec<Draft> {
    let engine = context.evidence.engine;
    if engine.drive.chains.is_empty() {
        return skips_of_unknown_size(context);
    }
    let names: Vec<&str> = engine.cams.iter().map(|cam| cam.name.as_str()).collect();
    let places = engine.drive.skip_places(&names);
    let mut drafts = Vec::new();
    for place in &places {
        add_place(context, place, place_rate(context, place), &mut drafts);
    }
    for pair in both_sprockets(context, &places) {
        add_place(context, &pair, priors::BOTH_SPROCKETS, &mut drafts);
    }
    add_two_places(context, &places, &mut drafts);
    drafts
}

/// Skips at two places apart, by one tooth or two each, the second as rare as on any engine. By the
/// same number of teeth they may be one skip further up, which is listed already.
fn add_two_places(context: &Context, places: &[SkipPlace], drafts: &mut Vec<Draft>) {
    const TEETH: [i32; 4] = [1, -1, 2, -2];
    let total: f64 = places.iter().map(|place| place_rate(context, place)).sum();
    for (index, first) in places.iter().enumerate() {
        let apart = |other: &&SkipPlace| first.moves.iter().all(|cam| !other.moves.contains(cam));
        for second in places[index + 1..].iter().filter(apart) {
            let twice =
                if context.evidence.after_repair { priors::MISASSEMBLED_TWICE } else { 1.0 };
            let again = twice * priors::beside(Kind::Skip) * place_rate(context, second) / total;
            for teeth in TEETH {
                for more in TEETH.into_iter().filter(|more| *more != teeth) {
                    let share = place_rate(context, first) * teeth_share(context, teeth);
                    let mut both = plain_skip(
                        context,
                        first,
                        teeth,
                        share * again * teeth_share(context, more),
                    );
                    let further = shift(context.rows, second, more);
                    both.model.mean.iter_mut().zip(further).for_each(|(at, by)| *at += by);
                    both.second = SecondFault::Skip {
                        on: second.on.clone(),
                        chain: second.chain,
                        teeth: more,
                    };
                    drafts.push(both);
                }
            }
        }
    }
}

/// How often chains skip at a place, relative to a driven sprocket of a chain.
fn place_rate(context: &Context, place: &SkipPlace) -> f64 {
    let chain = &context.evidence.engine.drive.chains[place.chain];
    let kind = if chain.kind == ChainKind::Gear { priors::GEAR_SKIP } else { 1.0 };
    kind * if place.on == chain.driver.on { priors::DRIVER_PLACE } else { 1.0 }
}

/// Share of a number of teeth among skips at one place.
fn teeth_share(context: &Context, teeth: i32) -> f64 {
    let late = late_share(context);
    let side = if teeth > 0 { late } else { 1.0 - late };
    side * priors::TEETH[teeth.unsigned_abs() as usize - 1]
}

/// Share of skips that leave the cam late.
fn late_share(context: &Context) -> f64 {
    if context.evidence.after_repair { priors::MISASSEMBLED_LATE } else { priors::SKIP_LATE }
}

/// How far a skip moves each row.
fn shift(rows: &Rows, place: &SkipPlace, teeth: i32) -> Vec<f64> {
    let degrees = place.step.0 * f64::from(teeth);
    rows.shafts_late(&place.moves).iter().map(|late| late * degrees).collect()
}

/// Without sprockets a skip is still possible: one cam, a bank, or all, by a usual step or several.
fn skips_of_unknown_size(context: &Context) -> Vec<Draft> {
    /// Steps run from about 14° (26 teeth on the crank) upward; four of them reach 60° and more.
    const RANGE_DEG: (f64, f64) = (13.0, 70.0);
    let groups = groups_without_drive(context.evidence.engine);
    let mut drafts = Vec::new();
    for group in groups {
        let cause = Cause::of(Kind::Skip, None, group.clone());
        let (least, most) = RANGE_DEG;
        for (from, to, share) in
            [(least, most, late_share(context)), (-most, -least, 1.0 - late_share(context))]
        {
            let model = |rows: &Rows| {
                let mut model = Model::still(rows);
                model.shared = Some((rows.shafts_late(&group), EffectPrior::Even { from, to }));
                model
            };
            let skip = Draft::alone(cause.clone(), share, model(context.rows));
            skip_in_pairs(context, &skip, &model, &mut drafts);
        }
    }
    drafts
}

/// Two driven sprockets of one chain on one bank, unless some single place moves the same cams.
fn both_sprockets(context: &Context, places: &[SkipPlace]) -> Vec<SkipPlace> {
    let engine = context.evidence.engine;
    let bank = |place: &SkipPlace| {
        let bank = engine.cams[place.moves[0]].bank;
        place.moves.iter().all(|&cam| engine.cams[cam].bank == bank).then_some(bank)
    };
    let mut pairs = Vec::new();
    for (index, first) in places.iter().enumerate() {
        for second in &places[index + 1..] {
            let apart = first.moves.iter().all(|cam| !second.moves.contains(cam));
            if first.chain != second.chain || !apart || bank(first) != bank(second) {
                continue;
            }
            if bank(first).is_none() || engine.drive.chains[first.chain].kind == ChainKind::Gear {
                continue;
            }
            let mut moves = [first.moves.clone(), second.moves.clone()].concat();
            moves.sort_unstable();
            if places.iter().any(|place| place.chain == first.chain && place.moves == moves) {
                continue;
            }
            let on = format!("{} and {}", first.on, second.on);
            pairs.push(SkipPlace {
                chain: first.chain,
                same_as: vec![on.clone()],
                on,
                moves,
                step: first.step,
            });
        }
    }
    pairs
}

fn add_place(context: &Context, place: &SkipPlace, rate: f64, drafts: &mut Vec<Draft>) {
    let most = priors::TEETH.len() as i32;
    for teeth in (1..=most).flat_map(|teeth| [teeth, -teeth]) {
        let skip = plain_skip(context, place, teeth, rate * teeth_share(context, teeth));
        let model = |rows: &Rows| Model { mean: shift(rows, place, teeth), ..Model::still(rows) };
        skip_in_pairs(context, &skip, &model, drafts);
    }
}

/// A skip at one place, nothing beside it.
fn plain_skip(context: &Context, place: &SkipPlace, teeth: i32, share: f64) -> Draft {
    let cause = Cause {
        kind: Kind::Skip,
        on: Some(place.on.clone()),
        chain: Some(place.chain),
        teeth: Some(teeth),
        moves: place.moves.clone(),
        same_as: place.same_as.iter().filter(|on| **on != place.on).cloned().collect(),
        crossed_with: None,
        mistake: None,
    };
    let mean = shift(context.rows, place, teeth);
    Draft::alone(cause, share, Model { mean, ..Model::still(context.rows) })
}
