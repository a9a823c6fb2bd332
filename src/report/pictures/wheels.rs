//! Picture 2: crank wheel and cam wheels as rings, expected against measured.

use super::drawing::{Anchor, At, Drawing, Ink, SMALL, TEXT, fitted};
use super::names::cam_name;
use super::panels::Panels;
use super::ring::{Ring, arc, on_circle};
use super::scene::Scene;
use crate::engine::Cam;
use crate::report::words::datum_mark;
use crate::units::{CYCLE_DEG, CrankDelta};
use crate::wheel::{EdgeKind, Wheel};

/// One wheel's part of the sheet.
const PANEL: (f64, f64) = (270.0, 282.0);
/// Most panels side by side: with three, text has 7 points on paper.
const ACROSS: usize = 3;
const FOOT: f64 = 62.0;

/// Draws the picture.
pub(super) fn draw(scene: &Scene) -> Drawing {
    let cams = &scene.analysis.engine.cams;
    let panels = cams.len() + 1;
    // Four panels stand better as two and two than as three and one.
    let across = if panels > ACROSS { panels.div_ceil(panels.div_ceil(ACROSS)) } else { panels };
    let panels = Panels::new(PANEL, panels, across);
    let mut drawing = panels.drawing(FOOT);
    crank(&mut drawing, scene, panels.corner(0));
    for (index, cam) in cams.iter().enumerate() {
        cam_panel(&mut drawing, scene, index, cam, panels.corner(index + 1));
    }
    let datum = format!("0° is {}, as it passes the sensor.", datum_mark(&scene.analysis.engine));
    let lines = [
        "Clockwise in the order in which the teeth pass the sensor; the start of the cycle is at the top.",
        datum.as_str(),
        "Filled: measured. Outline: where it should be. Later is clockwise.",
    ];
    panels.lines(&mut drawing, &lines);
    drawing
}

/// One wheel by itself, slot 1 or the first tooth at the top.
pub(super) fn alone(wheel: &Wheel) -> Drawing {
    let mut drawing = Drawing::new(240.0, 240.0);
    let centre = (120.0, 126.0);
    let teeth = teeth_of(wheel, EdgeKind::Rising);
    Ring { centre, radii: (88.0, 104.0), teeth: &teeth, turned: 0.0 }
        .solid(&mut drawing, Ink::Black);
    top_mark(&mut drawing, centre, 104.0);
    drawing.bold(centre, fitted(wheel.name(), TEXT, true, 150.0), Anchor::Middle);
    let noun = if wheel.tooth_count() == 1 { "tooth" } else { "teeth" };
    let below = (centre.0, centre.1 + 19.0);
    drawing.small(below, format!("{} {noun}", wheel.tooth_count()), Anchor::Middle);
    drawing
}

/// Start and width of a wheel's teeth in degrees of its shaft.
pub(super) fn teeth_of(wheel: &Wheel, edge: EdgeKind) -> Vec<(f64, f64)> {
    wheel.teeth(edge).iter().map(|tooth| (tooth.start.get(), tooth.width.get())).collect()
}

fn names(drawing: &mut Drawing, (left, top): At, name: &str, wheel: &str) -> At {
    let middle = left + PANEL.0 / 2.0;
    let room = PANEL.0 - 16.0;
    drawing.bold((middle, top + 14.0), fitted(name, TEXT, true, room), Anchor::Middle);
    drawing.small((middle, top + 32.0), fitted(wheel, SMALL, false, room), Anchor::Middle);
    (middle, top + 162.0)
}

fn top_mark(drawing: &mut Drawing, (x, y): At, radius: f64) {
    let tip = y - radius - 3.0;
    drawing.area(&[(x, tip), (x - 4.5, tip - 8.0), (x + 4.5, tip - 8.0)], Ink::Black);
}

fn crank(drawing: &mut Drawing, scene: &Scene, corner: At) {
    let described = &scene.analysis.engine.crank;
    let centre = names(drawing, corner, "crank", described.wheel.name());
    let teeth = teeth_of(&described.wheel, scene.analysis.crank.marking_edge);
    Ring { centre, radii: (86.0, 98.0), teeth: &teeth, turned: 0.0 }.solid(drawing, Ink::Black);
    top_mark(drawing, centre, 98.0);
    drawing.small((centre.0 + 9.0, centre.1 - 106.0), "0°: tooth 1", Anchor::Left);
    let Some(tdc) = described.tdc else {
        drawing.small(centre, "top dead centre not stated", Anchor::Middle);
        return;
    };
    let at = on_circle(centre, 82.0, tdc.0);
    drawing.line(&[on_circle(centre, 40.0, tdc.0), at], Ink::Blue, 1.5);
    drawing.disc(at, 3.0, Ink::Blue);
    drawing.text((centre.0, centre.1 - 8.0), "TDC 1 at", Anchor::Middle);
    drawing.text((centre.0, centre.1 + 10.0), format!("{:.0}°", tdc.0), Anchor::Middle);
}

fn cam_panel(drawing: &mut Drawing, scene: &Scene, index: usize, cam: &Cam, corner: At) {
    let name = cam_name(&scene.analysis.engine, index);
    let centre = names(drawing, corner, &name, cam.wheel.name());
    let teeth = teeth_of(&cam.wheel, cam.edge);
    let result = scene.cam(index);
    top_mark(drawing, centre, 98.0);
    // A cam turns half as far as the crank.
    let turned = |degrees: f64| CrankDelta(degrees).to_cam().0;
    if let Some(result) = result {
        let place = turned(result.measured.position.get());
        Ring { centre, radii: (84.0, 98.0), teeth: &teeth, turned: place }
            .solid(drawing, Ink::Black);
    }
    let expected = result
        .and_then(|result| result.expected)
        .map(|expected| expected.at)
        .or_else(|| scene.analysis.engine.expected(index).map(|(at, _)| at));
    if let Some(expected) = expected {
        let place = turned(expected.get());
        Ring { centre, radii: (64.0, 78.0), teeth: &teeth, turned: place }
            .hollow(drawing, Ink::Grey);
    }
    let mut lines: Vec<(String, bool)> = Vec::new();
    match result {
        None => lines.push(("not measured".into(), false)),
        Some(result) => match (expected, result.deviation()) {
            (Some(expected), Some(deviation)) => {
                let ink = if deviation.abs() > cam.tolerance { Ink::Vermilion } else { Ink::Black };
                shift(drawing, centre, turned(expected.get()), turned(deviation.0), ink);
                let word = if deviation.word().is_empty() {
                    "in place".into()
                } else {
                    deviation.to_string()
                };
                lines.push((word, true));
                if !deviation.word().is_empty() {
                    let cam_degrees = deviation.to_cam().abs().0;
                    lines.push((format!("{cam_degrees:.1}° of the cam"), false));
                }
                if result.known_modulo.0 < CYCLE_DEG {
                    lines.push((format!("modulo {:.0}°", result.known_modulo.0), false));
                }
            }
            _ => {
                lines.push((format!("at {:.1}°", result.measured.position.get()), true));
                lines.push(("place not known".into(), false));
            }
        },
    }
    let first = centre.1 - 9.0 * (lines.len() as f64 - 1.0);
    for (line, (text, bold)) in lines.into_iter().enumerate() {
        let at = (centre.0, first + 18.0 * line as f64);
        if bold {
            drawing.bold(at, text, Anchor::Middle);
        } else {
            drawing.small(at, text, Anchor::Middle);
        }
    }
}

/// The wedge from where the wheel's zero should be to where it is.
fn shift(drawing: &mut Drawing, centre: At, from: f64, by: f64, ink: Ink) {
    /// Smaller wedges cannot be seen.
    const LEAST: f64 = 0.5;
    if by.abs() < LEAST {
        return;
    }
    let mut wedge = arc(centre, 102.0, from, by);
    wedge.extend(arc(centre, 108.0, from, by).into_iter().rev());
    drawing.area(&wedge, ink);
    drawing.dashed(
        &[on_circle(centre, 60.0, from), on_circle(centre, 110.0, from)],
        Ink::Grey,
        1.0,
    );
    let to = from + by;
    drawing.line(&[on_circle(centre, 80.0, to), on_circle(centre, 110.0, to)], ink, 1.2);
}
