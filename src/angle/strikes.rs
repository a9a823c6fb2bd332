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
/// length: at least half of them do, the others lie anywhere.
const POINTS: f64 = 0.5;
/// They point to a place of the turn and to none of the cycle where the second length is less than
/// this share of the first.
const TURN_ALONE: f64 = 0.5;
/// Seconds from mark to mark: of turns at 600 rpm up to cycles at 45.
const PERIOD_S: (f64, f64) = (0.1, 2.7);
/// Marks whose distances are taken, and how many of each: a lead of noise has no end of them.
const MOST_MARKS: usize = 4000;
const MOST_AHEAD: usize = 64;
/// Distances of marks are alike within this share.
const ALIKE: f64 = 0.06;
/// The shortest distance that comes nearly as often as the commonest is the period; the others are
/// its multiples.
const AS_OFTEN: f64 = 0.7;
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

/// Time from mark to mark: the distance between two of them, neighbours or not, that comes most
/// often. Bursts and strikes too many do not count.
pub(super) fn period(at: &[Seconds]) -> Option<f64> {
    let mut apart: Vec<f64> = Vec::new();
    for (index, first) in at.iter().enumerate().take(MOST_MARKS) {
        let later = at[index + 1..].iter().map(|second| (*second - *first).0);
        let later = later.skip_while(|d| *d < PERIOD_S.0).take_while(|d| *d <= PERIOD_S.1);
        apart.extend(later.take(MOST_AHEAD));
    }
    apart.sort_by(f64::total_cmp);
    let alike = |one: f64| {
        let from = apart.partition_point(|d| *d < one * (1.0 - ALIKE));
        let to = apart.partition_point(|d| *d <= one * (1.0 + ALIKE));
        &apart[from..to]
    };
    let most = apart.iter().map(|&one| alike(one).len()).max()?;
    if most + 1 < LEAST {
        return None;
    }
    let often = |one: &&f64| alike(**one).len() as f64 >= AS_OFTEN * most as f64;
    crate::stats::median(alike(*apart.iter().find(often)?))
}

/// The place of the cycle, or of the turn where they come every turn, that most of some places
/// point to: whether it is of the turn, and the place in cycles. `None` where they point nowhere.
#[must_use]
pub fn pointed_at(cycles: &[f64]) -> Option<(bool, f64)> {
    let direction = |times: f64| -> Complex64 {
        let sum: Complex64 =
            cycles.iter().map(|at| Complex64::from_polar(1.0, TAU * times * at)).sum();
        sum / cycles.len().max(1) as f64
    };
    let (cycle, turn) = (direction(1.0), direction(2.0));
    let every_turn = cycle.norm() < TURN_ALONE * turn.norm();
    let (mean, per_cycle) = if every_turn { (turn, 2.0) } else { (cycle, 1.0) };
    (mean.norm() >= POINTS).then(|| (every_turn, mean.arg() / TAU / per_cycle))
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
        let (every_turn, place) =
            pointed_at(&places.iter().map(|(_, at)| *at).collect::<Vec<f64>>())?;
        let per_cycle = if every_turn { 2.0 } else { 1.0 };
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strikes_too_many_do_not_change_the_period() {
        // A spark every 0.53 s, each a burst of three, and five pulses that belong nowhere.
        let mut at: Vec<f64> = (0..9)
            .flat_map(|event| {
                (0..3).map(move |strike| 0.53 * f64::from(event) + 0.004 * f64::from(strike))
            })
            .chain([0.069, 1.03, 2.2, 3.41, 3.75])
            .collect();
        at.sort_by(f64::total_cmp);
        let at: Vec<Seconds> = at.into_iter().map(Seconds).collect();
        let found = period(&at).expect("a period");
        assert!((found - 0.53).abs() < 0.01, "{found}");
        let cycles = |at: Seconds| Some(at.0 / 0.53);
        let strikes = Strikes::find(&at, &cycles).expect("marks");
        assert!(!strikes.every_turn && strikes.at.len() >= 8, "{strikes:?}");
    }

    #[test]
    fn a_spark_every_turn_points_to_two_places_of_the_cycle() {
        let turns: Vec<f64> = (0..10).map(|turn| 0.1 + 0.5 * f64::from(turn)).collect();
        assert_eq!(pointed_at(&turns).map(|(every_turn, _)| every_turn), Some(true));
        let cycles: Vec<f64> = (0..10).map(|cycle| 0.1 + f64::from(cycle)).collect();
        let (every_turn, place) = pointed_at(&cycles).expect("a place");
        assert!(!every_turn && (place - 0.1).abs() < 1e-9);
        assert_eq!(pointed_at(&[0.0, 0.31, 0.55, 0.8, 0.17]), None);
    }
}
