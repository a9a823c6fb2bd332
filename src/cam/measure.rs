//! One position from all cycles and edges, with what is left over.
//!
//! Model: an edge e in cycle c is late by position + cycle offset m(c) + edge offset b(e) + noise.
//! The medians of the two-way table give m and b alternately (Tukey's median polish), so that an
//! edge missing in one cycle does not move that cycle.

use super::cycles::{Followed, Placed, follow};
use super::pattern::CamPattern;
use super::position::BESIDE_EDGE;
use super::rotation::{Rotation, Sighting, find};
use super::symmetry::known_modulo;
use super::{CamPosition, CyclePosition, EdgeResult, Movement};
use crate::crank::{CrankAngle, Polarity};
use crate::edges::EdgeTrain;
use crate::engine::Cam;
use crate::stats::{effective_count, huber_location, median, standard_deviation, t95};
use crate::units::{CrankDeg, CrankDelta, CrankTurned, Rpm, Seconds};

/// Least score of a rotation that fits at all: half the sightings explained and half the edges seen
/// is 0.25 (judgement).
const LEAST_SCORE: f64 = 0.25;
/// Scatter of a wheel's edges about its pattern that is expected before any is seen, in crank
/// degrees: the middle, in proportion, of the 0.05 to 0.7 that real wheels show (public
/// recordings).
const EDGE_SD_PRIOR: f64 = 0.2;
/// How many edges that expectation is worth: one, so that on a wheel of several edges what is seen
/// of them decides, be it rougher or finer; where there are but two, something must be expected.
/// With this and the next two the interval holds 93 to 97 % for wheels of 5 to 10 edges that
/// scatter by 0.17° to 0.8°, over four cycles (normal scatter, 20,000 draws).
const EDGE_SD_PRIOR_EDGES: f64 = 1.0;
/// Scatter of cycles expected before any is seen, sampling apart, in crank degrees (public
/// recordings: 0.05 to 0.3 for a single edge).
const CYCLE_SD_PRIOR: f64 = 0.08;
/// How many cycles that expectation is worth.
const CYCLE_SD_PRIOR_CYCLES: f64 = 1.0;
/// Variance that sampling gives an edge's angle, in variances of one edge's time: its own, and that
/// of the line between the two crank edges beside it, on average ∫ s² + (1 − s)² ds over 0..1 = ⅔.
const SAMPLED_EDGES: f64 = 5.0 / 3.0;
/// An edge this far from the others, in crank degrees, pulls no harder than one at this distance.
const EDGE_OUTLIER: f64 = 1.0;

/// Finds a cam's wheel in the edges of a lead; `None` when it does not fit.
#[must_use]
pub fn measure(
    index: usize,
    cam: &Cam,
    lead: &str,
    train: &EdgeTrain,
    angle: &CrankAngle,
) -> Option<CamPosition> {
    let pattern = CamPattern::of(cam, train);
    let seen: Vec<(Sighting, Seconds)> = train
        .edges
        .iter()
        .filter_map(|edge| {
            let turned = angle.angle_at(edge.at)?;
            Some((Sighting { turned: turned.0, kind: edge.kind }, edge.at))
        })
        .collect();
    let read = |polarity: Polarity| {
        let sightings: Vec<Sighting> = seen
            .iter()
            .map(|&(sighting, _)| Sighting { kind: polarity.upright(sighting.kind), ..sighting })
            .collect();
        find(&sightings, &pattern).map(|rotation| (polarity, sightings, rotation))
    };
    // Where one passage is steeper beyond doubt, the other is only the way back between teeth and
    // marks nothing, however evenly it comes; likewise the end of an output pulse.
    let marks = |polarity: Polarity| {
        train.marking().is_none_or(|kind| pattern.shows(polarity.upright(kind)))
    };
    let of = |polarity: Polarity| marks(polarity).then(|| read(polarity)).flatten();
    let normal = of(Polarity::Normal);
    let inverted = of(Polarity::Inverted);
    let score = |read: &Option<(Polarity, Vec<Sighting>, Rotation)>| {
        read.as_ref().map_or(0.0, |(_, _, rotation)| rotation.score)
    };
    // Upside down only when that fits better; a symmetric wheel fits both ways.
    let other_way = score(&normal).min(score(&inverted));
    let chosen = if score(&inverted) > score(&normal) * 1.05 { inverted } else { normal };
    let (polarity, sightings, rotation) = chosen?;
    if rotation.score < LEAST_SCORE {
        return None;
    }
    let (from, to) = angle.turned_span();
    let followed = follow(&sightings, &pattern, rotation.zero, (from.0, to.0));
    let table = Table::polish(&followed, pattern.edges.len());
    let cycles = cycle_positions(&followed, &table, &seen, angle);
    let speed = CyclePosition::mean_rpm(&cycles).unwrap_or(Rpm(0.0));
    let sampled = train.timing_sd.0 * speed.degrees_per_second();
    let (at, half_width) = table.location(&cycles, sampled);
    // The interval of a cam that moves takes in the places between which it did.
    let moved = Movement::of(&cycles).map_or(0.0, |movement| movement.range.0 / 2.0);
    let half_width = half_width.max(moved);
    let known_modulo = known_modulo(&pattern, &table.edges, &table.edge_errors);
    let runner_up = rotation.runner_up(known_modulo, pattern.reach);
    let fit =
        1.0 - runner_up.max(if pattern.edges.len() > 1 { 0.0 } else { other_way }) / rotation.score;
    Some(CamPosition {
        cam: index,
        lead: lead.to_owned(),
        polarity,
        position: CrankDeg::new(rotation.zero + at),
        half_width95: CrankDelta(half_width),
        cycle_sd: cycle_sd(&cycles).map(CrankDelta),
        edges: table.edge_results(&followed, &pattern, (rotation.zero, at), &|sighting, side| {
            speed_beside(angle, seen[sighting], side)
        }),
        cycles,
        known_modulo,
        missed: followed.missed,
        extra: followed.extra,
        fit: fit.clamp(0.0, 1.0),
    })
}

fn cycle_sd(cycles: &[CyclePosition]) -> Option<f64> {
    standard_deviation(&cycles.iter().map(|cycle| cycle.off.0).collect::<Vec<f64>>())
}

/// Offsets of cycles and edges.
struct Table {
    /// Per cycle; `None` where no edge was seen.
    cycles: Vec<Option<f64>>,
    /// Per edge; `None` where it was never seen.
    edges: Vec<Option<f64>>,
    /// Standard error of each edge's offset over cycles.
    edge_errors: Vec<f64>,
}

impl Table {
    fn polish(followed: &Followed, edge_count: usize) -> Table {
        let mut table = Table {
            cycles: vec![Some(0.0); followed.cycles],
            edges: vec![None; edge_count],
            edge_errors: vec![f64::INFINITY; edge_count],
        };
        // Median polish settles in two or three rounds.
        for _ in 0..4 {
            table.edges =
                (0..edge_count).map(|edge| median(&table.without_cycle(followed, edge))).collect();
            let centre = table.centre();
            table.cycles = (0..followed.cycles)
                .map(|cycle| {
                    let of_cycle = followed.placed.iter().filter(|one| one.cycle == cycle);
                    let late: Vec<f64> = of_cycle
                        .filter_map(|one| Some(one.late - (table.edges[one.edge]? - centre)))
                        .collect();
                    median(&late).map(|late| late - centre)
                })
                .collect();
        }
        for edge in 0..edge_count {
            let late = table.without_cycle(followed, edge);
            let sd = standard_deviation(&late).unwrap_or(CYCLE_SD_PRIOR);
            table.edge_errors[edge] = sd / (late.len().max(1) as f64).sqrt();
        }
        table
    }

    /// How late an edge was in each cycle that showed it, less the cycle's own offset.
    fn without_cycle(&self, followed: &Followed, edge: usize) -> Vec<f64> {
        let of_edge = followed.placed.iter().filter(|one| one.edge == edge);
        of_edge.filter_map(|one| Some(one.late - self.cycles.get(one.cycle).copied()??)).collect()
    }

    fn known_edges(&self) -> (Vec<f64>, Vec<f64>) {
        let known = self.edges.iter().zip(&self.edge_errors);
        known.filter_map(|(edge, error)| Some(((*edge)?, *error))).unzip()
    }

    /// Where the wheel stands, from all its edges, with bounded pull from any that is off.
    fn centre(&self) -> f64 {
        let (offsets, errors) = self.known_edges();
        let weights: Vec<f64> = errors
            .iter()
            .map(|error| {
                let error = if error.is_finite() { *error } else { 0.0 };
                1.0 / (EDGE_SD_PRIOR * EDGE_SD_PRIOR + error * error)
            })
            .collect();
        huber_location(&offsets, &weights, EDGE_OUTLIER).unwrap_or(0.0)
    }

    /// The location and the half width of its 95 % interval: scatter of cycles (worth fewer where
    /// it drifts) and disagreement of edges, each with its prior. What sampling does to one edge
    /// (`sampled`, crank degrees) is in the scatter that is seen, and is expected of cycles that
    /// were not.
    fn location(&self, cycles: &[CyclePosition], sampled: f64) -> (f64, f64) {
        let at = self.centre();
        let offs: Vec<f64> = cycles.iter().map(|cycle| cycle.off.0).collect();
        let count = effective_count(&offs);
        let squares = cycle_sd(cycles).map_or(0.0, |sd| sd * sd * (count - 1.0));
        let cycle_freedom = (count - 1.0).max(0.0) + CYCLE_SD_PRIOR_CYCLES;
        let (offsets, _) = self.known_edges();
        let known = offsets.len().max(1) as f64;
        let expected = CYCLE_SD_PRIOR.powi(2) + SAMPLED_EDGES * sampled * sampled / known;
        let cycle_variance = (squares + CYCLE_SD_PRIOR_CYCLES * expected) / cycle_freedom / count;
        let apart: f64 = offsets
            .iter()
            .map(|offset| (offset - at).clamp(-EDGE_OUTLIER, EDGE_OUTLIER).powi(2))
            .sum();
        let edge_variance = (apart + EDGE_SD_PRIOR_EDGES * EDGE_SD_PRIOR * EDGE_SD_PRIOR)
            / (known - 1.0 + EDGE_SD_PRIOR_EDGES)
            / known;
        // Welch and Satterthwaite: degrees of freedom of a sum of two estimated variances.
        let total = cycle_variance + edge_variance;
        let freedom = total * total
            / (cycle_variance * cycle_variance / cycle_freedom
                + edge_variance * edge_variance / (known - 1.0 + EDGE_SD_PRIOR_EDGES));
        (at, t95(freedom) * total.sqrt())
    }

    fn edge_results(
        &self,
        followed: &Followed,
        pattern: &CamPattern,
        (zero, at): (f64, f64),
        speed: &dyn Fn(usize, Side) -> Option<f64>,
    ) -> Vec<EdgeResult> {
        let mut results: Vec<EdgeResult> = self
            .edges
            .iter()
            .enumerate()
            .filter_map(|(index, offset)| {
                let offset = (*offset)?;
                let of_edge = || followed.placed.iter().filter(|one| one.edge == index);
                let raw: Vec<f64> = of_edge().map(|one| one.late).collect();
                let speed = |side: Side| {
                    let speeds = of_edge().filter_map(|one| speed(one.sighting, side));
                    median(&speeds.collect::<Vec<f64>>()).map(Rpm)
                };
                let place = pattern.edges[index];
                Some(EdgeResult {
                    kind: place.kind,
                    at: CrankDeg::new(zero + place.after_zero + median(&raw)?),
                    off: CrankDelta(offset - at),
                    sd: standard_deviation(&raw).map(CrankDelta),
                    n: raw.len(),
                    speed: speed(Side::Before),
                    speed_after: speed(Side::After),
                })
            })
            .collect();
        results.sort_by(|a, b| a.at.get().total_cmp(&b.at.get()));
        results
    }
}

/// Which side of an edge.
#[derive(Debug, Clone, Copy)]
enum Side {
    Before,
    After,
}

/// Speed of the crank beside a sighting, in revolutions per minute.
fn speed_beside(
    angle: &CrankAngle,
    (sighting, at): (Sighting, Seconds),
    side: Side,
) -> Option<f64> {
    let here = CrankTurned(sighting.turned);
    let travel = match side {
        Side::Before => here.since(angle.angle_at(at - BESIDE_EDGE)?),
        Side::After => angle.angle_at(at + BESIDE_EDGE)?.since(here),
    };
    Some(Rpm::from_travel(travel, BESIDE_EDGE)?.0)
}

/// A cycle counts when it shows half of the wheel's edges.
const LEAST_CYCLE_SHARE: f64 = 0.5;

fn cycle_positions(
    followed: &Followed,
    table: &Table,
    seen: &[(Sighting, Seconds)],
    angle: &CrankAngle,
) -> Vec<CyclePosition> {
    let edge_count = table.edges.iter().flatten().count() as f64;
    let faster = |side| faster_than_usual(followed, table.edges.len(), seen, angle, side);
    let (before, after) = (faster(Side::Before), faster(Side::After));
    let mut positions: Vec<CyclePosition> = Vec::new();
    for (cycle, off) in table.cycles.iter().enumerate() {
        let of_cycle: Vec<&Placed> =
            followed.placed.iter().filter(|one| one.cycle == cycle).collect();
        let (Some(off), Some(first), Some(last)) = (off, of_cycle.first(), of_cycle.last()) else {
            continue;
        };
        if (of_cycle.len() as f64) < LEAST_CYCLE_SHARE * edge_count {
            continue;
        }
        let at = (seen[first.sighting].1 + seen[last.sighting].1) / 2.0;
        positions.push(CyclePosition {
            at,
            rpm: mean_speed(angle, seen[first.sighting].0.turned, seen[last.sighting].0.turned),
            off: CrankDelta(*off),
            edges: of_cycle.len(),
            faster: median(&faster_in(&followed.placed, &before, cycle)).map(Rpm),
            faster_after: median(&faster_in(&followed.placed, &after, cycle)).map(Rpm),
        });
    }
    // The position is the middle of the cycles by definition.
    let offs: Vec<f64> = positions.iter().map(|position| position.off.0).collect();
    let middle = median(&offs).unwrap_or(0.0);
    for position in &mut positions {
        position.off = CrankDelta(position.off.0 - middle);
    }
    positions
}

/// How much faster the crank turned beside each placed edge than it does beside that edge of the
/// wheel in all cycles, revolutions per minute.
fn faster_than_usual(
    followed: &Followed,
    edges: usize,
    seen: &[(Sighting, Seconds)],
    angle: &CrankAngle,
    side: Side,
) -> Vec<Option<f64>> {
    let speeds: Vec<Option<f64>> =
        followed.placed.iter().map(|one| speed_beside(angle, seen[one.sighting], side)).collect();
    let usual: Vec<Option<f64>> = (0..edges)
        .map(|edge| {
            let of_edge = followed.placed.iter().zip(&speeds).filter(|(one, _)| one.edge == edge);
            median(&of_edge.filter_map(|(_, speed)| *speed).collect::<Vec<f64>>())
        })
        .collect();
    let less_usual =
        |(one, speed): (&Placed, &Option<f64>)| Some((*speed)? - (*usual.get(one.edge)?)?);
    followed.placed.iter().zip(&speeds).map(less_usual).collect()
}

/// Those of one cycle.
fn faster_in(placed: &[Placed], faster: &[Option<f64>], cycle: usize) -> Vec<f64> {
    let of_cycle = placed.iter().zip(faster).filter(|(one, _)| one.cycle == cycle);
    of_cycle.filter_map(|(_, faster)| *faster).collect()
}

/// Mean speed over the crank turn around two angles.
fn mean_speed(angle: &CrankAngle, from: f64, to: f64) -> Rpm {
    let (least, most) = angle.turned_span();
    let middle = from.midpoint(to);
    let from = CrankTurned((middle - 180.0).max(least.0));
    let to = CrankTurned((middle + 180.0).min(most.0));
    match (angle.time_at(from), angle.time_at(to)) {
        (Some(start), Some(end)) => {
            Rpm::from_travel(to.since(from), end - start).unwrap_or(Rpm(0.0))
        }
        _ => Rpm(0.0),
    }
}
