//! What cycle scatter, drift with speed and single edges say, apart from the position.
//!
//! A skip is steady; a slack chain and a phaser off its lock may scatter and move with speed. May:
//! half of them do not show it, so steadiness never rules them out.

use super::amounts::{Amount, log_normal, log_sum};
use super::priors;
use crate::cam::CamPosition;
use crate::engine::{Cam, Sensor};
use crate::wheel::EdgeKind;

/// How a cam would behave from cycle to cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Behaviour {
    /// Stands still.
    Steady,
    /// Hangs on a slack chain.
    Worn,
    /// Hangs on a phaser that is not locked.
    Loose,
}

/// Log density of scatter and drift of one cam. `stray` is the probability that the reading is worthless: it then
/// scatters anyhow, whatever the cam does.
pub(super) fn log_behaviour(cam: &CamPosition, behaviour: Behaviour, stray: f64) -> f64 {
    let anyhow = log_behaviour_of_junk(cam);
    let real = log_scatter(cam, behaviour) + log_drift(cam, behaviour);
    log_sum([(1.0 - stray).ln() + real, stray.ln() + anyhow])
}

/// The same of a reading that is worthless: scatter of some degrees, give or take a factor of five; drift as wide.
fn log_behaviour_of_junk(cam: &CamPosition) -> f64 {
    /// Scatter of worthless readings in crank degrees, and the spread of its logarithm (judgement).
    const SCATTER: (f64, f64) = (3.0, 1.6);
    let scatter =
        cam.cycle_sd.map_or(0.0, |sd| log_normal(sd.0.max(0.05).ln() - SCATTER.0.ln(), SCATTER.1));
    let drift =
        drift(cam).map_or(0.0, |(drift, error)| log_normal(drift, error.hypot(3.0 * SCATTER.0)));
    scatter + drift
}

/// The share that shows movement, and the scatter where it shows.
fn shows(behaviour: Behaviour) -> (f64, f64) {
    match behaviour {
        Behaviour::Steady => (priors::STEADY_YET_SCATTERED, priors::LOOSE_SCATTER.0),
        Behaviour::Worn => (priors::MOVING_SHOWS, priors::WORN_SCATTER.0),
        Behaviour::Loose => (priors::MOVING_SHOWS, priors::LOOSE_SCATTER.0),
    }
}

/// The logarithm of a standard deviation from n cycles has itself a standard deviation of about
/// 1/√(2(n − 1)) (delta method on χ²), added to the spread between engines.
fn log_scatter(cam: &CamPosition, behaviour: Behaviour) -> f64 {
    let Some(sd) = cam.cycle_sd else { return 0.0 };
    let cycles = cam.cycles.len().max(2) as f64;
    let spread = priors::SCATTER_LOG_SD.hypot((2.0 * (cycles - 1.0)).sqrt().recip());
    // Finer than sampling resolves says no more than fine.
    let log_sd = sd.0.max(0.05).ln();
    let around = |median: f64| log_normal(log_sd - median.ln(), spread);
    let (share, moving) = shows(behaviour);
    log_sum([(1.0 - share).ln() + around(priors::STEADY_SCATTER.0), share.ln() + around(moving)])
}

fn log_drift(cam: &CamPosition, behaviour: Behaviour) -> f64 {
    let Some((drift, error)) = drift(cam) else { return 0.0 };
    let (share, _) = shows(behaviour);
    log_sum([
        (1.0 - share).ln() + log_normal(drift, error.hypot(priors::STEADY_DRIFT_SD.0)),
        share.ln() + log_normal(drift, error.hypot(priors::MOVING_DRIFT_SD.0)),
    ])
}

/// Change of position from the slowest to the fastest cycle by least squares, and its standard
/// error, in crank degrees; absent under five cycles or at one speed.
pub(super) fn drift(cam: &CamPosition) -> Option<(f64, f64)> {
    /// Fewer leave too little to tell a slope from its error.
    const LEAST_CYCLES: usize = 5;
    /// Speeds closer than this are one speed (rpm).
    const ONE_SPEED: f64 = 5.0;
    let n = cam.cycles.len();
    if n < LEAST_CYCLES {
        return None;
    }
    let rpms = || cam.cycles.iter().map(|cycle| cycle.rpm.0);
    let mean = rpms().sum::<f64>() / n as f64;
    let range = rpms().fold(f64::NEG_INFINITY, f64::max) - rpms().fold(f64::INFINITY, f64::min);
    let spread: f64 = rpms().map(|rpm| (rpm - mean).powi(2)).sum();
    if range < ONE_SPEED {
        return None;
    }
    let centre = cam.cycles.iter().map(|cycle| cycle.off.0).sum::<f64>() / n as f64;
    let slope: f64 =
        cam.cycles.iter().map(|cycle| (cycle.rpm.0 - mean) * cycle.off.0).sum::<f64>() / spread;
    let left = |off: f64, rpm: f64| off - centre - slope * (rpm - mean);
    let rest: f64 = cam.cycles.iter().map(|cycle| left(cycle.off.0, cycle.rpm.0).powi(2)).sum();
    let error = (rest / (n - 2) as f64 / spread).sqrt();
    let found = (slope * range, error * range);
    (found.0.is_finite() && found.1.is_finite()).then_some(found)
}

/// Log odds that the edges give for one damaged tooth against none. `stray` is the probability that the whole
/// reading is worthless: then its edges lie anywhere and say nothing, however far off they are.
pub(super) fn log_damage(cam: &Cam, measured: &CamPosition, stray: f64) -> f64 {
    let lost = edges_lost(cam, measured);
    // A whole tooth is one or two edges; more is a weak signal.
    let gone = match lost {
        0 => f64::NEG_INFINITY,
        // A worthless reading loses edges as often as not, whatever the wheel.
        1 | 2 => {
            let with = |lost: f64| (1.0 - stray) * lost + stray * 0.5;
            (with(1.0) / with(priors::EDGE_LOST)).ln()
        }
        _ => 0.0,
    };
    let bent = log_bent(&edge_offs(measured), stray);
    log_sum([(1.0 - priors::TOOTH_GONE).ln() + bent, priors::TOOTH_GONE.ln() + gone])
}

/// An edge of a worthless reading lies anywhere this far about its place, in crank degrees: as far as the decoder
/// takes an edge for the wheel's.
const STRAY_REACH_DEG: f64 = 30.0;

/// Log odds of one bent edge among sound ones against all sound. How rough a sound wheel is
/// belongs to the whole wheel: five smooth edges leave no room to call the sixth roughness.
fn log_bent(offs: &[f64], stray: f64) -> f64 {
    // Of two edges a bent one moves the middle half-way: both show half of it.
    let share = match offs.len() {
        0 | 1 => return 0.0,
        2 => 0.5,
        _ => 1.0,
    };
    let smooth = (1.0 - priors::ROUGH_WHEEL, priors::EDGE_SD.0);
    let rough = (priors::ROUGH_WHEEL, priors::EDGE_SD.0 * priors::ROUGH_WHEEL_FACTOR);
    let sound = |(weight, sd): (f64, f64)| {
        weight.ln() + offs.iter().map(|&off| log_normal(off, sd)).sum::<f64>()
    };
    // Which edge is bent is not known: the average over them all.
    let bent = |wheel: (f64, f64)| {
        let one = |&off: &f64| log_damaged_edge(off, share, wheel.1) - log_normal(off, wheel.1);
        sound(wheel) + log_sum(offs.iter().map(one)) - (offs.len() as f64).ln()
    };
    let junk = stray.ln() - offs.len() as f64 * (2.0 * STRAY_REACH_DEG).ln();
    let real = (1.0 - stray).ln();
    log_sum([real + bent(smooth), real + bent(rough), junk])
        - log_sum([real + sound(smooth), real + sound(rough), junk])
}

/// Density of a damaged edge's offset, of which `share` shows, either way.
fn log_damaged_edge(off: f64, share: f64, sd: f64) -> f64 {
    let (from, to) = (priors::DAMAGE_LEAST.0 * share, priors::DAMAGE_MOST.0 * share);
    let late = Amount::Fading { from, to, mean: priors::DAMAGE_MEAN.0 * share };
    log_sum([late.log_density(off, sd), late.log_density(-off, sd)]) - std::f64::consts::LN_2
}

/// Edges the wheel has and no cycle showed.
pub(super) fn edges_lost(cam: &Cam, measured: &CamPosition) -> usize {
    let expected = match cam.sensor {
        Sensor::Hall => cam.wheel.square_edges(cam.edge).len(),
        Sensor::Reluctance => cam.wheel.zero_crossings(cam.edge).len(),
    };
    // A measurement without a list of edges says nothing about them.
    if measured.edges.is_empty() { 0 } else { expected.saturating_sub(measured.edges.len()) }
}

/// How far each edge lies off, after the common difference of rising and falling edges
/// (threshold, air gap) is taken out.
fn edge_offs(measured: &CamPosition) -> Vec<f64> {
    let (rising, falling) = kind_offs(measured);
    measured
        .edges
        .iter()
        .map(|edge| {
            let common = if edge.kind == EdgeKind::Rising { rising } else { falling };
            edge.off.0 - common.unwrap_or(0.0)
        })
        .collect()
}

/// Median offset of the rising and of the falling edges; absent with fewer than three.
pub(super) fn kind_offs(measured: &CamPosition) -> (Option<f64>, Option<f64>) {
    let median = |kind: EdgeKind| {
        let mut offs: Vec<f64> =
            measured.edges.iter().filter(|edge| edge.kind == kind).map(|edge| edge.off.0).collect();
        offs.sort_by(f64::total_cmp);
        (offs.len() >= 3).then(|| offs[offs.len() / 2])
    };
    (median(EdgeKind::Rising), median(EdgeKind::Falling))
}
