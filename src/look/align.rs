//! Which mark of a pattern is each edge? A search for the smoothest speed that needs no fixed idea
//! of how smooth.
//!
//! As the decoder's own search (`crank::identify`), but made for patterns that are only supposed:
//! the next step is foretold by the last speed or by the last two, whichever fits, because a real
//! crank changes its speed 1.7-fold from one tooth to the next and keeps slowing for several
//! (measured on the recordings, a three-cylinder); and the scatter of the edges is measured first,
//! because one recording's teeth come within 0.1 % and another's within 15 %.

use super::displaced::with_displaced;
use crate::stats::median;

/// A pattern: places of its marks over one period, in slots, the first at 0.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Marks {
    /// Places, growing from 0.
    pub at: Vec<f64>,
    /// Slots after which it repeats.
    pub period: f64,
}

impl Marks {
    /// Slots from mark `from` to the mark `steps` further on.
    pub fn advance(&self, from: usize, steps: usize) -> f64 {
        let (to, count) = (from + steps, self.at.len());
        self.at[to % count] - self.at[from] + self.period * (to / count) as f64
    }
}

/// What the search may assume, and at what price in nats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Prices {
    /// Of the first mark passed without an edge, and of each further one beside it.
    pub missed: (f64, f64),
    /// Of an edge that is no mark.
    pub extra: f64,
    /// Most marks passed in one step.
    pub most_missed: usize,
}

/// For a pattern whose teeth are all there but for accidents: one in fifty (judgement, as in
/// `crank::identify`).
pub(super) const WHOLE: Prices = Prices { missed: (4.0, 3.0), extra: 4.0, most_missed: 4 };
/// For a pattern whose sensor or conditioner loses teeth: every other one (judgement).
pub(super) const LOSSY: Prices = Prices { missed: (0.7, 0.7), extra: 4.0, most_missed: 6 };

/// An edge that was given its mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sight {
    /// Index of the edge.
    pub edge: usize,
    /// Index of the mark.
    pub mark: usize,
    /// Whole periods since the one the first edge lies in.
    pub pass: usize,
}

impl Sight {
    /// Number of the mark, counted on from period to period of a pattern of `count` marks.
    pub fn number(&self, count: usize) -> usize {
        self.pass * count + self.mark
    }
}

/// The best path.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Alignment {
    /// Edges with their marks, in order.
    pub sights: Vec<Sight>,
    /// Marks between the first and the last that no edge has.
    pub missed: usize,
    /// Edges between them that have no mark.
    pub extra: usize,
    /// Edges outside the run that was kept.
    pub outside: usize,
    /// Scatter of the log of a step of one slot.
    pub scatter: f64,
}

/// What an edge inside the kept run is worth, in nats, against one tooth missed or one edge too
/// many.
const WORTH: f64 = 0.5;
/// What such an accident costs (as in the search).
const ACCIDENT: f64 = 4.0;
/// The run holds at least this share of the edges, or they are all judged: a pattern that fits in a
/// corner only is wrong.
const LEAST_RUN: f64 = 0.7;

impl Alignment {
    /// Keeps the run that is worth most. Engines start and stop inside captures and rock back when
    /// they do: accidents crowd at the ends then, and say nothing of the wheel. Those of a wrong
    /// pattern are spread over the capture, and stay.
    pub fn sound_run(mut self, count: usize) -> Alignment {
        let Some(last) = self.sights.len().checked_sub(1) else { return self };
        let (mut best, mut from, mut worth) = ((0.0, 0, 0), 0, 0.0_f64);
        for step in 0..last {
            let (missed, extra) = accidents(&self.sights[step..=step + 1], count);
            worth += WORTH - ACCIDENT * (missed + extra) as f64;
            if worth <= 0.0 {
                (from, worth) = (step + 1, 0.0);
            } else if worth > best.0 {
                best = (worth, from, step + 1);
            }
        }
        let kept = best.2 - best.1 + 1;
        if (kept as f64) < LEAST_RUN * self.sights.len() as f64 {
            return self;
        }
        self.outside += self.sights.len() - kept;
        self.sights = self.sights[best.1..=best.2].to_vec();
        (self.missed, self.extra) = accidents(&self.sights, count);
        self
    }
}

/// Marks missed and edges too many between sights of a pattern of `count` marks.
fn accidents(sights: &[Sight], count: usize) -> (usize, usize) {
    let (Some(first), Some(last)) = (sights.first(), sights.last()) else { return (0, 0) };
    let steps = sights.len() - 1;
    (last.number(count) - first.number(count) - steps, last.edge - first.edge - steps)
}

/// Most edges passed over in one step.
const MOST_EXTRA: usize = 3;
/// How fast the log of the speed may change, per slot, before it is known how it does (ripple of
/// the decoder's own search on 10° slots).
const CHANGE_PER_SLOT: f64 = 0.06;
/// Scatter of a step's log that is taken for granted, and the most that still means anything.
const SCATTERS: (f64, f64) = (0.03, 0.3);
/// The next step may go on changing by this much, in logarithms, and no more.
const MOST_TREND: f64 = 0.6;
/// Degrees of freedom of a surprise: heavy tails.
const TAIL: f64 = 4.0;

/// Last speeds of a path: the log of the speed and the length of its step.
#[derive(Debug, Clone, Copy)]
struct Speeds {
    last: (f64, f64),
    before: Option<(f64, f64)>,
}

#[derive(Debug, Clone, Copy)]
struct Node {
    cost: f64,
    speeds: Option<Speeds>,
    /// Edges back (0: a start), marks on, which of the two survivors.
    from: (u8, u8, u8),
}

const NOWHERE: Node = Node { cost: f64::INFINITY, speeds: None, from: (0, 0, 0) };
/// The best path that came by a plain step, and the best that came any other way.
const WAYS: usize = 2;

/// Aligns edges with a pattern; `None` for under three edges.
pub(super) fn align(times: &[f64], marks: &Marks, prices: &Prices) -> Option<Alignment> {
    if times.len() < 3 {
        return None;
    }
    let first = path(times, marks, prices, SCATTERS.0);
    let scatter = scatter(times, marks, &first).clamp(SCATTERS.0, SCATTERS.1);
    let sights =
        if scatter > 2.0 * SCATTERS.0 { path(times, marks, prices, scatter) } else { first };
    let sights = with_displaced(times, marks, &sights);
    let (missed, extra) = accidents(&sights, marks.at.len());
    let seen = sights.len() + extra;
    Some(Alignment { outside: times.len() - seen, sights, missed, extra, scatter })
}

/// The log of the speed of each step of a path, in slots per second, with the step's length in
/// slots.
pub(super) fn speeds(times: &[f64], marks: &Marks, sights: &[Sight]) -> Vec<(f64, f64)> {
    let place = |sight: &Sight| marks.at[sight.mark] + marks.period * sight.pass as f64;
    sights
        .windows(2)
        .map(|pair| {
            let length = place(&pair[1]) - place(&pair[0]);
            let took = (times[pair[1].edge] - times[pair[0].edge]).max(1e-12);
            ((length / took).ln(), length)
        })
        .collect()
}

/// Robust scatter of single steps about the mean of their neighbours.
fn scatter(times: &[f64], marks: &Marks, sights: &[Sight]) -> f64 {
    let speeds = speeds(times, marks, sights);
    let off: Vec<f64> = speeds
        .windows(3)
        .map(|three| (three[1].0 - three[0].0.midpoint(three[2].0)).abs())
        .collect();
    // The second difference of edges that scatter by s has, in steps, a standard deviation of √5 s;
    // a step that of √2 s.
    const STEP_OF_DIFFERENCE: f64 = 0.632;
    median(&off).unwrap_or(0.0) * crate::stats::MAD_TO_SD * STEP_OF_DIFFERENCE
}

fn path(times: &[f64], marks: &Marks, prices: &Prices, scatter: f64) -> Vec<Sight> {
    let count = marks.at.len();
    let mut table = vec![[NOWHERE; WAYS]; times.len() * count];
    for i in 0..times.len() {
        let (done, rest) = table.split_at_mut(i * count);
        for (mark, node) in rest[..count].iter_mut().enumerate() {
            if i <= MOST_EXTRA {
                node[0].cost = i as f64 * prices.extra;
            }
            for back in 1..=(MOST_EXTRA + 1).min(i) {
                let took = (times[i] - times[i - back]).max(1e-12);
                let from = &done[(i - back) * count..];
                relax(node, from, marks, prices, scatter, (mark, back, took));
            }
        }
    }
    trace(&table, count, prices)
}

fn relax(
    node: &mut [Node; WAYS],
    from_row: &[[Node; WAYS]],
    marks: &Marks,
    prices: &Prices,
    scatter: f64,
    (mark, back, took): (usize, usize, f64),
) {
    let count = marks.at.len();
    for advance in 1..=prices.most_missed + 1 {
        let from_mark = (mark + count * (advance / count + 1) - advance) % count;
        let missed = match advance {
            1 => 0.0,
            more => prices.missed.0 + prices.missed.1 * (more - 2) as f64,
        };
        let paid = missed + prices.extra * (back - 1) as f64;
        let length = marks.advance(from_mark, advance);
        let speed = (length / took).ln();
        let into = &mut node[usize::from(advance + back > 2)];
        for (way, from) in from_row[from_mark].iter().enumerate() {
            if from.cost + paid >= into.cost {
                continue;
            }
            let surprise =
                from.speeds.map_or(0.0, |speeds| surprise(&speeds, speed, length, scatter));
            let cost = from.cost + paid + surprise;
            if cost < into.cost {
                let before = from.speeds.map(|speeds| speeds.last);
                *into = Node {
                    cost,
                    speeds: Some(Speeds { last: (speed, length), before }),
                    from: (back as u8, advance as u8, way as u8),
                };
            }
        }
    }
}

/// How surprising the next step's speed is, in nats: foretold to stay as it is, or to go on
/// changing, with even odds.
fn surprise(speeds: &Speeds, speed: f64, length: f64, scatter: f64) -> f64 {
    let (last, length_before) = speeds.last;
    let apart = length.midpoint(length_before);
    // Two steps that share an edge: what one gains the other loses, so that they differ by √3 times
    // what one scatters.
    const SHARED_EDGE: f64 = 1.732_050_807_568_877_2;
    let step_scatter = SHARED_EDGE * scatter / length.min(length_before);
    let sd = step_scatter.hypot(CHANGE_PER_SLOT * apart);
    // Student's t without its constant, to the power −(TAIL + 1) / 2 = −2.5.
    let density = |off: f64| {
        let base = 1.0 + (off / sd).powi(2) / TAIL;
        1.0 / (base * base * base.sqrt())
    };
    let stays = density(speed - last);
    let goes_on = speeds.before.map_or(stays, |(earlier, its_length)| {
        let per_slot = (last - earlier) / length_before.midpoint(its_length);
        density(speed - last - (per_slot * apart).clamp(-MOST_TREND, MOST_TREND))
    });
    -(0.5 * (stays + goes_on)).max(1e-12).ln()
}

fn cheaper(node: &[Node; WAYS]) -> usize {
    usize::from(node[1].cost < node[0].cost)
}

fn trace(table: &[[Node; WAYS]], count: usize, prices: &Prices) -> Vec<Sight> {
    let rows = table.len() / count;
    let mut best: Option<(f64, usize, usize, usize)> = None;
    for row in rows.saturating_sub(MOST_EXTRA + 1)..rows {
        for mark in 0..count {
            let node = &table[row * count + mark];
            let way = cheaper(node);
            let cost = node[way].cost + prices.extra * (rows - 1 - row) as f64;
            if best.is_none_or(|best| cost < best.0) {
                best = Some((cost, row, mark, way));
            }
        }
    }
    let Some((_, mut row, mut mark, mut way)) = best else { return Vec::new() };
    // Places counted backwards first, then from the start.
    let mut back_path = vec![(row, mark, 0_usize)];
    loop {
        let (back, advance, from_way) = table[row * count + mark][way].from;
        if back == 0 {
            break;
        }
        let advance = usize::from(advance);
        row -= usize::from(back);
        mark = (mark + count * (advance / count + 1) - advance) % count;
        way = usize::from(from_way);
        back_path.push((row, mark, advance));
    }
    back_path.reverse();
    let mut place = back_path[0].1;
    let mut sights = Vec::with_capacity(back_path.len());
    for (edge, mark, advance) in back_path {
        sights.push(Sight { edge, mark, pass: place / count });
        place += advance;
    }
    sights
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Edges of a 12-2 wheel at a speed that swings by a third, three of them lost and one too
    /// many.
    #[test]
    fn every_edge_gets_its_mark_though_some_are_lost_and_one_is_too_many() {
        let marks = Marks { at: (0..10).map(f64::from).collect(), period: 12.0 };
        let mut time = 0.0;
        let mut times = Vec::new();
        let mut want = Vec::new();
        let lost = [17, 32, 33];
        for slot in 0..96_usize {
            let speed = 100.0 * (1.0 + 0.3 * (slot as f64 * 0.5).sin());
            time += 1.0 / speed;
            if slot % 12 < 10 && !lost.contains(&slot) {
                if slot == 50 {
                    times.push(time - 0.4 / speed);
                }
                want.push((times.len(), slot % 12, slot / 12));
                times.push(time);
            }
        }
        let found = align(&times, &marks, &WHOLE).expect("aligned");
        assert_eq!((found.missed, found.extra), (3, 1));
        let got: Vec<(usize, usize, usize)> =
            found.sights.iter().map(|sight| (sight.edge, sight.mark, sight.pass)).collect();
        assert_eq!(got, want);
    }

    #[test]
    fn an_engine_that_rocks_back_at_the_end_is_kept_up_to_there() {
        let sight = |edge: usize, place: usize| Sight { edge, mark: place % 4, pass: place / 4 };
        let mut sights: Vec<Sight> = (0..40).map(|i| sight(i, i)).collect();
        // One accident in the middle stays; three among the last six edges end the run.
        sights.extend((41..60).map(|i| sight(i, i)));
        sights.extend([sight(61, 62), sight(63, 64), sight(64, 68)]);
        let all = Alignment { sights, missed: 0, extra: 0, outside: 0, scatter: 0.03 };
        let kept = all.sound_run(4);
        assert_eq!((kept.sights.len(), kept.missed, kept.extra, kept.outside), (59, 1, 1, 3));
    }
}
