//! What the engine's description says may wear or skip together.

use super::priors;
use crate::engine::{ChainKind, Engine};

/// A chain or one strand of it that may be worn.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct WornChain {
    pub chain: Option<usize>,
    pub cams: Vec<usize>,
    pub share: f64,
}

/// Whole chains and single strands that can lengthen, shares summing to 1.
pub(crate) fn worn_chains(engine: &Engine) -> Vec<WornChain> {
    if engine.drive.chains.is_empty() {
        return worn_somewhere(engine);
    }
    let mut worn: Vec<WornChain> = Vec::new();
    for (index, chain) in engine.drive.chains.iter().enumerate() {
        let rate = match chain.kind {
            ChainKind::Chain => 1.0,
            ChainKind::Belt => priors::BELT_WEAR,
            ChainKind::Gear => continue,
        };
        let below = |shaft: &str| -> Vec<usize> {
            let hangs = |cam: &usize| engine.drive.hangs_on(&engine.cams[*cam].name, shaft);
            (0..engine.cams.len()).filter(hangs).collect()
        };
        let mut whole: Vec<usize> = chain.driven.iter().flat_map(|s| below(&s.on)).collect();
        whole.sort_unstable();
        whole.dedup();
        if whole.is_empty() {
            continue;
        }
        let strands: Vec<Vec<usize>> = chain
            .driven
            .iter()
            .map(|sprocket| below(&sprocket.on))
            .filter(|cams| !cams.is_empty() && *cams != whole)
            .collect();
        let all = if strands.is_empty() { 1.0 } else { priors::WHOLE_CHAIN };
        let each = (1.0 - all) / strands.len().max(1) as f64;
        worn.push(WornChain { chain: Some(index), cams: whole, share: rate * all });
        for cams in strands {
            worn.push(WornChain { chain: Some(index), cams, share: rate * each });
        }
    }
    let total: f64 = worn.iter().map(|chain| chain.share).sum();
    worn.iter_mut().for_each(|chain| chain.share /= total);
    worn
}

/// An engine whose drive is not described has one all the same, and it wears: all cams late alike,
/// or some of them.
fn worn_somewhere(engine: &Engine) -> Vec<WornChain> {
    let groups = groups_without_drive(engine);
    let some = (1.0 - priors::WHOLE_CHAIN) / (groups.len().max(2) - 1) as f64;
    let share = |cams: &Vec<usize>| match groups.len() {
        1 => 1.0,
        _ if cams.len() == engine.cams.len() => priors::WHOLE_CHAIN,
        _ => some,
    };
    groups
        .iter()
        .map(|cams| WornChain { chain: None, cams: cams.clone(), share: share(cams) })
        .collect()
}

/// What may hang together on an engine whose drive is not described: one cam, a bank, or all.
pub(crate) fn groups_without_drive(engine: &Engine) -> Vec<Vec<usize>> {
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
