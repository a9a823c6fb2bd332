//! The signals of a capture as numbers for the interactive view: thinned by least and greatest, so
//! that no peak vanishes, and small enough for a report.

use serde::Serialize;

use super::base64;
use crate::analysis::Analysis;
use crate::capture::{Capture, CaptureKind, Channel, Clock, Samples, Unit};
use crate::units::{CrankDelta, Seconds};

/// Values embedded at most, over all channels: 1.6 MB as letters. A longer capture is thinned.
const MOST_VALUES: usize = 600_000;
/// Pairs of time and angle embedded at most.
const MOST_ANGLES: usize = 15_000;
/// Degrees between those pairs; straight lines between them stray by less than a hundredth of a
/// degree.
const ANGLE_STEP_DEG: f64 = 2.0;
/// Steps a value is rounded to over its channel's range, finer than any oscilloscope's converter.
const STEPS: f64 = 65_535.0;

/// What the view draws from.
#[derive(Serialize)]
pub(super) struct Signals {
    capture: String,
    /// Levels hold until the next row.
    stepped: bool,
    /// Seconds from the first row: eight bytes each, little end first.
    times: Option<String>,
    /// Where no times are given: time of value i is i · step.
    step: f64,
    /// Time of the first row on the capture's own clock.
    start: f64,
    /// Least and greatest of this many rows stand for them; 1 when nothing was left out.
    rows_per_pair: usize,
    channels: Vec<Trace>,
    /// Seconds and crank degrees from the start of a cycle, alternately; a degree that is no number
    /// begins a hole.
    angles: String,
}

#[derive(Serialize)]
struct Trace {
    name: String,
    column: String,
    unit: &'static str,
    low: f64,
    high: f64,
    /// Two bytes each, little end first: 0 is `low`, 65535 is `high`.
    values: String,
}

/// Collects the leads of the main capture; `None` when there is nothing to show.
pub(super) fn collect(analysis: &Analysis, capture: &Capture) -> Option<Signals> {
    let leads = analysis.leads.iter().filter(|lead| lead.capture == capture.source);
    let channels: Vec<(&str, &Channel)> = leads
        .filter_map(|lead| Some((lead.name.as_str(), capture.channels.get(lead.channel)?)))
        .collect();
    let rows = capture.rows();
    if channels.is_empty() || rows < 2 {
        return None;
    }
    let thin = Thinning::of(rows, channels.len());
    let origin = capture.clock.at(0);
    let (times, step) = match capture.clock {
        Clock::Uniform { step, .. } => (None, thin.step(step.0)),
        Clock::Stamped(_) => {
            let stamps = thin.places(rows).map(|row| (capture.clock.at(row) - origin).0);
            (Some(doubles(stamps)), 0.0)
        }
    };
    Some(Signals {
        capture: capture.source.clone(),
        stepped: capture.kind == CaptureKind::Events,
        times,
        step,
        start: origin.0,
        rows_per_pair: thin.rows_per_pair.max(1),
        channels: channels.iter().map(|(name, channel)| trace(name, channel, &thin)).collect(),
        angles: angles(analysis, origin),
    })
}

/// How rows are thinned: every `rows_per_pair` rows give two values; 0 keeps every row.
struct Thinning {
    rows_per_pair: usize,
}

impl Thinning {
    fn of(rows: usize, channels: usize) -> Thinning {
        let most = MOST_VALUES / channels.max(1);
        let rows_per_pair = if rows <= most { 0 } else { (2 * rows).div_ceil(most.max(2)) };
        Thinning { rows_per_pair }
    }

    /// Time between values, of rows `step` apart.
    fn step(&self, step: f64) -> f64 {
        if self.rows_per_pair == 0 { step } else { step * self.rows_per_pair as f64 / 2.0 }
    }

    /// The row whose time each value takes.
    fn places(&self, rows: usize) -> Box<dyn Iterator<Item = usize>> {
        let per = self.rows_per_pair;
        if per == 0 {
            return Box::new(0..rows);
        }
        Box::new((0..rows).step_by(per).flat_map(move |row| [row, (row + per / 2).min(rows - 1)]))
    }

    /// The values kept, in order.
    fn values(&self, values: Samples<'_>) -> Vec<f32> {
        if self.rows_per_pair == 0 {
            return values.to_vec();
        }
        values.chunks(self.rows_per_pair).flat_map(extremes).collect()
    }
}

/// Least and greatest of some values, in the order in which they came.
fn extremes(values: Samples<'_>) -> [f32; 2] {
    let (mut least, mut most) = (0, 0);
    for (index, &value) in values.iter().enumerate() {
        if value < values[least] {
            least = index;
        }
        if value > values[most] {
            most = index;
        }
    }
    if least <= most { [values[least], values[most]] } else { [values[most], values[least]] }
}

fn trace(name: &str, channel: &Channel, thin: &Thinning) -> Trace {
    let values = thin.values(channel.values.all());
    let (low, high) = Samples::from(&values).limits();
    let (low, high) = (f64::from(low), f64::from(high));
    let range = if high > low { high - low } else { 1.0 };
    let rounded = values.iter().flat_map(|&value| {
        let steps = ((f64::from(value) - low) / range * STEPS).round();
        (steps.clamp(0.0, STEPS) as u16).to_le_bytes()
    });
    Trace {
        name: name.to_owned(),
        column: channel.name.clone(),
        unit: match channel.unit {
            Unit::Volts => "V",
            Unit::Amperes => "A",
            Unit::Level => "",
        },
        low,
        high: low + range,
        values: base64::encode(&rounded.collect::<Vec<u8>>()),
    }
}

/// Time and angle over the stretch used, close enough together for straight lines between.
fn angles(analysis: &Analysis, origin: Seconds) -> String {
    let angle = &analysis.crank.angle;
    let (from, to) = angle.turned_span();
    let total = to.since(from).0;
    let step = ANGLE_STEP_DEG.max(total / MOST_ANGLES as f64);
    let steps = (total / step).floor() as usize;
    let mut pairs = Vec::new();
    let mut in_hole = true;
    for index in 0..=steps {
        let turned = from.later(CrankDelta(step * index as f64));
        match angle.time_at(turned).filter(|&at| angle.angle_at(at).is_some()) {
            Some(at) => {
                pairs.extend([(at - origin).0, turned.0 + analysis.datum_shift.0]);
                in_hole = false;
            }
            None if in_hole => {}
            None => {
                // The hole begins where the last pair stood.
                let last = pairs[pairs.len() - 2];
                pairs.extend([last, f64::NAN]);
                in_hole = true;
            }
        }
    }
    doubles(pairs.into_iter())
}

fn doubles(values: impl Iterator<Item = f64>) -> String {
    base64::encode(&values.flat_map(f64::to_le_bytes).collect::<Vec<u8>>())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thinning_keeps_every_peak_and_its_order() {
        let mut values = vec![0.0_f32; 1_000_000];
        values[333_333] = 7.0;
        values[777_776] = -3.0;
        let thin = Thinning::of(values.len(), 4);
        let kept = thin.values((&values).into());
        assert!(kept.len() <= MOST_VALUES / 4, "{}", kept.len());
        assert_eq!(kept.len(), thin.places(values.len()).count(), "a time for every value");
        for (row, peak) in [(333_333_usize, 7.0), (777_776, -3.0)] {
            let place = kept.iter().position(|&value| value == peak).expect("the peak is kept");
            let at = place * thin.rows_per_pair / 2;
            assert!(row.abs_diff(at) <= thin.rows_per_pair, "{peak} of row {row} stands at {at}");
        }
        assert_eq!(extremes((&vec![1.0, 3.0, -2.0]).into()), [3.0, -2.0]);
        assert_eq!(
            Thinning::of(1000, 4).values(values[..1000].into()).len(),
            1000,
            "short ones stay whole"
        );
    }
}
