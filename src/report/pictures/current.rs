//! Picture 6: what the compressions were measured from, over one cycle in the order of firing:
//! every cycle behind, their mean before, its peaks marked by bank.

use super::axis::Scale;
use super::drawing::{Anchor, Drawing, Ink};
use crate::compression::{Compression, Source};
use crate::units::CYCLE_DEG;

/// Two such pictures stand side by side on paper.
const WIDTH: f64 = 456.0;
const HEIGHT: f64 = 330.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = WIDTH - 100.0;
const TOP: f64 = 66.0;
const BOTTOM: f64 = HEIGHT - 62.0;
/// Half the size of a mark at a peak.
const MARK: f64 = 5.0;

/// A peak of the mean cycle: its cylinder, bank, angle from the cycle's first degree, and height.
struct Peak {
    name: String,
    bank: Option<u32>,
    tdc: f64,
    at: f64,
    height: f64,
}

/// Draws the picture; `None` where there is no waveform.
pub(super) fn draw(measured: &Compression) -> Option<Drawing> {
    let mean = mean_cycle(measured);
    let peaks = peaks(measured)?;
    let all = || measured.overlay.iter().flatten().chain(mean.iter().map(|(_, value)| value));
    let (low, high) = all().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &value| {
        (low.min(value), high.max(value))
    });
    if !(low.is_finite() && high > low) {
        return None;
    }
    let room = 0.06 * (high - low);
    let mut drawing = Drawing::new(WIDTH, HEIGHT);
    let x = Scale { values: (0.0, CYCLE_DEG), places: (LEFT, RIGHT) };
    let y = Scale { values: (low - room, high + room), places: (BOTTOM, TOP) };
    for tick in y.ticks(5) {
        drawing.line(&[(LEFT, y.at(tick)), (RIGHT, y.at(tick))], Ink::Faint, 1.0);
        let decimals = if high - low < 5.0 { 1 } else { 0 };
        drawing.small((LEFT - 6.0, y.at(tick)), format!("{tick:.decimals$}"), Anchor::Right);
    }
    for cycle in &measured.overlay {
        let step = CYCLE_DEG / cycle.len().max(1) as f64;
        let points: Vec<(f64, f64)> = cycle
            .iter()
            .enumerate()
            .map(|(index, &value)| (x.at((index as f64 + 0.5) * step), y.at(value)))
            .collect();
        drawing.line(&points, Ink::Pale, 0.8);
    }
    let points: Vec<(f64, f64)> =
        mean.iter().map(|&(degrees, value)| (x.at(degrees), y.at(value))).collect();
    drawing.line(&points, Ink::Blue, 1.8);
    bank_means(&mut drawing, &peaks, x, y);
    for peak in &peaks {
        let (at, height) = (x.at(peak.at), y.at(peak.height));
        mark(&mut drawing, (at, height), peak.bank);
        drawing.small((x.at(peak.tdc), TOP - 12.0), peak.name.clone(), Anchor::Middle);
    }
    drawing.line(&[(LEFT, TOP), (LEFT, BOTTOM), (RIGHT, BOTTOM)], Ink::Black, 1.0);
    let unit = match measured.source {
        Source::StarterCurrent => "starter current",
        Source::BatteryVoltage => "battery voltage, V",
        Source::CrankSpeed => "crank speed, rpm",
    };
    let which = match measured.cycles_odd {
        0 => "every cycle, and their mean".to_owned(),
        1 => "every cycle but one unlike the others, and their mean".to_owned(),
        odd => format!("every cycle but {odd} unlike the others, and their mean"),
    };
    drawing.small((8.0, 12.0), unit, Anchor::Left);
    drawing.small((8.0, 29.0), which, Anchor::Left);
    let middle = f64::midpoint(LEFT, RIGHT);
    drawing.small((middle, BOTTOM + 14.0), "one cycle in the order of firing", Anchor::Middle);
    legend(&mut drawing, &peaks);
    Some(drawing)
}

/// The mean over the cycles, cylinder after cylinder.
fn mean_cycle(measured: &Compression) -> Vec<(f64, f64)> {
    let mut cycle: Vec<(f64, f64)> = Vec::new();
    for one in &measured.cylinders {
        for &(from_tdc, value) in &one.waveform {
            let degrees = one.tdc.0 + from_tdc.0;
            let within = (0.0..=CYCLE_DEG).contains(&degrees);
            if within && cycle.last().is_none_or(|(last, _)| degrees > *last) {
                cycle.push((degrees, value));
            }
        }
    }
    cycle
}

/// Of a lead that falls with a compression, the valleys.
fn peaks(measured: &Compression) -> Option<Vec<Peak>> {
    let rises = measured.source.rises();
    measured
        .cylinders
        .iter()
        .map(|one| {
            let highest =
                one.waveform.iter().max_by(|a, b| (rises * a.1).total_cmp(&(rises * b.1)))?;
            Some(Peak {
                name: one.cylinder.map_or(format!("no. {}", one.peak), |n| format!("cyl {n}")),
                bank: one.bank,
                tdc: one.tdc.0,
                at: one.tdc.0 + highest.0.0,
                height: highest.1,
            })
        })
        .collect()
}

fn banks(peaks: &[Peak]) -> Vec<u32> {
    let mut banks: Vec<u32> = peaks.iter().filter_map(|peak| peak.bank).collect();
    banks.sort_unstable();
    banks.dedup();
    banks
}

/// A line at the mean height of each bank's peaks, for the peaks of the other to be held against.
fn bank_means(drawing: &mut Drawing, peaks: &[Peak], x: Scale, y: Scale) {
    let banks = banks(peaks);
    if banks.len() < 2 {
        return;
    }
    let mut lowest_label = f64::INFINITY;
    let mut means: Vec<(u32, f64)> = banks
        .iter()
        .map(|&bank| {
            let own: Vec<f64> = peaks
                .iter()
                .filter(|peak| peak.bank == Some(bank))
                .map(|peak| peak.height)
                .collect();
            (bank, own.iter().sum::<f64>() / own.len() as f64)
        })
        .collect();
    means.sort_by(|a, b| a.1.total_cmp(&b.1));
    for (bank, mean) in means {
        let at = y.at(mean);
        drawing.dashed(&[x.at(0.0), x.at(CYCLE_DEG)].map(|x| (x, at)), Ink::Black, 1.0);
        // Labels keep clear of each other: the next one stands above.
        let label = at.min(lowest_label - 15.0);
        drawing.small((RIGHT + 6.0, label), format!("mean, bank {bank}"), Anchor::Left);
        lowest_label = label;
    }
}

/// A disc for the first bank, a block for the second, a ring for the third, a frame for others.
fn mark(drawing: &mut Drawing, (x, y): (f64, f64), bank: Option<u32>) {
    let corners = ((x - MARK, y - MARK), (x + MARK, y + MARK));
    match bank {
        Some(1) => drawing.disc((x, y), MARK, Ink::Black),
        Some(2) => {
            drawing.block(corners.0, corners.1, Ink::Vermilion);
            drawing.frame(corners.0, corners.1, Ink::Black);
        }
        Some(3) | None => drawing.circle((x, y), MARK, Ink::Black),
        Some(_) => drawing.frame(corners.0, corners.1, Ink::Black),
    }
}

fn legend(drawing: &mut Drawing, peaks: &[Peak]) {
    let mut x = LEFT;
    for bank in banks(peaks) {
        mark(drawing, (x + MARK, BOTTOM + 42.0), Some(bank));
        drawing.small(
            (x + 3.0 * MARK, BOTTOM + 42.0),
            format!("peaks of bank {bank}"),
            Anchor::Left,
        );
        x += 130.0;
    }
}
