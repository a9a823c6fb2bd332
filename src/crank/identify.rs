//! Which slot is each edge?
//!
//! For every step from edge to edge, log(step in degrees / time) is the log of the speed, which
//! changes smoothly on a real engine. A path gives each edge a mark of the pattern; its cost is how
//! rough the speed has to be, plus a price for every tooth missed and every edge that is no tooth.
//! The cheapest path is searched for, and where its own changes of speed show edges that jitter,
//! once more with that allowed for: else two edges that come late and early look like a tooth
//! missed and an extra edge.

use std::ops::Range;

use super::habits::{Change, Habits, Stride};
use super::marks::Marks;
use super::noise::is_random;
use super::parts::{LONG, search};
use super::pattern::Pattern;
use super::picked::Picked;
use super::search::{BREAK_PRICE, EXTRA_PRICE, Search};
use super::stretch::{Stretch, Tooth};
use crate::edges::Edge;

/// Most steps that jitter is estimated from; it is the same all along a capture.
const MOST_CHANGES: usize = 4000;
/// Times the search is repeated at most. The first path hides jitter as missed and extra teeth, so
/// that the second may show more of it.
const MOST_ROUNDS: usize = 3;
/// A wheel whose common step is longer than this, in crank degrees, is read with stricter habits as
/// well: over long steps the usual ripple leaves room for wrong readings of smooth speeds.
const COARSE: f64 = 20.0;
/// Where a path is troubled, scatters of an edge that it is read with from the beginning, in crank
/// degrees. The first path may hide them as missed and extra teeth, which the estimate leaves out,
/// so that it finds too little of them or none.
const JITTERS: [f64; 2] = [0.5, 1.2];
/// A path whose teeth cost more than this on average, in nats, is not as was expected: changes that
/// are as expected cost half a nat.
const TROUBLED: f64 = 0.5;
/// Neither is one whose longest stretch holds less than this share of the edges.
const WHOLE: f64 = 0.8;

/// Edges that the habits of a long train are chosen by: those around the longest stretch that the
/// usual ones find. Engine and sensor are the same all along, and each habit tried is a search.
const TRIED_ON: usize = LONG / 2;

/// The stretches of the likeliest path, in order of time, and the habits it was read with. Edges
/// that no stretch holds fitted nothing.
pub(super) fn identify(marks: &Marks) -> (Vec<Stretch>, Habits) {
    if marks.edges.len() < LONG {
        return identify_by_all(marks);
    }
    let usual = search(marks, Habits::USUAL);
    let Some(longest) = usual.iter().max_by_key(|stretch| stretch.teeth.len()) else {
        return (usual, Habits::USUAL);
    };
    let middle = longest.teeth[longest.teeth.len() / 2].edge as usize;
    let from = middle.saturating_sub(TRIED_ON / 2).min(marks.edges.len() - TRIED_ON);
    let edges = marks.edges.part(from..from + TRIED_ON);
    let part = Marks { edges, pattern: marks.pattern.clone() };
    let found = identify_by_all(&part);
    let seen = found.0.iter().map(|stretch| stretch.teeth.len()).sum();
    // Noise has no habits: it is left as it is, to be refused.
    if found.1 == Habits::USUAL || is_random(&part, surprise(&found, &part), seen) {
        return (usual, Habits::USUAL);
    }
    // The one search is not held beside the other.
    drop(usual);
    (search(marks, found.1), found.1)
}

/// The same with every habit tried on all edges.
fn identify_by_all(marks: &Marks) -> (Vec<Stretch>, Habits) {
    let most = marks.most_jitter();
    let usual = settle(marks, Habits::USUAL, most);
    let mut others: Vec<Habits> = Vec::new();
    if marks.pattern.len() > 1 && marks.pattern.common_step() > COARSE {
        others.extend([Habits::CALM, Habits::LOSSY]);
    }
    if troubled(&usual.0, marks) {
        others.push(Habits::WILD);
        others.extend(JITTERS.into_iter().filter(|&jitter| jitter <= most).map(Habits::jittery));
    }
    let mut best = usual;
    let mut least = if others.is_empty() { 0.0 } else { surprise(&best, marks) };
    for habits in others {
        let other = settle(marks, habits, most);
        let surprise = surprise(&other, marks);
        if surprise < least {
            (best, least) = (other, surprise);
        }
    }
    best
}

fn troubled(stretches: &[Stretch], marks: &Marks) -> bool {
    stretches.iter().max_by_key(|stretch| stretch.teeth.len()).is_none_or(|longest| {
        let teeth = longest.teeth.len() as f64;
        longest.nats() > TROUBLED * teeth || teeth < WHOLE * marks.edges.len() as f64
    })
}

/// Negative log density of all edges under a path and its habits, less a constant.
fn surprise((stretches, habits): &(Vec<Stretch>, Habits), marks: &Marks) -> f64 {
    let seen: usize = stretches.iter().map(|stretch| stretch.teeth.len()).sum();
    let missed: usize = stretches.iter().map(Stretch::missed).sum();
    stretches.iter().map(|stretch| stretch.surprise(marks, *habits)).sum::<f64>()
        + habits.losses(missed, seen)
        + EXTRA_PRICE * (marks.edges.len() - seen) as f64
        + BREAK_PRICE * stretches.len() as f64
}

/// Searches, and once more with the jitter that the path shows, of `most` crank degrees at most.
fn settle(marks: &Marks, mut habits: Habits, most: f64) -> (Vec<Stretch>, Habits) {
    let mut stretches = search(marks, habits);
    for _ in 1..MOST_ROUNDS {
        let longest = stretches.iter().max_by_key(|stretch| stretch.teeth.len());
        let teeth = longest.map_or(&[][..], |stretch| &stretch.teeth);
        let spare = teeth.len().saturating_sub(MOST_CHANGES) / 2;
        // Begun anew wherever the path slips: what comes with a slip may be its fault.
        let steps: Vec<Option<(Stride, f64)>> = teeth[spare..teeth.len() - spare]
            .windows(2)
            .map(|pair| {
                let whole = !pair[1].slipped();
                whole.then(|| marks.step(&pair[0], &pair[1]))
            })
            .collect();
        let found = habits.with_jitter_of(&steps, most);
        if found.jitter <= habits.jitter {
            break;
        }
        habits = found;
        stretches = search(marks, habits);
    }
    (stretches, habits)
}

/// The two steps of three teeth.
pub(super) fn change(three: &[Tooth], marks: &Marks) -> Change {
    (marks.stride(&three[0], &three[1]), marks.stride(&three[1], &three[2]))
}

/// Probability that the edge in the middle of `edges` stands at `mark`, against every other mark,
/// each with the best path of its own: the cheapest way in, read forwards, joined to the cheapest
/// way out, read backwards. Costs are negative logs, so the odds follow from their differences.
pub(super) fn confidence(
    edges: &Picked,
    pattern: &Pattern,
    habits: Habits,
    middle: usize,
    mark: usize,
) -> f64 {
    if pattern.len() == 1 {
        return 1.0;
    }
    odds_along(edges, pattern, habits, middle..middle + 1)[0][mark]
}

/// The same of each of some edges, for every mark.
pub(super) fn odds_along(
    edges: &Picked,
    pattern: &Pattern,
    habits: Habits,
    wanted: Range<usize>,
) -> Vec<Vec<f64>> {
    let (count, end) = (pattern.len(), edges.len());
    let around = Marks { edges: edges.part(0..end), pattern: pattern.clone() };
    // Up to the last of them, and back to the first.
    let upto = Marks { edges: edges.part(0..wanted.end), pattern: pattern.clone() };
    let into = Search::new(&upto, habits, false).rows(wanted.clone());
    let from = mirror(&edges.part(wanted.start..end), pattern);
    let out = Search::new(&from, habits, false).rows(end - wanted.end..end - wanted.start);
    wanted
        .zip(into.iter().zip(out.iter().rev()))
        .map(|(edge, (into, out))| {
            let log_mean = around.log_mean_speed(edge);
            let cost = |mark: usize| {
                let ((into, before), (out, after)) = (into[mark], out[count - 1 - mark]);
                into + out + habits.meet(before, after, log_mean)
            };
            let costs: Vec<f64> = (0..count).map(cost).collect();
            let best = costs.iter().copied().fold(f64::INFINITY, f64::min);
            if !best.is_finite() {
                return vec![0.0; count];
            }
            let total: f64 = costs.iter().map(|cost| (best - cost).exp()).sum();
            costs.iter().map(|cost| (best - cost).exp() / total).collect()
        })
        .collect()
}

/// Probability that the last of the edges stands at `mark`, by these alone.
pub(super) fn odds_of_last(marks: &Marks, habits: Habits, mark: usize) -> f64 {
    let row = last_row(marks, habits);
    let best = row.iter().map(|(cost, _)| *cost).fold(f64::INFINITY, f64::min);
    if !best.is_finite() {
        return 0.0;
    }
    let total: f64 = row.iter().map(|(cost, _)| (best - cost).exp()).sum();
    (best - row[mark].0).exp() / total
}

/// Probability that the first of the edges stands at `mark`, by these alone.
pub(super) fn odds_of_first(marks: &Marks, habits: Habits, mark: usize) -> f64 {
    let mirrored = mirror(&marks.edges, &marks.pattern);
    odds_of_last(&mirrored, habits, marks.pattern.len() - 1 - mark)
}

/// Cost and last step of the cheapest path to each mark at the last edge.
fn last_row(marks: &Marks, habits: Habits) -> Vec<(f64, Stride)> {
    let mut search = Search::new(marks, habits, false);
    search.run();
    search.last_row()
}

/// Edges and pattern as they would be if time ran backwards.
fn mirror(edges: &Picked, pattern: &Pattern) -> Marks<'static> {
    let last = edges[edges.len() - 1].at;
    let reversed: Vec<Edge> =
        edges.iter().rev().map(|edge| Edge { at: last - edge.at, kind: edge.kind }).collect();
    let angles = pattern.angles.iter().rev().map(|angle| pattern.period - angle).collect();
    let kinds = pattern.kinds.iter().rev().copied().collect();
    let pattern = Pattern { angles, kinds, period: pattern.period };
    Marks { edges: reversed.into(), pattern }
}
