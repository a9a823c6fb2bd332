//! Marks of a lead freed of bursts, and of what does not fit.
//!
//! While cranking some systems strike several times per event; a coil that serves two cylinders
//! strikes every turn. The two are told apart by where in the cycle the strikes fall, not by their
//! number. One strike too many or too few costs itself and nothing else.

use std::f64::consts::TAU;

use rustfft::num_complex::Complex64;

use crate::units::{CYCLE_DEG, Seconds};

/// Strikes within this many crank degrees of the first are one event (common practice, no source:
/// several strikes while cranking last some 20 to 40°).
pub const BURST_DEG: f64 = 72.0;
/// Events point to one place of the cycle, or turn, when the mean of their directions has this
/// length.
const POINTS: f64 = 0.8;
/// An event farther from that place than this share of a cycle is a strike too many.
const ASTRAY: f64 = 0.06;
/// Fewest events that make a mark.
const LEAST: usize = 3;
/// Marks farther apart than this many times the usual are of two attempts.
const APART: f64 = 3.5;

/// Marks that fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Strikes {
    /// Time of the first strike of each event kept, and the cycles since the first, whole or half.
    pub at: Vec<(Seconds, f64)>,
    /// Whether it strikes every turn.
    pub every_turn: bool,
    /// Events that are due and are not there.
    pub missed: usize,
    /// Events that belong nowhere.
    pub extra: usize,
    /// Strikes that came in bursts with another.
    pub in_bursts: usize,
    /// Standard deviation of an event about its place, in crank degrees, as the compressions have
    /// it.
    pub scatter_deg: f64,
}

/// The first strike of each burst. `cycles` tells how far the engine has turned.
#[must_use]
pub fn without_bursts(at: &[Seconds], cycles: &dyn Fn(Seconds) -> Option<f64>) -> Vec<Seconds> {
    let mut kept: Vec<(Seconds, f64)> = Vec::new();
    for &strike in at {
        let Some(now) = cycles(strike) else { continue };
        if kept.last().is_none_or(|(_, first)| (now - first) * CYCLE_DEG >= BURST_DEG) {
            kept.push((strike, now));
        }
    }
    kept.into_iter().map(|(at, _)| at).collect()
}

/// Time from mark to mark, where most gaps are alike; bursts do not count.
pub(super) fn period(at: &[Seconds]) -> Option<f64> {
    let gaps: Vec<f64> = at.windows(2).map(|pair| (pair[1] - pair[0]).0).collect();
    let longest = gaps.iter().copied().fold(0.0, f64::max);
    // Gaps within a burst are a small part of those between bursts.
    let mut firsts: Vec<Seconds> = Vec::new();
    for &strike in at {
        if firsts.last().is_none_or(|last| (strike - *last).0 > 0.15 * longest) {
            firsts.push(strike);
        }
    }
    let gaps: Vec<f64> = firsts.windows(2).map(|pair| (pair[1] - pair[0]).0).collect();
    if gaps.len() + 1 < LEAST {
        return None;
    }
    crate::stats::median(&gaps)
}

/// Marks parted where the engine stood.
pub(super) fn runs(at: &[Seconds]) -> Vec<Vec<Seconds>> {
    let Some(usual) = period(at) else { return Vec::new() };
    let mut runs: Vec<Vec<Seconds>> = Vec::new();
    for &strike in at {
        match runs.last_mut() {
            Some(run) if (strike - run[run.len() - 1]).0 < APART * usual => run.push(strike),
            _ => runs.push(vec![strike]),
        }
    }
    runs
}

impl Strikes {
    /// Those that fit a place of the cycle, or of the turn. `None` where they point nowhere.
    pub(super) fn find(at: &[Seconds], cycles: &dyn Fn(Seconds) -> Option<f64>) -> Option<Strikes> {
        let events = without_bursts(at, cycles);
        let inside = at.iter().filter(|&&one| cycles(one).is_some()).count();
        let places: Vec<(Seconds, f64)> =
            events.into_iter().filter_map(|one| Some((one, cycles(one)?))).collect();
        if places.len() < LEAST {
            return None;
        }
        let direction = |times: f64| -> Complex64 {
            let sum: Complex64 =
                places.iter().map(|(_, at)| Complex64::from_polar(1.0, TAU * times * at)).sum();
            sum / places.len() as f64
        };
        let every_turn = direction(1.0).norm() < POINTS;
        let per_cycle = if every_turn { 2.0 } else { 1.0 };
        let mean = direction(per_cycle);
        if mean.norm() < POINTS {
            return None;
        }
        let place = mean.arg() / TAU / per_cycle;
        let whole = |at: f64| ((at - place) * per_cycle).round() / per_cycle;
        let off = |at: f64| at - place - whole(at);
        let mut kept: Vec<(Seconds, f64)> = Vec::new();
        let mut offs = Vec::new();
        for &(time, at) in places.iter().filter(|(_, at)| off(*at).abs() <= ASTRAY) {
            if kept.last().is_none_or(|(_, last)| whole(at) > *last) {
                kept.push((time, whole(at)));
                offs.push(off(at) * CYCLE_DEG);
            }
        }
        if kept.len() < LEAST {
            return None;
        }
        let first = kept[0].1;
        kept.iter_mut().for_each(|(_, at)| *at -= first);
        let due = (kept[kept.len() - 1].1 * per_cycle).round() as usize + 1;
        Some(Strikes {
            every_turn,
            missed: due.saturating_sub(kept.len()),
            extra: places.len() - kept.len(),
            in_bursts: inside - places.len(),
            scatter_deg: crate::stats::standard_deviation(&offs).unwrap_or(0.0),
            at: kept,
        })
    }

    /// The same where nothing but the marks tells how far the engine has turned: each is a cycle on
    /// from the last, or as many as fit. Whether they are cycles or turns is not known, and cycles
    /// are taken.
    pub(super) fn one_after_the_other(
        at: &[Seconds],
        roughly: &dyn Fn(Seconds) -> Option<f64>,
    ) -> Option<Strikes> {
        let events = without_bursts(at, roughly);
        if events.len() < LEAST {
            return None;
        }
        let gaps: Vec<f64> = events.windows(2).map(|pair| (pair[1] - pair[0]).0).collect();
        let usual = crate::stats::median(&gaps)?;
        let mut kept = vec![(events[0], 0.0)];
        let mut extra = 0;
        for &event in &events[1..] {
            let (last, cycles) = kept[kept.len() - 1];
            let more = ((event - last).0 / usual).round();
            if more < 1.0 {
                extra += 1;
                continue;
            }
            kept.push((event, cycles + more));
        }
        let missed = kept[kept.len() - 1].1 as usize + 1 - kept.len();
        let in_bursts = at.len() - events.len();
        Some(Strikes { at: kept, every_turn: false, missed, extra, in_bursts, scatter_deg: 0.0 })
    }
}
