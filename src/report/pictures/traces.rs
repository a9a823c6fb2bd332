//! Picture 1: the signals over one cycle, a band per bank, measured edges against expected ones.

use std::collections::BTreeSet;

use super::axis::{CYCLE_AXIS, Scale, cycle_axis, tdc_marks};
use super::drawing::{Anchor, At, Drawing, Ink, SMALL, TEXT, fitted};
use super::font::text_width;
use super::names::cam_name;
use super::scene::{Scene, Trace};
use crate::cam::CamResult;
use crate::crank::Polarity;
use crate::leads::Role;
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta};
use crate::verdict::errors::DAMAGE_LEAST;
use crate::wheel::EdgeKind;

/// As wide as the 186 mm that A4 leaves, its smallest text is printed in 7 points.
const WIDTH: f64 = 930.0;
/// Left end of the signals; the lanes' names stand before it.
const LEFT: f64 = 150.0;
const RIGHT: f64 = WIDTH - 24.0;
const TOP: f64 = 26.0;
/// Row of a bank's name.
const BANK_ROW: f64 = 20.0;
const CRANK_LANE: f64 = 30.0;
/// Above a cam's signal: the bracket and its degrees.
const BRACKET_ROW: f64 = 24.0;
const CAM_SIGNAL: f64 = 36.0;
const LANE_GAP: f64 = 13.0;
const LEGEND: f64 = 26.0;
/// Brackets narrower than this get their arrows from outside.
const NARROW: f64 = 16.0;

/// Draws the picture.
pub(super) fn draw(scene: &Scene) -> Drawing {
    let engine = &scene.analysis.engine;
    let banks: BTreeSet<u32> = engine.cams.iter().map(|cam| cam.bank).collect();
    let banks: Vec<u32> = if banks.is_empty() { vec![1] } else { banks.into_iter().collect() };
    let cam_lane = BRACKET_ROW + CAM_SIGNAL + LANE_GAP;
    let heads = banks.len() as f64 * (BANK_ROW + CRANK_LANE + LANE_GAP);
    let height = TOP + heads + engine.cams.len() as f64 * cam_lane + CYCLE_AXIS + LEGEND + 6.0;
    let mut drawing = Drawing::new(WIDTH, height);
    let x = Scale { values: (0.0, CYCLE_DEG), places: (LEFT, RIGHT) };
    let bottom = height - CYCLE_AXIS - LEGEND;
    tdc_marks(&mut drawing, x, 12.0, bottom, &scene.firing_tdcs());
    let crank = scene.trace(Role::Crank);
    let mut y = TOP;
    for bank in banks {
        let members: Vec<usize> =
            (0..engine.cams.len()).filter(|&cam| engine.cams[cam].bank == bank).collect();
        let tall = BANK_ROW + CRANK_LANE + LANE_GAP + members.len() as f64 * cam_lane;
        drawing.frame((4.0, y + 2.0), (WIDTH - 4.0, y + tall - 4.0), Ink::Pale);
        drawing.bold((12.0, y + 14.0), format!("Bank {bank}"), Anchor::Left);
        y += BANK_ROW;
        drawing.text((12.0, y + CRANK_LANE / 2.0), "crank", Anchor::Left);
        signal(&mut drawing, &crank, x, (y, y + CRANK_LANE), Ink::Grey);
        y += CRANK_LANE + LANE_GAP;
        for cam in members {
            lane(&mut drawing, scene, cam, x, y);
            y += cam_lane;
        }
    }
    cycle_axis(&mut drawing, x, y);
    legend(&mut drawing, height - 12.0);
    drawing
}

/// One cam: name, ghost, signal, edges, bracket.
fn lane(drawing: &mut Drawing, scene: &Scene, cam: usize, x: Scale, top: f64) {
    let engine = &scene.analysis.engine;
    let described = &engine.cams[cam];
    let rows = (top + BRACKET_ROW, top + BRACKET_ROW + CAM_SIGNAL);
    let room = LEFT - 24.0;
    let name = fitted(&cam_name(engine, cam), TEXT, true, room);
    drawing.bold((12.0, rows.0 + 6.0), name, Anchor::Left);
    let result = scene.cam(cam);
    let note = match (result, scene.analysis.has_lead(cam)) {
        (Some(result), _) => result.deviation().map_or("place not known".into(), in_words),
        (None, true) => "wheel not found".into(),
        (None, false) => "no lead".into(),
    };
    drawing.small((12.0, rows.0 + 25.0), fitted(&note, SMALL, false, room), Anchor::Left);
    let trace = scene.trace(Role::Cam(cam));
    if let Some(result) = result {
        ghost(drawing, scene, result, x, rows);
    }
    signal(drawing, &trace, x, rows, Ink::Blue);
    if let Some(result) = result {
        edges(drawing, result, x, rows);
        brackets(drawing, result, described.tolerance, x, top + BRACKET_ROW / 2.0 - 2.0);
    }
}

/// "18.2° late", "in place".
pub(super) fn in_words(deviation: CrankDelta) -> String {
    if deviation.word().is_empty() { "in place".into() } else { deviation.to_string() }
}

/// Scales a trace into its lane and draws it.
pub(super) fn signal(drawing: &mut Drawing, trace: &Trace, x: Scale, rows: (f64, f64), ink: Ink) {
    for line in scaled(trace, x, rows) {
        drawing.line(&line, ink, 1.0);
    }
}

/// A trace scaled into its lane, each piece a line; none where it is flat.
pub(super) fn scaled(trace: &Trace, x: Scale, (top, bottom): (f64, f64)) -> Vec<Vec<At>> {
    let values = trace.iter().flatten().map(|point| f64::from(point.1));
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    if low >= high {
        return Vec::new();
    }
    let y = Scale { values: (low, high), places: (bottom, top) };
    let place = |&(degrees, value): &(f64, f32)| (x.at(degrees), y.at(f64::from(value)));
    trace.iter().map(|piece| piece.iter().map(place).collect()).collect()
}

/// The expected square wave behind the measured one, where the wheel's both edges show.
pub(super) fn ghost(
    drawing: &mut Drawing,
    scene: &Scene,
    result: &CamResult,
    x: Scale,
    (top, bottom): (f64, f64),
) {
    let Some(expected) = result.expected.map(|expected| expected.at) else { return };
    let cam = &scene.analysis.engine.cams[result.measured.cam];
    let shows = |kind| result.measured.edges.iter().any(|edge| edge.kind == kind);
    if !(shows(EdgeKind::Rising) && shows(EdgeKind::Falling)) {
        return;
    }
    let (over, between) = match result.measured.polarity {
        Polarity::Normal => (top, bottom),
        Polarity::Inverted => (bottom, top),
    };
    let mut teeth: Vec<(f64, f64)> = cam
        .wheel
        .teeth(cam.edge)
        .iter()
        .map(|tooth| {
            let start = (expected + tooth.start.crank_after_zero()).get();
            (start, start + tooth.width.to_crank().0)
        })
        .collect();
    // A tooth that runs over the end of the cycle shows at its beginning as well.
    let again: Vec<(f64, f64)> =
        teeth.iter().map(|&(start, end)| (start - CYCLE_DEG, end - CYCLE_DEG)).collect();
    teeth.extend(again);
    teeth.retain(|&(start, end)| end > x.values.0 && start < x.values.1);
    teeth.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut points = vec![(x.places.0, between)];
    for (start, end) in teeth {
        let (from, to) = (x.at(start.max(x.values.0)), x.at(end.min(x.values.1)));
        points.extend([(from, between), (from, over), (to, over), (to, between)]);
    }
    points.push((x.places.1, between));
    drawing.line(&points, Ink::Pale, 4.0);
}

/// Measured edges as solid lines with a triangle, expected ones dashed with a ring.
fn edges(drawing: &mut Drawing, result: &CamResult, x: Scale, (top, bottom): (f64, f64)) {
    for edge in &result.measured.edges {
        if let Some(deviation) = result.deviation() {
            let at = x.at((edge.at - edge.off - deviation).get());
            drawing.dashed(&[(at, top - 3.0), (at, bottom + 3.0)], Ink::Grey, 1.0);
            drawing.circle((at, bottom + 7.0), 3.5, Ink::Grey);
        }
    }
    for edge in &result.measured.edges {
        let at = x.at(edge.at.get());
        drawing.line(&[(at, top - 3.0), (at, bottom + 3.0)], Ink::Black, 1.2);
        let (tip, base) = match edge.kind {
            EdgeKind::Rising => (bottom + 3.0, bottom + 11.0),
            EdgeKind::Falling => (bottom + 11.0, bottom + 3.0),
        };
        drawing.area(&[(at, tip), (at - 4.5, base), (at + 4.5, base)], Ink::Black);
    }
}

/// The cam's deviation on one edge; and on an edge that stands apart from its own wheel, by how
/// much.
fn brackets(drawing: &mut Drawing, result: &CamResult, tolerance: CrankDelta, x: Scale, y: f64) {
    let Some(deviation) = result.deviation() else { return };
    let apart = result
        .measured
        .edges
        .iter()
        .filter(|edge| edge.off.0.abs() >= DAMAGE_LEAST.0)
        .max_by(|a, b| a.off.0.abs().total_cmp(&b.off.0.abs()));
    if let Some(span) = bracket_edge(result, deviation, apart.map(|edge| edge.at)) {
        let ink = if deviation.abs() > tolerance { Ink::Vermilion } else { Ink::Black };
        bracket(drawing, span, &in_words(deviation), ink, x, y);
    }
    if let Some(edge) = apart {
        let span = (edge.at - edge.off, edge.at);
        bracket(drawing, span, &format!("this edge {}", edge.off), Ink::Vermilion, x, y);
    }
}

/// From where an edge should be to where it is, with the degrees.
fn bracket(
    drawing: &mut Drawing,
    (expected, measured): (CrankDeg, CrankDeg),
    label: &str,
    ink: Ink,
    x: Scale,
    y: f64,
) {
    let (from, to) = (x.at(expected.get()), x.at(measured.get()));
    let off = !CrankDelta(measured.get() - expected.get()).word().is_empty();
    for at in [from, to] {
        drawing.line(&[(at, y - 6.0), (at, y + 14.0)], ink, 1.5);
    }
    let (left, right) = (from.min(to), from.max(to));
    let mut clear = right + 6.0;
    if off && right - left >= NARROW {
        drawing.line(&[(left, y), (right, y)], ink, 1.5);
        drawing.arrow_head((to, y), to > from, ink);
    } else if off {
        // Too narrow for an arrow between: two from outside.
        drawing.line(&[(left - 14.0, y), (left, y)], ink, 1.5);
        drawing.arrow_head((left, y), true, ink);
        drawing.line(&[(right, y), (right + 14.0, y)], ink, 1.5);
        drawing.arrow_head((right, y), false, ink);
        clear += 14.0;
    }
    let width = text_width(label, TEXT, true);
    let (at, hold) = if clear + width <= x.places.1 {
        (clear, Anchor::Left)
    } else {
        (left - 20.0, Anchor::Right)
    };
    drawing.write((at, y), label, TEXT, true, ink, hold);
}

/// Where the edge the bracket stands on should be and is: one whose whole bracket lies within the
/// picture, the most often seen first, far from an edge that has a bracket of its own.
fn bracket_edge(
    result: &CamResult,
    deviation: CrankDelta,
    apart: Option<CrankDeg>,
) -> Option<(CrankDeg, CrankDeg)> {
    let sound = result.measured.edges.iter().filter(|edge| edge.off.0.abs() < DAMAGE_LEAST.0);
    let places = sound.map(|edge| {
        let measured = edge.at - edge.off;
        (edge.n, (measured - deviation, measured))
    });
    let within = |&(_, (expected, measured)): &(usize, (CrankDeg, CrankDeg))| {
        let straight = measured.get() - expected.get();
        (straight - deviation.0).abs() < 1.0
    };
    let found = places.filter(within).max_by_key(|&(n, (expected, measured))| {
        let far = apart.map_or(0, |apart| (apart.get() - measured.get()).abs() as i64);
        // Of equals, the first of the cycle.
        (n, far, -(expected.get().min(measured.get()) as i64))
    });
    found.map(|(_, edge)| edge)
}

fn legend(drawing: &mut Drawing, y: f64) {
    let mut at = 4.0;
    let mut entry = |drawing: &mut Drawing, text: &str| {
        let start = at + 26.0;
        drawing.small((start, y), text, Anchor::Left);
        let mark = at + 12.0;
        at = start + text_width(text, SMALL, false) + 18.0;
        mark
    };
    let mark = entry(drawing, "signal");
    drawing.line(&[(mark - 9.0, y), (mark + 9.0, y)], Ink::Blue, 1.5);
    let mark = entry(drawing, "signal as it should be");
    drawing.line(&[(mark - 9.0, y), (mark + 9.0, y)], Ink::Pale, 4.0);
    let mark = entry(drawing, "measured edge: rising, falling");
    drawing
        .area(&[(mark - 5.0, y - 4.0), (mark - 9.5, y + 4.0), (mark - 0.5, y + 4.0)], Ink::Black);
    drawing
        .area(&[(mark + 6.0, y + 4.0), (mark + 1.5, y - 4.0), (mark + 10.5, y - 4.0)], Ink::Black);
    let mark = entry(drawing, "where it should be");
    drawing.circle((mark, y), 3.5, Ink::Grey);
    let mark = entry(drawing, "TDC: piston at the top, about to fire");
    drawing.dashed(&[(mark, y - 8.0), (mark, y + 8.0)], Ink::Pale, 1.0);
}
