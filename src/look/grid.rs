//! Patterns of equal slots found without counting teeth, so that teeth which come and go do not
//! matter.
//!
//! The edges are put on a grid of equal slots by the smoothest speed, whatever slots stay empty;
//! then every number of slots is tried as the period: each slot of it should be full in every
//! period or empty in every period.

use statrs::function::beta::ln_beta;

use super::align::{Marks, Prices, align};
use super::base::Base;

/// An empty slot or two is dear enough that a slow tooth is not taken for one, and a gap cheap
/// enough to be found.
const GRID: Prices = Prices { missed: (2.5, 0.6), extra: 4.0, most_missed: 5 };
/// Slots in a period, at least and at most.
const SLOTS: (usize, usize) = (3, 200);
/// Periods that must fit into the capture.
const LEAST_PERIODS: f64 = 2.5;
/// Periods tried.
const TRIED: usize = 3;
/// Parts of the capture that are looked at by themselves too.
const PARTS: usize = 4;
/// A slot that shows an edge in this share of the periods, and twice at least, has a tooth.
const TOOTH: f64 = 0.3;
/// Shares of slots with a tooth that is always seen, without one, and with one that comes and goes
/// (judgement).
const FULL: f64 = 0.5;
const EMPTY: f64 = 0.45;
const WEAK: f64 = 0.05;
/// A full slot is empty once in a hundred periods, and an empty one full.
const ONE_IN_100: (f64, f64) = (50.0, 0.5);

/// The likeliest patterns of equal slots.
pub(super) fn slot_bases(times: &[f64]) -> Vec<Base> {
    let even = Marks { at: vec![0.0], period: 1.0 };
    let Some(aligned) = align(times, &even, &GRID) else { return Vec::new() };
    let slots: Vec<usize> = aligned.sights.iter().map(|sight| sight.pass).collect();
    let (Some(&first), Some(&last)) = (slots.first(), slots.last()) else { return Vec::new() };
    let mut full = vec![false; last - first + 1];
    for slot in slots {
        full[slot - first] = true;
    }
    // Where the count slipped by a slot, what follows is out of step with what went before: it is
    // whole in some part of the capture.
    let part = full.len().div_ceil(PARTS);
    let parts = full.chunks(part).flat_map(|part| likeliest(part, 1));
    likeliest(&full, TRIED).into_iter().chain(parts).collect()
}

/// Patterns of the likeliest periods.
fn likeliest(full: &[bool], tried: usize) -> Vec<Base> {
    let most = SLOTS.1.min((full.len() as f64 / LEAST_PERIODS) as usize);
    let mut periods: Vec<(f64, usize)> =
        (SLOTS.0..=most).map(|period| (evidence(full, period), period)).collect();
    periods.sort_by(|a, b| b.0.total_cmp(&a.0));
    periods.iter().take(tried).filter_map(|&(_, period)| pattern(full, period)).collect()
}

/// Full and all slots that fall on one of a period.
fn counts(full: &[bool], period: usize, slot: usize) -> (usize, usize) {
    let of_slot = full.iter().skip(slot).step_by(period);
    (of_slot.clone().filter(|&&full| full).count(), of_slot.count())
}

/// Log of the probability of the fullness, each slot of the period having a habit of its own.
fn evidence(full: &[bool], period: usize) -> f64 {
    let order = |hits: f64, misses: f64, a: f64, b: f64| {
        (ln_beta(a + hits, b + misses) - ln_beta(a, b)).exp()
    };
    let (often, seldom) = ONE_IN_100;
    (0..period)
        .map(|slot| {
            let (hits, all) = counts(full, period, slot);
            let (hits, misses) = (hits as f64, (all - hits) as f64);
            let any = FULL * order(hits, misses, often, seldom)
                + EMPTY * order(hits, misses, seldom, often)
                + WEAK * order(hits, misses, 1.0, 1.0);
            any.max(f64::MIN_POSITIVE).ln()
        })
        .sum()
}

/// The teeth of a period.
fn pattern(full: &[bool], period: usize) -> Option<Base> {
    let teeth: Vec<usize> = (0..period)
        .filter(|&slot| {
            let (hits, all) = counts(full, period, slot);
            hits >= 2 && hits as f64 >= TOOTH * all as f64
        })
        .collect();
    let next = teeth.iter().skip(1).copied().chain(teeth.first().map(|first| first + period));
    let counts: Vec<usize> = teeth.iter().zip(next).map(|(from, to)| to - from).collect();
    (!counts.is_empty()).then(|| Base::slots_of_one(counts))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_is_found_though_the_tooth_beside_it_is_lost_every_other_turn() {
        let times: Vec<f64> = (0..600)
            .filter(|slot| slot % 60 < 58 && !(slot % 60 == 0 && slot % 120 == 0))
            .map(|slot| {
                let slot = f64::from(slot);
                0.005 * slot + 0.002 * (slot * 0.2).sin()
            })
            .collect();
        let mut want = vec![1; 57];
        want.push(3);
        let want = Base::slots_of_one(want);
        let found = slot_bases(&times);
        assert!(found.iter().any(|base| base.same_as(&want)), "{found:?}");
    }
}
