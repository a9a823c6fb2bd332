//! The close-up for an eye that checks by counting: both turns of a cycle from the crank wheel's
//! tooth 1 on, teeth numbered, and at which tooth each cam edge comes and should come.

mod lane;

use super::axis::Scale;
use super::drawing::{Anchor, Drawing, Ink, SMALL, fitted};
use super::font::text_width;
use super::scene::{Scene, Trace};
use super::traces::signal;
use super::wheels::teeth_of;
use crate::leads::Role;
use crate::report::words::{counted_on, first_tooth};
use crate::units::TURN_DEG;
use crate::wheel::{EdgeKind, Form, ToothCount};
use lane::Lanes;

/// At 186 mm, what A4 leaves, the smallest text is 7 pt.
const WIDTH: f64 = 930.0;
const LEFT: f64 = 150.0;
const RIGHT: f64 = WIDTH - 16.0;
const TITLE: f64 = 26.0;
const CRANK: f64 = 46.0;
/// Teeth of the wheel as described, where it lists them one by one.
const TEETH: f64 = 12.0;
const NUMBERS: f64 = 22.0;
const SUPPLY: f64 = 54.0;
const GAP: f64 = 12.0;
/// Room below, and for each line of text there.
const FOOT: f64 = 8.0;
const LINE: f64 = 18.0;

/// Draws the picture; `None` without a cam.
pub(super) fn draw(scene: &Scene) -> Option<Drawing> {
    let engine = &scene.analysis.engine;
    if scene.analysis.cams.is_empty() {
        return None;
    }
    let listed = match engine.crank.wheel.form() {
        Form::Slots { .. } => Vec::new(),
        Form::Teeth(_) => teeth_of(&engine.crank.wheel, EdgeKind::Rising),
    };
    let (wheel, supply, lanes) = (counted_on(engine), supply(scene), Lanes::of(scene));
    let turn = TITLE
        + CRANK
        + if listed.is_empty() { 0.0 } else { TEETH }
        + NUMBERS
        + scene.analysis.cams.len() as f64 * lanes.high()
        + if supply.is_some() { SUPPLY + GAP } else { 0.0 };
    let lines = lines(scene, &lanes);
    let mut drawing = Drawing::new(WIDTH, 2.0 * turn + FOOT + LINE * lines.len() as f64);
    let close = CloseUp { scene, wheel, listed, supply, lanes };
    for (index, word) in
        ["First turn of the cycle", "Second turn of the cycle"].into_iter().enumerate()
    {
        let from = TURN_DEG * index as f64;
        let x = Scale { values: (from, from + TURN_DEG), places: (LEFT, RIGHT) };
        let top = turn * index as f64;
        drawing.bold((4.0, top + 13.0), word, Anchor::Left);
        close.turn(&mut drawing, x, top + TITLE);
    }
    for (line, text) in lines.iter().enumerate() {
        let text = fitted(text, SMALL, false, WIDTH - 8.0);
        drawing.small((4.0, 2.0 * turn + 12.0 + LINE * line as f64), text, Anchor::Left);
    }
    Some(drawing)
}

/// How to read it.
fn lines(scene: &Scene, lanes: &Lanes) -> Vec<String> {
    let first = first_tooth(&scene.analysis.engine);
    let mut lines = vec![
        "Below each cam: at which tooth of the crank wheel an edge comes, in bold as measured, below it as it should be.".to_owned(),
        format!("12.4 is four tenths of the way from tooth 12 to tooth 13. Teeth count from 1 in each turn, {first}."),
        "Grey behind a signal: as it should be, by the engine file or a known-good.".to_owned(),
    ];
    lines.extend(lanes.laid_over().map(|name| {
        format!("Dashed over a signal, and “laid over” below it: {name}, said to be of a sound engine, at the same crank degrees.")
    }));
    lines.extend(lanes.learned().map(|engines| {
        format!("Strokes in the row “{engines}”: where each of them stood. Bar: where another sound one is expected to, 95 % sure.")
    }));
    lines
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
    lanes: Lanes<'a>,
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
            self.lanes.draw(drawing, (scene, result), &self.wheel, x, y);
            y += self.lanes.high();
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
