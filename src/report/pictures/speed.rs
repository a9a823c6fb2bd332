//! Picture 4: crank speed against crank angle, every cycle over the others.

use super::axis::{CYCLE_AXIS, Scale, cycle_axis, tdc_marks};
use super::drawing::{Anchor, Drawing, Ink};
use super::scene::Scene;
use crate::units::{CYCLE_DEG, CrankDelta, CrankTurned};

/// As wide as the signals, for whoever holds one against the other.
const WIDTH: f64 = 930.0;
const HEIGHT: f64 = 250.0;
const LEFT: f64 = 52.0;
const TOP: f64 = 30.0;
const BOTTOM: f64 = HEIGHT - CYCLE_AXIS - 6.0;
/// Degrees between points of a curve.
const STEP_DEG: f64 = 4.0;
/// Cycles drawn at most, evenly chosen: more only make a blot.
const MOST_CYCLES: usize = 24;

/// Draws the picture.
pub(super) fn draw(scene: &Scene) -> Drawing {
    let mut drawing = Drawing::new(WIDTH, HEIGHT);
    let starts = scene.cycle_starts();
    let every = starts.len().div_ceil(MOST_CYCLES).max(1);
    let curves: Vec<Vec<(f64, f64)>> =
        starts.iter().step_by(every).flat_map(|&start| curve(scene, start)).collect();
    let top = curves.iter().flatten().map(|point| point.1).fold(0.0, f64::max);
    let x = Scale { values: (0.0, CYCLE_DEG), places: (LEFT, WIDTH - 24.0) };
    let y = Scale { values: (0.0, (top * 1.08).max(1.0)), places: (BOTTOM, TOP) };
    tdc_marks(&mut drawing, x, 12.0, BOTTOM, &scene.firing_tdcs());
    for tick in y.ticks(6) {
        drawing.line(&[(LEFT, y.at(tick)), (x.places.1, y.at(tick))], Ink::Faint, 1.0);
        drawing.small((LEFT - 6.0, y.at(tick)), format!("{tick:.0}"), Anchor::Right);
    }
    drawing.small((8.0, 12.0), "rpm", Anchor::Left);
    for points in curves {
        let places: Vec<(f64, f64)> =
            points.iter().map(|&(degrees, rpm)| (x.at(degrees), y.at(rpm))).collect();
        drawing.line(&places, Ink::Blue, 1.0);
    }
    drawing.line(&[(LEFT, TOP), (LEFT, BOTTOM)], Ink::Black, 1.0);
    cycle_axis(&mut drawing, x, BOTTOM);
    drawing
}

/// Speed over one cycle, in pieces between holes.
fn curve(scene: &Scene, start: CrankTurned) -> Vec<Vec<(f64, f64)>> {
    let angle = &scene.analysis.crank.angle;
    let steps = (CYCLE_DEG / STEP_DEG) as usize;
    let mut pieces = vec![Vec::new()];
    for step in 0..=steps {
        let degrees = step as f64 * STEP_DEG;
        let at = angle.time_at(start.later(CrankDelta(degrees)));
        match at.and_then(|at| angle.rpm_at(at)) {
            Some(rpm) => {
                if let Some(piece) = pieces.last_mut() {
                    piece.push((degrees, rpm.0));
                }
            }
            None => pieces.push(Vec::new()),
        }
    }
    pieces.retain(|piece| piece.len() > 1);
    pieces
}
