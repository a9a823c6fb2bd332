//! Every skip the drive tree allows, alone and with what likely comes along.

use super::Kind;
use super::amounts::Amount;
use super::behaviour::Behaviour;
use super::explanations::{Cause, Company, Draft, Ground};
use super::likelihood::Model;
use super::priors;
use crate::engine::{ChainKind, Engine, SkipPlace};

/// Skips of ±1 to ±4 teeth at every place, and of two sprockets of a bank together.
pub(super) fn skips(ground: &Ground) -> Vec<Draft> {
    let engine = ground.evidence.engine;
    if engine.drive.chains.is_empty() {
        return skips_of_unknown_size(ground);
    }
    let names: Vec<&str> = engine.cams.iter().map(|cam| cam.name.as_str()).collect();
    let places = engine.drive.skip_places(&names);
    let mut drafts = Vec::new();
    for place in &places {
        let chain = &engine.drive.chains[place.chain];
        let at_driver = place.on == chain.driver.on;
        let kind = if chain.kind == ChainKind::Gear { priors::GEAR_SKIP } else { 1.0 };
        let rate = kind * if at_driver { priors::DRIVER_PLACE } else { 1.0 };
        add_place(ground, place, rate, &mut drafts);
    }
    for pair in both_sprockets(ground, &places) {
        add_place(ground, &pair, priors::BOTH_SPROCKETS, &mut drafts);
    }
    drafts
}

/// What may hang together on an engine whose drive is not described: one cam, a bank, or all.
pub(super) fn groups_without_drive(engine: &Engine) -> Vec<Vec<usize>> {
    let cams = &engine.cams;
    let mut groups: Vec<Vec<usize>> = (0..cams.len()).map(|cam| vec![cam]).collect();
    for &bank in engine.banks.keys() {
        groups.push((0..cams.len()).filter(|&cam| cams[cam].bank == bank).collect());
    }
    groups.push((0..cams.len()).collect());
    groups.sort();
    groups.dedup();
    groups.retain(|group| !group.is_empty());
    groups
}

/// Without sprockets a skip is still possible: one cam, a bank, or all, by a usual step or several.
fn skips_of_unknown_size(ground: &Ground) -> Vec<Draft> {
    /// Steps run from about 14° (26 teeth on the crank) upward; four of them reach 60° and more.
    const RANGE_DEG: (f64, f64) = (13.0, 70.0);
    let groups = groups_without_drive(ground.evidence.engine);
    let mut drafts = Vec::new();
    for group in groups {
        let cause = Cause {
            kind: Kind::Skip,
            on: None,
            chain: None,
            teeth: None,
            moves: group.clone(),
            same_as: vec![],
            crossed_with: None,
        };
        let (least, most) = RANGE_DEG;
        for (from, to, share) in
            [(least, most, priors::SKIP_LATE), (-most, -least, 1.0 - priors::SKIP_LATE)]
        {
            let mut model = Model::still(ground.rows);
            model.shared = Some((ground.rows.shafts_late(&group), Amount::Even { from, to }));
            with_company(ground, &Draft::alone(cause.clone(), share, model), &mut drafts);
        }
    }
    drafts
}

/// Two driven sprockets of one chain on one bank, unless some single place moves the same cams.
fn both_sprockets(ground: &Ground, places: &[SkipPlace]) -> Vec<SkipPlace> {
    let engine = ground.evidence.engine;
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

fn add_place(ground: &Ground, place: &SkipPlace, rate: f64, drafts: &mut Vec<Draft>) {
    for (index, share) in priors::TEETH.iter().enumerate() {
        let teeth = index as i32 + 1;
        for (sign, side) in [(1, priors::SKIP_LATE), (-1, 1.0 - priors::SKIP_LATE)] {
            add_skip(ground, place, sign * teeth, rate * share * side, drafts);
        }
    }
}

fn add_skip(ground: &Ground, place: &SkipPlace, teeth: i32, rate: f64, drafts: &mut Vec<Draft>) {
    let cause = Cause {
        kind: Kind::Skip,
        on: Some(place.on.clone()),
        chain: Some(place.chain),
        teeth: Some(teeth),
        moves: place.moves.clone(),
        same_as: place.same_as.iter().filter(|on| **on != place.on).cloned().collect(),
        crossed_with: None,
    };
    let shift = place.step.0 * f64::from(teeth);
    let effect = ground.rows.shafts_late(&place.moves);
    let mut model = Model::still(ground.rows);
    model.mean = effect.iter().map(|effect| effect * shift).collect();
    with_company(ground, &Draft::alone(cause, rate, model), drafts);
}

/// A skip alone, with a worn chain, and with a phaser away from rest.
fn with_company(ground: &Ground, skip: &Draft, drafts: &mut Vec<Draft>) {
    let draft = |share: f64| Draft { share, ..skip.clone() };
    let mut settled = skip.share;
    if ground.running && !ground.phasers.is_empty() {
        // The controller places the phasers; each may be anywhere.
        let mut moved = draft(skip.share * priors::RUNNING_PHASER_AWAY);
        ground.free_phasers(&mut moved, priors::RUNNING_PHASER_AWAY);
        drafts.push(moved);
        settled *= 1.0 - priors::RUNNING_PHASER_AWAY;
    }
    let phasers = priors::SKIP_WITH_PHASER * ground.phasers.len() as f64;
    let worn = if ground.worn.is_empty() { 0.0 } else { priors::SKIP_WITH_WEAR };
    drafts.push(draft(settled * (1.0 - phasers - worn).max(0.0)));
    for chain in &ground.worn {
        let mut both = draft(settled * worn * chain.share);
        ground.wear(&mut both, chain);
        drafts.push(both);
    }
    for &cam in &ground.phasers {
        let Some(amount) = ground.away(cam) else { continue };
        let mut both = draft(settled * priors::SKIP_WITH_PHASER);
        if let Some(row) = ground.rows.row_of(cam) {
            both.model.own.push((row, vec![(1.0, amount)]));
        }
        both.moving.push((cam, Behaviour::Loose));
        both.company = Company::Phasers(vec![cam]);
        drafts.push(both);
    }
}
