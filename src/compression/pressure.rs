//! An in-cylinder pressure lead: peak against TDC, and the valves' own events off the curve.
//!
//! The valve events read here are the cams themselves, not their sensors. Intake closing is where
//! the compression line p = a + b V⁻ⁿ, carried back, meets intake pressure; exhaust opening is
//! where the expansion line ends. Both are *effective* angles: a little after the seat closes and a
//! little after it opens, because gas passes slowly at low lift.

use super::filter::LowPass;
use super::geometry::CylinderShape;
use super::input::{CompressionInput, LEAST_CYCLES, SampledLead};
use super::solve::Normal;
use super::stats::{deviation, mean, median};
use crate::angle::AngleFrom;
use crate::crank::CrankAngle;
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta, CrankTurned, Seconds, TURN_DEG};

/// Points per crank degree of the resampled pressure.
const PER_DEGREE: usize = 2;
const POINTS: usize = CYCLE_DEG as usize * PER_DEGREE;
/// Corner of the smoothing, in swings per point: ripple shorter than 12 crank degrees is no
/// pressure.
const CORNER: f64 = 1.0 / (12.0 * PER_DEGREE as f64);
/// Half width, in crank degrees, of the piece of curve whose vertex is the peak.
const PEAK_REACH: f64 = 8.0;
/// Heat and leakage bring the peak of a motored cylinder forward of TDC by about this much, crank
/// degrees (common practice: within about a degree of TDC).
pub const LOSS_ANGLE: CrankDelta = CrankDelta(0.8);
/// Exponent of both lines, as in [`super::geometry`].
const POLYTROPIC: f64 = 1.3;
/// Standard deviation of a valve event read this way, crank degrees: a leak bends the compression
/// line, and near bottom dead centre ten degrees change the volume by little. Measured on practice
/// engines; a *change* of the same engine is read better.
pub const EVENT_SD: CrankDelta = CrankDelta(4.0);
/// Crank degrees from TDC over which the compression and the expansion line are fitted: valves shut
/// on any engine, clear of the peak's losses.
const COMPRESSION: (f64, f64) = (-100.0, -40.0);
const EXPANSION: (f64, f64) = (25.0, 90.0);
/// Where intake pressure is read: around bottom dead centre, valve well open.
const INTAKE: (f64, f64) = (-200.0, -170.0);
/// Where exhaust pressure is read.
const EXHAUST: (f64, f64) = (190.0, 240.0);
/// Range in which exhaust opening is looked for.
const OPENING: (f64, f64) = (95.0, 178.0);
/// The exhaust step must stand this many times above the scatter about the lines to be read.
const STEP_OVER_NOISE: f64 = 4.0;
/// A peak lower than this share of the typical one is no compression of this record.
const LEAST_PEAK: f64 = 0.5;

/// Which valve event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ValveEventKind {
    /// Intake closing.
    IntakeCloses,
    /// Exhaust opening.
    ExhaustOpens,
}

/// A valve event read off the pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValveEvent {
    /// Which.
    pub kind: ValveEventKind,
    /// Crank degrees after firing TDC, mean over cycles.
    pub at: CrankDeg,
    /// Scatter of single cycles.
    pub cycle_sd: Option<CrankDelta>,
    /// In how many cycles it could be read.
    pub cycles: usize,
    /// Measured − engine file; positive is late. Absent when the file does not give it.
    pub off: Option<CrankDelta>,
}

impl ValveEvent {
    /// Standard deviation of the mean over cycles; 0 where no scatter was seen.
    #[must_use]
    pub fn mean_sd(&self) -> CrankDelta {
        mean_sd(self.cycle_sd, self.cycles)
    }
}

fn mean_sd(cycle_sd: Option<CrankDelta>, cycles: usize) -> CrankDelta {
    CrankDelta(cycle_sd.map_or(0.0, |sd| sd.0) / (cycles.max(1) as f64).sqrt())
}

/// What one pressure lead shows.
#[derive(Debug, Clone, PartialEq)]
pub struct PressureResult {
    /// The cylinder.
    pub cylinder: u32,
    /// Peaks used.
    pub cycles: usize,
    /// Peak plus the loss angle, less TDC by the engine file: where TDC really is. Positive is
    /// late. Absent when `tdc` or the cylinder's place is not known.
    pub tdc_off: Option<CrankDelta>,
    /// `tdc_off` is known only up to a multiple of this.
    pub tdc_modulo: CrankDelta,
    /// Its scatter from cycle to cycle.
    pub cycle_sd: Option<CrankDelta>,
    /// Events that could be read.
    pub events: Vec<ValveEvent>,
    /// The mean cycle, smoothed: crank degrees from firing TDC, −360 to 360, and the pressure in
    /// the lead's unit. Empty where no whole cycle was covered.
    pub line: Vec<(CrankDelta, f32)>,
}

impl PressureResult {
    /// Standard deviation of the peak's mean over cycles; 0 where no scatter was seen.
    #[must_use]
    pub fn mean_sd(&self) -> CrankDelta {
        mean_sd(self.cycle_sd, self.cycles)
    }
}

/// Reads every pressure lead.
pub(super) fn read(input: &CompressionInput, shape: &CylinderShape) -> Vec<PressureResult> {
    input
        .pressure
        .iter()
        .filter_map(|(cylinder, lead)| one(input, shape, *cylinder, lead))
        .collect()
}

fn one(
    input: &CompressionInput,
    shape: &CylinderShape,
    cylinder: u32,
    lead: &SampledLead,
) -> Option<PressureResult> {
    let peaks = peak_angles(lead, input.angle);
    if peaks.len() < LEAST_CYCLES {
        return None;
    }
    let stated = input.engine.crank.tdc.filter(|_| input.angle_from == AngleFrom::Crank);
    let modulo = match input.datum_offset {
        Some(_) => CYCLE_DEG,
        None => input.angle.known_modulo().0.min(TURN_DEG),
    };
    let offs: Option<Vec<f64>> = stated.and_then(|tdc| {
        let position = input.engine.firing_order.iter().position(|&c| c == cylinder)?;
        let place = tdc.0 + input.engine.firing_angles[position].0;
        let place = place - input.datum_offset.map_or(0.0, |offset| offset.0);
        let off = |peak: &f64| CrankDelta(peak + LOSS_ANGLE.0 - place).wrap(CrankDelta(modulo)).0;
        Some(peaks.iter().map(off).collect())
    });
    let scatter: Vec<f64> = {
        let first = peaks[0];
        peaks.iter().map(|peak| CrankDelta(peak - first).wrap(CrankDelta(CYCLE_DEG)).0).collect()
    };
    let lines: Vec<Vec<f64>> = peaks
        .iter()
        .filter_map(|peak| resample(lead, input.angle, peak + LOSS_ANGLE.0 - TURN_DEG))
        .collect();
    let kinds = [
        (ValveEventKind::IntakeCloses, input.engine.valves.intake_closes),
        (ValveEventKind::ExhaustOpens, input.engine.valves.exhaust_opens),
    ];
    let events =
        kinds.into_iter().filter_map(|(kind, stated)| event(kind, stated, &lines, shape)).collect();
    Some(PressureResult {
        cylinder,
        cycles: peaks.len(),
        tdc_off: offs.and_then(|offs| median(&offs)).map(CrankDelta),
        tdc_modulo: CrankDelta(modulo),
        cycle_sd: deviation(&scatter).map(CrankDelta),
        events,
        line: mean_line(&lines),
    })
}

/// Every this many points of the resampled line are drawn: two degrees apart.
const DRAWN_EVERY: usize = 2 * PER_DEGREE;

/// Mean of the cycles, thinned.
fn mean_line(lines: &[Vec<f64>]) -> Vec<(CrankDelta, f32)> {
    let of = |index: usize| {
        let values: Vec<f64> = lines.iter().filter_map(|line| line.get(index).copied()).collect();
        let from_tdc = index as f64 / PER_DEGREE as f64 - TURN_DEG;
        (CrankDelta(from_tdc), mean(&values) as f32)
    };
    if lines.is_empty() { Vec::new() } else { (0..POINTS).step_by(DRAWN_EVERY).map(of).collect() }
}

fn event(
    kind: ValveEventKind,
    stated: Option<CrankDeg>,
    lines: &[Vec<f64>],
    shape: &CylinderShape,
) -> Option<ValveEvent> {
    let read: Vec<f64> = lines
        .iter()
        .filter_map(|line| match kind {
            ValveEventKind::IntakeCloses => intake_closing(line, shape),
            ValveEventKind::ExhaustOpens => exhaust_opening(line, shape),
        })
        .collect();
    if read.len() < LEAST_CYCLES {
        return None;
    }
    let at = CrankDeg::new(mean(&read));
    Some(ValveEvent {
        kind,
        at,
        cycle_sd: deviation(&read).map(CrankDelta),
        cycles: read.len(),
        off: stated.map(|stated| at - stated),
    })
}

/// Seconds over which a pressure is averaged before its peaks are sought: ignition spikes are
/// shorter.
const PEAK_AVERAGED_S: f64 = 4.0e-3;
/// A peak stands out of its valleys by this share of the whole swing.
const PEAK_STANDS_OUT: f64 = 0.4;

/// When the pressure of a lead peaks, without an angle to go by.
#[must_use]
pub fn pressure_peaks(lead: &SampledLead) -> Vec<Seconds> {
    let Some(series) = crate::angle::Series::of(lead.values, lead.clock, 1.0) else {
        return Vec::new();
    };
    let values = series.smoothed((PEAK_AVERAGED_S / series.step()).round() as usize);
    let mut sorted = values.clone();
    sorted.sort_by(f64::total_cmp);
    let rank = |share: f64| sorted[((sorted.len() - 1) as f64 * share) as usize];
    let swing = rank(0.995) - rank(0.05);
    super::peaks::peaks(&values, PEAK_STANDS_OUT * swing)
        .into_iter()
        .map(|peak| series.at(peak.index))
        .collect()
}

/// Crank angles of the pressure's peaks, one per cycle, on the crank stretch's scale.
pub(super) fn peak_angles(lead: &SampledLead, angle: &CrankAngle) -> Vec<f64> {
    let (first, last) = angle.turned_span();
    let mut found: Vec<(f64, f64)> = Vec::new();
    let mut start = first.0;
    while let Some(line) = resample(lead, angle, start) {
        let highest = (0..line.len()).max_by(|&a, &b| line[a].total_cmp(&line[b]));
        // A peak at the window's edge may be the flank of one outside: look again around it.
        if let Some(index) = highest {
            let middle = start + index as f64 / PER_DEGREE as f64;
            if let Some(around) = resample(lead, angle, middle - TURN_DEG)
                && let Some((at, height)) = vertex(&around)
            {
                let at = middle - TURN_DEG + at;
                if found.last().is_none_or(|(before, _)| at - before > TURN_DEG) {
                    found.push((at, height));
                }
            }
        }
        start += CYCLE_DEG;
        if start > last.0 {
            break;
        }
    }
    let typical = median(&found.iter().map(|(_, height)| *height).collect::<Vec<f64>>());
    let least = LEAST_PEAK * typical.unwrap_or(0.0);
    found.into_iter().filter(|(_, height)| *height >= least).map(|(at, _)| at).collect()
}

/// Vertex of a parabola through the top of a cycle, in degrees from its start, and its height over
/// the cycle's median.
fn vertex(line: &[f64]) -> Option<(f64, f64)> {
    let top = (0..line.len()).max_by(|&a, &b| line[a].total_cmp(&line[b]))?;
    let reach = (PEAK_REACH * PER_DEGREE as f64) as usize;
    if top < reach || top + reach >= line.len() {
        return None;
    }
    let mut normal = Normal::new(3);
    for (i, &value) in line.iter().enumerate().skip(top - reach).take(2 * reach + 1) {
        let x = (i as f64 - top as f64) / reach as f64;
        normal.add(&[1.0, x, x * x], value);
    }
    let fit = normal.solve().filter(|fit| fit[2] < 0.0)?;
    let offset = (-fit[1] / (2.0 * fit[2])).clamp(-1.0, 1.0) * reach as f64;
    Some(((top as f64 + offset) / PER_DEGREE as f64, line[top] - median(line)?))
}

/// One cycle of a lead from an angle on, evenly spaced and smoothed; `None` where the lead or the
/// crank's angle does not cover it.
fn resample(lead: &SampledLead, angle: &CrankAngle, start: f64) -> Option<Vec<f64>> {
    let count = lead.values.len();
    let line: Option<Vec<f64>> = (0..POINTS)
        .map(|i| {
            let at = angle.time_at(CrankTurned(start + i as f64 / PER_DEGREE as f64))?;
            let row = lead.clock.row_at_or_after(at, count);
            if row == 0 || row >= count {
                return None;
            }
            let (a, b) = (lead.clock.at(row - 1).0, lead.clock.at(row).0);
            let share = (at.0 - a) / (b - a);
            let (low, high) = (f64::from(lead.values[row - 1]), f64::from(lead.values[row]));
            Some(low + share * (high - low))
        })
        .collect();
    Some(LowPass::new(2, CORNER)?.both_ways(&line?))
}

/// Values of a cycle that starts 360° before TDC, between two angles from TDC.
fn piece(line: &[f64], span: (f64, f64)) -> impl Iterator<Item = (f64, f64)> + '_ {
    let index = |angle: f64| ((angle + TURN_DEG) * PER_DEGREE as f64) as usize;
    (index(span.0)..index(span.1).min(line.len()))
        .map(|i| (i as f64 / PER_DEGREE as f64 - TURN_DEG, line[i]))
}

/// p = a + b V⁻ⁿ over a piece, and the scatter about it.
fn polytrope(line: &[f64], span: (f64, f64), shape: &CylinderShape) -> Option<(f64, f64, f64)> {
    let mut normal = Normal::new(2);
    let mut rows = 0.0;
    for (angle, pressure) in piece(line, span) {
        normal.add(&[1.0, shape.volume(CrankDelta(angle)).powf(-POLYTROPIC)], pressure);
        rows += 1.0;
    }
    let fit = normal.solve()?;
    let scatter = (normal.residual(&fit) / rows).sqrt();
    (fit[1] > 0.0).then_some((fit[0], fit[1], scatter))
}

fn level(line: &[f64], span: (f64, f64)) -> f64 {
    mean(&piece(line, span).map(|(_, pressure)| pressure).collect::<Vec<f64>>())
}

/// Crank degrees after firing TDC, 540 to 720, at which the compression line starts.
fn intake_closing(line: &[f64], shape: &CylinderShape) -> Option<f64> {
    let (offset, scale, _) = polytrope(line, COMPRESSION, shape)?;
    let power = (level(line, INTAKE) - offset) / scale;
    let volume = (power > 0.0).then(|| power.powf(-1.0 / POLYTROPIC))?;
    if volume > shape.volume(CrankDelta(180.0)) || volume < 1.0 {
        return None;
    }
    // Volume grows with angle from TDC: halve until found.
    let (mut low, mut high) = (0.0, 180.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if shape.volume(CrankDelta(middle)) < volume { low = middle } else { high = middle }
    }
    Some(CYCLE_DEG - low)
}

/// Crank degrees after firing TDC at which the expansion line gives way to exhaust pressure.
fn exhaust_opening(line: &[f64], shape: &CylinderShape) -> Option<f64> {
    let (offset, scale, scatter) = polytrope(line, EXPANSION, shape)?;
    let exhaust = level(line, EXHAUST);
    let off: Vec<(f64, f64, f64)> = piece(line, OPENING)
        .map(|(angle, pressure)| {
            let shut = offset + scale * shape.volume(CrankDelta(angle)).powf(-POLYTROPIC);
            (angle, (pressure - shut).powi(2), (pressure - exhaust).powi(2))
        })
        .collect();
    let step = offset
        + scale * shape.volume(CrankDelta(0.5 * (OPENING.0 + OPENING.1))).powf(-POLYTROPIC)
        - exhaust;
    if step.abs() < STEP_OVER_NOISE * scatter {
        return None;
    }
    // Misfit with the line up to an angle and exhaust pressure after it.
    let mut misfit: f64 = off.iter().map(|(_, _, open)| open).sum();
    let mut best = (misfit, None);
    for (angle, shut, open) in &off {
        misfit += shut - open;
        if misfit < best.0 {
            best = (misfit, Some(*angle));
        }
    }
    best.1.filter(|angle| *angle < OPENING.1 - 1.0)
}
