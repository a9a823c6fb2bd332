//! Which parts of a capture the starter turned the engine in: it may have been let go and pressed
//! again.

use super::series::{Series, moving_mean};

/// Seconds over which the level is averaged: some compressions, and less than anyone rests between
/// two attempts.
const LEVEL_S: f64 = 0.25;
/// The level counts as cranking from this share of the way from rest to cranking on.
const CRANKING: f64 = 0.4;
/// Seconds between two attempts; less is a compression of a slow engine, or a bad contact.
const APART_S: f64 = 0.4;
/// Shorter attempts hold no cycle.
const LEAST_S: f64 = 0.6;
/// Seconds after the starter engages that its inrush lasts.
const INRUSH_S: f64 = 0.25;
/// Levels closer together than this many times the ripple about them are one: the capture begins
/// and ends cranking.
const TWO_LEVELS: f64 = 1.5;

/// First and last + 1 value of each attempt.
pub(super) fn of(series: &Series) -> Vec<(usize, usize)> {
    let count = series.values.len();
    let steps = |seconds: f64| ((seconds / series.step()).round() as usize).max(1);
    let level = moving_mean(&series.values, steps(LEVEL_S));
    let mut sorted = level.clone();
    sorted.sort_by(f64::total_cmp);
    let rank = |share: f64| sorted[((count - 1) as f64 * share) as usize];
    let rest = sorted[0];
    // The inrush is over in a tenth of any capture worth reading.
    let cranking = rank(0.9);
    let ripple: Vec<f64> = series.values.iter().zip(&level).map(|(a, b)| (a - b).abs()).collect();
    let usual = crate::stats::median(&ripple).unwrap_or(0.0);
    if cranking - rest <= TWO_LEVELS * usual {
        return vec![(0, count)];
    }
    let limit = rest + CRANKING * (cranking - rest);
    let mut found: Vec<(usize, usize)> = Vec::new();
    let mut begins = None;
    for index in 0..=count {
        match (begins, level.get(index).is_some_and(|&value| value >= limit)) {
            (None, true) => begins = Some(index),
            (Some(from), false) => {
                begins = None;
                match found.last_mut() {
                    Some(last) if from < last.1 + steps(APART_S) => last.1 = index,
                    _ => found.push((from, index)),
                }
            }
            _ => {}
        }
    }
    found
        .into_iter()
        .map(|(from, to)| (if from == 0 { 0 } else { from + steps(INRUSH_S) }, to))
        .filter(|(from, to)| to.saturating_sub(*from) >= steps(LEAST_S))
        .collect()
}
