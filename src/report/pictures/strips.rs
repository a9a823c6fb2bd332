//! The signals of a sheet in two strips, a crank turn each, above a ruler fine enough to read edges
//! off with a pencil.

use super::axis::{Scale, tdc_marks};
use super::drawing::{Anchor, Drawing, Ink, SMALL, TEXT, fitted};
use super::font::text_width;
use super::scene::{Trace, over_cycle, thinned_over};
use super::sheet::{Ruler, Sheet};
use crate::capture::{Capture, CaptureKind, Channel, Unit};
use crate::units::{CYCLE_DEG, Seconds, TURN_DEG};

/// As wide as the 186 mm that A4 leaves, its smallest text is printed in 7 points.
const WIDTH: f64 = 930.0;
/// Left end of the signals; the names stand before it.
const LEFT: f64 = 142.0;
const RIGHT: f64 = WIDTH - 20.0;
/// Row of the top dead centres.
const TOP: f64 = 24.0;
/// Height of a signal, most and least: between them as high as both strips stay on a page.
const LANE: (f64, f64) = (50.0, 34.0);
const LANES: f64 = 460.0;
const LANE_GAP: f64 = 12.0;
/// The ruler with its numbers and its name.
const RULER: f64 = 56.0;
/// Degrees between ticks, between longer ticks, and between numbers and the lines up through the
/// signals: with two points to a degree the nearest ticks stand 4 points apart.
const TICKS_DEG: (u32, u32, u32) = (2, 10, 30);
/// Numbers on a ruler of time, at most; each part has five ticks.
const TIMES: usize = 12;
const TICKS_PER_TIME: usize = 5;

/// Draws both strips.
pub(super) fn draw(sheet: &Sheet) -> Drawing {
    let channels: Vec<(&str, &Channel)> = sheet.channels().collect();
    let count = channels.len() as f64;
    let high = (LANES / count.max(1.0) - LANE_GAP).clamp(LANE.1, LANE.0);
    let strip = TOP + count * (high + LANE_GAP) + RULER;
    let mut drawing = Drawing::new(WIDTH, 2.0 * strip);
    // Both strips show a signal at the same scale.
    let signals: Vec<Signal> = channels
        .iter()
        .map(|(name, channel)| Signal::of(sheet, sheet.capture, name, channel))
        .collect();
    for half in 0..2 {
        let top = f64::from(half) * strip;
        let range = part(&sheet.ruler, half);
        let x = Scale { values: range, places: (LEFT, RIGHT) };
        let bottom = top + strip - RULER;
        if let Ruler::Degrees { tdcs, .. } = &sheet.ruler {
            let within: Vec<(u32, f64)> =
                tdcs.iter().copied().filter(|(_, at)| (range.0..range.1).contains(at)).collect();
            tdc_marks(&mut drawing, x, top + 10.0, bottom, &within);
        }
        ruler(&mut drawing, &sheet.ruler, x, (top + TOP - 4.0, bottom));
        for (lane, signal) in signals.iter().enumerate() {
            let y = top + TOP + lane as f64 * (high + LANE_GAP);
            signal.draw(&mut drawing, x, (y, y + high));
        }
    }
    drawing
}

/// What a strip spans: degrees of one crank turn, or seconds.
fn part(ruler: &Ruler, half: u32) -> (f64, f64) {
    let (from, to) = match ruler {
        Ruler::Degrees { .. } => (0.0, CYCLE_DEG),
        Ruler::Seconds { from, to } => (from.0, to.0),
    };
    let length = (to - from) / 2.0;
    (from + f64::from(half) * length, from + f64::from(half + 1) * length)
}

/// One channel over what the sheet shows.
struct Signal<'a> {
    name: &'a str,
    unit: &'static str,
    low: f64,
    high: f64,
    trace: Trace,
}

impl<'a> Signal<'a> {
    fn of(sheet: &Sheet, capture: &Capture, name: &'a str, channel: &Channel) -> Signal<'a> {
        let trace = match &sheet.ruler {
            Ruler::Degrees { angle, start, .. } => over_cycle(capture, channel, angle, *start),
            Ruler::Seconds { from, to } => over_time(capture, channel, *from, *to),
        };
        let values = trace.iter().flatten().map(|point| f64::from(point.1));
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        let unit = match channel.unit {
            Unit::Volts => "V",
            Unit::Amperes => "A",
            Unit::Level => "level",
        };
        Signal { name, unit, low, high, trace }
    }

    fn draw(&self, drawing: &mut Drawing, x: Scale, (top, bottom): (f64, f64)) {
        let room = LEFT - 20.0;
        let middle = f64::midpoint(top, bottom);
        drawing.bold((8.0, middle - 9.0), fitted(self.name, TEXT, true, room), Anchor::Left);
        if self.low > self.high {
            drawing.small((8.0, middle + 9.0), "nothing here", Anchor::Left);
            return;
        }
        let range = format!("{:.1} to {:.1} {}", self.low, self.high, self.unit);
        drawing.small((8.0, middle + 9.0), fitted(&range, SMALL, false, room), Anchor::Left);
        // A flat line stands at half height.
        let spread = if self.high > self.low { 0.0 } else { 1.0 };
        let values = (self.low - spread, self.high + spread);
        let y = Scale { values, places: (bottom, top) };
        let (from, to) = x.values;
        for piece in &self.trace {
            let first = piece.partition_point(|point| point.0 < from);
            let last = piece.partition_point(|point| point.0 <= to);
            let within = piece.get(first..last.max(first)).unwrap_or_default();
            let points: Vec<(f64, f64)> = thinned_over(within, to - from)
                .iter()
                .map(|&(at, value)| (x.at(at), y.at(f64::from(value))))
                .collect();
            drawing.line(&points, Ink::Blue, 1.0);
        }
    }
}

/// A channel from one time to another, in seconds.
fn over_time(capture: &Capture, channel: &Channel, from: Seconds, to: Seconds) -> Trace {
    let rows = capture.rows();
    let rows = capture.clock.row_at_or_after(from, rows)..capture.clock.row_at_or_after(to, rows);
    let held = capture.kind == CaptureKind::Events;
    let mut points: Vec<(f64, f32)> = Vec::new();
    for row in rows {
        let at = capture.clock.at(row).0;
        if let Some(&(_, before)) = points.last().filter(|_| held) {
            points.push((at, before));
        }
        points.push((at, channel.values[row]));
    }
    if points.len() > 1 { vec![points] } else { Trace::new() }
}

/// The ruler below a strip, with lines up through the signals.
fn ruler(drawing: &mut Drawing, ruler: &Ruler, x: Scale, (top, y): (f64, f64)) {
    drawing.line(&[(x.places.0, y), (x.places.1, y)], Ink::Black, 1.0);
    let number = |drawing: &mut Drawing, at: f64, label: String| {
        drawing.line(&[(at, top), (at, y)], Ink::Faint, 1.0);
        drawing.line(&[(at, y), (at, y + 13.0)], Ink::Black, 1.2);
        let half = text_width(&label, SMALL, false) / 2.0;
        // The last number stays within the sheet.
        let held = at.min(WIDTH - half - 1.0);
        drawing.small((held, y + 23.0), label, Anchor::Middle);
    };
    let (from, to) = x.values;
    let name = match ruler {
        Ruler::Degrees { .. } => {
            let (short, long, numbers) = TICKS_DEG;
            for step in (0..=TURN_DEG as u32).step_by(short as usize) {
                let at = x.at(from + f64::from(step));
                if step % numbers == 0 {
                    number(drawing, at, format!("{:.0}°", from + f64::from(step)));
                } else {
                    let length = if step % long == 0 { 10.0 } else { 5.0 };
                    drawing.line(&[(at, y), (at, y + length)], Ink::Black, 0.8);
                }
            }
            "crank degrees after the start of the cycle; a short tick every 2°"
        }
        Ruler::Seconds { .. } => {
            let ticks = x.ticks(TIMES);
            let step = ticks.get(1).zip(ticks.first()).map_or(to - from, |(b, a)| b - a);
            for &time in &ticks {
                number(drawing, x.at(time), format!("{:.0}", time * 1e3));
                for part in 1..TICKS_PER_TIME {
                    let at = time + step * part as f64 / TICKS_PER_TIME as f64;
                    if at < to {
                        let at = x.at(at);
                        drawing.line(&[(at, y), (at, y + 5.0)], Ink::Black, 0.8);
                    }
                }
            }
            "milliseconds: no crank angle was found to make a ruler in degrees of"
        }
    };
    let middle = f64::midpoint(x.places.0, x.places.1);
    drawing.small((middle, y + 40.0), name, Anchor::Middle);
}
