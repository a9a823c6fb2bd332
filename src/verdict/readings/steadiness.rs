//! What cycle scatter and drift with speed say, apart from the position.
//!
//! A skip is steady; a slack chain and a phaser off its lock may scatter and move with speed. May:
//! half of them do not show it, so steadiness never rules them out. Which half is one coin for
//! scatter and drift together, and for all cams of a chain.

use super::errors;
use super::wheel_edges::odd_share;
use crate::cam::{CamPosition, CyclePosition};
use crate::stats::{log_sum, standard_deviation, upper_median};
use crate::units::CrankDelta;
use crate::verdict::density::log_normal;
use crate::wheel::EdgeKind;

/// Scatter finer than sampling resolves, in crank degrees, says no more than fine.
const FINEST: f64 = 0.05;

/// How a cam may stand from cycle to cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Steadiness {
    /// Nothing lets it move.
    Steady,
    /// Hangs on a slack chain.
    SlackChain,
    /// Hangs on a phaser that is not locked.
    UnlockedPhaser,
}

/// Log densities of scatter and drift of one cam, together: what moves a cam from cycle to cycle
/// moves it with speed as well.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Motion {
    /// Of a cam that should stand still.
    pub steady: f64,
    /// On a slack chain that swings. Whether it does belongs to the chain: all that hangs on it
    /// swings, or nothing does.
    pub swinging: f64,
    /// On a phaser that is not locked: half of them wander.
    pub unlocked: f64,
    /// Of a reading that is made of noise.
    pub outlier: f64,
    /// Of a wheel that is another than described: steady, whatever part of its edges was taken for
    /// the described one's.
    pub foreign: f64,
}

impl Motion {
    pub(crate) fn of(cam: &CamPosition) -> Motion {
        let still = log_motion(cam, errors::STEADY_SCATTER.0, errors::STEADY_DRIFT_SD.0);
        let swings = log_motion(cam, errors::WORN_SCATTER.0, errors::MOVING_DRIFT_SD.0);
        let wanders = log_motion(cam, errors::UNLOCKED_SCATTER.0, errors::MOVING_DRIFT_SD.0);
        Motion {
            steady: either(or_odd(cam, errors::STEADY_YET_SCATTERED), still, wanders),
            swinging: either(odd_share(cam), swings, wanders),
            unlocked: either(or_odd(cam, errors::MOVING_SHOWS), still, wanders),
            outlier: log_motion_of_noise(cam),
            foreign: still,
        }
    }
}

/// Log density of scatter and drift of a cam whose lead a steady time makes so late, crank degrees: the
/// faster the crank, the later.
pub(super) fn log_motion_delayed(cam: &CamPosition, late: f64) -> f64 {
    let put_right = without_delay(cam, late);
    let steady = log_motion(&put_right, errors::STEADY_SCATTER.0, errors::STEADY_DRIFT_SD.0)
        + log_closer(cam, &put_right);
    let wanders = log_motion(cam, errors::UNLOCKED_SCATTER.0, errors::MOVING_DRIFT_SD.0);
    either(or_odd(cam, errors::STEADY_YET_SCATTERED), steady, wanders)
}

/// The log density of one of two, the other with this share.
fn either(share: f64, one: f64, other: f64) -> f64 {
    log_sum([(1.0 - share).ln() + one, share.ln() + other])
}

/// A share of those that wander, with what odd edges add to it: a noise edge that is taken for one of
/// the wheel's moves a cycle as an unlocked phaser does. A lead with as many odd edges as good ones
/// scatters half of the time, whatever its cam does.
fn or_odd(cam: &CamPosition, share: f64) -> f64 {
    share + (1.0 - share) * odd_share(cam)
}

/// The cycles where the cam stood if a steady time makes its lead this late, or the crank's lead makes
/// it early: where the crank turned slower beside its edges, as in the first cycle, that is fewer
/// degrees. Where that was not seen, by the speeds of the whole cycles.
fn without_delay(cam: &CamPosition, late: f64) -> CamPosition {
    let mut right = cam.clone();
    let Some(usual) = CyclePosition::mean_rpm(&cam.cycles).filter(|usual| usual.0 > 0.0) else {
        return right;
    };
    let mut moved = false;
    for cycle in &mut right.cycles {
        // Early is what the crank's lead makes, which shows where the crank will have turned to.
        let seen = if late < 0.0 { cycle.faster_after } else { cycle.faster };
        let faster = seen.map_or(cycle.rpm.0 - usual.0, |faster| faster.0);
        cycle.off.0 -= late * faster / usual.0;
        moved |= faster != 0.0;
    }
    // At one speed there is nothing to take out.
    if moved {
        let offs: Vec<f64> = right.cycles.iter().map(|cycle| cycle.off.0).collect();
        right.cycle_sd = standard_deviation(&offs).map(CrankDelta);
    }
    right
}

/// The same of a reading that is worthless: scatter of some degrees, give or take a factor of
/// three; drift as wide.
fn log_motion_of_noise(cam: &CamPosition) -> f64 {
    /// Scatter of worthless readings in crank degrees, and the spread of its logarithm: noise falls
    /// anywhere within the reach of an edge, some degrees, so that a worthless reading seldom
    /// repeats (judgement).
    const SCATTER: (f64, f64) = (3.0, 1.0);
    let scatter = log_scatter(cam).map_or(0.0, |log| log_normal(log - SCATTER.0.ln(), SCATTER.1));
    let drift =
        drift(cam).map_or(0.0, |(drift, error)| log_normal(drift, error.hypot(3.0 * SCATTER.0)));
    scatter + drift
}

/// What it says for a change of the cycles that they stand closer together with it.
///
/// [`log_motion`] is the density of the log of their scatter. That of the cycles themselves is it
/// over the ways in which n of them scatter as much about their mean: a sphere of n − 2 dimensions
/// with the scatter for its radius, times the scatter, to be per log. What is held against each
/// other is the same cycles before and after.
fn log_closer(before: &CamPosition, after: &CamPosition) -> f64 {
    log_scatter(before)
        .zip(log_scatter(after))
        .map_or(0.0, |(first, then)| (before.cycles.len() as f64 - 1.0) * (first - then))
}

/// Log of the scatter of a cam from cycle to cycle; absent of a single one.
fn log_scatter(cam: &CamPosition) -> Option<f64> {
    cam.cycle_sd.map(|sd| sd.0.max(FINEST).ln())
}

/// Log density of the scatter of a cam whose scatter has this median, and of a drift with this
/// standard deviation.
///
/// The logarithm of a standard deviation from n cycles has itself a standard deviation of about
/// 1/√(2(n − 1)) (delta method on χ²), added to the spread between engines.
fn log_motion(cam: &CamPosition, median: f64, drift_sd: f64) -> f64 {
    let scatter = log_scatter(cam).map_or(0.0, |log| {
        let cycles = cam.cycles.len().max(2) as f64;
        let spread = errors::SCATTER_LOG_SD.hypot((2.0 * (cycles - 1.0)).sqrt().recip());
        log_normal(log - median.ln(), spread)
    });
    let drift = drift(cam).map_or(0.0, |(drift, error)| log_normal(drift, error.hypot(drift_sd)));
    scatter + drift
}

/// From the slowest to the fastest cycle, and the mean, in revolutions per minute.
fn speed_range(cam: &CamPosition) -> Option<(f64, f64)> {
    let rpms = || cam.cycles.iter().map(|cycle| cycle.rpm.0);
    let mean = CyclePosition::mean_rpm(&cam.cycles)?.0;
    let range = rpms().fold(f64::NEG_INFINITY, f64::max) - rpms().fold(f64::INFINITY, f64::min);
    (mean > 0.0).then_some((range, mean))
}

/// Change of position from the slowest to the fastest cycle by least squares, and its standard
/// error, in crank degrees; absent under five cycles or at one speed.
pub(crate) fn drift(cam: &CamPosition) -> Option<(f64, f64)> {
    /// Fewer leave too little to tell a slope from its error.
    const LEAST_CYCLES: usize = 5;
    /// Speeds closer than this are one speed (rpm).
    const ONE_SPEED: f64 = 5.0;
    let n = cam.cycles.len();
    if n < LEAST_CYCLES {
        return None;
    }
    let (range, mean) = speed_range(cam)?;
    if range < ONE_SPEED {
        return None;
    }
    let spread: f64 = cam.cycles.iter().map(|cycle| (cycle.rpm.0 - mean).powi(2)).sum();
    let centre = cam.cycles.iter().map(|cycle| cycle.off.0).sum::<f64>() / n as f64;
    let slope: f64 =
        cam.cycles.iter().map(|cycle| (cycle.rpm.0 - mean) * cycle.off.0).sum::<f64>() / spread;
    let left = |off: f64, rpm: f64| off - centre - slope * (rpm - mean);
    let rest: f64 = cam.cycles.iter().map(|cycle| left(cycle.off.0, cycle.rpm.0).powi(2)).sum();
    let error = (rest / (n - 2) as f64 / spread).sqrt();
    let found = (slope * range, error * range);
    (found.0.is_finite() && found.1.is_finite()).then_some(found)
}

/// Median offset of the rising and of the falling edges; absent with fewer than three.
pub(crate) fn kind_offs(measured: &CamPosition) -> (Option<f64>, Option<f64>) {
    let median = |kind: EdgeKind| {
        let mut offs: Vec<f64> =
            measured.edges.iter().filter(|edge| edge.kind == kind).map(|edge| edge.off.0).collect();
        if offs.len() < 3 { None } else { upper_median(&mut offs) }
    };
    (median(EdgeKind::Rising), median(EdgeKind::Falling))
}
