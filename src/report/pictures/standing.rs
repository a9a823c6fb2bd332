//! Where each cam stood before and after a repair, against its tolerance: one row per cam.

use super::axis::Scale;
use super::drawing::{Anchor, Drawing, Ink, SMALL, fitted};
use super::names::cam_name;
use crate::compare::{CamChange, Comparison};
use crate::engine::Engine;
use crate::units::CrankDelta;

const WIDTH: f64 = 840.0;
/// Room of the names, and of the figures behind each axis.
const NAMES: f64 = 130.0;
const FIGURES: f64 = 110.0;
const ROW: f64 = 30.0;
const HEAD: f64 = 26.0;
const AXIS: f64 = 40.0;
/// The axis reaches at least this far either way, so that "in place" looks it.
const LEAST_REACH: f64 = 10.0;

/// Draws it; `None` where no cam was held against a place, before or after.
pub(super) fn draw(comparison: &Comparison) -> Option<Drawing> {
    let engine = &comparison.after.engine;
    let values = comparison.cams.iter().flat_map(|cam| [cam.before, cam.after]).flatten();
    let furthest = values.map(|off| off.0.abs()).reduce(f64::max)?;
    let tolerance = engine.cams.iter().map(|cam| cam.tolerance.0).fold(0.0, f64::max);
    let reach = (furthest * 1.15).max(tolerance * 1.3).max(LEAST_REACH);
    let height = HEAD + ROW * comparison.cams.len() as f64 + AXIS;
    let mut drawing = Drawing::new(WIDTH, height);
    let half = (WIDTH - NAMES) / 2.0;
    for (row, cam) in comparison.cams.iter().enumerate() {
        let y = HEAD + ROW * (row as f64 + 0.5);
        let name = fitted(&cam_name(engine, cam.cam), SMALL, true, NAMES - 10.0);
        drawing.write((4.0, y), name, SMALL, true, Ink::Black, Anchor::Left);
    }
    for (index, title) in ["Before", "After"].into_iter().enumerate() {
        let left = NAMES + half * index as f64;
        let x = Scale { values: (-reach, reach), places: (left + 8.0, left + half - FIGURES) };
        drawing.bold((f64::midpoint(x.places.0, x.places.1), 12.0), title, Anchor::Middle);
        let bottom = height - AXIS;
        for (row, cam) in comparison.cams.iter().enumerate() {
            let y = HEAD + ROW * (row as f64 + 0.5);
            one(&mut drawing, engine, (cam, index == 1), x, y);
        }
        drawing.line(&[(x.at(0.0), HEAD), (x.at(0.0), bottom)], Ink::Grey, 1.0);
        drawing.line(&[(x.places.0, bottom), (x.places.1, bottom)], Ink::Black, 1.0);
        for tick in x.ticks(4) {
            drawing.line(&[(x.at(tick), bottom), (x.at(tick), bottom + 5.0)], Ink::Black, 1.0);
            drawing.small(
                (x.at(tick), bottom + 13.0),
                format!("{:.0}°", tick.abs()),
                Anchor::Middle,
            );
        }
        drawing.small((x.places.0, bottom + 30.0), "early", Anchor::Left);
        drawing.small((x.places.1, bottom + 30.0), "late", Anchor::Right);
    }
    Some(drawing)
}

/// One cam at one time: its tolerance as a band, where it stood as a dot.
fn one(drawing: &mut Drawing, engine: &Engine, (cam, after): (&CamChange, bool), x: Scale, y: f64) {
    let tolerance = engine.cams[cam.cam].tolerance.0;
    drawing.block((x.at(-tolerance), y - 10.0), (x.at(tolerance), y + 10.0), Ink::Faint);
    let figure = x.places.1 + 10.0;
    let Some(off) = (if after { cam.after } else { cam.before }) else {
        drawing.small((figure, y), "no place", Anchor::Left);
        return;
    };
    if let Some(half) = cam.after_half_width95.filter(|_| after) {
        let ends = [(x.at(off.0 - half.0), y), (x.at(off.0 + half.0), y)];
        drawing.line(&ends, Ink::Black, 2.0);
    }
    let out = off.abs() > CrankDelta(tolerance);
    drawing.disc((x.at(off.0), y), 6.0, if out { Ink::Vermilion } else { Ink::Black });
    if out {
        // Without colour, a ring tells it as well.
        drawing.circle((x.at(off.0), y), 9.0, Ink::Black);
    }
    let word = if off.word().is_empty() { "in place".to_owned() } else { off.to_string() };
    drawing.write((figure, y), word, SMALL, out, Ink::Black, Anchor::Left);
}
