//! Cams whose lead shows another wheel of the library better than the one described.

use rayon::prelude::*;

use crate::cam::{CamPosition, measure};
use crate::crank::CrankAngle;
use crate::edges::EdgeTrain;
use crate::engine::{Cam, Engine, Reference};
use crate::wheel::{LIBRARY, Wheel, WheelSource};

/// Share of the edges on a lead that are none of the described wheel's, or are missing, from which
/// on other wheels are tried: a clean lead has none, a dirty one some per cent.
const ODD_ENOUGH: f64 = 0.2;
/// Another wheel explains a lead when it leaves no more than this.
const EXPLAINED: f64 = 0.05;
/// Cycles in which it has to be seen.
const LEAST_CYCLES: usize = 3;

/// Cams, by index into the engine's cams, with the library's name of the wheel that fits their
/// signal.
pub(super) fn other_wheels<'a>(
    engine: &Engine,
    leads: impl Iterator<Item = (usize, &'a str, &'a EdgeTrain)>,
    positions: &[CamPosition],
    angle: &CrankAngle,
) -> Vec<(usize, String)> {
    let odd = |cam: usize| positions.iter().find(|one| one.cam == cam).map_or(1.0, odd_share);
    let leads: Vec<_> = leads.filter(|&(cam, ..)| odd(cam) > ODD_ENOUGH).collect();
    let wheels: Vec<(&str, Wheel)> = LIBRARY
        .iter()
        .filter_map(|one| {
            let source = WheelSource::Named(one.name.into());
            Some((one.name, source.resolve(None, one.name, "wheel").ok()?))
        })
        .collect();
    let best = |&(cam, lead, train): &(usize, &str, &EdgeTrain)| {
        let described = &engine.cams[cam];
        let tried = wheels.iter().filter(|(_, wheel)| *wheel != described.wheel);
        let fits = tried.filter_map(|(name, wheel)| {
            let other =
                Cam { wheel: wheel.clone(), reference: Reference::Unknown, ..described.clone() };
            let position = measure(cam, &other, lead, train, angle)?;
            let left = odd_share(&position);
            (position.cycles.len() >= LEAST_CYCLES && left <= EXPLAINED).then_some((*name, left))
        });
        let best = fits.min_by(|a, b| a.1.total_cmp(&b.1))?;
        Some((cam, best.0.to_owned()))
    };
    leads.par_iter().filter_map(best).collect()
}

/// Share of the edges on a lead that are odd: none of the wheel's, or missing.
fn odd_share(position: &CamPosition) -> f64 {
    let seen: usize = position.edges.iter().map(|edge| edge.n).sum();
    let odd = position.missed + position.extra;
    odd as f64 / (odd + seen).max(1) as f64
}
