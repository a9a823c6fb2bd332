//! The drive as a picture: sprockets with their teeth, the chain around them, timing marks as they
//! should stand and as they were measured. Drawn from the engine file's chains alone.

mod candidate;
mod layout;

use super::drawing::{Anchor, At, Drawing, Ink, SMALL, TEXT, fitted};
use super::font::text_width;
use super::names::cam_name;
use super::ring::{arc, on_circle};
use super::scene::Scene;
use crate::engine::{Chain, ChainKind, Engine};
use crate::report::words::capital;
use candidate::{Candidate, candidates};
use layout::{BLANK_ROW, Node, Plan, ROW, around, plan, strands};

/// From line to line of text.
const LINE: f64 = 18.0;
/// A panel is at least this wide, so that its heading has room; one without a heading, so that the
/// lines below it are few.
const LEAST_WIDTH: f64 = 420.0;
const BLANK_WIDTH: f64 = 700.0;
/// Between two panels.
const BETWEEN: f64 = 18.0;

/// Draws the drive with what was found; `None` where no chain is described.
pub(super) fn draw(scene: &Scene) -> Option<Drawing> {
    let engine = &scene.analysis.engine;
    Some(sheet(engine, &plan(&engine.drive, ROW)?, &candidates(scene), LEAST_WIDTH))
}

/// Draws the drive as it should stand, without any answer; `None` where no chain is described.
pub(super) fn blank(engine: &Engine) -> Option<Drawing> {
    Some(sheet(engine, &plan(&engine.drive, BLANK_ROW)?, &[Candidate::default()], BLANK_WIDTH))
}

fn sheet(engine: &Engine, plan: &Plan, shown: &[Candidate], least_width: f64) -> Drawing {
    let panel = plan.width.max(least_width);
    let count = shown.len().max(1) as f64;
    let width = panel * count + BETWEEN * (count - 1.0);
    let headings: Vec<Vec<(String, bool)>> =
        shown.iter().map(|one| heading(one, panel - 12.0)).collect();
    let head = 10.0 + LINE * headings.iter().map(Vec::len).max().unwrap_or(0) as f64;
    let foot = foot(engine, shown, width - 12.0);
    let below = head + plan.height;
    let mut drawing = Drawing::new(width, below + 6.0 + LINE * foot.len() as f64);
    for (index, (candidate, lines)) in shown.iter().zip(headings).enumerate() {
        let left = (panel + BETWEEN) * index as f64;
        for (line, (text, bold)) in lines.into_iter().enumerate() {
            let at = (left + panel / 2.0, 12.0 + LINE * line as f64);
            let size = if bold { TEXT } else { SMALL };
            drawing.write(at, text, size, bold, Ink::Black, Anchor::Middle);
        }
        let corner = (left + (panel - plan.width) / 2.0, head);
        Panel { engine, plan, candidate, corner }.draw(&mut drawing);
        if index > 0 {
            let x = left - BETWEEN / 2.0;
            drawing.line(&[(x, 8.0), (x, below)], Ink::Pale, 1.0);
        }
    }
    for (line, text) in foot.into_iter().enumerate() {
        drawing.small((6.0, below + 10.0 + LINE * line as f64), text, Anchor::Left);
    }
    drawing
}

/// What stands above a panel, broken into lines: the first sentence in bold.
fn heading(candidate: &Candidate, room: f64) -> Vec<(String, bool)> {
    let lines = |(index, text): (usize, &String)| {
        let bold = index == 0;
        let size = if bold { TEXT } else { SMALL };
        broken(text, size, bold, room).into_iter().map(move |line| (line, bold)).collect::<Vec<_>>()
    };
    candidate.heading.iter().enumerate().flat_map(lines).collect()
}

/// How to read it, broken into lines.
fn foot(engine: &Engine, shown: &[Candidate], room: f64) -> Vec<String> {
    let answered = shown.iter().any(|one| !one.heading.is_empty());
    let mut said = String::from(
        "A plan of the drive, turning clockwise, not a view of the engine. Sprockets joined by a bar are on one shaft. ",
    );
    said += match answered {
        true => {
            "Grey mark: where it should stand; black mark: as found. Late is turned back, to the left. A doubled ring: where the chain \
             skipped; a heavy doubled strand: worn."
        }
        false => "Grey mark: where it should stand, at the top.",
    };
    if !engine.drive.chains.iter().all(|chain| chain.pulled_order) {
        said += " The order along the chain is that of the engine file’s list, which does not say in which order it runs.";
    }
    broken(&said, SMALL, false, room)
}

/// A text in lines of a width.
fn broken(text: &str, size: f64, bold: bool, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if text_width(&format!("{line} {word}"), size, bold) <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(fitted(word, size, bold, room)),
        }
    }
    lines
}

struct Panel<'a> {
    engine: &'a Engine,
    plan: &'a Plan,
    candidate: &'a Candidate,
    corner: At,
}

impl Panel<'_> {
    fn at(&self, (x, y): At) -> At {
        (self.corner.0 + x, self.corner.1 + y)
    }

    fn draw(&self, drawing: &mut Drawing) {
        for &(one, other) in &self.plan.same_shaft {
            self.bar(drawing, &self.plan.nodes[one], &self.plan.nodes[other]);
        }
        for (index, chain) in self.engine.drive.chains.iter().enumerate() {
            self.chain(drawing, index, chain);
        }
        for node in &self.plan.nodes {
            self.sprocket(drawing, node);
        }
    }

    /// The shaft that two sprockets sit on.
    fn bar(&self, drawing: &mut Drawing, one: &Node, other: &Node) {
        let (from, to) = (self.at(one.centre), self.at(other.centre));
        let across = (to.1 - from.1).abs() < (to.0 - from.0).abs();
        for off in [-2.5, 2.5] {
            let shift = if across { (0.0, off) } else { (off, 0.0) };
            let ends = [(from.0 + shift.0, from.1 + shift.1), (to.0 + shift.0, to.1 + shift.1)];
            drawing.line(&ends, Ink::Grey, 1.0);
        }
    }

    fn chain(&self, drawing: &mut Drawing, index: usize, chain: &Chain) {
        let nodes = self.plan.of_chain(index);
        let place = |&node: &usize| {
            (node, self.at(self.plan.nodes[node].centre), self.plan.nodes[node].radius)
        };
        let hull = around(&nodes.iter().map(place).collect::<Vec<_>>());
        let line: Vec<At> = hull.iter().map(|(at, _)| *at).collect();
        match chain.kind {
            ChainKind::Chain => {
                // Links: a line with dashes on it.
                drawing.line(&line, Ink::Pale, 4.5);
                drawing.dashed(&line, Ink::Grey, 4.5);
            }
            ChainKind::Belt => drawing.line(&line, Ink::Grey, 3.0),
            ChainKind::Gear => {
                let driver = self.at(self.plan.nodes[nodes[0]].centre);
                for &node in &nodes[1..] {
                    drawing.dashed(
                        &[driver, self.at(self.plan.nodes[node].centre)],
                        Ink::Pale,
                        1.2,
                    );
                }
            }
        }
        let worn = |candidate: &Candidate| {
            candidate.worn_strands(index, &nodes, &self.plan.nodes, chain.pulled_order)
        };
        for (one, other) in worn(self.candidate) {
            for (from, to) in strands(&hull, one, other).into_iter().take(1) {
                drawing.line(&[from, to], Ink::White, 10.0);
                drawing.line(&[from, to], Ink::Vermilion, 7.0);
                drawing.line(&[from, to], Ink::White, 1.5);
                let middle = ((from.0 + to.0) / 2.0, (from.1 + to.1) / 2.0);
                label(drawing, (middle.0 - 24.0, middle.1), "worn", true);
            }
        }
    }

    fn sprocket(&self, drawing: &mut Drawing, node: &Node) {
        let (centre, radius) = (self.at(node.centre), node.radius);
        drawing.disc(centre, radius, Ink::White);
        drawing.circle(centre, radius, Ink::Black);
        // As many ticks as teeth.
        for tooth in 0..node.teeth {
            let at = 360.0 * f64::from(tooth) / f64::from(node.teeth);
            drawing.line(
                &[on_circle(centre, radius, at), on_circle(centre, radius + 2.5, at)],
                Ink::Black,
                0.8,
            );
        }
        self.marks(drawing, node, centre);
        self.name(drawing, node, centre);
    }

    /// The mark as it should stand, and as it stands.
    fn marks(&self, drawing: &mut Drawing, node: &Node, centre: At) {
        let radius = node.radius;
        let mark = |drawing: &mut Drawing, at: f64, ink: Ink, width: f64| {
            drawing.line(
                &[on_circle(centre, radius - 8.0, at), on_circle(centre, radius + 9.0, at)],
                ink,
                width,
            );
        };
        mark(drawing, 0.0, Ink::Grey, 1.4);
        let Some(turned) = self.candidate.turned(node) else { return };
        // Late is turned back, and this drive turns clockwise.
        let at = -turned;
        if turned.abs() > LEAST_TURN {
            let mut wedge = arc(centre, radius + 5.0, 0.0, at);
            wedge.extend(arc(centre, radius + 9.0, 0.0, at).into_iter().rev());
            drawing.area(&wedge, Ink::Vermilion);
        }
        mark(drawing, at, Ink::Black, 3.0);
        drawing.disc(on_circle(centre, radius + 9.0, at), 3.2, Ink::Black);
        if self.candidate.skipped_on(node) {
            drawing.circle(centre, radius - 3.0, Ink::Vermilion);
            drawing.circle(centre, radius - 4.0, Ink::Vermilion);
        }
    }

    fn name(&self, drawing: &mut Drawing, node: &Node, (x, y): At) {
        let room = 2.0 * node.radius - 16.0;
        let cam = self.engine.cam_index(&node.shaft);
        let shaft = cam.map_or(node.shaft.clone(), |cam| cam_name(self.engine, cam));
        let mut lines = wrapped(&shaft, room);
        lines.push(node.teeth.to_string());
        // A small sprocket has room for its teeth alone; its name stands beside it.
        if node.radius < 30.0 {
            drawing.write((x, y), node.teeth.to_string(), SMALL, true, Ink::Black, Anchor::Middle);
            let name = fitted(&shaft, SMALL, false, 90.0);
            let under = (x, y + node.radius + 17.0);
            label(
                drawing,
                (under.0 - text_width(&name, SMALL, false) / 2.0, under.1),
                &name,
                false,
            );
        } else {
            let first = y - 7.0 * (lines.len() as f64 - 1.0);
            let last = lines.len() - 1;
            for (line, text) in lines.into_iter().enumerate() {
                let at = (x, first + 14.0 * line as f64);
                drawing.write(at, text, SMALL, line == last, Ink::Black, Anchor::Middle);
            }
        }
        for (line, text) in self.candidate.said(node).into_iter().enumerate() {
            let below = if node.radius < 30.0 { 32.0 } else { 17.0 };
            let y = y + node.radius + below + 15.0 * line as f64;
            let text = fitted(&text, SMALL, true, 104.0);
            label(drawing, (x - text_width(&text, SMALL, true) / 2.0, y), &text, true);
        }
    }
}

/// Smaller turns cannot be seen, degrees of the shaft.
const LEAST_TURN: f64 = 0.4;

/// A text on a white ground, held by its left end.
fn label(drawing: &mut Drawing, (x, y): At, text: &str, bold: bool) {
    let width = text_width(text, SMALL, bold);
    drawing.block((x - 2.0, y - 7.5), (x + width + 2.0, y + 7.5), Ink::White);
    drawing.write((x, y), text, SMALL, bold, Ink::Black, Anchor::Left);
}

/// A name on at most two lines.
fn wrapped(name: &str, room: f64) -> Vec<String> {
    if text_width(name, SMALL, false) <= room {
        return vec![name.to_owned()];
    }
    match name.split_once(' ') {
        Some((first, rest)) => {
            vec![fitted(first, SMALL, false, room), fitted(rest, SMALL, false, room)]
        }
        None => vec![fitted(name, SMALL, false, room)],
    }
}

/// A chain's name at the start of a sentence.
fn chain_word(chain: &Chain) -> String {
    capital(&crate::report::words::chain(chain))
}

#[cfg(test)]
mod tests;
