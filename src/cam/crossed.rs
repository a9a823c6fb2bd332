//! Where cams would stand if two leads were exchanged.

use rayon::prelude::*;

use super::phase::DatumChoice;
use super::{CamPosition, measure};
use crate::crank::CrankAngle;
use crate::edges::EdgeTrain;
use crate::engine::{Cam, Engine};

/// Where two cams would stand if their leads were crossed. Only given when each wheel fits the
/// other's lead.
#[derive(Debug, Clone, PartialEq)]
pub struct SwappedFit {
    /// Indices into the engine's cams.
    pub cams: (usize, usize),
    /// First cam measured on the second's lead, second cam on the first's.
    pub positions: (CamPosition, CamPosition),
}

/// Where cams would stand if the leads of more than two of them were on other sensors than said.
/// Only given when each wheel fits the lead it is then read from.
#[derive(Debug, Clone, PartialEq)]
pub struct LeadOrder {
    /// What a lead is called, and the cam whose sensor it is on; those that stay where they are
    /// left out. Indices into the engine's cams.
    pub on: Vec<(usize, usize)>,
    /// Where those cams stand then.
    pub positions: Vec<CamPosition>,
}

/// Up to so many leads every order is tried; of more, only whole banks, shafts of a kind, and leads
/// shifted by one.
const EVERY_ORDER_UP_TO: usize = 4;

/// Every pair of cams whose wheels fit each other's lead as well, and every longer round of them.
/// `leads` are the cams that have one, with the lead's name and its edges.
#[must_use]
pub fn crossed(
    engine: &Engine,
    leads: &[(usize, &str, &EdgeTrain)],
    angle: &CrankAngle,
    datum: &DatumChoice,
) -> (Vec<SwappedFit>, Vec<LeadOrder>) {
    let fit = |of: usize, on: usize| {
        // Each on its own lead is what was measured already.
        let ((cam, ..), (_, lead, train)) = (leads[of], leads[on]);
        let mut position =
            (of != on).then(|| measure(cam, &engine.cams[cam], lead, train, angle)).flatten()?;
        // What is too little to place a cam on its own lead is no more on another.
        if position.is_glimpsed() {
            return None;
        }
        position.position = position.position + datum.shift;
        Some(position)
    };
    let fits: Vec<Vec<Option<CamPosition>>> = (0..leads.len())
        .into_par_iter()
        .map(|of| (0..leads.len()).map(|on| fit(of, on)).collect())
        .collect();
    let mut pairs = Vec::new();
    for first in 0..leads.len() {
        for second in first + 1..leads.len() {
            if let Some(positions) = fits[first][second].clone().zip(fits[second][first].clone()) {
                pairs.push(SwappedFit { cams: (leads[first].0, leads[second].0), positions });
            }
        }
    }
    let cams: Vec<usize> = leads.iter().map(|&(cam, ..)| cam).collect();
    let order = |on: Vec<usize>| -> Option<LeadOrder> {
        // The cam `of` is read from the lead that is called `on[of]`.
        let moved = || (0..on.len()).filter(|&of| on[of] != of);
        let positions = moved().map(|of| fits[of][on[of]].clone()).collect::<Option<_>>()?;
        let on = moved().map(|of| (cams[on[of]], cams[of])).collect();
        Some(LeadOrder { on, positions })
    };
    (pairs, orders(engine, &cams).into_iter().filter_map(order).collect())
}

/// The orders of leads that are tried, but those that exchange one pair: which lead each cam is
/// read from.
fn orders(engine: &Engine, cams: &[usize]) -> Vec<Vec<usize>> {
    let count = cams.len();
    let mut orders = if count <= EVERY_ORDER_UP_TO {
        permutations(count)
    } else {
        let shifted = |by: usize| (0..count).map(|of| (of + by) % count).collect::<Vec<usize>>();
        let partner = |same: &dyn Fn(&Cam, &Cam) -> bool| -> Option<Vec<usize>> {
            let other = |of: usize| {
                let mut fitting = (0..count)
                    .filter(|&on| on != of && same(&engine.cams[cams[of]], &engine.cams[cams[on]]));
                fitting.next().filter(|_| fitting.next().is_none())
            };
            (0..count).map(other).collect()
        };
        let banks = partner(&|one, two| one.bank != two.bank && one.shaft == two.shaft);
        let shafts = partner(&|one, two| one.bank == two.bank && one.shaft != two.shaft);
        let mut some = vec![shifted(1), shifted(count - 1)];
        some.extend(banks);
        some.extend(shafts);
        some
    };
    let moved = |order: &Vec<usize>| (0..count).filter(|&of| order[of] != of).count();
    orders.retain(|order| moved(order) > 2);
    orders.sort();
    orders.dedup();
    orders
}

/// Every order of so many things.
fn permutations(count: usize) -> Vec<Vec<usize>> {
    let mut all = vec![vec![]];
    for _ in 0..count {
        let longer = |begun: Vec<usize>| {
            (0..count)
                .filter(|next| !begun.contains(next))
                .map(|next| [&begun[..], &[next]].concat())
                .collect::<Vec<_>>()
        };
        all = all.into_iter().flat_map(longer).collect();
    }
    all
}
