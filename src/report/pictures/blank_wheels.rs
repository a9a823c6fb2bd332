//! The wheels of an engine as described, each within a ring of crank degrees, with room to draw in
//! what was measured.

use super::drawing::{Anchor, At, Drawing, Ink, SMALL, TEXT, fitted};
use super::names::cam_name;
use super::panels::Panels;
use super::ring::{Ring, on_circle};
use super::wheels::teeth_of;
use crate::engine::{Cam, Engine};
use crate::units::{CrankDelta, TURN_DEG};
use crate::wheel::EdgeKind;

/// One wheel's part of the sheet: three fill a page as the signals do.
const PANEL: (f64, f64) = (310.0, 326.0);
/// Most panels side by side.
const ACROSS: usize = 3;
const FOOT: f64 = 44.0;
/// Radii of the described teeth, and of the ring of degrees.
const TEETH: (f64, f64) = (70.0, 83.0);
const DEGREES: f64 = 112.0;
/// Crank degrees between ticks, longer ticks and numbers of a ring.
const TICKS_DEG: (u32, u32) = (10, 30);

/// Draws the crank wheel and every cam's.
pub(super) fn draw(engine: &Engine) -> Drawing {
    let panels = engine.cams.len() + 1;
    let panels = Panels::new(PANEL, panels, panels.min(ACROSS));
    let mut drawing = panels.drawing(FOOT);
    crank(&mut drawing, engine, panels.corner(0));
    for (index, cam) in engine.cams.iter().enumerate() {
        cam_panel(&mut drawing, engine, index, cam, panels.corner(index + 1));
    }
    let lines = [
        "Clockwise as the teeth pass the sensor; later is clockwise. Numbers: crank degrees after the start of the cycle.",
        "Outline: where the engine file puts it. Draw what you read off the signals between outline and numbers.",
    ];
    panels.lines(&mut drawing, &lines);
    drawing
}

fn names(drawing: &mut Drawing, (left, top): At, name: &str, wheel: &str) -> At {
    let middle = left + PANEL.0 / 2.0;
    let room = PANEL.0 - 16.0;
    drawing.bold((middle, top + 14.0), fitted(name, TEXT, true, room), Anchor::Middle);
    drawing.small((middle, top + 32.0), fitted(wheel, SMALL, false, room), Anchor::Middle);
    (middle, top + 44.0 + DEGREES + 26.0)
}

/// A circle of crank degrees around a wheel; `cycle` degrees are one turn of it.
fn degrees(drawing: &mut Drawing, centre: At, cycle: u32, numbers: u32) {
    drawing.circle(centre, DEGREES, Ink::Grey);
    for step in (0..cycle).step_by(TICKS_DEG.0 as usize) {
        let turned = f64::from(step) * TURN_DEG / f64::from(cycle);
        let length = if step % TICKS_DEG.1 == 0 { 8.0 } else { 4.0 };
        let ends =
            [on_circle(centre, DEGREES, turned), on_circle(centre, DEGREES + length, turned)];
        drawing.line(&ends, Ink::Black, 0.8);
        if step % numbers == 0 {
            let at = on_circle(centre, DEGREES + 20.0, turned);
            drawing.small(at, format!("{step}°"), Anchor::Middle);
        }
    }
}

fn crank(drawing: &mut Drawing, engine: &Engine, corner: At) {
    let described = &engine.crank;
    if !described.described {
        return;
    }
    let centre = names(drawing, corner, "crank", described.wheel.name());
    let teeth = teeth_of(&described.wheel, described.edge.unwrap_or(EdgeKind::Falling));
    Ring { centre, radii: TEETH, teeth: &teeth, turned: 0.0 }.hollow(drawing, Ink::Black);
    degrees(drawing, centre, 360, 30);
    let Some(tdc) = described.tdc else {
        drawing.small(centre, "top dead centre not stated", Anchor::Middle);
        return;
    };
    drawing.line(
        &[on_circle(centre, 38.0, tdc.0), on_circle(centre, TEETH.0 - 4.0, tdc.0)],
        Ink::Blue,
        1.5,
    );
    drawing.text((centre.0, centre.1 - 8.0), "TDC 1 at", Anchor::Middle);
    drawing.text((centre.0, centre.1 + 10.0), format!("{:.0}°", tdc.0), Anchor::Middle);
}

fn cam_panel(drawing: &mut Drawing, engine: &Engine, index: usize, cam: &Cam, corner: At) {
    let centre = names(drawing, corner, &cam_name(engine, index), cam.wheel.name());
    let teeth = teeth_of(&cam.wheel, cam.edge);
    let expected = engine.expected(index).map(|(at, _)| at.get());
    // A cam turns half as far as the crank.
    let turned = CrankDelta(expected.unwrap_or(0.0)).to_cam().0;
    Ring { centre, radii: TEETH, teeth: &teeth, turned }.hollow(drawing, Ink::Black);
    degrees(drawing, centre, 720, 60);
    let lines = match expected {
        Some(at) => {
            drawing.dashed(
                &[on_circle(centre, 46.0, turned), on_circle(centre, TEETH.1 + 6.0, turned)],
                Ink::Grey,
                1.0,
            );
            ["its 0° should".to_owned(), format!("be at {at:.1}°")]
        }
        None => ["its place is".to_owned(), "not stated".to_owned()],
    };
    for (line, text) in lines.into_iter().enumerate() {
        drawing.small((centre.0, centre.1 - 9.0 + 18.0 * line as f64), text, Anchor::Middle);
    }
}
