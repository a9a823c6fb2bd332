//! Trigger pulses too short to count as a level: an ignition trigger's dwell is some milliseconds
//! in a cycle of six tenths of a second, and the search for levels leaves that much out as spikes.

use super::{find_edges, square};
use crate::capture::{Capture, CaptureKind, Channel, Samples};
use crate::units::Seconds;
use crate::wheel::EdgeKind;

/// Rank, as a share, of the value that is taken for the pulses' height: a tenth of a 0.5 % pulse.
const PULSE_SHARE: f64 = 0.0005;
/// Pulses stand out from the noise by this many of its standard deviations: one value of 2000,
/// which is taken for their height, lies 3.3 from the middle of noise alone, and hum never 1.5.
const NOISE_SDS: f64 = 7.0;
/// Seconds over which the lead's own level is taken out: it drifts with a bad ground. Many times a
/// dwell, and a part of a capture.
const LEVEL_S: f64 = 0.4;
/// Rows that a dwell lasts where the lead is sampled finely enough to tell it from a spike of
/// another coil, which is over in one or two; and how many such pulses make a lead that shows
/// dwells.
const ROWS_OF_A_DWELL: usize = 3;
const DWELLS: usize = 4;
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
    let values = without_level(capture, channel.values.all());
    let mut sorted = values.clone();
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
    let pulses = above(&values, rest, height);
    let rows_high: usize = pulses.iter().map(|(_, rows)| rows).sum();
    if rows_high as f64 > MOST_SHARE * count as f64 {
        return None;
    }
    // A lead that shows dwells shows one at every event: what is shorter came from elsewhere.
    let dwells = pulses.iter().filter(|(_, rows)| *rows >= ROWS_OF_A_DWELL).count();
    let least = if dwells >= DWELLS { ROWS_OF_A_DWELL } else { 1 };
    let long = pulses.into_iter().filter(|(_, rows)| *rows >= least);
    Some(long.map(|(row, _)| capture.clock.at(row)).collect())
}

/// Row at which each pulse begins, and how many rows it lasts.
fn above(values: &[f32], rest: f64, height: f64) -> Vec<(usize, usize)> {
    let mut pulses: Vec<(usize, usize)> = Vec::new();
    let mut high = false;
    for (row, &value) in values.iter().enumerate() {
        let share = (f64::from(value) - rest) / height;
        if !high && share >= BEGINS_ABOVE {
            high = true;
            pulses.push((row, 0));
        } else if high && share <= ENDS_BELOW {
            high = false;
        }
        if let Some((_, rows)) = pulses.last_mut().filter(|_| high) {
            *rows += 1;
        }
    }
    pulses
}

/// The values with their slow level taken out: medians of stretches, straight lines between their
/// middles.
fn without_level(capture: &Capture, values: Samples<'_>) -> Vec<f32> {
    let count = values.len();
    let seconds = (capture.clock.at(count.saturating_sub(1)) - capture.clock.at(0)).0;
    let stretch = (LEVEL_S * count as f64 / seconds.max(LEVEL_S)).max(16.0) as usize;
    let medians: Vec<f64> = values
        .chunks(stretch)
        .map(|chunk| {
            let mut chunk = chunk.to_vec();
            let half = chunk.len() / 2;
            f64::from(*chunk.select_nth_unstable_by(half, f32::total_cmp).1)
        })
        .collect();
    let last = medians.len().saturating_sub(1);
    let level = |row: usize| {
        let place = (row as f64 / stretch as f64 - 0.5).clamp(0.0, last as f64);
        let (index, share) = (place as usize, place.fract());
        medians[index] + share * (medians[(index + 1).min(last)] - medians[index])
    };
    values.iter().enumerate().map(|(row, value)| value - level(row) as f32).collect()
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
                values: values.into(),
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
