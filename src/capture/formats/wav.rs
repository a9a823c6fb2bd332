//! RIFF WAVE: a channel per sound channel, in parts of full scale from −1 to 1. What full scale is in
//! volts the file does not say; edges and degrees do not depend on it.

use hound::{SampleFormat, WavReader};

use super::{Format, Forward, Way};
use crate::capture::error::{Class, Fault};
use crate::capture::options::ReadOptions;
use crate::capture::source::Source;
use crate::capture::table::column::{Column, Role};
use crate::capture::table::whole::{Whole, refuse_nan};

/// RIFF WAVE.
pub(super) const FORMAT: Format = Format { begins, read: Way::Whole(read) };

fn begins(head: &[u8]) -> bool {
    head.starts_with(b"RIFF") && head.get(8..).is_some_and(|rest| rest.starts_with(b"WAVE"))
}

/// Reads integer samples of 8 to 32 bits or float samples.
fn read(source: &Source, _: &ReadOptions) -> Result<Whole, Fault> {
    let mut reader = WavReader::new(Forward::new(source)).map_err(fault)?;
    let spec = reader.spec();
    let count = usize::from(spec.channels);
    if count == 0 || spec.sample_rate == 0 || !(1..=32).contains(&spec.bits_per_sample) {
        return Err(fault(hound::Error::FormatError("no channels, no rate or no sample size")));
    }
    let mut channels = vec![Vec::new(); count];
    let mut at = 0;
    let mut take = |value: f32| {
        channels[at].push(value);
        at = (at + 1) % count;
    };
    match spec.sample_format {
        SampleFormat::Int => {
            let full = f64::from(spec.bits_per_sample - 1).exp2();
            for sample in reader.samples::<i32>() {
                take((f64::from(sample.map_err(fault)?) / full) as f32);
            }
        }
        SampleFormat::Float => {
            for sample in reader.samples::<f32>() {
                take(sample.map_err(fault)?);
            }
        }
    }
    if at != 0 {
        return Err(fault(hound::Error::UnfinishedSample));
    }
    refuse_nan(&channels)?;
    let columns = (1..=count).map(|at| Column::unnamed(at, Role::Channel)).collect();
    let step = Some(1.0 / f64::from(spec.sample_rate));
    Ok(Whole { columns, times: None, channels, step, finest: 0, kind: None })
}

fn fault(error: hound::Error) -> Fault {
    match error {
        hound::Error::Unsupported | hound::Error::TooWide => Fault::new(
            Class::Unsupported,
            format!("this kind of WAV file is not read ({error})"),
            "Export it as PCM with 16, 24 or 32 bits",
        ),
        error => Fault::malformed(
            format!("the WAV file is damaged or cut short ({error})"),
            "Export the capture again",
        ),
    }
}
