//! Picture 6: the pressure in a cylinder over one cycle, with what was read off it.

use super::axis::Scale;
use super::drawing::{Anchor, Drawing, Ink};
use super::scene::Scene;
use crate::compression::{PressureResult, ValveEventKind};
use crate::engine::Engine;
use crate::units::CYCLE_DEG;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 60.0;
const RIGHT: f64 = WIDTH - 20.0;
/// Height of one cylinder's strip, with its heading and axis.
const STRIP: f64 = 230.0;
const TOP: f64 = 58.0;
const BOTTOM: f64 = STRIP - 44.0;
/// Ticks of the axis are this far apart, crank degrees.
const TICK_DEG: i32 = 60;

/// Whether there is anything to draw.
pub(super) fn is_there(scene: &Scene) -> bool {
    scene.analysis.compression.pressure.iter().any(|one| !one.line.is_empty())
}

/// Draws a strip for each lead.
pub(super) fn draw(scene: &Scene) -> Drawing {
    let drawn = scene.analysis.compression.pressure.iter().filter(|one| !one.line.is_empty());
    let drawn: Vec<&PressureResult> = drawn.collect();
    let mut drawing = Drawing::new(WIDTH, STRIP * drawn.len().max(1) as f64);
    for (index, one) in drawn.iter().enumerate() {
        strip(&mut drawing, &scene.analysis.engine, one, index as f64 * STRIP);
    }
    drawing
}

fn strip(drawing: &mut Drawing, engine: &Engine, one: &PressureResult, top: f64) {
    let (least, most) = one
        .line
        .iter()
        .fold((f32::INFINITY, f32::NEG_INFINITY), |(a, b), (_, p)| (a.min(*p), b.max(*p)));
    let room = f64::from(most - least).max(f64::MIN_POSITIVE) * 0.05;
    let values = (f64::from(least) - room, f64::from(most) + room);
    let x = Scale { values: (-CYCLE_DEG / 2.0, CYCLE_DEG / 2.0), places: (LEFT, RIGHT) };
    let y = Scale { values, places: (top + BOTTOM, top + TOP) };
    for tick in y.ticks(4) {
        drawing.line(&[(LEFT, y.at(tick)), (RIGHT, y.at(tick))], Ink::Faint, 1.0);
        drawing.small((LEFT - 6.0, y.at(tick)), format!("{tick}"), Anchor::Right);
    }
    let foot = top + BOTTOM;
    drawing.line(&[(LEFT, top + TOP), (LEFT, foot), (RIGHT, foot)], Ink::Black, 1.0);
    for degrees in (-360..=360).step_by(TICK_DEG as usize) {
        let at = x.at(f64::from(degrees));
        drawing.line(&[(at, foot), (at, foot + 5.0)], Ink::Black, 1.0);
        drawing.small((at, foot + 14.0), format!("{degrees}°"), Anchor::Middle);
    }
    let middle = f64::midpoint(LEFT, RIGHT);
    drawing.small(
        (middle, foot + 32.0),
        "crank degrees from the TDC that the pressure shows",
        Anchor::Middle,
    );
    drawing.bold((LEFT, top + 12.0), format!("Cylinder {}", one.cylinder), Anchor::Left);
    let points: Vec<(f64, f64)> =
        one.line.iter().map(|(at, value)| (x.at(at.0), y.at(f64::from(*value)))).collect();
    drawing.line(&points, Ink::Blue, 1.5);
    for mark in marks(engine, one) {
        let at = x.at(mark.at);
        let row = top + if mark.measured { 44.0 } else { 28.0 };
        let ends = [(at, row + 8.0), (at, foot)];
        if mark.measured {
            drawing.line(&ends, Ink::Black, 1.0);
        } else {
            drawing.dashed(&ends, Ink::Pale, 1.0);
        }
        drawing.small((at, row), mark.name, Anchor::Middle);
    }
}

/// Something marked on the line: where it was read, or where the engine file has it.
struct Mark {
    at: f64,
    name: String,
    measured: bool,
}

fn marks(engine: &Engine, one: &PressureResult) -> Vec<Mark> {
    let about_tdc = |at: f64| (at + CYCLE_DEG / 2.0).rem_euclid(CYCLE_DEG) - CYCLE_DEG / 2.0;
    let mut marks = vec![Mark { at: 0.0, name: "TDC".into(), measured: true }];
    marks.extend(one.tdc_off.filter(|off| !off.word().is_empty()).map(|off| Mark {
        at: about_tdc(-off.0),
        name: "TDC by the engine file".into(),
        measured: false,
    }));
    for event in &one.events {
        let (name, stated) = match event.kind {
            ValveEventKind::IntakeCloses => ("intake closes", engine.valves.intake_closes),
            ValveEventKind::ExhaustOpens => ("exhaust opens", engine.valves.exhaust_opens),
        };
        marks.push(Mark { at: about_tdc(event.at.get()), name: name.into(), measured: true });
        marks.extend(stated.map(|stated| Mark {
            at: about_tdc(stated.get()),
            name: format!("{name} by the engine file"),
            measured: false,
        }));
    }
    marks
}
