//! What tells a capture from another: its file's checksum, when it was recorded, its rows and rate.

use std::io;

use serde::{Deserialize, Serialize};

use super::options::{ReadOptions, TimeUnit};
use super::source::Source;
use super::{Capture, CaptureKind, Clock, Samples, Unit};
use crate::units::Seconds;

/// What tells a file from another.
#[derive(Debug, Clone, PartialEq)]
pub struct FileFacts {
    /// Bytes of the file.
    pub bytes: u64,
    /// SHA-256 of the file as it lies there, packed or not, in hexadecimal; absent in a program
    /// built without reports.
    pub sha256: Option<String>,
    /// When it was recorded, as the file says it; absent where it does not.
    pub recorded: Option<String>,
    /// How it was read.
    pub asked: Asked,
}

/// How a capture was read, so that it can be read again as it was.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Asked {
    /// Samples per second.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate: Option<f64>,
    /// From this second on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<f64>,
    /// Up to this second.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub to: Option<f64>,
    /// "sampled" or "events".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    /// The character between cells.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub separator: Option<char>,
    /// The decimal mark.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub decimal: Option<char>,
    /// The column of the times.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub time: Option<String>,
    /// Its unit: s, ms, µs or ns.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub time_unit: Option<String>,
}

impl Asked {
    fn of(options: &ReadOptions) -> Asked {
        Asked {
            rate: options.rate,
            from: options.from.map(|at| at.0),
            to: options.to.map(|at| at.0),
            kind: options.force_kind.map(|kind| kind.word().to_owned()),
            separator: options.separator,
            decimal: options.decimal,
            time: options.time.clone(),
            time_unit: options.time_unit.map(|unit| unit.symbol().to_owned()),
        }
    }

    /// The options as the reader takes them.
    #[must_use]
    pub fn options(&self) -> ReadOptions {
        let kinds = [CaptureKind::Sampled, CaptureKind::Events];
        let said = |word: &Option<String>, one: &str| word.as_deref() == Some(one);
        ReadOptions {
            rate: self.rate,
            from: self.from.map(Seconds),
            to: self.to.map(Seconds),
            force_kind: kinds.into_iter().find(|kind| said(&self.kind, kind.word())),
            separator: self.separator,
            decimal: self.decimal,
            time: self.time.clone(),
            time_unit: TimeUnit::ALL.into_iter().find(|unit| said(&self.time_unit, unit.symbol())),
            ..ReadOptions::default()
        }
    }
}

/// A capture as a result tells of it.
#[derive(Debug, Clone, PartialEq)]
pub struct CaptureFacts {
    /// File name, no folder.
    pub name: String,
    /// What tells the file from another, where that was taken down.
    pub file: Option<FileFacts>,
    /// What the rows mean.
    pub kind: CaptureKind,
    /// Rows that were read.
    pub rows: usize,
    /// From the first row to the last.
    pub seconds: Seconds,
    /// Rows per second; absent where every row has a time of its own.
    pub rate: Option<f64>,
    /// The columns.
    pub channels: Vec<ChannelFacts>,
}

/// A column as a result tells of it.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelFacts {
    /// Its name.
    pub name: String,
    /// Unit of the values.
    pub unit: Unit,
    /// The smallest step between two values that was seen; absent where all are alike.
    pub step: Option<f64>,
}

impl CaptureFacts {
    /// Takes them down.
    #[must_use]
    pub fn of(capture: &Capture) -> CaptureFacts {
        let (first, last) = capture.span();
        let channels = capture.channels.iter().map(|channel| ChannelFacts {
            name: channel.name.clone(),
            unit: channel.unit,
            step: smallest_step(channel.values.all()),
        });
        CaptureFacts {
            name: capture.source.clone(),
            file: capture.notes.file.clone(),
            kind: capture.kind,
            rows: capture.rows(),
            seconds: last - first,
            rate: match capture.clock {
                Clock::Uniform { step, .. } => Some(1.0 / step.0),
                Clock::Stamped(_) => None,
            },
            channels: channels.collect(),
        }
    }
}

/// Values that are looked at for the smallest step: a signal lies at its levels most of the time,
/// where neighbouring values of the converter are met soon.
const LOOKED_AT: usize = 4096;

/// The smallest step between two values, of values taken evenly over the capture.
fn smallest_step(values: Samples<'_>) -> Option<f64> {
    let stride = values.len().div_ceil(LOOKED_AT).max(1);
    let mut seen: Vec<f32> = values.iter().step_by(stride).copied().collect();
    seen.sort_by(f32::total_cmp);
    let highest = seen.iter().fold(0.0_f32, |most, value| most.max(value.abs()));
    // Single precision holds a value to one part in 2^24: less than that apart is the same value.
    let same = f64::from(highest) * f64::from(f32::EPSILON) * 2.0;
    let steps = seen.windows(2).map(|pair| f64::from(pair[1]) - f64::from(pair[0]));
    steps.filter(|step| *step > same).min_by(f64::total_cmp)
}

/// What tells a file from another. `recorded` is what it says of that itself.
pub(super) fn of(
    source: &Source,
    options: &ReadOptions,
    recorded: Option<String>,
) -> io::Result<FileFacts> {
    Ok(FileFacts {
        bytes: source.length(),
        sha256: checksum(source)?,
        recorded,
        asked: Asked::of(options),
    })
}

#[cfg(feature = "report")]
fn checksum(source: &Source) -> io::Result<Option<String>> {
    let mut sum = crate::checksum::Checksum::default();
    source.pieces(|piece| sum.take(piece))?;
    Ok(Some(sum.hex()))
}

#[cfg(not(feature = "report"))]
fn checksum(_source: &Source) -> io::Result<Option<String>> {
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_smallest_step_is_that_of_the_converter() {
        // Eight bits over 20 V, as an oscilloscope would hold it.
        let step = 20.0_f64 / 256.0;
        let values: Vec<f32> = (0..20_000)
            .map(|at| ((((f64::from(at) * 0.013).sin() * 9.0) / step).round() * step) as f32)
            .collect();
        let found = smallest_step((&values).into()).expect("steps");
        assert!((found - step).abs() < 1e-4, "{found} where {step} is true");
        assert_eq!(smallest_step([1.0; 100][..].into()), None);
    }
}
