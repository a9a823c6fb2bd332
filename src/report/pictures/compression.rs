//! Picture 5: relative compression, a bar per cylinder, grouped by bank.

use super::axis::Scale;
use super::drawing::{Anchor, Drawing, Ink, SMALL};
use super::font::text_width;
use super::scene::Scene;
use crate::compression::{Compression, CylinderResult};

const HEIGHT: f64 = 300.0;
const LEFT: f64 = 60.0;
const TOP: f64 = 44.0;
const BOTTOM: f64 = HEIGHT - 58.0;
/// With six cylinders, the picture of what they were measured from has room beside it on paper.
const BAR: f64 = 46.0;
const GAP: f64 = 4.0;
const BANK_GAP: f64 = 24.0;
/// Right of the bars, for the word at the mean.
const RIGHT: f64 = 48.0;
const LEAST_WIDTH: f64 = 360.0;

/// Whether there is anything to draw.
pub(super) fn is_there(scene: &Scene) -> bool {
    scene.analysis.compression.measured.is_some()
}

/// Draws the picture.
pub(super) fn draw(scene: &Scene) -> Drawing {
    match &scene.analysis.compression.measured {
        Some(measured) => bars(measured),
        None => Drawing::new(LEAST_WIDTH, HEIGHT),
    }
}

/// A bar per cylinder.
pub(super) fn bars(measured: &Compression) -> Drawing {
    let groups = groups(measured);
    let bars: f64 = groups.iter().map(|(_, members)| members.len() as f64).sum();
    let wanted = LEFT + bars * (BAR + GAP) + groups.len() as f64 * BANK_GAP + RIGHT;
    let width = wanted.max(LEAST_WIDTH);
    let mut drawing = Drawing::new(width, HEIGHT);
    let most = measured.cylinders.iter().map(|c| c.ci95.1.max(c.relative)).fold(1.0, f64::max);
    let y = Scale { values: (0.0, most * 1.04), places: (BOTTOM, TOP) };
    for tick in y.ticks(6) {
        drawing.line(&[(LEFT, y.at(tick)), (width - RIGHT, y.at(tick))], Ink::Faint, 1.0);
        drawing.small((LEFT - 6.0, y.at(tick)), format!("{:.0} %", tick * 100.0), Anchor::Right);
    }
    let mut x = LEFT + BANK_GAP / 2.0;
    for (bank, members) in &groups {
        let from = x;
        for (cylinder, of_name) in members {
            bar(&mut drawing, cylinder, of_name, x, y);
            x += BAR + GAP;
        }
        let middle = f64::midpoint(from, x - GAP);
        drawing.line(&[(from, BOTTOM + 27.0), (x - GAP, BOTTOM + 27.0)], Ink::Black, 1.0);
        drawing.bold((middle, BOTTOM + 40.0), bank.clone(), Anchor::Middle);
        x += BANK_GAP;
    }
    let mean = y.at(1.0);
    drawing.dashed(&[(LEFT, mean), (width - RIGHT, mean)], Ink::Black, 1.0);
    drawing.small((width - RIGHT + 4.0, mean), "mean", Anchor::Left);
    drawing.line(&[(LEFT, TOP), (LEFT, BOTTOM), (width - RIGHT, BOTTOM)], Ink::Black, 1.0);
    let from = measured.source.word().replace('-', " ");
    drawing.small((8.0, 12.0), format!("relative compression, from {from}"), Anchor::Left);
    drawing
}

type Group<'a> = (String, Vec<(&'a CylinderResult, String)>);

/// Cylinders by bank where the banks are known, else in firing order.
fn groups(measured: &Compression) -> Vec<Group<'_>> {
    let named = |cylinder: &CylinderResult| {
        cylinder.cylinder.map_or(format!("no. {}", cylinder.peak), |number| format!("cyl {number}"))
    };
    let mut groups: Vec<Group> = Vec::new();
    for cylinder in &measured.cylinders {
        let name =
            cylinder.bank.map_or("in firing order".to_owned(), |bank| format!("Bank {bank}"));
        match groups.iter_mut().find(|group| group.0 == name) {
            Some(group) => group.1.push((cylinder, named(cylinder))),
            None => groups.push((name, vec![(cylinder, named(cylinder))])),
        }
    }
    groups.sort_by(|a, b| a.0.cmp(&b.0));
    for group in &mut groups {
        group.1.sort_by_key(|(cylinder, _)| (cylinder.cylinder, cylinder.peak));
    }
    groups
}

/// A bar with its interval as a whisker and its number at the foot.
fn bar(drawing: &mut Drawing, cylinder: &CylinderResult, name: &str, x: f64, y: Scale) {
    let middle = x + BAR / 2.0;
    let ink = if cylinder.bank.is_some_and(|bank| bank % 2 == 0) { Ink::Pale } else { Ink::Blue };
    // Noise can put a dead cylinder below nothing: its number says so, and its bar has no height.
    let top = y.at(cylinder.relative.max(0.0));
    drawing.block((x, top), (x + BAR, BOTTOM), ink);
    drawing.frame((x, top), (x + BAR, BOTTOM), Ink::Black);
    let (low, high) = (y.at(cylinder.ci95.0.max(0.0)), y.at(cylinder.ci95.1.max(0.0)));
    drawing.line(&[(middle, low), (middle, high)], Ink::Black, 1.5);
    for end in [low, high] {
        drawing.line(&[(middle - 6.0, end), (middle + 6.0, end)], Ink::Black, 1.5);
    }
    let number = format!("{:.0} %", cylinder.relative * 100.0);
    let wide = text_width(&number, SMALL, true) + 4.0;
    let at = BOTTOM - 14.0;
    drawing.block((middle - wide / 2.0, at - 9.0), (middle + wide / 2.0, at + 9.0), Ink::White);
    drawing.write((middle, at), number, SMALL, true, Ink::Black, Anchor::Middle);
    drawing.text((middle, BOTTOM + 14.0), name, Anchor::Middle);
}
