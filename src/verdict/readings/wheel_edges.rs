//! What the single edges of a cam's wheel say: a sound wheel, one with a damaged tooth, or no wheel
//! but noise.
//!
//! Offsets of the edges from the wheel's place are jointly normal. Each has an error of its own
//! (how the wheel was made, how well the edge was measured); rising and falling edges stand apart
//! by the threshold and the air gap, which belong to the sensor and are integrated over. Of a
//! damaged wheel one edge is off besides, by an amount that is integrated over too, and drags the
//! wheel's place along. How rough a wheel is belongs to all its edges: five smooth ones leave no
//! room to call the sixth roughness.

use super::errors;
use crate::cam::{CamPosition, EdgeResult};
use crate::engine::{Cam, Sensor};
use crate::matrix::{Cholesky, dot};
use crate::stats::{MEDIAN_COST, log_sum, mean};
use crate::units::Rpm;
use crate::verdict::density::{LOG_ROOT_TWO_PI, log_fading, log_normal};
use crate::wheel::EdgeKind;

/// Log densities of a wheel's edges.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct EdgeCharacter {
    /// The wheel is sound.
    pub sound: f64,
    /// One of its teeth is damaged.
    pub damaged: f64,
    /// The edges are noise.
    pub outlier: f64,
    /// The wheel is another than described: some of its edges lie near those expected, none in its
    /// place.
    pub foreign: f64,
}

/// Weighs the edges of a cam's wheel.
pub(crate) fn edge_character(cam: &Cam, measured: &CamPosition) -> EdgeCharacter {
    let lost = edges_lost(cam, measured);
    let edges = Edges::of(cam, measured);
    let few_lost = log_lost(lost, errors::EDGE_LOST);
    EdgeCharacter {
        sound: few_lost + edges.log_sound(),
        damaged: log_sum([
            (1.0 - errors::TOOTH_GONE).ln() + few_lost + edges.log_bent(),
            errors::TOOTH_GONE.ln() + log_gone(lost) + edges.log_sound(),
        ]),
        // Noise shows an edge of the wheel as often as not.
        outlier: log_lost(lost, 0.5) + edges.log_noise(),
        // It repeats cycle after cycle as a wheel does, which its motion says; its edges lie
        // anywhere within reach.
        foreign: log_lost(lost, 0.5) + edges.log_noise(),
    }
}

/// Log density of the edges of a sound wheel whose lead a steady time makes so late, crank degrees.
pub(super) fn log_edges_delayed(cam: &Cam, measured: &CamPosition, late: f64) -> f64 {
    let few_lost = log_lost(edges_lost(cam, measured), errors::EDGE_LOST);
    few_lost + Edges::of(cam, measured).without_delay(late).log_sound()
}

/// Edges the wheel has and no cycle showed.
pub(crate) fn edges_lost(cam: &Cam, measured: &CamPosition) -> usize {
    let expected = cam.sensor.shows(&cam.wheel, cam.edge).len();
    // A measurement without a list of edges says nothing about them.
    if measured.edges.is_empty() { 0 } else { expected.saturating_sub(measured.edges.len()) }
}

/// Share of the edges on a lead that are odd: no edge of the wheel, or lost.
pub(crate) fn odd_share(measured: &CamPosition) -> f64 {
    let (seen, odd) = edge_counts(measured);
    odd / (odd + seen)
}

/// Edges that were given a place on the wheel, at least one, and those that are odd.
pub(crate) fn edge_counts(cam: &CamPosition) -> (f64, f64) {
    let seen = cam.edges.iter().map(|edge| edge.n).sum::<usize>().max(cam.cycles.len()).max(1);
    (seen as f64, (cam.missed + cam.extra) as f64)
}

/// Log probability of losing a tooth's edges by a weak signal that does so this often. More than a
/// tooth's is a bad lead, whatever the wheel.
fn log_lost(lost: usize, often: f64) -> f64 {
    match lost {
        0 => (1.0 - often).ln(),
        1 | 2 => often.ln(),
        _ => 0.0,
    }
}

/// The same of a tooth that is gone.
fn log_gone(lost: usize) -> f64 {
    if lost == 0 { f64::NEG_INFINITY } else { 0.0 }
}

/// Scatter of noise that was taken for the edges of a wheel, in crank degrees: the decoder keeps
/// the nearest of several noise edges, which lies several degrees off (judgement).
const NOISE_EDGE_SD: f64 = 6.0;
/// An edge seen in fewer of the wheel's cycles than this says where noise was, not where the edge
/// is.
const LEAST_SEEN: f64 = 0.5;

/// The edges of one wheel that were seen often enough.
struct Edges {
    /// How late each is against the wheel's place, crank degrees.
    offs: Vec<f64>,
    /// Standard error of each.
    errors: Vec<f64>,
    /// +½ of a rising, −½ of a falling edge; empty when only one kind was seen.
    kinds: Vec<f64>,
    /// How much of a damaged edge's offset the sensor shows.
    shown: f64,
    /// How much faster the crank turned before each than before all of them, as a share; nothing
    /// where that was not seen.
    faster: Vec<f64>,
    /// The same after each.
    faster_after: Vec<f64>,
    /// Probability that an edge's place is noise: half of the readings its median is of, at the
    /// lead's share of odd edges.
    noisy: Vec<f64>,
}

impl Edges {
    fn of(cam: &Cam, measured: &CamPosition) -> Edges {
        let most = measured.edges.iter().map(|edge| edge.n).max().unwrap_or(0);
        let seen: Vec<&EdgeResult> = measured
            .edges
            .iter()
            .filter(|edge| edge.n as f64 >= LEAST_SEEN * most as f64)
            .collect();
        let error = |edge: &EdgeResult| {
            let sd = edge.sd.map_or(errors::STEADY_SCATTER.0, |sd| sd.0);
            MEDIAN_COST * sd / (edge.n.max(1) as f64).sqrt()
        };
        let rising = |edge: &EdgeResult| edge.kind == EdgeKind::Rising;
        let both = seen.iter().any(|edge| rising(edge)) && seen.iter().any(|edge| !rising(edge));
        let odd = odd_share(measured);
        let faster = |speed: fn(&EdgeResult) -> Option<Rpm>| {
            let speeds: Vec<f64> = seen.iter().filter_map(|edge| Some(speed(edge)?.0)).collect();
            match mean(&speeds) {
                Some(mean) if speeds.len() == seen.len() && mean > 0.0 => {
                    speeds.iter().map(|speed| speed / mean - 1.0).collect()
                }
                _ => vec![0.0; seen.len()],
            }
        };
        Edges {
            faster: faster(|edge| edge.speed),
            faster_after: faster(|edge| edge.speed_after),
            noisy: seen.iter().map(|edge| odd.powf(edge.n as f64 / 2.0).min(0.5)).collect(),
            offs: seen.iter().map(|edge| edge.off.0).collect(),
            errors: seen.iter().map(|edge| error(edge)).collect(),
            kinds: if both {
                seen.iter().map(|edge| if rising(edge) { 0.5 } else { -0.5 }).collect()
            } else {
                vec![]
            },
            shown: match cam.sensor {
                Sensor::Hall | Sensor::Pulse => 1.0,
                // The zero crossing is the middle of the tooth, which moves half as far as either
                // of its ends.
                Sensor::Reluctance => 0.5,
            },
        }
    }

    /// Where the edges are on a lead that a steady time makes this late: a delay is more degrees where
    /// the crank turns faster. Early is what a delay of the crank's lead makes, which shows where the
    /// crank will have turned to.
    fn without_delay(mut self, late: f64) -> Edges {
        let faster = if late < 0.0 { &self.faster_after } else { &self.faster };
        let off = self.offs.iter_mut().zip(faster);
        off.for_each(|(off, faster)| *off -= late * faster);
        self
    }

    /// The covariance of edges that are made this well, with the wheel's place dragged along by so
    /// much; one edge may be noise.
    fn factor(&self, made: f64, drag: f64, noise: Option<usize>) -> Option<Cholesky> {
        Cholesky::new(self.offs.len(), 0.0, |a, b| {
            let lost = if noise == Some(a) { NOISE_EDGE_SD } else { 0.0 };
            let own = if a == b { made * made + self.errors[a].powi(2) + lost * lost } else { 0.0 };
            let kinds = match (self.kinds.get(a), self.kinds.get(b)) {
                (Some(a), Some(b)) => a * b * errors::EDGE_KINDS_SD.0.powi(2),
                _ => 0.0,
            };
            own + kinds + drag * drag
        })
    }

    /// Log density under a factored covariance, and L⁻¹ times the offsets.
    fn flat(&self, factor: &Cholesky) -> (f64, Vec<f64>) {
        let flat = factor.solve_lower(self.offs.clone());
        let scale = -factor.log_root_determinant() - self.offs.len() as f64 * LOG_ROOT_TWO_PI;
        (scale - 0.5 * dot(&flat, &flat), flat)
    }

    /// Every edge in its place, but that one may be noise.
    fn log_sound(&self) -> f64 {
        let good: f64 = self.noisy.iter().map(|noisy| (1.0 - noisy).ln()).sum();
        over_workmanship(|made| {
            let with =
                |noise| self.factor(made, 0.0, noise).map_or(0.0, |factor| self.flat(&factor).0);
            let one = |edge: usize| {
                let noisy = self.noisy[edge];
                if noisy > 0.0 {
                    (noisy / (1.0 - noisy)).ln() + with(Some(edge))
                } else {
                    f64::NEG_INFINITY
                }
            };
            good + log_sum((0..self.offs.len()).map(one).chain([with(None)]))
        })
    }

    /// One edge damaged, which is not known: the average over them all.
    fn log_bent(&self) -> f64 {
        let count = self.offs.len();
        // One edge alone is where the wheel is.
        if count < 2 {
            return self.log_sound();
        }
        let drag = self.shown * place_drag(count);
        over_workmanship(|made| {
            let Some(factor) = self.factor(made, drag, None) else { return 0.0 };
            let (still, flat) = self.flat(&factor);
            let one = |edge| still + log_damage(&factor, &flat, edge, self.shown);
            log_sum((0..count).map(one)) - (count as f64).ln()
        })
    }

    fn log_noise(&self) -> f64 {
        self.offs.iter().map(|&off| log_normal(off, NOISE_EDGE_SD)).sum()
    }
}

/// How far a damaged edge drags the place of a wheel of so many edges (one standard deviation,
/// crank degrees).
pub(crate) fn place_drag(edges: usize) -> f64 {
    errors::DAMAGE_MEAN.0 / edges.max(2) as f64
}

/// Well and roughly made wheels together.
fn over_workmanship(log_density: impl Fn(f64) -> f64) -> f64 {
    let smooth = errors::EDGE_SD.0;
    log_sum([
        (1.0 - errors::ROUGH_WHEEL).ln() + log_density(smooth),
        errors::ROUGH_WHEEL.ln() + log_density(smooth * errors::ROUGH_WHEEL_FACTOR),
    ])
}

/// By how much (log) the damage of one edge lifts the density: ∫ π(a) N(z − aq) da over N(z), z and
/// q flattened by the factor, which pins a at q·z / q·q with variance 1 / q·q. Of a, `shown` is the
/// share that shows.
fn log_damage(factor: &Cholesky, flat: &[f64], edge: usize, shown: f64) -> f64 {
    let unit = (0..flat.len()).map(|other| f64::from(u8::from(other == edge))).collect();
    let slope = factor.solve_lower(unit);
    let (stiffness, pull) = (dot(&slope, &slope), dot(&slope, flat));
    let (at, sd) = (pull / stiffness, stiffness.sqrt().recip());
    let (from, to) = (shown * errors::DAMAGE_LEAST.0, shown * errors::DAMAGE_MOST.0);
    let late = |at: f64| log_fading(at, sd, from, to, shown * errors::DAMAGE_MEAN.0);
    let either = log_sum([late(at), late(-at)]);
    0.5 * pull * pull / stiffness + sd.ln() + LOG_ROOT_TWO_PI + either - std::f64::consts::LN_2
}
