//! What the pictures look at: the result, and one engine cycle of the capture to show the signals
//! of.

use crate::analysis::{Analysis, LeadReport, Overlay};
use crate::cam::CamResult;
use crate::capture::{Capture, CaptureKind, Channel};
use crate::crank::CrankAngle;
use crate::leads::Role;
use crate::units::{CYCLE_DEG, CrankDelta, CrankTurned, Seconds};

/// Columns a trace is thinned to; two marks of the sheet are nearer than this to each other.
const COLUMNS: usize = 1400;
/// Steps at which a cycle is looked over for holes.
const HOLE_STEP_DEG: f64 = 15.0;

/// A result and the capture its crank angle is of.
pub(super) struct Scene<'a> {
    pub analysis: &'a Analysis,
    pub capture: Option<&'a Capture>,
    /// What is laid over it.
    pub over: Option<&'a Overlay>,
    /// Where the cycle that is shown begins.
    start: CrankTurned,
}

/// A trace in pieces: crank degrees in the cycle, and the value there.
pub(super) type Trace = Vec<Vec<(f64, f32)>>;

impl<'a> Scene<'a> {
    /// `captures` are those the analysis was made of, in the same order.
    pub fn new(analysis: &'a Analysis, captures: &'a [Capture]) -> Scene<'a> {
        Scene {
            analysis,
            capture: captures.get(analysis.main_capture),
            over: None,
            start: typical_cycle(&analysis.crank.angle, analysis.datum_shift),
        }
    }

    /// With a recording laid over it.
    pub fn with(self, over: Option<&'a Overlay>) -> Scene<'a> {
        Scene { over, ..self }
    }

    /// The recording that is laid over this one, as a scene at the same crank degrees.
    pub fn laid_over(&self) -> Option<Scene<'a>> {
        let over = self.over?;
        let shift = over.analysis.datum_shift + over.later;
        let start = typical_cycle(&over.analysis.crank.angle, shift);
        Some(Scene { start, ..Scene::new(&over.analysis, &over.captures) })
    }

    /// The lead of a role in the capture that is shown.
    pub fn lead(&self, role: Role) -> Option<&LeadReport> {
        let source = &self.capture?.source;
        self.analysis.leads.iter().find(|lead| lead.role == role && lead.capture == *source)
    }

    /// The signal of a role over the cycle shown.
    pub fn trace(&self, role: Role) -> Trace {
        let Some((capture, lead)) = self.capture.zip(self.lead(role)) else { return Trace::new() };
        let Some(channel) = capture.channels.get(lead.channel) else { return Trace::new() };
        let pieces = over_cycle(capture, channel, &self.analysis.crank.angle, self.start);
        pieces.iter().map(|piece| thinned(piece)).collect()
    }

    /// The result of one cam of the engine.
    pub fn cam(&self, cam: usize) -> Option<&'a CamResult> {
        self.analysis.cams.iter().find(|result| result.measured.cam == cam)
    }

    /// Firing TDCs within the cycle: cylinder and place. Empty when they, or the datum pass, are
    /// not known.
    pub fn firing_tdcs(&self) -> Vec<(u32, f64)> {
        if self.analysis.known_modulo.0 < CYCLE_DEG {
            return Vec::new();
        }
        let engine = &self.analysis.engine;
        let place = |&cylinder: &u32| Some((cylinder, engine.firing_tdc(cylinder)?.get()));
        engine.firing_order.iter().filter_map(place).collect()
    }

    /// Where each cycle covered begins, and part of one where none is whole.
    pub fn cycle_starts(&self) -> Vec<CrankTurned> {
        cycle_starts(&self.analysis.crank.angle, self.analysis.datum_shift)
    }
}

/// Pieces of a trace between holes of the crank angle.
#[derive(Default)]
struct Pieces {
    done: Trace,
    open: Vec<(f64, f32)>,
}

impl Pieces {
    fn add(&mut self, degrees: Option<f64>, value: f32) {
        match degrees {
            Some(degrees) => self.open.push((degrees, value)),
            None if self.open.is_empty() => {}
            None => self.done.push(std::mem::take(&mut self.open)),
        }
    }
}

/// A channel over the cycle that begins at `start`, every row of it.
pub(super) fn over_cycle(
    capture: &Capture,
    channel: &Channel,
    angle: &CrankAngle,
    start: CrankTurned,
) -> Trace {
    let (first, last) = angle.span();
    let from = angle.time_at(start).unwrap_or(first);
    let to = angle.time_at(start.later(CrankDelta(CYCLE_DEG))).unwrap_or(last);
    let rows = capture.rows();
    let rows = capture.clock.row_at_or_after(from, rows)..capture.clock.row_at_or_after(to, rows);
    let mut pieces = Pieces::default();
    let place = |at: Seconds| Some(angle.angle_at(at)?.since(start).0);
    let held = capture.kind == CaptureKind::Events;
    let mut level = rows.start.checked_sub(1).and_then(|row| channel.values.all().get(row));
    if let Some(level) = level.filter(|_| held) {
        pieces.add(place(from), level);
    }
    for row in rows {
        let value = channel.values[row];
        let degrees = place(capture.clock.at(row));
        if let Some(before) = level.filter(|before| held && *before != value) {
            pieces.add(degrees, before);
        }
        pieces.add(degrees, value);
        level = Some(value);
    }
    if let Some(level) = level.filter(|_| held) {
        pieces.add(place(to), level);
    }
    pieces.done.push(pieces.open);
    pieces.done.retain(|piece| piece.len() > 1);
    pieces.done
}

/// Starts of the cycles that touch the stretch, in the angle of the stretch.
fn cycle_starts(angle: &CrankAngle, shift: CrankDelta) -> Vec<CrankTurned> {
    let (first, last) = angle.turned_span();
    let shift = shift.0;
    let from = ((first.0 + shift) / CYCLE_DEG).floor() as i64;
    let to = ((last.0 + shift) / CYCLE_DEG).ceil() as i64;
    (from..to).map(|cycle| CrankTurned(cycle as f64 * CYCLE_DEG - shift)).collect()
}

/// The cycle in the middle of those that are covered without a hole; else the best covered one.
pub(super) fn typical_cycle(angle: &CrankAngle, shift: CrankDelta) -> CrankTurned {
    let steps = (CYCLE_DEG / HOLE_STEP_DEG) as usize;
    let covered = |start: &CrankTurned| {
        let at = |step: usize| start.later(CrankDelta(step as f64 * HOLE_STEP_DEG));
        (0..=steps).filter(|&step| angle.time_at(at(step)).is_some()).count()
    };
    let mut best: Vec<CrankTurned> = Vec::new();
    let mut most = 0;
    for start in cycle_starts(angle, shift) {
        let count = covered(&start);
        if count > most {
            (most, best) = (count, Vec::new());
        }
        if count == most {
            best.push(start);
        }
    }
    best.get(best.len() / 2).copied().unwrap_or(CrankTurned(0.0))
}

/// At most four points per column of a cycle: first, least, greatest, last, so that no peak
/// vanishes.
pub(super) fn thinned(piece: &[(f64, f32)]) -> Vec<(f64, f32)> {
    thinned_over(piece, CYCLE_DEG)
}

/// The same over another span.
pub(super) fn thinned_over(piece: &[(f64, f32)], span: f64) -> Vec<(f64, f32)> {
    if piece.len() <= 4 * COLUMNS {
        return piece.to_vec();
    }
    let column = |point: &(f64, f32)| (point.0 / span * COLUMNS as f64) as i64;
    let mut kept = Vec::with_capacity(4 * COLUMNS);
    for group in piece.chunk_by(|a, b| column(a) == column(b)) {
        let places = 0..group.len();
        let least = places.clone().min_by(|&a, &b| group[a].1.total_cmp(&group[b].1)).unwrap_or(0);
        let most = places.max_by(|&a, &b| group[a].1.total_cmp(&group[b].1)).unwrap_or(0);
        let mut wanted = [0, least, most, group.len() - 1];
        wanted.sort_unstable();
        let mut last = None;
        for index in wanted {
            if last != Some(index) {
                kept.push(group[index]);
            }
            last = Some(index);
        }
    }
    kept
}
