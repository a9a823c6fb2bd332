//! What a channel probably carries, before any engine is chosen: a suggestion for the form, not a measurement.

use crate::capture::{Capture, Channel, Unit};
use crate::edges::{SignalFault, find_edges};

/// Fewest edges of a sensor of a turning shaft.
const LEAST_EDGES: usize = 4;
/// Mean volts of a battery, engine cranking or running (common practice, no source).
const BATTERY_VOLTS: std::ops::Range<f64> = 6.0..16.0;
/// A battery's voltage moves by less than this share of its mean.
const BATTERY_SWING: f64 = 0.6;

/// A guess for each channel of a capture, in order; empty where there is none. The names are those of leads, and
/// "cam" for a cam of which the engine is not known yet.
pub(super) fn roles(capture: &Capture) -> Vec<String> {
    let edges: Vec<usize> =
        capture.channels.iter().map(|channel| edge_count(capture, channel)).collect();
    let named = |name: &str| name.to_lowercase().contains("crank");
    let crank = capture.channels.iter().position(|channel| named(&channel.name)).or_else(|| {
        let most =
            edges.iter().enumerate().max_by_key(|&(index, &count)| (count, usize::MAX - index))?;
        (*most.1 >= LEAST_EDGES).then_some(most.0)
    });
    let role = |(index, channel): (usize, &Channel)| {
        if Some(index) == crank {
            return "crank".to_owned();
        }
        let lower = channel.name.to_lowercase();
        let told = ["starter", "battery", "ignition", "pressure"];
        if let Some(word) = told.into_iter().find(|word| lower.starts_with(word)) {
            return if matches!(word, "ignition" | "pressure") { lower } else { word.to_owned() };
        }
        if channel.unit == Unit::Amperes {
            "starter".into()
        } else if is_battery(channel) {
            "battery".into()
        } else if edges[index] >= LEAST_EDGES {
            "cam".into()
        } else {
            String::new()
        }
    };
    capture.channels.iter().enumerate().map(role).collect()
}

fn edge_count(capture: &Capture, channel: &Channel) -> usize {
    if channel.unit == Unit::Amperes {
        return 0;
    }
    let train = find_edges(capture, channel);
    if train.faults.contains(&SignalFault::Dead) { 0 } else { train.edges.len() }
}

fn is_battery(channel: &Channel) -> bool {
    let (mut sum, mut low, mut high) = (0.0, f64::INFINITY, f64::NEG_INFINITY);
    for &value in &channel.values {
        let value = f64::from(value);
        (sum, low, high) = (sum + value, low.min(value), high.max(value));
    }
    let mean = sum / channel.values.len().max(1) as f64;
    channel.unit == Unit::Volts
        && BATTERY_VOLTS.contains(&mean)
        && high - low < mean * BATTERY_SWING
}
