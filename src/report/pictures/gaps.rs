//! The close-up for an eye that checks by counting: both turns of a cycle from the crank wheel's
//! tooth 1 on, teeth numbered, and at which tooth each cam edge comes and should come.

use super::axis::Scale;
use super::drawing::{Anchor, Drawing, Ink, SMALL, TEXT, fitted};
use super::font::text_width;
use super::scene::{Scene, Trace};
use super::traces::{ghost, signal};
use super::wheels::teeth_of;
use crate::cam::CamResult;
use crate::leads::Role;
use crate::report::words::{counted_on, first_tooth};
use crate::units::{ShaftDeg, TURN_DEG};
use crate::wheel::{EdgeKind, Form, ToothCount};

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

/// Teeth of the wheel as described, where it lists them one by one.
const TEETH: f64 = 12.0;

/// Draws the picture; `None` without a cam.
pub(super) fn draw(scene: &Scene) -> Option<Drawing> {
    let engine = &scene.analysis.engine;
    if scene.analysis.cams.is_empty() {
        return None;
    }
    let supply = supply(scene);
    let cams = scene.analysis.cams.len() as f64;
    let one_by_one = matches!(engine.crank.wheel.form(), Form::Teeth(_));
    let turn = TITLE
        + CRANK
        + if one_by_one { TEETH } else { 0.0 }
        + NUMBERS
        + cams * (CAM + COUNTS + GAP)
        + if supply.is_some() { SUPPLY + GAP } else { 0.0 };
    let mut drawing = Drawing::new(WIDTH, 2.0 * turn + FOOT);
    let wheel = counted_on(engine);
    let listed = match engine.crank.wheel.form() {
        Form::Slots { .. } => Vec::new(),
        Form::Teeth(_) => teeth_of(&engine.crank.wheel, EdgeKind::Rising),
    };
    let close = CloseUp { scene, wheel, listed, supply };
    for (index, word) in
        ["First turn of the cycle", "Second turn of the cycle"].into_iter().enumerate()
    {
        let from = TURN_DEG * index as f64;
        let x = Scale { values: (from, from + TURN_DEG), places: (LEFT, RIGHT) };
        let top = turn * index as f64;
        drawing.bold((4.0, top + 13.0), word, Anchor::Left);
        close.turn(&mut drawing, x, top + TITLE);
    }
    let first = first_tooth(engine);
    let lines = [
        "Below each cam: at which tooth of the crank wheel an edge comes, in bold as measured, below it as it should be.".to_owned(),
        format!("12.4 is four tenths of the way from tooth 12 to tooth 13. Teeth count from 1 in each turn, {first}."),
        "Grey behind a signal: as it should be, by the engine file or a known-good.".to_owned(),
    ];
    for (line, text) in lines.iter().enumerate() {
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

/// What both turns are drawn from.
struct CloseUp<'a> {
    scene: &'a Scene<'a>,
    wheel: ToothCount,
    /// Start and width of the wheel's teeth, where it lists them one by one.
    listed: Vec<(f64, f64)>,
    supply: Option<(&'static str, Trace)>,
}

impl CloseUp<'_> {
    fn turn(&self, drawing: &mut Drawing, x: Scale, top: f64) {
        let scene = self.scene;
        let mut y = top;
        let start = x.values.0;
        for (from, to) in self.wheel.gaps() {
            drawing.block((x.at(start + from), y), (x.at(start + to), y + CRANK), Ink::Faint);
        }
        drawing.text((4.0, y + CRANK / 2.0), "crank", Anchor::Left);
        signal(drawing, &within(&scene.trace(Role::Crank), x), x, (y, y + CRANK), Ink::Black);
        y += CRANK;
        if !self.listed.is_empty() {
            self.teeth(drawing, x, y + 3.0);
            y += TEETH;
        }
        numbers(drawing, &self.wheel, x, y + NUMBERS / 2.0);
        y += NUMBERS;
        for result in &scene.analysis.cams {
            cam(drawing, scene, result, &self.wheel, x, y);
            y += CAM + COUNTS + GAP;
        }
        if let Some((word, trace)) = &self.supply {
            drawing.text((4.0, y + SUPPLY / 2.0), *word, Anchor::Left);
            signal(drawing, &within(trace, x), x, (y, y + SUPPLY), Ink::Grey);
        }
    }

    /// The teeth as they are listed, so that wide and narrow ones are found again in the signal.
    fn teeth(&self, drawing: &mut Drawing, x: Scale, y: f64) {
        for &(from, width) in &self.listed {
            // A tooth that runs over the end of the turn goes on at its beginning.
            for from in [from, from - TURN_DEG] {
                let (left, right) = (from.max(0.0), (from + width).min(TURN_DEG));
                if left < right {
                    let at = |degrees: f64| x.at(x.values.0 + degrees);
                    drawing.block((at(left), y), (at(right), y + TEETH - 4.0), Ink::Grey);
                }
            }
        }
    }
}

/// The part of a trace that lies within a scale.
fn within(trace: &Trace, x: Scale) -> Trace {
    let inside = |point: &&(f64, f32)| (x.values.0..=x.values.1).contains(&point.0);
    trace.iter().map(|piece| piece.iter().filter(inside).copied().collect()).collect()
}

/// Every tooth's number where there is room, else every second, fifth or tenth.
fn numbers(drawing: &mut Drawing, wheel: &ToothCount, x: Scale, y: f64) {
    let room = (x.places.1 - x.places.0) / wheel.numbers().max(1) as f64;
    let wide = text_width("88", SMALL, false) + 5.0;
    let step = [1, 2, 5, 10, 20, 50].into_iter().find(|step| room * f64::from(*step) >= wide);
    let step = step.unwrap_or(100);
    let mut free = f64::NEG_INFINITY;
    for (tooth, degrees) in wheel.teeth() {
        let shown = tooth == 1 || tooth % step == 0;
        let at = x.at(x.values.0 + degrees);
        let half = text_width(&tooth.to_string(), SMALL, false) / 2.0;
        let at = at.clamp(x.places.0 + half, x.places.1 - half);
        if shown && at - half >= free {
            drawing.small((at, y), tooth.to_string(), Anchor::Middle);
            free = at + half + 2.0;
        }
    }
}

fn cam(
    drawing: &mut Drawing,
    scene: &Scene,
    result: &CamResult,
    wheel: &ToothCount,
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
    let count = |degrees: f64| format!("{:.1}", wheel.at(ShaftDeg::new(degrees - x.values.0)));
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
