//! Start and interval of the samples, when the lines above the data give them instead of a
//! time column.

use super::layout::{Line, text_of};
use super::number::{self, Cell, NumberStyle};
use crate::capture::error::Fault;
use crate::capture::table::timing::{Timing, agree};
use crate::capture::table::units::{Measure, split_name, unit};
use crate::remedy::{Remedy, Setting};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Key {
    Start,
    Interval,
    Rate,
    /// Of so many samples one was exported.
    Decimation,
    /// So many samples there are.
    Count,
}

/// Keys as exporters write them, in lower case (common practice, no source). A *time base* is
/// seconds per division and says nothing here.
const KEYS: [(&str, Key); 42] = [
    ("start", Key::Start),
    ("start time", Key::Start),
    ("time start", Key::Start),
    ("x start", Key::Start),
    ("x origin", Key::Start),
    ("time origin", Key::Start),
    ("t0", Key::Start),
    ("interval", Key::Interval),
    ("sample interval", Key::Interval),
    ("sampling interval", Key::Interval),
    ("sample period", Key::Interval),
    ("sampling period", Key::Interval),
    ("increment", Key::Interval),
    ("x increment", Key::Interval),
    ("time increment", Key::Interval),
    ("time step", Key::Interval),
    ("time per sample", Key::Interval),
    ("delta t", Key::Interval),
    ("dt", Key::Interval),
    ("rate", Key::Rate),
    ("sample rate", Key::Rate),
    ("samplerate", Key::Rate),
    ("sampling rate", Key::Rate),
    ("sampling frequency", Key::Rate),
    ("sample frequency", Key::Rate),
    ("samples per second", Key::Rate),
    ("fs", Key::Rate),
    ("decimation", Key::Decimation),
    ("decimation factor", Key::Decimation),
    ("decimation ratio", Key::Decimation),
    ("downsampling", Key::Decimation),
    ("downsampling factor", Key::Decimation),
    ("sample reduction", Key::Decimation),
    ("record length", Key::Count),
    ("number of samples", Key::Count),
    ("no of samples", Key::Count),
    ("no. of samples", Key::Count),
    ("sample count", Key::Count),
    ("samples", Key::Count),
    ("points", Key::Count),
    ("memory depth", Key::Count),
    ("memory length", Key::Count),
];
/// Whether a line holds a key for start, interval or rate, and the line below its number right
/// below it.
pub(crate) fn stands_over_value(line: &Line, below: &Line, style: NumberStyle) -> bool {
    line.cells.iter().zip(&below.cells).any(|(cell, below)| {
        let found = key_of(&text_of(cell)).filter(|(_, _, rest)| rest.is_empty());
        found.is_some_and(|(key, shift, _)| {
            value_of(&text_of(below), None, key, shift, style).is_some()
        })
    })
}

/// Looks through the lines above the data.
pub(crate) fn find(above: &[Line], style: NumberStyle) -> Result<Timing, Fault> {
    let mut timing = Timing::default();
    for (index, line) in above.iter().enumerate() {
        for (column, cell) in line.cells.iter().enumerate() {
            let Some((key, shift, rest)) = key_of(&text_of(cell)) else { continue };
            let beside = line.cells.get(column + 1).map(|cell| text_of(cell));
            let after = line.cells.get(column + 2).map(|cell| text_of(cell));
            let below = above.get(index + 1).and_then(|line| line.cells.get(column));
            let below = below.map(|cell| text_of(cell));
            let value = value_of(&rest, None, key, shift, style)
                .or_else(|| value_of(&beside?, after.as_deref(), key, shift, style))
                .or_else(|| value_of(&below?, None, key, shift, style));
            if let Some(value) = value {
                take(&mut timing, key, value).map_err(|fault| fault.at_line(line.number))?;
            }
        }
    }
    Ok(timing)
}

fn take(timing: &mut Timing, key: Key, value: f64) -> Result<(), Fault> {
    let step = match key {
        Key::Start => {
            timing.start.get_or_insert(value);
            return Ok(());
        }
        Key::Interval => value,
        Key::Rate => 1.0 / value,
        Key::Decimation => {
            timing.decimation.get_or_insert(value);
            return Ok(());
        }
        Key::Count => {
            timing.samples.get_or_insert(value);
            return Ok(());
        }
    };
    if !(step.is_finite() && step > 0.0) {
        return Err(Fault::malformed(
            "the sample interval or rate is not positive",
            Remedy::give(Setting::SampleRate),
        ));
    }
    match timing.step {
        Some(before) if !agree(before, step) => Err(Fault::ambiguous(
            format!("the lines above the data give two sample intervals, {before} s and {step} s"),
            Remedy::give(Setting::SampleRate),
        )),
        _ => {
            timing.step = Some(step);
            Ok(())
        }
    }
}

/// Key, power of ten of the unit beside the key, and the text after `:` or `=`.
fn key_of(text: &str) -> Option<(Key, Option<i32>, String)> {
    let text = text.trim_start_matches(['#', '%', '/', ' ']);
    let (name, rest) = text.split_once([':', '=']).unwrap_or((text, ""));
    let (name, unit) = split_name(name);
    let name = name.to_lowercase().replace('_', " ");
    let (_, key) = KEYS.iter().find(|(known, _)| *known == name)?;
    Some((*key, unit.map(|(_, shift)| shift), rest.trim().to_owned()))
}

/// A number with its unit behind it, in the next cell, or beside the key.
fn value_of(
    text: &str,
    next: Option<&str>,
    key: Key,
    key_shift: Option<i32>,
    style: NumberStyle,
) -> Option<f64> {
    let text = text.trim();
    let number_end = text
        .char_indices()
        .find(|&(at, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && text[at + 1..]
                    .starts_with(|next: char| next.is_ascii_digit() || "+-".contains(next));
            !(c.is_ascii_digit() || "+-.,".contains(c) || exponent)
        })
        .map_or(text.len(), |(at, _)| at);
    let (number, behind) = text.split_at(number_end);
    let unit_text = if behind.trim().is_empty() { next.unwrap_or("") } else { behind };
    let shift = match unit(unit_text) {
        Some((Measure::Time, shift)) if key != Key::Rate => shift,
        Some((Measure::Rate, shift)) if key == Key::Rate => shift,
        // `1000000 pts`, `10 x`: whatever they are called.
        _ if matches!(key, Key::Decimation | Key::Count) => 0,
        _ if behind.trim().is_empty() => key_shift.unwrap_or(0),
        _ => return None,
    };
    let point = NumberStyle { decimal: b'.', thousands: None };
    [style, point].into_iter().find_map(|style| {
        match number::cell(number.as_bytes(), style, shift) {
            Cell::Number(value, _) => Some(value),
            _ => None,
        }
    })
}
