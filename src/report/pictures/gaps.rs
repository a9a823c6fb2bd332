//! The close-up for an eye that checks by counting: both turns of a cycle from the crank wheel's
//! gap on, teeth numbered, and how many teeth after the gap each cam edge comes and should come.

use super::axis::Scale;
use super::drawing::{Anchor, Drawing, Ink, SMALL, TEXT, fitted};
use super::font::text_width;
use super::scene::{Scene, Trace};
use super::traces::{ghost, signal};
use crate::cam::CamResult;
use crate::leads::Role;
use crate::units::TURN_DEG;
use crate::wheel::Form;

/// At 186 mm, what A4 leaves, the smallest text is 7 pt.
const WIDTH: f64 = 930.0;
const LEFT: f64 = 150.0;
const RIGHT: f64 = WIDTH - 16.0;
const TITLE: f64 = 26.0;
const CRANK: f64 = 46.0;
const NUMBERS: f64 = 22.0;
const CAM: f64 = 40.0;
/// Rows of counts below a cam: as measured, as expected.
const COUNTS: f64 = 38.0;
const SUPPLY: f64 = 54.0;
const GAP: f64 = 12.0;
const FOOT: f64 = 62.0;

/// Draws the picture; `None` without a cam, or where the crank's teeth are not equal slots.
pub(super) fn draw(scene: &Scene) -> Option<Drawing> {
    let engine = &scene.analysis.engine;
    let Form::Slots { slots, missing, .. } = engine.crank.wheel.form() else { return None };
    if scene.analysis.cams.is_empty() {
        return None;
    }
    let supply = supply(scene);
    let cams = scene.analysis.cams.len() as f64;
    let turn = TITLE
        + CRANK
        + NUMBERS
        + cams * (CAM + COUNTS + GAP)
        + if supply.is_some() { SUPPLY + GAP } else { 0.0 };
    let mut drawing = Drawing::new(WIDTH, 2.0 * turn + FOOT);
    let wheel = Slots { count: *slots, missing };
    for (index, word) in
        ["First turn of the cycle", "Second turn of the cycle"].into_iter().enumerate()
    {
        let from = TURN_DEG * index as f64;
        let x = Scale { values: (from, from + TURN_DEG), places: (LEFT, RIGHT) };
        let top = turn * index as f64;
        drawing.bold((4.0, top + 13.0), word, Anchor::Left);
        one_turn(&mut drawing, scene, &wheel, x, top + TITLE, supply.as_ref());
    }
    let lines = [
        "Below each cam: at which tooth of the crank wheel an edge comes, in bold as measured, below it as it should be.",
        "12.4 is four tenths of the way from tooth 12 to tooth 13. Teeth count from 1 in each turn, the first after the gap.",
        "Grey behind a signal: as it should be, by the engine file or a known-good.",
    ];
    for (line, text) in lines.into_iter().enumerate() {
        let text = fitted(text, SMALL, false, WIDTH - 8.0);
        drawing.small((4.0, 2.0 * turn + 12.0 + 18.0 * line as f64), text, Anchor::Left);
    }
    Some(drawing)
}

/// The starter's current or the battery's voltage, over the cycle shown.
fn supply(scene: &Scene) -> Option<(&'static str, Trace)> {
    let found = [("starter", Role::Starter), ("battery", Role::Battery)]
        .into_iter()
        .map(|(word, role)| (word, scene.trace(role)));
    found.into_iter().find(|(_, trace)| !trace.is_empty())
}

/// A crank wheel of equal slots.
struct Slots<'a> {
    count: u32,
    missing: &'a [u32],
}

impl Slots<'_> {
    fn pitch(&self) -> f64 {
        TURN_DEG / f64::from(self.count)
    }
}

fn one_turn(
    drawing: &mut Drawing,
    scene: &Scene,
    wheel: &Slots,
    x: Scale,
    top: f64,
    supply: Option<&(&'static str, Trace)>,
) {
    let mut y = top;
    // The gaps, through every lane.
    for &slot in wheel.missing {
        let from = x.values.0 + wheel.pitch() * f64::from(slot - 1);
        drawing.block((x.at(from), y), (x.at(from + wheel.pitch()), y + CRANK), Ink::Faint);
    }
    drawing.text((4.0, y + CRANK / 2.0), "crank", Anchor::Left);
    signal(drawing, &within(&scene.trace(Role::Crank), x), x, (y, y + CRANK), Ink::Black);
    y += CRANK;
    numbers(drawing, wheel, x, y + NUMBERS / 2.0);
    y += NUMBERS;
    for result in &scene.analysis.cams {
        cam(drawing, scene, result, wheel, x, y);
        y += CAM + COUNTS + GAP;
    }
    if let Some((word, trace)) = supply {
        drawing.text((4.0, y + SUPPLY / 2.0), *word, Anchor::Left);
        signal(drawing, &within(trace, x), x, (y, y + SUPPLY), Ink::Grey);
    }
}

/// The part of a trace that lies within a scale.
fn within(trace: &Trace, x: Scale) -> Trace {
    let inside = |point: &&(f64, f32)| (x.values.0..=x.values.1).contains(&point.0);
    trace.iter().map(|piece| piece.iter().filter(inside).copied().collect()).collect()
}

/// Every tooth's number where there is room, else every second, fifth or tenth.
fn numbers(drawing: &mut Drawing, wheel: &Slots, x: Scale, y: f64) {
    let room = x.at(x.values.0 + wheel.pitch()) - x.at(x.values.0);
    let wide = text_width("88", SMALL, false) + 5.0;
    let step = [1, 2, 5, 10, 20, 50].into_iter().find(|step| room * f64::from(*step) >= wide);
    let step = step.unwrap_or(100);
    let mut free = f64::NEG_INFINITY;
    for tooth in 1..=wheel.count {
        let shown = tooth == 1 || tooth % step == 0;
        let at = x.at(x.values.0 + wheel.pitch() * f64::from(tooth - 1));
        let half = text_width(&tooth.to_string(), SMALL, false) / 2.0;
        let at = at.clamp(x.places.0 + half, x.places.1 - half);
        if shown && !wheel.missing.contains(&tooth) && at - half >= free {
            drawing.small((at, y), tooth.to_string(), Anchor::Middle);
            free = at + half + 2.0;
        }
    }
}

fn cam(
    drawing: &mut Drawing,
    scene: &Scene,
    result: &CamResult,
    wheel: &Slots,
    x: Scale,
    top: f64,
) {
    let described = &scene.analysis.engine.cams[result.measured.cam];
    let name = fitted(&described.name, TEXT, true, LEFT - 12.0);
    drawing.bold((4.0, top + 12.0), name, Anchor::Left);
    let rows = (top, top + CAM);
    ghost(drawing, scene, result, x, rows);
    let trace = within(&scene.trace(Role::Cam(result.measured.cam)), x);
    signal(drawing, &trace, x, rows, Ink::Blue);
    drawing.small((4.0, top + CAM + 10.0), "teeth, measured", Anchor::Left);
    drawing.small((4.0, top + CAM + 27.0), "as it should be", Anchor::Left);
    let turn = |degrees: f64| (x.values.0..x.values.1).contains(&degrees);
    let count = |degrees: f64| format!("{:.1}", 1.0 + (degrees - x.values.0) / wheel.pitch());
    let mut measured: Vec<f64> = Vec::new();
    let mut expected: Vec<f64> = Vec::new();
    for edge in &result.measured.edges {
        measured.push(edge.at.get());
        if let Some(off) = result.deviation() {
            expected.push((edge.at - edge.off - off).get());
        }
    }
    let lines = [(measured, CAM + 10.0, true), (expected, CAM + 27.0, false)];
    for (mut places, below, bold) in lines {
        places.retain(|&degrees| turn(degrees));
        places.sort_by(f64::total_cmp);
        let mut free = f64::NEG_INFINITY;
        for degrees in places {
            let at = x.at(degrees);
            let ink = if bold { Ink::Black } else { Ink::Grey };
            drawing.line(
                &[(at, top - 2.0), (at, top + CAM + 3.0)],
                ink,
                if bold { 1.2 } else { 0.8 },
            );
            let text = count(degrees);
            let half = text_width(&text, SMALL, bold) / 2.0;
            let middle = at.clamp(x.places.0 + half, x.places.1 - half);
            // What has no room here stands in the table.
            if middle - half >= free {
                drawing.write((middle, top + below), text, SMALL, bold, Ink::Black, Anchor::Middle);
                free = middle + half + 4.0;
            }
        }
    }
}
