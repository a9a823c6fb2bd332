//! Which slot is each edge? A search for the smoothest speed.
//!
//! For every step from edge to edge, log(step in degrees / time) is the log of the speed, which
//! changes smoothly on a real engine. A path assigns each edge a mark of the pattern; its cost is how
//! rough the speed has to be, plus a price for every tooth missed and every edge that is no tooth.
//! The cheapest path is found by dynamic programming over (edge, mark): the Viterbi search of a
//! hidden-Markov model, with the last speed kept along each survivor. Two survivors are kept per state, the best that
//! came by a plain step and the best that came any other way: with one alone, a path that passed over an edge where the
//! engine picked up speed can crowd out the plain one and then find going on passing edges over cheaper than going back.
//!
//! Roughness is charged as the negative log of a Student-t density, so that one bad patch costs what it is
//! worth and no more.

use super::pattern::Pattern;
use crate::edges::Edge;

/// How fast the log of the speed may change, per degree. A ripple of 25 % peak to peak at third order
/// has an rms slope of 0.125 · 3 / √2 per radian = 0.0046 per degree; second order at
/// 50 % has 0.0062 (docs/sources.md, "Cranking motion" gives ±10 to ±25 %).
const RIPPLE_PER_DEGREE: f64 = 0.006;
/// Scatter of a step's log from tooth position and edge timing: 0.3° on a 6° step, as seen beside the
/// gap of real reluctance wheels (captures README: 0.33 to 0.39°).
const PITCH_SCATTER: f64 = 0.05;
/// Degrees of freedom of the Student-t roughness: heavy tails, for the patches that are not as modelled.
const TAIL: f64 = 4.0;
/// Price of a tooth that left no edge, in nats: one in fifty is a bad wheel (judgement).
const MISSED_PRICE: f64 = 4.0;
/// Price of an edge that is no tooth, in nats (judgement, as above).
const EXTRA_PRICE: f64 = 4.0;
/// Price of starting afresh, in nats: dearer than the three teeth a dropout commonly takes.
const BREAK_PRICE: f64 = 18.0;
/// Most teeth bridged in one step.
const MOST_MISSED: usize = 5;
/// Most edges passed over in one step.
const MOST_EXTRA: usize = 4;
/// A crank slower than this between two teeth has stopped, in degrees per second (20 rpm).
const SLOWEST: f64 = 120.0;
/// A crank faster than this between two teeth is noise, in degrees per second (15,000 rpm).
const FASTEST: f64 = 90_000.0;

/// One edge that was given a mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Assigned {
    /// Index of the edge.
    pub edge: usize,
    /// Mark of the pattern.
    pub mark: usize,
    /// Marks further than the assigned edge before it; 1 is the next tooth, 0 the first of a stretch.
    pub advance: usize,
    /// Edges passed over since the one before.
    pub skipped: usize,
    /// Roughness cost of the step that led here, in nats.
    pub rough: f64,
}

/// Where the survivor of a state came from.
#[derive(Debug, Clone, Copy)]
struct Step {
    /// 0 for a fresh start.
    advance: u8,
    /// Edges back, at least 1; for a fresh start it is not used.
    back: u8,
    /// Which survivor of the state it came from.
    way: u8,
}

/// Ways into a state: by a plain step (or a fresh start), or with teeth missed or edges passed over.
const WAYS: usize = 2;

/// The survivors of one state.
type State = [Survivor; WAYS];

/// The cheaper survivor of a state and which it is.
fn cheaper(state: &State) -> (usize, &Survivor) {
    if state[1].cost < state[0].cost { (1, &state[1]) } else { (0, &state[0]) }
}

/// A survivor: the cheapest path that ends with this edge at this mark.
#[derive(Debug, Clone, Copy)]
struct Survivor {
    cost: f64,
    /// Log speed and length of its last step; `None` right after a start.
    last: Option<(f64, f64)>,
    rough: f32,
    step: Step,
}

const NOWHERE: Survivor = Survivor {
    cost: f64::INFINITY,
    last: None,
    rough: 0.0,
    step: Step { advance: 0, back: 0, way: 0 },
};

/// Roughness of a change of log speed between steps of two lengths, in nats.
pub(super) fn roughness(change: f64, length_before: f64, length: f64) -> f64 {
    let apart = length_before.midpoint(length);
    let sd = PITCH_SCATTER.hypot(RIPPLE_PER_DEGREE * apart);
    let z = change / sd;
    0.5 * (TAIL + 1.0) * (z * z / TAIL).ln_1p()
}

/// Finds the cheapest path through all edges and splits it where it started afresh.
/// Stretches come in order of time; edges that no stretch holds fitted nothing.
pub(super) fn identify(edges: &[Edge], pattern: &Pattern) -> Vec<Vec<Assigned>> {
    let table = survivors(edges, pattern, true);
    trace_back(&table, pattern.len())
}

/// The search. With `may_break` a path may start afresh at any edge; without, only within the first few.
fn survivors(edges: &[Edge], pattern: &Pattern, may_break: bool) -> Vec<State> {
    let marks = pattern.len();
    let mut table = vec![[NOWHERE; WAYS]; edges.len() * marks];
    let mut cheapest_before = 0.0;
    for (i, edge) in edges.iter().enumerate() {
        let (done, rest) = table.split_at_mut(i * marks);
        let row = &mut rest[..marks];
        let mut cheapest = f64::INFINITY;
        for (mark, state) in row.iter_mut().enumerate() {
            if pattern.kinds[mark] != edge.kind {
                continue;
            }
            if may_break || i <= MOST_EXTRA {
                state[0].cost = match i {
                    0 => 0.0,
                    _ if may_break => cheapest_before + BREAK_PRICE,
                    _ => i as f64 * EXTRA_PRICE,
                };
            }
            for back in 1..=(MOST_EXTRA + 1).min(i) {
                let took = (edge.at - edges[i - back].at).0;
                relax(state, &done[(i - back) * marks..], pattern, mark, back, took);
            }
            cheapest = cheapest.min(cheaper(state).1.cost);
        }
        // An edge that fits nothing may also be passed over before a fresh start.
        cheapest_before = cheapest.min(cheapest_before + EXTRA_PRICE);
    }
    table
}

/// Improves one state by the steps that reach it from an earlier edge.
fn relax(
    state: &mut State,
    from_row: &[State],
    pattern: &Pattern,
    mark: usize,
    back: usize,
    took: f64,
) {
    let marks = pattern.len();
    for advance in 1..=MOST_MISSED + 1 {
        let from_mark = mark_before(mark, advance, marks);
        let length = pattern.advance(from_mark, advance);
        let speed = length / took;
        if !(SLOWEST..FASTEST).contains(&speed) {
            continue;
        }
        let log_speed = speed.ln();
        let prices = MISSED_PRICE * (advance - 1) as f64 + EXTRA_PRICE * (back - 1) as f64;
        let into = &mut state[usize::from(advance + back > 2)];
        for (way, from) in from_row[from_mark].iter().enumerate() {
            if from.cost + prices >= into.cost {
                continue;
            }
            let rough = from.last.map_or(0.0, |(log_before, length_before)| {
                roughness(log_speed - log_before, length_before, length)
            });
            let cost = from.cost + rough + prices;
            if cost < into.cost {
                *into = Survivor {
                    cost,
                    last: Some((log_speed, length)),
                    rough: rough as f32,
                    step: Step { advance: advance as u8, back: back as u8, way: way as u8 },
                };
            }
        }
    }
}

/// The mark `advance` marks before `mark`.
fn mark_before(mark: usize, advance: usize, marks: usize) -> usize {
    (mark + marks * (advance / marks + 1) - advance) % marks
}

/// Follows the cheapest path back from its end, one list per unbroken stretch.
fn trace_back(table: &[State], marks: usize) -> Vec<Vec<Assigned>> {
    let rows = table.len() / marks;
    let cost = |row: usize, mark: usize| cheaper(&table[row * marks + mark]).1.cost;
    let cheapest_in =
        |row: usize| (0..marks).min_by(|&a, &b| cost(row, a).total_cmp(&cost(row, b))).unwrap_or(0);
    // The end may be followed by edges that fit nothing.
    let total = |row: usize| cost(row, cheapest_in(row)) + EXTRA_PRICE * (rows - 1 - row) as f64;
    let mut stretches: Vec<Vec<Assigned>> = Vec::new();
    let Some(mut row) = (0..rows).min_by(|&a, &b| total(a).total_cmp(&total(b))) else {
        return stretches;
    };
    let mut stretch: Vec<Assigned> = Vec::new();
    let mut mark = cheapest_in(row);
    let (mut way, _) = cheaper(&table[row * marks + mark]);
    loop {
        let survivor = &table[row * marks + mark][way];
        if !survivor.cost.is_finite() {
            break;
        }
        let advance = usize::from(survivor.step.advance);
        let back = usize::from(survivor.step.back);
        stretch.push(Assigned {
            edge: row,
            mark,
            advance,
            skipped: back.saturating_sub(1),
            rough: f64::from(survivor.rough),
        });
        if advance > 0 {
            mark = mark_before(mark, advance, marks);
            way = usize::from(survivor.step.way);
            row -= back;
            continue;
        }
        stretch.reverse();
        stretches.push(std::mem::take(&mut stretch));
        let Some((before, its_mark)) = before_break(table, marks, row) else { break };
        (row, mark) = (before, its_mark);
        way = cheaper(&table[row * marks + mark]).0;
    }
    stretches.reverse();
    stretches
}

/// The end of the path that a fresh start at `row` followed, passing over edges that fitted nothing.
fn before_break(table: &[State], marks: usize, row: usize) -> Option<(usize, usize)> {
    let cost = |row: usize, mark: usize| cheaper(&table[row * marks + mark]).1.cost;
    (0..row)
        .rev()
        // Passing over more edges than this costs more than another fresh start.
        .take(64)
        .flat_map(|before| (0..marks).map(move |mark| (before, mark)))
        .min_by(|&(row_a, mark_a), &(row_b, mark_b)| {
            let passed = |before: usize| EXTRA_PRICE * (row - 1 - before) as f64;
            (cost(row_a, mark_a) + passed(row_a)).total_cmp(&(cost(row_b, mark_b) + passed(row_b)))
        })
}

/// Probability that the edge in the middle of `edges` stands at `mark`, against every other mark, each
/// with the best path of its own: the cheapest way in, read forwards, joined to the cheapest way
/// out, read backwards. Costs are negative logs, so the odds follow from their differences.
pub(super) fn confidence(edges: &[Edge], pattern: &Pattern, middle: usize, mark: usize) -> f64 {
    let marks = pattern.len();
    if marks == 1 {
        return 1.0;
    }
    let forwards = survivors(&edges[..=middle], pattern, false);
    let (mirrored_edges, mirrored) = mirror(&edges[middle..], pattern);
    let backwards = survivors(&mirrored_edges, &mirrored, false);
    let costs: Vec<f64> = (0..marks)
        .map(|mark| {
            let (_, into) = cheaper(&forwards[middle * marks + mark]);
            let last_row = (mirrored_edges.len() - 1) * marks;
            let (_, out) = cheaper(&backwards[last_row + (marks - 1 - mark)]);
            let join = match (into.last, out.last) {
                (Some((before, length_before)), Some((after, length))) => {
                    roughness(after - before, length_before, length)
                }
                _ => 0.0,
            };
            into.cost + out.cost + join
        })
        .collect();
    let best = costs.iter().copied().fold(f64::INFINITY, f64::min);
    if !best.is_finite() {
        return 0.0;
    }
    let total: f64 = costs.iter().map(|cost| (best - cost).exp()).sum();
    (best - costs[mark]).exp() / total
}

/// Edges and pattern as they would be if time ran backwards.
fn mirror(edges: &[Edge], pattern: &Pattern) -> (Vec<Edge>, Pattern) {
    let last = edges[edges.len() - 1].at;
    let reversed =
        edges.iter().rev().map(|edge| Edge { at: last - edge.at, kind: edge.kind }).collect();
    let angles = pattern.angles.iter().rev().map(|angle| pattern.period - angle).collect();
    let kinds = pattern.kinds.iter().rev().copied().collect();
    (reversed, Pattern { angles, kinds, period: pattern.period })
}
