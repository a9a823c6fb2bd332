//! The unknowns of the energy balance: how cylinders differ in what they trap and leak, and what a
//! gauge would show of that.

use super::energy::StoredEnergy;

/// Columns before the cylinders' contrasts: the speed integral and the common energy. A common leak
/// cannot be told from the starter's pull and a shift of TDC, and is left out. After them come the
/// contrasts of what cylinders trap, then those of what they leak, each against the last.
pub(super) const SHARED: usize = 2;

/// Number of unknowns.
pub(super) fn unknowns(cylinders: usize) -> usize {
    SHARED + contrasts(cylinders)
}

/// Of those, the contrasts between cylinders.
pub(super) fn contrasts(cylinders: usize) -> usize {
    2 * (cylinders - 1)
}

/// Every cylinder's share, from contrasts against the last over the common coefficient.
pub(super) fn shares(contrasts: &[f64], common: f64) -> Vec<f64> {
    let mut found: Vec<f64> = contrasts.iter().map(|value| value / common).collect();
    found.push(-found.iter().sum::<f64>());
    found
}

/// What a gauge would show of each cylinder, over the pressure a tight one traps, and the mean of
/// all.
pub(super) fn gauge(contrasts: &[f64], common: f64, energies: &[StoredEnergy]) -> (Vec<f64>, f64) {
    let (trapped, leaked) = contrasts.split_at(contrasts.len() / 2);
    let shown: Vec<f64> = shares(trapped, common)
        .iter()
        .zip(shares(leaked, common))
        .zip(energies)
        .map(|((trapped, leaked), energy)| {
            // A gauge shows what is over the atmosphere.
            (1.0 + trapped) * (1.0 - energy.share) - leaked - (1.0 - 1.0 / energy.gauge_factor)
        })
        .collect();
    let mean = super::stats::mean(&shown);
    (shown, mean)
}

/// Relative compression from the contrasts and the common coefficient.
pub(super) fn relative(contrasts: &[f64], common: f64, energies: &[StoredEnergy]) -> Vec<f64> {
    let (shown, mean) = gauge(contrasts, common, energies);
    shown.iter().map(|value| value / mean).collect()
}

/// What picks a cylinder's compression out of the unknowns: what it traps less what it leaks; for
/// the last, less all the others.
pub(super) fn contrast(cylinder: usize, energies: &[StoredEnergy]) -> Vec<f64> {
    let others = energies.len() - 1;
    let left = 1.0 - energies[cylinder].share;
    let mut pick = vec![0.0; unknowns(energies.len())];
    let (trapped, leaked) = pick[SHARED..].split_at_mut(others);
    if cylinder < others {
        (trapped[cylinder], leaked[cylinder]) = (left, -1.0);
    } else {
        trapped.fill(-left);
        leaked.fill(1.0);
    }
    pick
}
