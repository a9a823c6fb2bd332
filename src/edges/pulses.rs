//! Trigger pulses too short to count as a level: an ignition trigger's dwell is some milliseconds
//! in a cycle of six tenths of a second, and the search for levels leaves that much out as spikes.

use super::{find_edges, square};
use crate::capture::{Capture, CaptureKind, Channel};
use crate::units::Seconds;
use crate::wheel::EdgeKind;

/// Rank, as a share, of the value that is taken for the pulses' height: a tenth of a 0.5 % pulse.
const PULSE_SHARE: f64 = 0.0005;
/// Pulses stand out from the noise by this many of its standard deviations.
const NOISE_SDS: f64 = 12.0;
/// A pulse ends below this share of its height; it begins above the other half and more.
const ENDS_BELOW: f64 = 0.35;
/// A pulse begins above this share of its height: ignition spikes on other leads reach an eighth.
const BEGINS_ABOVE: f64 = 0.6;

/// Longer pulses than this share of the capture are levels, and found as such.
const MOST_SHARE: f64 = 0.03;

/// Shorter levels of a logic capture are no dwell: a coil takes milliseconds to charge, and one
/// that strikes several times rests about as long in between (common practice, no source). They are
/// not held against a tooth's period, which a trigger has not.
const LEAST_DWELL: f64 = 0.1e-3;

/// When each pulse of a trigger lead begins.
#[must_use]
pub fn find_pulses(capture: &Capture, channel: &Channel) -> Vec<Seconds> {
    if capture.kind == CaptureKind::Events {
        let edges = square::changes(capture, channel);
        let pulses = edges.iter().zip(edges.iter().skip(1));
        return pulses
            .filter(|(begins, ends)| {
                begins.kind == EdgeKind::Rising && (ends.at - begins.at).0 >= LEAST_DWELL
            })
            .map(|(begins, _)| begins.at)
            .collect();
    }
    short_pulses(capture, channel)
        .unwrap_or_else(|| find_edges(capture, channel, None).of_kind(EdgeKind::Rising).collect())
}

/// The pulses, when the lead shows short ones and nothing else.
fn short_pulses(capture: &Capture, channel: &Channel) -> Option<Vec<Seconds>> {
    let mut sorted = channel.values.clone();
    sorted.sort_unstable_by(f32::total_cmp);
    let count = sorted.len();
    if count < 16 {
        return None;
    }
    let at = |share: f64| f64::from(sorted[((count - 1) as f64 * share).round() as usize]);
    let (rest, top, bottom) = (at(0.5), at(1.0 - PULSE_SHARE), at(PULSE_SHARE));
    // The middle two thirds of a normal distribution span two standard deviations.
    let noise = (at(5.0 / 6.0) - at(1.0 / 6.0)) / 2.0;
    let height = if top - rest >= rest - bottom { top - rest } else { bottom - rest };
    if height.abs() <= NOISE_SDS * noise || height == 0.0 {
        return None;
    }
    let mut pulses = Vec::new();
    let (mut high, mut rows_high) = (false, 0_usize);
    for (row, &value) in channel.values.iter().enumerate() {
        let share = (f64::from(value) - rest) / height;
        if !high && share >= BEGINS_ABOVE {
            high = true;
            pulses.push(capture.clock.at(row));
        } else if high && share <= ENDS_BELOW {
            high = false;
        }
        rows_high += usize::from(high);
    }
    (rows_high as f64 <= MOST_SHARE * count as f64).then_some(pulses)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::{Clock, Unit};

    #[test]
    fn pulses_of_half_a_percent_are_found_either_way_up() {
        for up in [1.0_f32, -1.0] {
            let mut values: Vec<f32> = (0..60_000).map(|i| (i % 7) as f32 * 0.005).collect();
            for start in [6000, 18_000, 30_000, 42_000, 54_000] {
                for value in &mut values[start..start + 50] {
                    *value += 5.0 * up;
                }
            }
            let channel = Channel {
                name: "ignition 1".into(),
                column: 2,
                unit: Unit::Volts,
                values,
                over_range: Vec::new(),
            };
            let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(5e-5) };
            let capture = Capture::new("x".into(), CaptureKind::Sampled, clock, vec![channel]);
            let found = find_pulses(&capture, &capture.channels[0]);
            let times: Vec<f64> = found.iter().map(|at| (at.0 * 1e4).round() / 1e4).collect();
            assert_eq!(times, [0.3, 0.9, 1.5, 2.1, 2.7], "{up}");
        }
    }
}
