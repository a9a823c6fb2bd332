//! The search for the cheapest path: which mark is each edge?
//!
//! Dynamic programming over (edge, mark), the Viterbi search of a hidden-Markov model, with the
//! last speed kept along each survivor. Two survivors are kept per state, the best that came by a
//! plain step and the best that came any other way: with one alone, a path that passed over an edge
//! where the engine picked up speed can crowd out the plain one and then find going on passing
//! edges over cheaper than going back.
//!
//! Only survivors that a fresh start could not undercut are kept, and of their past only what a
//! living one still stands on: memory grows by one [`Kept`] of 16 bytes an edge, and work by the
//! few survivors that are left once the wheel has shown a gap.

mod memory;
mod path;

use std::ops::Range;

pub(super) use path::Path;

use super::habits::{Followed, Habits, NO_STRIDE, Stride};
use super::marks::Marks;

/// Price of an edge that is no tooth, in nats: one in fifty is a bad lead (judgement).
pub(super) const EXTRA_PRICE: f64 = 4.0;
/// Price of starting afresh, in nats: dearer than the three teeth a dropout commonly takes.
pub(super) const BREAK_PRICE: f64 = 18.0;
/// Most teeth bridged in one step.
const MOST_MISSED: usize = 5;
/// Most edges passed over in one step.
const MOST_EXTRA: usize = 4;
/// A crank slower than this between two teeth has stopped, in degrees per second (20 rpm).
const SLOWEST: f64 = 120.0;
/// A crank faster than this between two teeth is noise, in degrees per second (15,000 rpm).
pub(super) const FASTEST: f64 = 90_000.0;
/// Fresh starts are looked at where the path has just become dearer by more than this over
/// [`LATELY`] edges, in nats: a missed tooth or an extra edge and a rough step beside it. Where it
/// runs smoothly nothing is gained by one.
const TROUBLE: f64 = 6.0;
/// Edges over which trouble shows: those one step can reach over, and one.
const LATELY: usize = MOST_EXTRA + 2;
/// Ways into a state: by a plain step (or a fresh start), or with teeth missed or edges passed
/// over.
const WAYS: usize = 2;
/// No earlier entry.
const NONE: u32 = u32::MAX;
/// Entries of the past before what no survivor stands on is first thrown away: 16 MB.
const FIRST_CLEARING: usize = 1 << 20;
/// After so many edges, and each so many again, a lead whose edges cost more than [`HOPELESS`] nats
/// each on average is given up: edges that are no teeth cost 4 each, edges of a wheel half of whose
/// teeth are lost about 2.
const GIVE_UP_EVERY: usize = 100_000;
const HOPELESS: f64 = 3.0;

/// One edge on a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Kept {
    /// The entry before it.
    from: u32,
    /// Index of the edge.
    pub edge: u32,
    /// Habits cost of the step that led here, in nats.
    pub rough: f32,
    /// Mark of the pattern.
    pub mark: u16,
    /// Marks further than the entry before; 1 is the next tooth, 0 the first of a stretch.
    pub advance: u8,
    /// Edges further than the entry before.
    back: u8,
}

impl Kept {
    /// Edges passed over since the entry before.
    pub fn skipped(&self) -> u8 {
        self.back.saturating_sub(1)
    }
}

/// A survivor: the cheapest path that ends with this edge at this mark.
#[derive(Debug, Clone, Copy)]
struct State {
    cost: f64,
    stride: Stride,
    step: Kept,
}

const NOWHERE: State = State {
    cost: f64::INFINITY,
    stride: NO_STRIDE,
    step: Kept { from: NONE, edge: 0, rough: 0.0, mark: 0, advance: 0, back: 0 },
};

/// The survivors at one edge.
#[derive(Debug, Clone)]
struct Row {
    states: Vec<State>,
    /// Entry of each living state in the past.
    entries: Vec<u32>,
    /// Living states.
    alive: Vec<u32>,
}

impl Row {
    fn new(marks: usize) -> Row {
        Row {
            states: vec![NOWHERE; marks * WAYS],
            entries: vec![NONE; marks * WAYS],
            alive: Vec::new(),
        }
    }

    fn clear(&mut self) {
        for &state in &self.alive {
            self.states[state as usize] = NOWHERE;
        }
        self.alive.clear();
    }

    fn improve(&mut self, index: usize, state: State) {
        if !self.states[index].cost.is_finite() {
            self.alive.push(index as u32);
        }
        self.states[index] = state;
    }
}

/// Steps that may lead from an edge to a later one.
struct Step {
    back: usize,
    advance: usize,
    price: f64,
}

/// Plain step first, then by price; those dearer than a fresh start are left out where one is
/// allowed.
fn steps(habits: Habits, may_break: bool) -> Vec<Step> {
    let mut steps: Vec<Step> = (1..=MOST_EXTRA + 1)
        .flat_map(|back| (1..=MOST_MISSED + 1).map(move |advance| (back, advance)))
        .map(|(back, advance)| Step {
            back,
            advance,
            price: habits.price_of_missing(advance - 1) + EXTRA_PRICE * (back - 1) as f64,
        })
        .filter(|step| !may_break || step.price <= BREAK_PRICE)
        .collect();
    steps.sort_by(|a, b| a.price.total_cmp(&b.price));
    steps
}

/// The search over one train.
pub(super) struct Search<'a> {
    marks: &'a Marks<'a>,
    habits: Habits,
    may_break: bool,
    steps: Vec<Step>,
    /// Length of each step from each mark, and its logarithm.
    lengths: Vec<(f64, f64)>,
    /// The latest rows, by edge modulo their number.
    rows: Vec<Row>,
    past: Vec<Kept>,
    clear_at: usize,
    /// Cost and entry of the cheapest path so far, edges that fit nothing passed over.
    end: (f64, u32),
    /// What that cost was at the latest edges.
    ends: [f64; LATELY],
    log_slowest: f64,
    log_fastest: f64,
}

impl<'a> Search<'a> {
    /// With `may_break` a path may start afresh at any edge that gives reason to; without, only
    /// within the first few, and every survivor is kept.
    pub fn new(marks: &'a Marks<'a>, habits: Habits, may_break: bool) -> Search<'a> {
        let count = marks.pattern.len();
        let lengths = (0..count)
            .flat_map(|mark| (1..=MOST_MISSED + 1).map(move |advance| (mark, advance)))
            .map(|(mark, advance)| {
                let length = marks.pattern.advance(mark, advance);
                (length, length.ln())
            })
            .collect();
        Search {
            marks,
            habits,
            may_break,
            steps: steps(habits, may_break),
            lengths,
            rows: vec![Row::new(count); MOST_EXTRA + 2],
            past: Vec::new(),
            clear_at: FIRST_CLEARING,
            end: (0.0, NONE),
            ends: [0.0; LATELY],
            log_slowest: SLOWEST.ln(),
            log_fastest: FASTEST.ln(),
        }
    }

    /// Reads the edges in order.
    pub fn run(&mut self) {
        let edges = self.marks.edges.len();
        for i in 0..edges {
            self.edge(i);
            if self.past.len() >= self.clear_at {
                self.throw_away_dead_ends(i);
            }
            let read = i + 1;
            if self.may_break
                && read.is_multiple_of(GIVE_UP_EVERY)
                && self.end.0 > HOPELESS * read as f64
            {
                break;
            }
        }
    }

    /// Reads the edges in order and gives the rows of some of them, as [`Search::last_row`] does.
    pub fn rows(&mut self, wanted: Range<usize>) -> Vec<Vec<(f64, Stride)>> {
        let mut rows = Vec::with_capacity(wanted.len());
        for i in 0..self.marks.edges.len() {
            self.edge(i);
            if wanted.contains(&i) {
                rows.push(self.row(i));
            }
        }
        rows
    }

    fn edge(&mut self, i: usize) {
        let at = i % self.rows.len();
        let mut row = std::mem::replace(
            &mut self.rows[at],
            Row { states: vec![], entries: vec![], alive: vec![] },
        );
        row.clear();
        let reached = self.reach(i, &mut row);
        let before = self.ends[i % LATELY];
        let troubled = reached.min(self.end.0 + EXTRA_PRICE) - before > TROUBLE;
        if i <= MOST_EXTRA || (self.may_break && troubled) {
            self.start_afresh(i, &mut row);
        }
        let cheapest = row
            .alive
            .iter()
            .map(|&state| row.states[state as usize].cost)
            .fold(f64::INFINITY, f64::min);
        self.keep(i, &mut row, cheapest);
        self.rows[at] = row;
        self.ends[i % LATELY] = self.end.0;
    }

    /// Improves the states of an edge by the steps that reach it from earlier ones; the least cost.
    fn reach(&self, i: usize, row: &mut Row) -> f64 {
        let kind = self.marks.edges[i].kind;
        let pattern = &self.marks.pattern;
        let count = pattern.len();
        let log_mean = self.marks.log_mean_speed(i);
        let mut cheapest = f64::INFINITY;
        let mut took = [0.0_f64; MOST_EXTRA + 2];
        for (back, took) in took.iter_mut().enumerate().take(i.min(MOST_EXTRA + 1) + 1).skip(1) {
            *took = (self.marks.edges[i].at - self.marks.edges[i - back].at).0.ln();
        }
        for step in self.steps.iter().filter(|step| step.back <= i) {
            let from_row = &self.rows[(i - step.back) % self.rows.len()];
            for &from_index in &from_row.alive {
                let from = &from_row.states[from_index as usize];
                let priced = from.cost + step.price;
                if self.may_break && priced > cheapest + BREAK_PRICE {
                    continue;
                }
                let from_mark = from_index as usize / WAYS;
                let ahead = from_mark + step.advance;
                let mark = if ahead < count { ahead } else { ahead % count };
                if pattern.kinds[mark] != kind {
                    continue;
                }
                let into = mark * WAYS + usize::from(step.advance + step.back > 2);
                if priced >= row.states[into].cost {
                    continue;
                }
                let (length, log_length) =
                    self.lengths[from_mark * (MOST_MISSED + 1) + step.advance - 1];
                let log_speed = log_length - took[step.back];
                if !(self.log_slowest..self.log_fastest).contains(&log_speed) {
                    continue;
                }
                let step_alone = Stride::new(log_speed, length);
                if priced + self.habits.follow_at_least(from.stride, step_alone)
                    >= row.states[into].cost
                {
                    continue;
                }
                let Followed { nats: rough, stride, .. } =
                    self.habits.follow(from.stride, step_alone, log_mean);
                let cost = priced + rough;
                if cost < row.states[into].cost {
                    cheapest = cheapest.min(cost);
                    row.improve(
                        into,
                        State {
                            cost,
                            stride,
                            step: Kept {
                                from: from_row.entries[from_index as usize],
                                edge: i as u32,
                                rough: rough as f32,
                                mark: mark as u16,
                                advance: step.advance as u8,
                                back: step.back as u8,
                            },
                        },
                    );
                }
            }
        }
        cheapest
    }

    fn start_afresh(&self, i: usize, row: &mut Row) {
        let (cost, from) = match i {
            0 => (0.0, NONE),
            _ if self.may_break => (self.end.0 + BREAK_PRICE, self.end.1),
            _ => (i as f64 * EXTRA_PRICE, NONE),
        };
        let kind = self.marks.edges[i].kind;
        for mark in
            (0..self.marks.pattern.len()).filter(|&mark| self.marks.pattern.kinds[mark] == kind)
        {
            if cost < row.states[mark * WAYS].cost {
                let step = Kept { from, edge: i as u32, mark: mark as u16, ..NOWHERE.step };
                row.improve(mark * WAYS, State { cost, stride: NO_STRIDE, step });
            }
        }
    }

    /// Enters what is worth keeping into the past, and moves the end of the cheapest path on.
    fn keep(&mut self, i: usize, row: &mut Row, cheapest: f64) {
        let limit = if self.may_break { cheapest + BREAK_PRICE } else { f64::INFINITY };
        let Row { states, entries, alive } = row;
        alive.retain(|&index| {
            let state = &mut states[index as usize];
            let stays = state.cost <= limit;
            if !stays {
                *state = NOWHERE;
            }
            stays
        });
        // In order of mark, so that of equals the first is taken, whatever led to them.
        alive.sort_unstable();
        let mut best = (f64::INFINITY, NONE);
        for &index in alive.iter() {
            let state = &states[index as usize];
            // Without breaks only the costs are asked for.
            let entry = if self.may_break { self.past.len() as u32 } else { NONE };
            if self.may_break {
                entries[index as usize] = entry;
                self.past.push(state.step);
            }
            if state.cost < best.0 {
                best = (state.cost, entry);
            }
        }
        let passed_over = if i == 0 { f64::INFINITY } else { self.end.0 + EXTRA_PRICE };
        self.end = if best.0 <= passed_over { best } else { (passed_over, self.end.1) };
    }

    /// The cheapest path through all edges, in order of time. Where it starts afresh an entry's
    /// `advance` is 0; edges that no entry has fitted nothing.
    pub fn path(mut self) -> Path {
        // Turned round in place: each entry then names the one after it.
        let (mut at, mut after) = (self.end.1, NONE);
        while at != NONE {
            let entry = &mut self.past[at as usize];
            let before = entry.from;
            entry.from = after;
            after = at;
            at = before;
        }
        self.rows = Vec::new();
        Path::new(self.past, after)
    }

    /// Cost and last step of the cheapest path to each mark at the last edge.
    pub fn last_row(&self) -> Vec<(f64, Stride)> {
        self.marks.edges.len().checked_sub(1).map_or_else(Vec::new, |last| self.row(last))
    }

    fn row(&self, edge: usize) -> Vec<(f64, Stride)> {
        let row = &self.rows[edge % self.rows.len()];
        row.states
            .chunks(WAYS)
            .map(|ways| {
                let best = if ways[1].cost < ways[0].cost { ways[1] } else { ways[0] };
                (best.cost, best.stride)
            })
            .collect()
    }
}
