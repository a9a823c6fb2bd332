//! What the engine's description says may wear or skip together.

use super::priors;
use crate::engine::{Chain, ChainKind, Engine};
use crate::units::CrankDelta;
use crate::verdict::readings::Rows;

/// A chain or one strand of it that may be worn.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct WornChain {
    pub chain: Option<usize>,
    pub cams: Vec<usize>,
    /// How late each of them is when the one furthest along the chain is one degree late.
    pub late: Vec<f64>,
    pub share: f64,
    /// Most that it can be worn, crank degrees at the cam furthest along.
    pub most: f64,
}

impl WornChain {
    /// All its cams late alike.
    fn alike(chain: Option<usize>, cams: Vec<usize>, share: f64, most: CrankDelta) -> WornChain {
        WornChain { chain, late: vec![1.0; cams.len()], cams, share, most: most.0 }
    }

    /// Effect on the rows of the cam furthest along being one degree late.
    pub(crate) fn effect(&self, rows: &Rows) -> Vec<f64> {
        let mut effect = rows.learned_late(&self.cams);
        for (&cam, late) in self.cams.iter().zip(&self.late) {
            let one = rows.shafts_late(&[cam]);
            effect.iter_mut().zip(one).for_each(|(sum, of)| *sum += late * of);
        }
        effect
    }

    /// What keeps the cams before the last from standing at their exact share: the strands are not
    /// alike in length.
    pub(crate) fn uneven(&self, rows: &Rows) -> Option<(Vec<f64>, f64)> {
        let before: Vec<usize> = (0..self.cams.len())
            .filter(|&at| self.late[at] < 1.0)
            .map(|at| self.cams[at])
            .collect();
        (!before.is_empty()).then(|| (rows.shafts_late(&before), priors::STRANDS_UNEVEN_SD.0))
    }
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
        if strands.is_empty() {
            worn.push(WornChain::alike(Some(index), whole, rate, priors::STRAND_MOST));
            continue;
        }
        let all = rate * priors::WHOLE_CHAIN;
        worn.push(WornChain::alike(Some(index), whole, all, priors::STRAND_MOST));
        worn.extend(adding_up(chain, index, &strands, rate * priors::STRANDS_ADD_UP));
        let each = 1.0 - priors::WHOLE_CHAIN - priors::STRANDS_ADD_UP;
        for cams in &strands {
            let share = rate * each / strands.len() as f64;
            worn.push(WornChain::alike(Some(index), cams.clone(), share, priors::STRAND_MOST));
        }
    }
    let total: f64 = worn.iter().map(|chain| chain.share).sum();
    worn.iter_mut().for_each(|chain| chain.share /= total);
    worn
}

/// Wear of each strand carried on to the next: in the order of the description where that gives
/// one, else in its order and against it.
fn adding_up(chain: &Chain, index: usize, strands: &[Vec<usize>], share: f64) -> Vec<WornChain> {
    let along = |order: &mut dyn Iterator<Item = &Vec<usize>>, share: f64| {
        let (mut cams, mut late) = (Vec::new(), Vec::new());
        for (at, strand) in order.enumerate() {
            cams.extend(strand);
            let part = (at + 1) as f64 / strands.len() as f64;
            late.resize(cams.len(), part);
        }
        WornChain { chain: Some(index), cams, late, share, most: priors::WEAR_MOST.0 }
    };
    if chain.pulled_order {
        return vec![along(&mut strands.iter(), share)];
    }
    vec![along(&mut strands.iter(), share / 2.0), along(&mut strands.iter().rev(), share / 2.0)]
}

/// An engine whose drive is not described has one all the same, and it wears: all cams late alike,
/// or some of them.
fn worn_somewhere(engine: &Engine) -> Vec<WornChain> {
    let groups = groups_without_drive(engine);
    let some = (1.0 - priors::WHOLE_WITHOUT_DRIVE) / (groups.len().max(2) - 1) as f64;
    let share = |cams: &Vec<usize>| match groups.len() {
        1 => 1.0,
        _ if cams.len() == engine.cams.len() => priors::WHOLE_WITHOUT_DRIVE,
        _ => some,
    };
    groups
        .iter()
        .map(|cams| WornChain::alike(None, cams.clone(), share(cams), priors::STRAND_MOST))
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
