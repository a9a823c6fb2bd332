//! What spoils a real signal, and how much of it each preset has.

use std::f64::consts::TAU;

use serde::Serialize;

use super::made::Workmanship;
use super::random::Random;

/// How dirty a capture is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
#[serde(rename_all = "lowercase")]
pub enum Preset {
    /// Next to nothing: wheels within 0.01°, 12 bits, noise of a thousandth.
    Clean,
    /// What a careful hook-up in a workshop gives.
    Workshop,
    /// Bad grounds, chafed leads, a range set too small.
    Nasty,
}

/// Amounts of dirt. Voltages are shares of the signal's own swing unless said otherwise.
/// All are ours, set beside the real recordings in hand; no source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Dirt {
    /// Standard deviation of white noise.
    pub noise: f64,
    /// Amplitude of mains hum.
    pub hum: f64,
    /// Height of ignition spikes.
    pub spikes: f64,
    /// Largest constant offset.
    pub offset: f64,
    /// Largest drift over the capture.
    pub drift: f64,
    /// Share of the swing that the scope's range is too small by; 0 for a range that fits.
    pub clipped: f64,
    /// Dropouts and glitches per second and channel.
    pub dropouts: f64,
    pub glitches: f64,
    /// Converter resolution over the range.
    pub bits: u32,
    /// Time constants of a square wave's rise and fall, seconds.
    pub rise: f64,
    pub fall: f64,
    /// Share by which the high level sags at stall current.
    pub sag: f64,
    /// Standard deviation of an edge's time in a logic capture, seconds.
    pub jitter: f64,
    /// The crank's wheel, in crank degrees, and the cams', in cam degrees.
    pub crank_work: Workmanship,
    pub cam_work: Workmanship,
}

impl Preset {
    pub(super) fn dirt(self) -> Dirt {
        match self {
            Preset::Clean => Dirt {
                noise: 0.001,
                hum: 0.0,
                spikes: 0.0,
                offset: 0.0,
                drift: 0.0,
                clipped: 0.0,
                dropouts: 0.0,
                glitches: 0.0,
                bits: 12,
                rise: 2.0e-6,
                fall: 2.0e-6,
                sag: 0.0,
                jitter: 0.0,
                crank_work: Workmanship { pitch: 0.01, run_out: 0.01, gap: 0.03 },
                cam_work: Workmanship { pitch: 0.01, run_out: 0.01, gap: 0.03 },
            },
            Preset::Workshop => Dirt {
                noise: 0.008,
                hum: 0.01,
                spikes: 0.12,
                offset: 0.03,
                drift: 0.02,
                clipped: 0.0,
                dropouts: 0.0,
                glitches: 0.2,
                bits: 10,
                rise: 12.0e-6,
                fall: 2.0e-6,
                sag: 0.06,
                jitter: 2.0e-6,
                crank_work: Workmanship { pitch: 0.03, run_out: 0.06, gap: 0.15 },
                cam_work: Workmanship { pitch: 0.08, run_out: 0.05, gap: 0.10 },
            },
            Preset::Nasty => Dirt {
                noise: 0.03,
                hum: 0.06,
                spikes: 0.6,
                offset: 0.12,
                drift: 0.10,
                clipped: 0.25,
                dropouts: 0.5,
                glitches: 3.0,
                bits: 8,
                rise: 40.0e-6,
                fall: 5.0e-6,
                sag: 0.20,
                jitter: 10.0e-6,
                crank_work: Workmanship { pitch: 0.06, run_out: 0.12, gap: 0.30 },
                cam_work: Workmanship { pitch: 0.15, run_out: 0.10, gap: 0.25 },
            },
        }
    }
}

/// Ringing of a spike: frequency in hertz and time to die away in seconds.
const SPIKE_HERTZ: f64 = 12_000.0;
const SPIKE_DIES_S: f64 = 60.0e-6;
/// Shortest and longest dropout in seconds.
const DROPOUT_S: (f64, f64) = (0.5e-3, 4.0e-3);
/// The steps a scope's range can be set to, either side of zero, in each decade.
const RANGES: [f64; 3] = [1.0, 2.0, 5.0];

/// What was done to one channel, for the truth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DirtDone {
    /// Constant offset in the channel's unit.
    pub offset: f64,
    /// Drift from first to last row in the channel's unit.
    pub drift: f64,
    /// Mains hum, amplitude in the channel's unit.
    pub hum: f64,
    /// Mains frequency in hertz.
    pub hum_hertz: f64,
    /// The scope's range, either side of zero, in the channel's unit.
    pub range: f64,
    /// Smallest step of the converter in the channel's unit.
    pub step: f64,
    /// Share of the rows on the limit of the range, 0..1.
    pub clipped: f64,
    /// Dropouts made.
    pub dropouts: usize,
    /// Single-sample glitches made.
    pub glitches: usize,
}

/// Spoils one channel in place. `swing` is the signal's size, `sparks` the times of ignition.
pub(super) fn spoil(
    values: &mut [f64],
    dirt: &Dirt,
    bits: u32,
    rate: f64,
    sparks: &[f64],
    random: &mut Random,
) -> DirtDone {
    let (low, high) = limits(values);
    let swing = (high - low).max(1e-9);
    let seconds = values.len() as f64 / rate;
    let hum_hertz = if random.uniform() < 0.5 { 50.0 } else { 60.0 };
    let phase = random.between(0.0, TAU);
    let offset = swing * dirt.offset * random.between(-1.0, 1.0);
    let drift = swing * dirt.drift * random.between(-1.0, 1.0);
    let hum = swing * dirt.hum * random.between(0.3, 1.0);
    let rows = values.len() as f64;
    for (row, value) in values.iter_mut().enumerate() {
        let turn = TAU * hum_hertz * row as f64 / rate + phase;
        let hummed = if hum > 0.0 { hum * turn.sin() } else { 0.0 };
        *value +=
            offset + drift * row as f64 / rows + hummed + swing * dirt.noise * random.normal();
    }
    if dirt.spikes > 0.0 {
        add_spikes(values, swing * dirt.spikes, rate, sparks, random);
    }
    let dropouts = random.arrivals(dirt.dropouts, seconds);
    for at in &dropouts {
        let last = ((at + random.between(DROPOUT_S.0, DROPOUT_S.1)) * rate) as usize;
        let rows = (at * rate) as usize..last.min(values.len());
        values[rows].fill(0.0);
    }
    let glitches = random.arrivals(dirt.glitches, seconds);
    for at in &glitches {
        let row = ((at * rate) as usize).min(values.len() - 1);
        values[row] = low + swing * random.between(-0.2, 1.2);
    }
    let (range, step, clipped) = convert(values, low.abs().max(high.abs()), dirt.clipped, bits);
    let (dropouts, glitches) = (dropouts.len(), glitches.len());
    DirtDone { offset, drift, hum, hum_hertz, range, step, clipped, dropouts, glitches }
}

fn limits(values: &[f64]) -> (f64, f64) {
    let ends = (f64::INFINITY, f64::NEG_INFINITY);
    values.iter().fold(ends, |(low, high), &value| (low.min(value), high.max(value)))
}

fn add_spikes(values: &mut [f64], height: f64, rate: f64, sparks: &[f64], random: &mut Random) {
    for &at in sparks {
        let size = height * random.between(0.3, 1.0);
        let first = (at * rate).ceil() as usize;
        let last = ((at + 6.0 * SPIKE_DIES_S) * rate) as usize;
        for row in first..=last {
            let Some(value) = values.get_mut(row) else { break };
            let since = row as f64 / rate - at;
            *value += size * (-since / SPIKE_DIES_S).exp() * (TAU * SPIKE_HERTZ * since).cos();
        }
    }
}

/// Puts the values through a converter: a range of a real scope, limits, whole steps.
fn convert(values: &mut [f64], largest: f64, clipped: f64, bits: u32) -> (f64, f64, f64) {
    let range = if clipped > 0.0 {
        largest * (1.0 - clipped)
    } else {
        // Head room for noise and offset.
        range_for(largest * 1.1)
    };
    let step = 2.0 * range / f64::from(1_u32 << bits);
    let top = range - step;
    let mut at_limit = 0_usize;
    for value in values.iter_mut() {
        at_limit += usize::from(*value >= top || *value <= -range);
        *value = ((*value / step).round() * step).clamp(-range, top);
    }
    (range, step, at_limit as f64 / values.len() as f64)
}

/// The smallest range of the 1-2-5 row that holds a size.
fn range_for(size: f64) -> f64 {
    let decade = 10_f64.powf(size.max(1e-6).log10().floor());
    RANGES.iter().map(|step| step * decade).find(|range| *range >= size).unwrap_or(10.0 * decade)
}
