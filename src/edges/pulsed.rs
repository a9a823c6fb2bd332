//! Direction-sensing sensors: one output pulse of fixed length per tooth, a longer one when the
//! wheel turns back.
//!
//! The leading edge marks the tooth; the pulse's length tells the direction. The lengths are tens
//! of microseconds, the longer about twice the shorter (common practice, no source), and are
//! measured here, not assumed.

use super::square::{changes, limits, train};
use super::weighted::weighted_median;
use super::{Edge, EdgeTrain, Glitches, levels::median, slow::Slow};
use crate::capture::{Capture, CaptureKind, Channel};
use crate::stats::MAD_TO_SD;
use crate::units::Seconds;
use crate::wheel::EdgeKind;

/// Usual length of the shorter pulse (common practice, no source): what a rate is worked out for.
pub const USUAL_PULSE: Seconds = Seconds(45e-6);
/// Samples that one pulse needs to be seen at its place and told from one of twice its length: two
/// are on it wherever the samples fall, and half a sample of room.
pub const SAMPLES_PER_PULSE: f64 = 2.5;

/// Longer than this, in seconds, a level is no output pulse of this kind of sensor (five times the
/// usual one).
const LONGEST_PULSE: f64 = 250e-6;
/// A level that takes this share of the time is no short pulse. At 6,000 rpm a pulse of 45 µs takes
/// a quarter of the time of a tooth of 60.
const MOST_SHARE: f64 = 0.35;
/// A pulse shorter than this share of the usual one is none; one longer than this many is one of
/// turning back, half-way (in proportion) to twice the length.
const TOO_SHORT: f64 = 0.4;
const TURNED_BACK: f64 = 1.42;
/// Fewest pulses where the sensor is said to be of this kind; and where nothing says so: two turns
/// of a common wheel.
const STATED: usize = 8;
const UNSTATED: usize = 60;
/// A single longer pulse may be noise; an engine that rocks back passes more than one tooth.
const LEAST_BACKWARD: usize = 2;
/// Length of the blocks over which the level at rest is measured, in seconds.
const REST_SECONDS: f64 = 0.05;
/// Rank, as a share of all rows, of the value that is taken for the pulses' height. 45 µs at the
/// 100 teeth a second of slow cranking are 0.5 % of the time; a tenth of that.
const HEIGHT_RANK: f64 = 0.0005;
/// Pulses stand out from the noise by this many of its standard deviations.
const NOISE_SDS: f64 = 12.0;
/// A pulse begins above the one and ends below the other share of its height; a supply that is down
/// by a third leaves it 0.67.
const BEGINS_ABOVE: f64 = 0.5;
const ENDS_BELOW: f64 = 0.35;

/// What the pulses of a direction-sensing sensor say beside the places of teeth.
#[derive(Debug, Clone, PartialEq)]
pub struct Pulses {
    /// The edge a pulse begins with, which marks the tooth.
    pub leading: EdgeKind,
    /// Length of the usual pulse.
    pub length: Seconds,
    /// Whether the samples lie close enough to tell the two lengths apart.
    pub tells_direction: bool,
    /// Times the wheel turned back.
    pub backward: Vec<Backward>,
}

/// A run of pulses that were made turning backwards.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Backward {
    /// First and last leading edge of the run.
    pub from: Seconds,
    /// See `from`.
    pub to: Seconds,
    /// Teeth passed backwards.
    pub teeth: usize,
}

/// One pulse.
#[derive(Debug, Clone, Copy)]
struct Pulse {
    begins: Seconds,
    ends: Seconds,
}

impl Pulse {
    fn length(&self) -> f64 {
        (self.ends - self.begins).0
    }
}

/// The train of a channel that shows short pulses of one or two lengths; `None` when it does not.
/// Where the sensor is `stated` to be of this kind, the train holds what marks teeth passed
/// forwards, the leading edges of those pulses, and nothing else; where it is not, both edges of
/// every pulse, as of any square wave.
pub(super) fn find(capture: &Capture, channel: &Channel, stated: bool) -> Option<EdgeTrain> {
    let least = if stated { STATED } else { UNSTATED };
    let (leading, pulses) = match capture.kind {
        CaptureKind::Events => in_events(capture, channel)?,
        CaptureKind::Sampled => in_samples(capture, channel)?,
    };
    let step = match capture.kind {
        CaptureKind::Events => 0.0,
        CaptureKind::Sampled => super::sample_step(capture),
    };
    let usual = usual_length(&pulses)?;
    if usual > longest(step) || pulses.len() < least {
        return None;
    }
    let tells_direction = usual >= 2.0 * step;
    let (kept, short): (Vec<Pulse>, Vec<Pulse>) = pulses
        .into_iter()
        .partition(|pulse| pulse.length() >= TOO_SHORT * usual || !tells_direction);
    let longest = short.iter().map(Pulse::length).reduce(f64::max);
    let dropped = longest.map(|longest| Glitches { count: short.len(), longest: Seconds(longest) });
    let backward = if tells_direction { backward(&kept, usual) } else { Vec::new() };
    let back = |at: Seconds| backward.iter().any(|run| (run.from..=run.to).contains(&at));
    let edges = kept
        .iter()
        .flat_map(|pulse| {
            let begins = Edge { at: pulse.begins, kind: leading };
            let ends = Edge { at: pulse.ends, kind: leading.opposite() };
            let begins = (!stated || !back(pulse.begins)).then_some(begins);
            begins.into_iter().chain((!stated).then_some(ends))
        })
        .collect();
    let pulses = Pulses { leading, length: Seconds(usual), tells_direction, backward };
    Some(EdgeTrain {
        pulses: Some(pulses),
        timing_sd: Seconds(step * super::UNIFORM_SD),
        ..train(edges, dropped, limits(channel.values.all()))
    })
}

/// Whether edges that were found by their levels could be output pulses: one of the two levels is
/// never held for long.
pub(super) fn may_be(edges: &[Edge]) -> bool {
    [EdgeKind::Rising, EdgeKind::Falling]
        .into_iter()
        .any(|kind| lasting(edges, kind).is_some_and(|seconds| seconds <= LONGEST_PULSE))
}

/// For how long the level that begins with an edge of a kind is held, most of its time.
fn lasting(edges: &[Edge], kind: EdgeKind) -> Option<f64> {
    let pairs = edges.windows(2).filter(|pair| pair[0].kind == kind);
    weighted_median(&mut pairs.map(|pair| (pair[1].at - pair[0].at).0).collect::<Vec<f64>>())
}

/// Length of most pulses: the mean of those about the median, since samples split one length into
/// two.
fn usual_length(pulses: &[Pulse]) -> Option<f64> {
    let mut lengths: Vec<f64> = pulses.iter().map(Pulse::length).collect();
    let middle = median(&mut lengths)?;
    let about = lengths.iter().filter(|&&length| (length / middle - 1.0).abs() <= 0.5);
    let (sum, count) = about.fold((0.0, 0), |(sum, count), length| (sum + length, count + 1));
    Some(sum / f64::from(count))
}

/// The longest an output pulse can be in samples this far apart: one that falls on one sample shows
/// as two steps.
fn longest(step: f64) -> f64 {
    LONGEST_PULSE.max(2.0 * step)
}

/// Runs of longer pulses.
fn backward(pulses: &[Pulse], usual: f64) -> Vec<Backward> {
    pulses
        .chunk_by(|a, b| (a.length() > TURNED_BACK * usual) == (b.length() > TURNED_BACK * usual))
        .filter(|run| run[0].length() > TURNED_BACK * usual && run.len() >= LEAST_BACKWARD)
        .map(|run| Backward {
            from: run[0].begins,
            to: run[run.len() - 1].begins,
            teeth: run.len(),
        })
        .collect()
}

/// Pulses of a logic capture: of the two levels, the one that is held for the shorter time.
fn in_events(capture: &Capture, channel: &Channel) -> Option<(EdgeKind, Vec<Pulse>)> {
    let edges = changes(capture, channel);
    let (high, low) = (lasting(&edges, EdgeKind::Rising)?, lasting(&edges, EdgeKind::Falling)?);
    let leading = if high <= low { EdgeKind::Rising } else { EdgeKind::Falling };
    if high.min(low) > LONGEST_PULSE || high.min(low) > MOST_SHARE * (high + low) {
        return None;
    }
    let pulses = edges
        .windows(2)
        .filter(|pair| pair[0].kind == leading)
        .map(|pair| Pulse { begins: pair[0].at, ends: pair[1].at })
        .filter(|pulse| pulse.length() <= LONGEST_PULSE);
    Some((leading, pulses.collect()))
}

/// Pulses of a sampled signal: short departures to one side from a level at rest.
fn in_samples(capture: &Capture, channel: &Channel) -> Option<(EdgeKind, Vec<Pulse>)> {
    let values = &channel.values;
    let block = ((REST_SECONDS / super::sample_step(capture)).ceil() as usize).max(16);
    let rest = values.all().chunks(block).enumerate().filter_map(|(i, part)| {
        let mut part: Vec<f64> = part.iter().map(|&value| f64::from(value)).collect();
        Some(((i as f64 + 0.5) * block as f64, median(&mut part)?))
    });
    let rest = Slow::through(rest.collect(), 0.0);
    let mut walk = rest.walk();
    let away: Vec<f32> = values
        .iter()
        .enumerate()
        .map(|(row, &value)| (f64::from(value) - walk.at(row)) as f32)
        .collect();
    let mut sorted = away.clone();
    sorted.sort_unstable_by(f32::total_cmp);
    let at = |share: f64| f64::from(sorted[((sorted.len() - 1) as f64 * share).round() as usize]);
    let (top, bottom) = (at(1.0 - HEIGHT_RANK), at(HEIGHT_RANK));
    let noise = MAD_TO_SD * (at(0.75) - at(0.25)) / 2.0;
    let (leading, height) =
        if top >= -bottom { (EdgeKind::Rising, top) } else { (EdgeKind::Falling, -bottom) };
    if height <= NOISE_SDS * noise || height <= 0.0 {
        return None;
    }
    let sign = if leading == EdgeKind::Rising { 1.0 } else { -1.0 };
    let share = |row: usize| sign * f64::from(away[row]) / height;
    // Half-way up, between the two samples that bracket it.
    let crossed = |row: usize| {
        let (before, after) = (share(row - 1), share(row));
        let part = ((BEGINS_ABOVE - before) / (after - before)).clamp(0.0, 1.0);
        let (from, to) = (capture.clock.at(row - 1), capture.clock.at(row));
        from + (to - from) * if part.is_finite() { part } else { 0.5 }
    };
    let mut pulses = Vec::new();
    let mut begins: Option<Seconds> = None;
    let mut rows_high = 0_usize;
    for row in 1..away.len() {
        let share = share(row);
        rows_high += usize::from(share >= BEGINS_ABOVE);
        match begins {
            None if share >= BEGINS_ABOVE => begins = Some(crossed(row)),
            Some(from) if share <= ENDS_BELOW => {
                pulses.push(Pulse { begins: from, ends: crossed(row) });
                begins = None;
            }
            _ => {}
        }
    }
    // What rests too seldom has no level at rest.
    let seldom = rows_high as f64 <= MOST_SHARE * away.len() as f64;
    pulses.retain(|pulse| pulse.length() <= longest(super::sample_step(capture)));
    seldom.then_some((leading, pulses))
}
