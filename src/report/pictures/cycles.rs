//! Picture 3: each cam's deviation in every cycle, with lines at whole teeth.

use super::axis::Scale;
use super::drawing::{Anchor, Drawing, Ink, SMALL, TEXT, fitted};
use super::font::text_width;
use super::names::cam_name;
use super::scene::Scene;
use super::traces::in_words;
use crate::cam::CamResult;
use crate::units::CrankDelta;

/// Two panels are as wide as paper.
const PANEL_WIDTH: f64 = 465.0;
const PANEL_HEIGHT: f64 = 160.0;
/// Room at the left of a panel for degrees, at the right for the words at the lines.
const MARGINS: (f64, f64) = (72.0, 92.0);
const HEAD: f64 = 30.0;
const FOOT: f64 = 40.0;
/// Lines at whole teeth nearer than this to each other are left out.
const LEAST_APART: f64 = 16.0;

/// Draws the picture.
pub(super) fn draw(scene: &Scene) -> Drawing {
    let cams = &scene.analysis.cams;
    let across = cams.len().clamp(1, 2);
    let down = cams.len().div_ceil(across).max(1);
    let mut drawing = Drawing::new(PANEL_WIDTH * across as f64, PANEL_HEIGHT * down as f64);
    for (index, cam) in cams.iter().enumerate() {
        let left = PANEL_WIDTH * (index % across) as f64;
        let top = PANEL_HEIGHT * (index / across) as f64;
        panel(&mut drawing, scene, cam, (left, top));
    }
    drawing
}

fn panel(drawing: &mut Drawing, scene: &Scene, cam: &CamResult, (left, top): (f64, f64)) {
    let described = &scene.analysis.engine.cams[cam.measured.cam];
    let about = cam.deviation().map_or("about its own mean".into(), in_words);
    let room = PANEL_WIDTH - 36.0 - text_width(&about, SMALL, false);
    let title = fitted(&cam_name(&scene.analysis.engine, cam.measured.cam), TEXT, true, room);
    let after = left + 24.0 + text_width(&title, TEXT, true);
    drawing.small((after, top + 14.0), about, Anchor::Left);
    drawing.bold((left + 12.0, top + 14.0), title, Anchor::Left);
    let base = cam.deviation().unwrap_or(CrankDelta(0.0));
    let points: Vec<f64> = cam.measured.cycles.iter().map(|cycle| (base + cycle.off).0).collect();
    let y = Scale {
        values: range(cam, described.tolerance, &points),
        places: (top + PANEL_HEIGHT - FOOT, top + HEAD),
    };
    let x = Scale {
        values: (0.5, points.len().max(1) as f64 + 0.5),
        places: (left + MARGINS.0, left + PANEL_WIDTH - MARGINS.1),
    };
    if cam.deviation().is_some() {
        band(drawing, x, y, described.tolerance);
    }
    tooth_lines(drawing, cam, x, y);
    axes(drawing, x, y, points.len());
    let places: Vec<(f64, f64)> =
        (1..).zip(&points).map(|(number, &off)| (x.at(f64::from(number)), y.at(off))).collect();
    drawing.line(&places, Ink::Blue, 1.0);
    for place in places {
        drawing.disc(place, 3.0, Ink::Blue);
    }
}

/// Degrees shown: every cycle, the expected place and a tooth either side, and some room.
fn range(cam: &CamResult, tolerance: CrankDelta, points: &[f64]) -> (f64, f64) {
    let reach = match (cam.deviation(), cam.step) {
        (Some(_), Some(step)) => step.0.abs(),
        (Some(_), None) => tolerance.0 * 1.5,
        (None, _) => 1.0,
    };
    let low = points.iter().copied().fold(-reach, f64::min);
    let high = points.iter().copied().fold(reach, f64::max);
    let room = (high - low) * 0.08;
    (low - room, high + room)
}

fn band(drawing: &mut Drawing, x: Scale, y: Scale, tolerance: CrankDelta) {
    let top = y.at(tolerance.0.min(y.values.1));
    let bottom = y.at((-tolerance.0).max(y.values.0));
    drawing.block((x.places.0, top), (x.places.1, bottom), Ink::Faint);
}

fn tooth_lines(drawing: &mut Drawing, cam: &CamResult, x: Scale, y: Scale) {
    let mut lines = vec![(0.0, "in place".to_owned())];
    if let Some(step) = cam.step.filter(|step| cam.deviation().is_some() && step.0 > 0.0) {
        let most = (y.values.0.abs().max(y.values.1.abs()) / step.0) as i32;
        for teeth in (1..=most).flat_map(|count| [count, -count]) {
            let noun = if teeth.abs() == 1 { "tooth" } else { "teeth" };
            let word = if teeth > 0 { "late" } else { "early" };
            lines.push((step.0 * f64::from(teeth), format!("{} {noun} {word}", teeth.abs())));
        }
    }
    if cam.deviation().is_none() {
        lines[0].1 = "mean".into();
    }
    let mut taken: Vec<f64> = Vec::new();
    for (degrees, word) in lines {
        let at = y.at(degrees);
        let inside = (y.places.1..=y.places.0).contains(&at);
        if !inside || taken.iter().any(|other| (other - at).abs() < LEAST_APART) {
            continue;
        }
        taken.push(at);
        drawing.dashed(&[(x.places.0, at), (x.places.1, at)], Ink::Grey, 1.0);
        drawing.small(
            (x.places.1 + 6.0, at),
            fitted(&word, SMALL, false, MARGINS.1 - 10.0),
            Anchor::Left,
        );
    }
}

fn axes(drawing: &mut Drawing, x: Scale, y: Scale, cycles: usize) {
    let (left, bottom) = (x.places.0, y.places.0);
    drawing.line(&[(left, y.places.1), (left, bottom), (x.places.1, bottom)], Ink::Black, 1.0);
    for tick in y.ticks(5) {
        let at = y.at(tick);
        drawing.line(&[(left - 4.0, at), (left, at)], Ink::Black, 1.0);
        let degrees = CrankDelta(tick);
        let digits = usize::from(y.values.1 - y.values.0 < 5.0);
        let text = format!("{:.digits$}° {}", degrees.abs().0, degrees.word());
        drawing.small((left - 7.0, at), text.trim_end(), Anchor::Right);
    }
    for tick in x.ticks(8).into_iter().filter(|tick| tick.fract() == 0.0 && *tick >= 1.0) {
        let at = x.at(tick);
        drawing.line(&[(at, bottom), (at, bottom + 4.0)], Ink::Black, 1.0);
        drawing.small((at, bottom + 13.0), format!("{tick:.0}"), Anchor::Middle);
    }
    let noun = if cycles == 1 { "cycle" } else { "cycles" };
    drawing.small((left, bottom + 30.0), format!("{cycles} {noun}, in order"), Anchor::Left);
}
