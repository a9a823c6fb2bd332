//! How well every variant explains all that was measured, prior and readings together.
//!
//! Of an engine with many cams there are very many variants (every skip beside every pair of leads
//! crossed: the fourth power of the cams), and most differ from others in nothing but how far they
//! move each row. Those are weighed together: their readings have one covariance, which is factored
//! once. And most are far from what was read: of them it is enough to know how unlikely they are at
//! least. Of a likeliest variant among those without a second fault the log odds are a bound of the
//! log of the sum of all; a term that is [`NEGLIGIBLE`] below that bound is replaced by a bound of
//! its own from above, which costs no integral. There are fewer than 10⁹ terms (10⁵ variants, 64
//! choices of suspects, 17 rows, 8 readings of the datum), each below 10⁻²⁶ of the sum: no odds
//! change by more than 10⁻¹⁶.

use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};

use rayon::prelude::*;

use super::evidence::Evidence;
use super::factored::NEGLIGIBLE;
use super::hypotheses::{Model, SecondFault, Variant};
use super::likelihood::{Models, Worths};
use super::readings::{Delayed, RowKind, Rows, SignalCharacter, Signals, Steadiness, errors};
use crate::cam::CamPosition;

/// The positions that each other way to put the leads on takes from other leads: exchanged pairs,
/// then orders of more.
pub(super) fn instead<'a>(evidence: &Evidence<'a>) -> Vec<Vec<&'a CamPosition>> {
    let pairs = evidence.swapped.iter().map(|swap| vec![&swap.positions.0, &swap.positions.1]);
    let orders = evidence.reordered.iter().map(|order| order.positions.iter().collect());
    pairs.chain(orders).collect()
}

/// Log of the prior times the density of everything measured, of each variant in their order.
pub(super) fn log_odds(
    evidence: &Evidence,
    variants: &[Variant],
    rows: &Rows,
    crossed: &[Rows],
) -> Vec<f64> {
    log_odds_above(evidence, variants, (rows, crossed), NEGLIGIBLE)
}

/// The same, where what is `negligible` below the sum need not be worked out.
pub(super) fn log_odds_above(
    evidence: &Evidence,
    variants: &[Variant],
    (rows, crossed): (&Rows, &[Rows]),
    negligible: f64,
) -> Vec<f64> {
    let positions = instead(evidence);
    let delayed = |swap: Option<usize>| -> Vec<Delayed> {
        let of = variants.iter().filter(|variant| variant.swap == swap);
        of.flat_map(|variant| variant.delayed.iter().copied()).collect()
    };
    let readings = Readings {
        labelled: (rows, SignalCharacter::new(evidence, rows, &[], &delayed(None))),
        crossed: crossed
            .iter()
            .zip(&positions)
            .enumerate()
            .map(|(swap, (rows, one))| {
                (rows, SignalCharacter::new(evidence, rows, one, &delayed(Some(swap))))
            })
            .collect(),
        evidence,
        positions,
    };
    let (alone, paired): (Vec<usize>, Vec<usize>) =
        (0..variants.len()).partition(|&one| variants[one].second == SecondFault::None);
    let mut logs = vec![f64::NEG_INFINITY; variants.len()];
    let mut highest = f64::NEG_INFINITY;
    for part in [alone, paired] {
        // Side by side, each group by itself, so that the order of the work changes nothing.
        let found: Vec<Vec<(usize, f64)>> = groups(variants, part, &readings)
            .par_iter()
            .map(|group| readings.weigh(variants, group, highest - negligible))
            .collect();
        for (variant, log) in found.into_iter().flatten() {
            logs[variant] = log;
            highest = highest.max(log);
        }
    }
    logs
}

/// What was read, with the leads as labelled and put on each other way.
struct Readings<'a> {
    evidence: &'a Evidence<'a>,
    labelled: (&'a Rows, SignalCharacter),
    crossed: Vec<(&'a Rows, SignalCharacter)>,
    positions: Vec<Vec<&'a CamPosition>>,
}

impl Readings<'_> {
    fn of(&self, swap: Option<usize>) -> &(&Rows, SignalCharacter) {
        swap.and_then(|swap| self.crossed.get(swap)).unwrap_or(&self.labelled)
    }

    /// The log odds of the variants of a group, exact where they are not less than `least`.
    fn weigh(&self, variants: &[Variant], group: &[usize], least: f64) -> Vec<(usize, f64)> {
        let swap = variants[group[0]].swap;
        let models = Models::like(self.of(swap).0, &variants[group[0]].model);
        let mut found = Vec::with_capacity(group.len());
        // Many one after the other say the same of the signals.
        for alike in group.chunk_by(|&a, &b| signals(&variants[a]) == signals(&variants[b])) {
            let signals = signals(&variants[alike[0]]);
            let worths = self.worths(swap, signals);
            let leads = self.log_of_leads(swap, signals.foreign);
            for &one in alike {
                let variant = &variants[one];
                let more = variant.prior.ln() + leads;
                let log = models.log_likelihood(&variant.model.mean, &worths, least - more);
                found.push((one, more + log));
            }
        }
        found
    }

    /// What the rows are worth: their chains swing, or they do not.
    fn worths(&self, swap: Option<usize>, signals: Signals) -> Vec<(f64, Worths)> {
        let (rows, character) = self.of(swap);
        let of = |swings| Worths::new(rows, &character.of(rows, signals, swings));
        if signals.moving.iter().all(|(_, steadiness)| *steadiness != Steadiness::SlackChain) {
            return vec![(0.0, of(false))];
        }
        let shows = errors::MOVING_SHOWS;
        vec![((1.0 - shows).ln(), of(false)), (shows.ln(), of(true))]
    }

    /// Log density of which wheels fit which leads.
    fn log_of_leads(&self, swap: Option<usize>, foreign: &[usize]) -> f64 {
        let evidence = self.evidence;
        let mut log = 0.0;
        // A wheel that another one of the library explains edge by edge is no accident where the
        // description is wrong of it, nor where its lead is on another cam's sensor.
        let elsewhere = swap.and_then(|swap| self.positions.get(swap));
        let read_elsewhere =
            |cam| elsewhere.is_some_and(|all| all.iter().any(|position| position.cam == cam));
        for &(cam, _) in evidence.other_wheels {
            if !foreign.contains(&cam) && !read_elsewhere(cam) {
                log += errors::FITS_BY_CHANCE.ln();
            }
        }
        // All leads are on other sensors then, and every cam is read.
        if swap.is_some_and(|swap| swap >= evidence.swapped.len()) {
            return log;
        }
        // A wheel that fits only another cam's lead is no accident where leads are crossed.
        for (index, other) in evidence.swapped.iter().enumerate() {
            if swap == Some(index) {
                continue;
            }
            let (first, second) = &other.positions;
            for (cam, position) in [(other.cams.0, first), (other.cams.1, second)] {
                if evidence.cam(cam).is_none() {
                    log += (errors::FITS_BY_CHANCE / position.known_modulo.0).ln();
                }
            }
        }
        log
    }
}

fn signals(variant: &Variant) -> Signals<'_> {
    let Variant { moving, damaged, delayed, foreign, .. } = variant;
    Signals { moving, damaged: *damaged, delayed, foreign }
}

/// The variants in groups of those that differ in their fixed effects alone, in the order of their
/// first ones.
fn groups(variants: &[Variant], of: Vec<usize>, readings: &Readings) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let mut known: HashMap<u64, Vec<usize>> = HashMap::new();
    for one in of {
        let rows = readings.of(variants[one].swap).0;
        let mut hasher = DefaultHasher::new();
        form(&variants[one], rows, &mut |number| number.hash(&mut hasher));
        let same = known.entry(hasher.finish()).or_default();
        let alike = |&&group: &&usize| {
            let first = &variants[groups[group][0]];
            is_alike(first, &variants[one], rows)
        };
        match same.iter().find(alike) {
            Some(&group) => groups[group].push(one),
            None => {
                same.push(groups.len());
                groups.push(vec![one]);
            }
        }
    }
    groups
}

/// Whether two variants are about the same rows and have the same covariance.
fn is_alike(a: &Variant, b: &Variant, rows: &Rows) -> bool {
    let (first, second) = (&a.model, &b.model);
    a.swap == b.swap
        && first.together == second.together
        && first.own == second.own
        && first.shared == second.shared
        && first.normal == second.normal
        && roughly_known(rows).all(|row| first.mean[row] == second.mean[row])
}

/// Rows whose error grows with the effect that is supposed.
fn roughly_known(rows: &Rows) -> impl Iterator<Item = usize> {
    let of = |row: &usize| rows.list[*row].kind == RowKind::Compression;
    (0..rows.list.len()).filter(of)
}

/// Tells the numbers that alike variants have in common.
fn form(variant: &Variant, rows: &Rows, tell: &mut impl FnMut(u64)) {
    let Model { mean, shared, own, normal, together } = &variant.model;
    tell(variant.swap.map_or(u64::MAX, |swap| swap as u64));
    tell(u64::from(*together));
    roughly_known(rows).for_each(|row| tell(mean[row].to_bits()));
    for (row, amounts) in own {
        tell(*row as u64);
        amounts.iter().for_each(|(share, amount)| {
            tell(share.to_bits());
            tell(amount.range().0.to_bits());
        });
    }
    let patterns = shared.iter().map(|(pattern, amount)| (pattern, amount.range().1));
    for (pattern, size) in patterns.chain(normal.iter().map(|(pattern, sd)| (pattern, *sd))) {
        tell(size.to_bits());
        pattern.iter().for_each(|has| tell(has.to_bits()));
    }
}
