//! What kind of signal a channel shows.

use super::{ChannelLook, tone};
use crate::capture::{Capture, CaptureKind, Channel, Samples, Unit};
use crate::edges::{EdgeTrain, SignalFault, SignalShape, find_pulses};
use crate::leads::RoleGuess;
use crate::stats::{mean, standard_deviation, upper_median};
use crate::wheel::EdgeKind;

/// Kind of signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SignalKind {
    /// Two levels: a Hall or logic sensor.
    Square,
    /// Swings about a middle, a pulse per tooth.
    Reluctance,
    /// Current of the starter: humps on a load.
    Current,
    /// Battery voltage: dips below a steady level.
    Supply,
    /// Short pulses, one in a turn or two: an ignition trigger.
    Ignition,
    /// Single slow peaks to one side: a pressure transducer.
    Pressure,
    /// Nothing changes.
    Dead,
    /// Something else.
    Other,
}

impl SignalKind {
    /// The words on screen.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            SignalKind::Square => "square wave",
            SignalKind::Reluctance => "reluctance",
            SignalKind::Current => "current",
            SignalKind::Supply => "supply voltage",
            SignalKind::Ignition => "ignition pulses",
            SignalKind::Pressure => "pressure",
            SignalKind::Dead => "dead",
            SignalKind::Other => "not recognised",
        }
    }
}

/// Turns a median second difference of white noise into its standard deviation: the second
/// difference has variance 6σ², and the median of a normal's size is 0.6745 of its standard
/// deviation.
const SECOND_DIFFERENCE: f64 = 0.674_489_75 * 2.449_489_742_783_178;
/// Median of a signal that can be a battery, volts.
const BATTERY: std::ops::Range<f64> = 6.0..32.0;
/// The battery dips by less than this share of its level while cranking.
const BATTERY_DIP: f64 = 0.6;
/// Above this frequency, per second, it is teeth and not compressions: a twelve-cylinder engine has
/// 6 a turn, at 300 rpm 30 per second.
const COMPRESSION_MOST: f64 = 40.0;
/// A swing of fewer standard deviations of the noise than this is noise: six to each side.
const STILL_NOISES: f64 = 12.0;
/// What is nothing but noise swings no further than the noise between neighbouring samples says,
/// within what coarse steps do to that; a signal of six samples a tooth swings by twice as much.
const ONLY_NOISE: f64 = 1.15;
/// Share of the swing on one side that makes a signal one-sided.
const ONE_SIDED: f64 = 0.8;
/// Share of the swing on the lesser side of zero of a signal that goes to both: half but for what
/// noise, an offset and uneven teeth make of it.
const BOTH_SIDES: f64 = 0.25;
/// Share of the rows near the middle of a signal made of single peaks.
const QUIET: f64 = 0.5;
/// Ignition triggers are high for less than this share of the time, and most cams for more.
const SHORT_PULSES: f64 = 0.015;
/// Pulses that tell whether their length follows the speed: of fewer, lengths that have nothing to
/// do with it go with it too often by chance (a correlation of 0.87 of seven, 1 in 200).
const TELLING_PULSES: usize = 7;
/// Standard deviation of the logarithm of their spacing from which they do: the length of a pulse of
/// forty samples is known to a third of that.
const SPEED_CHANGED: f64 = 0.02;
/// Lengths follow the speed when, as shares of their spacing, they vary by less than this part of
/// what they vary by in seconds.
const FOLLOWS: f64 = 0.5;

pub(super) fn look_at(capture: &Capture, channel: &Channel, train: &EdgeTrain) -> ChannelLook {
    let shape = Shape::of(channel.values.all());
    let rate = tone::strongest(capture, channel);
    let noise = (capture.kind == CaptureKind::Sampled).then(|| noise(channel.values.all()));
    let (kind, role, reason) = classify(capture, channel, train, &shape, (rate, noise));
    let levels = if kind == SignalKind::Square { train.levels } else { (shape.low, shape.high) };
    ChannelLook {
        name: channel.name.clone(),
        column: channel.column,
        kind,
        levels,
        noise,
        rate: if kind == SignalKind::Dead { None } else { rate },
        edges: train.edges.len(),
        faults: train.faults.clone(),
        role,
        reason: reason.to_owned(),
    }
}

fn noise(values: Samples<'_>) -> f64 {
    let mut rough: Vec<f64> = values
        .threes()
        .map(|three| (f64::from(three[0]) - 2.0 * f64::from(three[1]) + f64::from(three[2])).abs())
        .collect();
    upper_median(&mut rough).unwrap_or(0.0) / SECOND_DIFFERENCE
}

/// Whether a channel shows nothing but noise, as a lead does that is connected to nothing: what it
/// does over the whole capture it does from one sample to the next, and no sample stands out.
fn is_only_noise(values: Samples<'_>, shape: &Shape, noise: f64) -> bool {
    let wide: Vec<f64> = values.iter().map(|&value| f64::from(value)).collect();
    let swings = standard_deviation(&wide).unwrap_or(f64::INFINITY);
    let (least, most) = shape.ends;
    swings <= ONLY_NOISE * noise && most - least <= STILL_NOISES * noise
}

/// Where the values lie.
struct Shape {
    low: f64,
    middle: f64,
    high: f64,
    /// Share of the rows within a tenth of the swing of the middle.
    quiet: f64,
    /// Least and greatest value.
    ends: (f64, f64),
}

impl Shape {
    fn of(values: Samples<'_>) -> Shape {
        let mut sorted = values.to_vec();
        sorted.sort_unstable_by(f32::total_cmp);
        let at = |share: f64| {
            let index = ((sorted.len().saturating_sub(1)) as f64 * share).round() as usize;
            sorted.get(index).map_or(0.0, |&value| f64::from(value))
        };
        let (low, middle, high) = (at(0.002), at(0.5), at(0.998));
        let near = 0.1 * (high - low);
        let quiet = values.iter().filter(|&&v| (f64::from(v) - middle).abs() <= near).count();
        let quiet = quiet as f64 / values.len().max(1) as f64;
        Shape { low, middle, high, quiet, ends: (at(0.0), at(1.0)) }
    }
}

impl Shape {
    /// Whether the signal goes to both sides of zero: teeth induce a voltage one way and then the
    /// other, and a starter draws its current one way only, whatever the rate.
    fn through_zero(&self) -> bool {
        self.high.min(-self.low) > BOTH_SIDES * (self.high - self.low)
    }
}

type Class = (SignalKind, RoleGuess, &'static str);

fn classify(
    capture: &Capture,
    channel: &Channel,
    train: &EdgeTrain,
    shape: &Shape,
    (rate, noise): (Option<f64>, Option<f64>),
) -> Class {
    if channel.unit == Unit::Amperes {
        return (SignalKind::Current, RoleGuess::Starter, "its unit is amperes");
    }
    if noise.is_some_and(|noise| is_only_noise(channel.values.all(), shape, noise)) {
        return (SignalKind::Dead, RoleGuess::Unknown, "nothing but noise");
    }
    if let Some(class) = ignition(capture, channel, train) {
        return class;
    }
    let swing = shape.high - shape.low;
    let edgeless = train.faults.contains(&SignalFault::Dead) || train.edges.is_empty();
    let still = noise.is_none_or(|noise| swing <= STILL_NOISES * noise);
    if edgeless && still {
        return (SignalKind::Dead, RoleGuess::Unknown, "the level never changes");
    }
    let slow = rate.is_some_and(|rate| rate < COMPRESSION_MOST);
    let dip = (shape.high - shape.low) / shape.middle.max(1e-9);
    // A supply that drops by a third and recovers has two levels too; a sensor's low level is near
    // ground.
    if slow && BATTERY.contains(&shape.middle) && dip < BATTERY_DIP {
        let why = "a supply's level with slow dips";
        return (SignalKind::Supply, RoleGuess::Battery, why);
    }
    if train.shape == SignalShape::Square && !edgeless {
        return (SignalKind::Square, RoleGuess::Unknown, "two levels, as Hall sensors give");
    }
    let above = (shape.high - shape.middle) / (shape.high - shape.low).max(1e-9);
    if slow && above > ONE_SIDED && shape.quiet > QUIET {
        return (SignalKind::Pressure, RoleGuess::Pressure, "single slow peaks to one side");
    }
    if slow && shape.quiet < QUIET && !shape.through_zero() {
        return (SignalKind::Current, RoleGuess::Starter, "slow humps at the rate of compressions");
    }
    if edgeless {
        return (SignalKind::Other, RoleGuess::Unknown, "it changes, but has no edges");
    }
    (SignalKind::Reluctance, RoleGuess::Unknown, "swings through zero, as reluctance sensors give")
}

/// Pulses too short for a cam's tooth, at an even rate.
fn ignition(capture: &Capture, channel: &Channel, train: &EdgeTrain) -> Option<Class> {
    if capture.kind == CaptureKind::Events {
        return None;
    }
    let pulses = find_pulses(capture, channel);
    if pulses.len() < 3 {
        return None;
    }
    let mut sorted = channel.values.to_vec();
    sorted.sort_unstable_by(f32::total_cmp);
    let at = |share: f64| f64::from(sorted[((sorted.len() - 1) as f64 * share).round() as usize]);
    let (rest, top) = (at(0.5), at(0.9995));
    let half = rest + 0.6 * (top - rest);
    let high = channel.values.iter().filter(|&&value| f64::from(value) > half).count();
    // Reluctance pulses go as far below as above.
    let one_sided = top - rest > 4.0 * (rest - at(0.0005));
    let short = (high as f64) < SHORT_PULSES * channel.values.len() as f64;
    (one_sided && short && !is_narrow_tooth(train)).then_some((
        SignalKind::Ignition,
        RoleGuess::Ignition,
        "pulses too short for a tooth",
    ))
}

/// Whether short pulses are those of a narrow tooth: a tooth passes sooner when the engine turns
/// faster, while a coil is charged for a time of its own (common practice, no source).
fn is_narrow_tooth(train: &EdgeTrain) -> bool {
    let pulses: Vec<(f64, f64)> = train
        .edges
        .windows(2)
        .filter(|two| two[0].kind == EdgeKind::Rising && two[1].kind == EdgeKind::Falling)
        .map(|two| (two[0].at.0, (two[1].at - two[0].at).0))
        .collect();
    if train.shape != SignalShape::Square || pulses.len() < TELLING_PULSES {
        return false;
    }
    // What sampling does to the length of a pulse is in both, and taken out of both.
    let sampled = |(_, length): &(f64, f64)| 2.0 * (train.timing_sd.0 / length).powi(2);
    let sampled = mean(&pulses.iter().map(sampled).collect::<Vec<f64>>()).unwrap_or(0.0);
    let last = pulses.len() - 1;
    // From the one before to the one after; of the first and the last, to the only neighbour.
    let spacing = |i: usize| {
        let (before, after) = (i.saturating_sub(1), (i + 1).min(last));
        (pulses[after].0 - pulses[before].0) / (after - before) as f64
    };
    let variance = |of: &dyn Fn(usize) -> f64| {
        let logs: Vec<f64> = (0..=last).map(|i| of(i).ln()).collect();
        standard_deviation(&logs).unwrap_or(0.0).powi(2)
    };
    let lengths = variance(&|i| pulses[i].1) - sampled;
    let shares = variance(&|i| pulses[i].1 / spacing(i)) - sampled;
    let speed = variance(&spacing).min(lengths);
    speed > SPEED_CHANGED.powi(2) && shares < FOLLOWS.powi(2) * lengths
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::Clock;
    use crate::edges::find_edges;
    use crate::units::Seconds;

    /// A pulse in every cycle of an engine that runs up, as long as given at a cycle's seconds.
    fn pulses(length: impl Fn(f64) -> f64) -> SignalKind {
        let rate = 20_000.0;
        let mut values = vec![0.1_f32; (1.6 * rate) as usize];
        let (mut at, mut cycle) = (0.05, 0.15);
        while at + cycle < 1.6 {
            let range = (at * rate) as usize..((at + length(cycle)) * rate) as usize;
            values[range].fill(4.9);
            at += cycle;
            cycle *= 0.95;
        }
        let channel = Channel {
            name: "x".into(),
            column: 2,
            unit: Unit::Volts,
            values: values.into(),
            over_range: Vec::new(),
        };
        let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(1.0 / rate) };
        let capture = Capture::new("x.csv".into(), CaptureKind::Sampled, clock, vec![channel]);
        let train = find_edges(&capture, &capture.channels[0], None);
        look_at(&capture, &capture.channels[0], &train).kind
    }

    #[test]
    fn what_stands_out_of_noise_is_not_only_noise() {
        // A sum of sines that have no common period passes for white noise.
        let rough = |i: usize| -> f64 {
            (1..=12).map(|k| 0.03 * (i as f64 * 2.4 * f64::from(k * k)).sin()).sum()
        };
        let only = |values: &[f32]| {
            let values = values.into();
            is_only_noise(values, &Shape::of(values), noise(values))
        };
        let rough: Vec<f32> = (0..20_000).map(|i| (5.0 + rough(i)) as f32).collect();
        assert!(only(&rough));
        // One pulse of a sensor in 20,000 rows, and teeth of six samples each.
        let mut pulse = rough.clone();
        pulse[9_000..9_004].fill(6.0);
        assert!(!only(&pulse));
        let teeth: Vec<f32> = (0..20_000).map(|i| (i as f64 * 1.05).sin() as f32).collect();
        assert!(!only(&teeth));
    }

    #[test]
    fn a_slow_swing_to_both_sides_of_zero_is_of_teeth_and_one_above_it_a_current() {
        // Twelve teeth a turn at 180 rpm are as fast as the compressions of an idling engine.
        let of = |middle: f64| {
            let rate = 5000.0;
            let value = |i: usize| middle + (std::f64::consts::TAU * 36.0 * i as f64 / rate).sin();
            let channel = Channel {
                name: "x".into(),
                column: 2,
                unit: Unit::Volts,
                values: (0..10_000).map(|i| value(i) as f32).collect(),
                over_range: Vec::new(),
            };
            let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(1.0 / rate) };
            let capture = Capture::new("x.csv".into(), CaptureKind::Sampled, clock, vec![channel]);
            let train = find_edges(&capture, &capture.channels[0], None);
            look_at(&capture, &capture.channels[0], &train).kind
        };
        assert_eq!((of(0.2), of(1.2)), (SignalKind::Reluctance, SignalKind::Current));
    }

    #[test]
    fn a_narrow_tooth_passes_sooner_at_speed_and_a_coil_is_charged_as_long() {
        assert_eq!(pulses(|cycle| 0.008 * cycle), SignalKind::Square);
        assert_eq!(pulses(|_| 0.001), SignalKind::Ignition);
    }
}
