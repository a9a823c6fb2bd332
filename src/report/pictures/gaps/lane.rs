//! One cam of the close-up: its signal, what is laid over it, and rows of tooth counts below.

use super::super::axis::Scale;
use super::super::drawing::{Anchor, Drawing, Ink, SMALL, TEXT, fitted};
use super::super::font::text_width;
use super::super::names::cam_name;
use super::super::scene::Scene;
use super::super::traces::{ghost, scaled, signal};
use super::{LEFT, within};
use crate::cam::CamResult;
use crate::known::{Figures, KnownGood};
use crate::leads::Role;
use crate::report::numbers::counted;
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta, ShaftDeg};
use crate::wheel::ToothCount;

/// Heights of a cam's signal, of each row below it and of the room below the rows; less where there
/// are more rows, so that four cams stay on a page.
const CAM: (f64, f64) = (40.0, 28.0);
const ROW: (f64, f64) = (17.0, 16.0);
const GAP: (f64, f64) = (12.0, 5.0);
/// Room before the rows.
const BEFORE: f64 = 4.0;
/// Measured, and as it should be.
const ROWS: f64 = 2.0;
/// What is laid over a signal is so much lower at both ends: where the two run together both are
/// seen.
const INSET: f64 = 6.0;
/// Standard deviations to the end of the bar: 95 % of a normal distribution.
const BAR: f64 = 1.96;

/// What the lanes of all cams have in common.
pub(super) struct Lanes<'a> {
    /// The recording laid over this one.
    over: Option<Scene<'a>>,
    /// Added to its places.
    later: CrankDelta,
    /// The reference, where it knows one of these cams.
    known: Option<&'a KnownGood>,
}

impl<'a> Lanes<'a> {
    pub fn of(scene: &Scene<'a>) -> Lanes<'a> {
        let analysis = scene.analysis;
        let knows =
            |known: &&KnownGood| analysis.cams.iter().any(|cam| known.figures(&cam.name).is_some());
        Lanes {
            over: scene.laid_over(),
            later: scene.over.map_or(CrankDelta(0.0), |over| over.later),
            known: analysis.asked.known.as_ref().filter(knows),
        }
    }

    /// The file that is laid over.
    pub fn laid_over(&self) -> Option<&'a str> {
        self.over.as_ref().map(|over| over.analysis.captures[over.analysis.main_capture].as_str())
    }

    /// How many engines the reference was learned from, in words.
    pub fn learned(&self) -> Option<String> {
        self.known.map(|known| counted(known.engines(), "sound engine", "sound engines"))
    }

    fn more(&self) -> f64 {
        [self.over.is_some(), self.known.is_some()].iter().filter(|there| **there).count() as f64
    }

    /// Height of the signal, of a row, and of the room below the rows.
    fn heights(&self) -> (f64, f64, f64) {
        if self.more() > 0.0 { (CAM.1, ROW.1, GAP.1) } else { (CAM.0, ROW.0, GAP.0) }
    }

    /// Height of a lane.
    pub fn high(&self) -> f64 {
        let (cam, row, gap) = self.heights();
        cam + BEFORE + row * (ROWS + self.more()) + gap
    }

    pub fn draw(
        &self,
        drawing: &mut Drawing,
        (scene, result): (&Scene, &CamResult),
        wheel: &ToothCount,
        x: Scale,
        top: f64,
    ) {
        let role = Role::Cam(result.measured.cam);
        let name = cam_name(&scene.analysis.engine, result.measured.cam);
        let name = fitted(&name, TEXT, true, LEFT - 12.0);
        drawing.bold((4.0, top + 12.0), name, Anchor::Left);
        let (signal_high, high, _) = self.heights();
        let rows = (top, top + signal_high);
        ghost(drawing, scene, result, x, rows);
        signal(drawing, &within(&scene.trace(role), x), x, rows, Ink::Blue);
        let over = self.over.as_ref();
        if let Some(over) = over {
            let inner = (rows.0 + INSET, rows.1 - INSET);
            for line in scaled(&within(&over.trace(role), x), x, inner) {
                drawing.dashed(&line, Ink::Black, 1.2);
            }
        }
        let measured: Vec<CrankDeg> = result.measured.edges.iter().map(|edge| edge.at).collect();
        let expected = nominal(result);
        for (places, ink, width) in [(&measured, Ink::Black, 1.2), (&expected, Ink::Grey, 0.8)] {
            for at in shown(places, x) {
                drawing.line(&[(x.at(at), rows.0 - 2.0), (x.at(at), rows.1 + 3.0)], ink, width);
            }
        }
        let first = rows.1 + BEFORE + high / 2.0 - 2.0;
        let mut row = Row { drawing, wheel, x, y: first, high };
        row.counts("teeth, measured", &measured, true);
        row.counts("as it should be", &expected, false);
        if let Some(over) = over {
            let cam = over.cam(result.measured.cam);
            let edges = cam.iter().flat_map(|cam| &cam.measured.edges);
            let edges: Vec<CrankDeg> = edges.map(|edge| edge.at + self.later).collect();
            row.counts("laid over", &edges, false);
        }
        if let Some((known, words)) = self.known.zip(self.learned()) {
            row.strokes(&words, known, result, &expected);
        }
    }
}

/// Where the edges should be. Empty where that is not known.
fn nominal(result: &CamResult) -> Vec<CrankDeg> {
    let Some(off) = result.deviation() else { return Vec::new() };
    result.measured.edges.iter().map(|edge| edge.at - edge.off - off).collect()
}

/// The places within a turn, in order.
fn shown(places: &[CrankDeg], x: Scale) -> Vec<f64> {
    let (from, to) = x.values;
    let mut shown: Vec<f64> =
        places.iter().map(|at| at.get()).filter(|at| (from..to).contains(at)).collect();
    shown.sort_by(f64::total_cmp);
    shown
}

/// The next row below a signal.
struct Row<'a> {
    drawing: &'a mut Drawing,
    wheel: &'a ToothCount,
    x: Scale,
    y: f64,
    high: f64,
}

impl Row<'_> {
    fn counts(&mut self, words: &str, places: &[CrankDeg], bold: bool) {
        self.drawing.small((4.0, self.y), words, Anchor::Left);
        let mut free = f64::NEG_INFINITY;
        for degrees in shown(places, self.x) {
            let place = ShaftDeg::new(degrees - self.x.values.0);
            let text = format!("{:.1}", self.wheel.at(place));
            let half = text_width(&text, SMALL, bold) / 2.0;
            let ends = self.x.places;
            let middle = self.x.at(degrees).clamp(ends.0 + half, ends.1 - half);
            // What has no room here stands in the table.
            if middle - half >= free {
                let at = (middle, self.y);
                self.drawing.write(at, text, SMALL, bold, Ink::Black, Anchor::Middle);
                free = middle + half + 4.0;
            }
        }
        self.y += self.high;
    }

    /// Where each engine of a reference stood, and where another is expected.
    fn strokes(
        &mut self,
        words: &str,
        known: &KnownGood,
        result: &CamResult,
        expected: &[CrankDeg],
    ) {
        let room = LEFT - 8.0;
        self.drawing.small((4.0, self.y), fitted(words, SMALL, false, room), Anchor::Left);
        if let Some(figures) = known.figures(&result.name) {
            let own = known.captures.iter().flat_map(|one| &one.cams);
            let own = own.filter(|seen| seen.cam.eq_ignore_ascii_case(&result.name));
            let off: Vec<f64> = own.map(|seen| (seen.at - figures.at).0).collect();
            for at in shown(expected, self.x) {
                self.bar(at, &figures, &off);
            }
        }
        self.y += self.high;
    }

    fn bar(&mut self, at: f64, figures: &Figures, off: &[f64]) {
        let ends = self.x.values;
        let place = |degrees: f64| self.x.at(degrees.clamp(ends.0, ends.1));
        let reach = BAR * figures.predicts.0;
        let (left, right) = (place(at - reach), place(at + reach));
        self.drawing.block((left, self.y - 2.5), (right, self.y + 2.5), Ink::Pale);
        for off in off.iter().filter(|off| off.abs() < CYCLE_DEG / 4.0) {
            let at = place(at + off);
            self.drawing.line(&[(at, self.y - 6.0), (at, self.y + 6.0)], Ink::Black, 1.0);
        }
    }
}
