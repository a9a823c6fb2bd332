//! Where each sprocket of a drive is drawn: every chain a loop of its own, its driver below what it
//! drives, sprockets of one shaft joined by a bar. It is no engine's front view.

use super::super::drawing::At;
use crate::engine::Drive;

/// Room of a sprocket across.
const SLOT: f64 = 106.0;
/// From row to row: with room for what is said at a sprocket, and for its name alone.
pub(super) const ROW: f64 = 122.0;
pub(super) const BLANK_ROW: f64 = 102.0;
/// Radius of the sprocket with most teeth, and the least of any.
const LARGEST: f64 = 38.0;
const SMALLEST: f64 = 22.0;
/// Free room around the drive.
const MARGIN: f64 = 16.0;
/// The middle of a row stands higher than its ends, so that the chain touches every sprocket.
const ARCH: f64 = 18.0;
/// More cams than this side by side are no picture any more.
const MOST_ACROSS: usize = 8;

/// A sprocket on the sheet.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Node {
    /// Its chain.
    pub chain: usize,
    /// Its shaft.
    pub shaft: String,
    /// Teeth.
    pub teeth: u32,
    /// Speed of its shaft, turns per turn of the crank.
    pub ratio: f64,
    /// Whether it drives its chain.
    pub drives: bool,
    pub centre: At,
    pub radius: f64,
}

/// A whole drive on the sheet.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Plan {
    pub nodes: Vec<Node>,
    /// Pairs of nodes that sit on one shaft.
    pub same_shaft: Vec<(usize, usize)>,
    pub width: f64,
    pub height: f64,
}

impl Plan {
    /// The nodes of a chain in the order in which it runs: its driver, then what it drives.
    pub fn of_chain(&self, chain: usize) -> Vec<usize> {
        (0..self.nodes.len()).filter(|&node| self.nodes[node].chain == chain).collect()
    }
}

/// Lays a drive out, its rows so far from each other; `None` for one that has no chains, or more shafts than a sheet has room for.
pub(super) fn plan(drive: &Drive, row: f64) -> Option<Plan> {
    if drive.chains.is_empty() {
        return None;
    }
    let most = drive.chains.iter().flat_map(|chain| {
        chain.driven.iter().chain([&chain.driver]).map(|sprocket| sprocket.teeth)
    });
    let scale = LARGEST / f64::from(most.max().unwrap_or(1));
    let mut work = Work { drive, scale, plan: Plan::default(), next: 0.0, deepest: 0 };
    // Chains on the crank first; each brings what hangs on it.
    let roots: Vec<usize> = (0..drive.chains.len())
        .filter(|&at| drive.chain_driving(&drive.chains[at].driver.on).is_none())
        .collect();
    let mut first: Option<usize> = None;
    for chain in roots {
        let node = work.chain(chain, 0);
        if let Some(other) = first {
            work.plan.same_shaft.push((other, node));
        }
        first = Some(node);
    }
    let slots = work.next.max(1.0);
    if slots as usize > MOST_ACROSS {
        return None;
    }
    let mut plan = work.plan;
    plan.width = 2.0 * MARGIN + SLOT * slots;
    let rows = 2.0 * (work.deepest as f64 + 1.0);
    plan.height = ARCH + row * rows;
    for node in &mut plan.nodes {
        // Rows were counted from below.
        node.centre =
            (MARGIN + SLOT * (node.centre.0 + 0.5), plan.height - row * (node.centre.1 + 0.5));
    }
    arch(&mut plan, drive);
    Some(plan)
}

struct Work<'a> {
    drive: &'a Drive,
    scale: f64,
    plan: Plan,
    /// The next free place in a row.
    next: f64,
    deepest: usize,
}

impl Work<'_> {
    /// Adds a chain and all that hangs on it; gives its driver's node.
    fn chain(&mut self, at: usize, depth: usize) -> usize {
        self.deepest = self.deepest.max(depth);
        let chain = &self.drive.chains[at];
        let row = 2.0 * depth as f64;
        let driver =
            self.add(at, &chain.driver.on, chain.driver.teeth, chain.driver_ratio.get(), true);
        let mut driven = Vec::new();
        let mut order: Vec<usize> = (0..chain.driven.len()).collect();
        // The crank turns clockwise here: the strand that is pulled comes down on the right.
        if chain.pulled_order {
            order.reverse();
        }
        let nodes: Vec<usize> = chain
            .driven
            .iter()
            .map(|one| {
                let ratio =
                    chain.driver_ratio.get() * f64::from(chain.driver.teeth) / f64::from(one.teeth);
                self.add(at, &one.on, one.teeth, ratio, false)
            })
            .collect();
        for index in order {
            let on = &chain.driven[index].on;
            let below: Vec<usize> = (0..self.drive.chains.len())
                .filter(|&next| self.drive.chains[next].driver.on == *on)
                .collect();
            let mut across = Vec::new();
            for next in below {
                let node = self.chain(next, depth + 1);
                self.plan.same_shaft.push((nodes[index], node));
                across.push(self.plan.nodes[node].centre.0);
            }
            let x = middle(&across).unwrap_or_else(|| {
                self.next += 1.0;
                self.next - 1.0
            });
            self.plan.nodes[nodes[index]].centre = (x, row + 1.0);
            driven.push(x);
        }
        self.plan.nodes[driver].centre = (middle(&driven).unwrap_or(self.next), row);
        driver
    }

    fn add(&mut self, chain: usize, shaft: &str, teeth: u32, ratio: f64, drives: bool) -> usize {
        let radius = (f64::from(teeth) * self.scale).max(SMALLEST);
        let shaft = shaft.to_owned();
        self.plan.nodes.push(Node {
            chain,
            shaft,
            teeth,
            ratio,
            drives,
            centre: (0.0, 0.0),
            radius,
        });
        self.plan.nodes.len() - 1
    }
}

fn middle(places: &[f64]) -> Option<f64> {
    let low = places.iter().copied().reduce(f64::min)?;
    let high = places.iter().copied().reduce(f64::max)?;
    Some((low + high) / 2.0)
}

/// Raises the middle of what each chain drives.
fn arch(plan: &mut Plan, drive: &Drive) {
    for chain in 0..drive.chains.len() {
        let driven: Vec<usize> =
            plan.of_chain(chain).into_iter().filter(|&node| !plan.nodes[node].drives).collect();
        let places: Vec<f64> = driven.iter().map(|&node| plan.nodes[node].centre.0).collect();
        let Some(centre) = middle(&places) else { continue };
        let half = places.iter().map(|x| (x - centre).abs()).fold(1.0, f64::max);
        for node in driven {
            let out = (plan.nodes[node].centre.0 - centre) / half;
            let raised = ARCH * (1.0 - out * out);
            plan.nodes[node].centre.1 -= raised;
        }
    }
}

/// The line a chain lies along: the hull of its sprockets, each point with the node it lies on.
pub(super) fn around(nodes: &[(usize, At, f64)]) -> Vec<(At, usize)> {
    /// Points of a circle; the chord of 4° strays a thousandth of the radius.
    const POINTS: usize = 90;
    /// The chain lies this far outside the circle.
    const OUTSIDE: f64 = 4.0;
    let mut points: Vec<(At, usize)> = Vec::new();
    for &(node, (x, y), radius) in nodes {
        for at in 0..POINTS {
            let (sin, cos) = (std::f64::consts::TAU * at as f64 / POINTS as f64).sin_cos();
            let far = radius + OUTSIDE;
            points.push(((x + far * cos, y + far * sin), node));
        }
    }
    points.sort_by(|a, b| a.0.0.total_cmp(&b.0.0).then(a.0.1.total_cmp(&b.0.1)));
    // Andrew's monotone chain: the lower half, then the upper one.
    let turns = |a: At, b: At, c: At| (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0);
    let half = |points: &mut dyn Iterator<Item = (At, usize)>| {
        let mut hull: Vec<(At, usize)> = Vec::new();
        for point in points {
            while hull.len() > 1
                && turns(hull[hull.len() - 2].0, hull[hull.len() - 1].0, point.0) <= 0.0
            {
                hull.pop();
            }
            hull.push(point);
        }
        hull.pop();
        hull
    };
    let mut hull = half(&mut points.iter().copied());
    hull.extend(half(&mut points.iter().rev().copied()));
    hull.extend(hull.first().copied());
    hull
}

/// The straight pieces of a chain between two sprockets, the rightmost first: there the chain is
/// pulled.
pub(super) fn strands(hull: &[(At, usize)], one: usize, other: usize) -> Vec<(At, At)> {
    let joins = |a: usize, b: usize| (a == one && b == other) || (a == other && b == one);
    let mut found: Vec<(At, At)> = hull
        .windows(2)
        .filter(|pair| joins(pair[0].1, pair[1].1))
        .map(|pair| (pair[0].0, pair[1].0))
        .collect();
    found.sort_by(|a, b| (b.0.0 + b.1.0).total_cmp(&(a.0.0 + a.1.0)));
    found
}
