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
    /// So many samples there are.
    Count,
    /// So long the recording is.
    Duration,
}

/// Keys as exporters write them, in lower case (common practice, no source). A *time base* is
/// seconds per division and says nothing here.
const KEYS: [(&str, Key); 48] = [
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
    ("record length", Key::Count),
    ("number of samples", Key::Count),
    ("no of samples", Key::Count),
    ("no. of samples", Key::Count),
    ("sample count", Key::Count),
    ("samples", Key::Count),
    ("points", Key::Count),
    ("memory depth", Key::Count),
    ("memory length", Key::Count),
    ("memory size", Key::Count),
    ("buffer size", Key::Count),
    ("buffer length", Key::Count),
    ("total samples", Key::Count),
    ("total points", Key::Count),
    ("number of points", Key::Count),
    ("no. of points", Key::Count),
    ("duration", Key::Duration),
    ("capture duration", Key::Duration),
    ("record duration", Key::Duration),
    ("recording time", Key::Duration),
    ("acquisition time", Key::Duration),
];
/// Words of a line that says that not every sample was exported, in lower case.
const THINNED: [&str; 11] = [
    "decimat",
    "downsampl",
    "down-sampl",
    "subsampl",
    "undersampl",
    "resampl",
    "thinned",
    "data reduction",
    "sample reduction",
    "samples skipped",
    "skipped samples",
];
/// What a setting says that is switched off, or takes every sample.
const OFF: [&str; 7] = ["off", "no", "none", "false", "disabled", "1", "0"];

/// What a cell says of samples that were not exported, with the cell beside it; `None` where it
/// says nothing of that, or that none was left out.
fn thinned(cell: &str, beside: Option<&str>) -> Option<String> {
    let lower = cell.to_lowercase().replace('_', " ");
    // `every 10th sample`, `every nth point`.
    let every = lower.split_once("every ").is_some_and(|(_, rest)| {
        let word = rest.split(' ').next().unwrap_or_default();
        word == "nth"
            || (word.starts_with(|c: char| c.is_ascii_digit())
                && ["th", "nd", "rd"].iter().any(|end| word.ends_with(end)))
    });
    let key = lower.split([':', '=']).next().unwrap_or_default().trim();
    if !every && key != "reduction" && !THINNED.iter().any(|word| lower.contains(word)) {
        return None;
    }
    let own = lower.split_once([':', '=']).map(|(_, value)| value.trim().to_owned());
    let value = own.filter(|value| !value.is_empty());
    let value = value.unwrap_or_else(|| beside.unwrap_or_default().trim().to_lowercase());
    let off = OFF.contains(&value.as_str()) || value.parse() == Ok(1.0);
    let said = [cell.trim(), beside.map_or("", str::trim)].join(" ");
    (!off).then(|| said.trim().to_owned())
}

/// A whole number as people write it: `40 000`, `1,000,000`, `40k`, `1 M`.
fn count_of(text: &str) -> Option<f64> {
    let text = text.trim();
    let is_part = |c: char| c.is_ascii_digit() || " ,.'\u{202f}\u{a0}".contains(c);
    let end = text.find(|c| !is_part(c)).unwrap_or(text.len());
    let (number, behind) = (text[..end].trim(), text[end..].trim());
    let groups: Vec<&str> = number.split(|c: char| !c.is_ascii_digit()).collect();
    let grouped = groups.len() > 1 && groups[1..].iter().all(|group| group.len() == 3);
    let number = if grouped { groups.concat() } else { number.replace(',', ".") };
    let letters: String = behind.chars().take_while(|c| c.is_alphabetic()).collect();
    // Bytes are no samples.
    let factor = match letters.as_str() {
        "" | "pts" | "points" | "samples" | "S" | "Sa" => 1.0,
        "k" | "K" | "kpts" | "kS" | "kSa" => 1e3,
        "M" | "Mpts" | "MS" | "MSa" => 1e6,
        "G" | "Gpts" => 1e9,
        _ => return None,
    };
    number.parse::<f64>().ok().map(|value| value * factor)
}

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
            let beside = line.cells.get(column + 1).map(|cell| text_of(cell));
            if timing.thinned.is_none() {
                timing.thinned = thinned(&text_of(cell), beside.as_deref());
            }
            let Some((key, shift, rest)) = key_of(&text_of(cell)) else { continue };
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
        Key::Count => {
            timing.samples.get_or_insert(value);
            return Ok(());
        }
        Key::Duration => {
            timing.duration.get_or_insert(value);
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
    if key == Key::Count {
        return count_of(text);
    }
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
