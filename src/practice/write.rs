//! A capture as the text of a CSV file, in the dialect asked for.

use std::fmt::Write as _;

use crate::capture::{Capture, CaptureKind, Unit};

/// Between the cells of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// Tab.
    Tab,
}

/// Between whole and fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
pub enum DecimalMark {
    /// `.`
    Point,
    /// `,`
    Comma,
}

/// How a CSV file is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dialect {
    /// Between cells.
    pub separator: Separator,
    /// Within numbers. A comma does not go with a comma as separator.
    pub decimal: DecimalMark,
    /// Units in a row of their own instead of behind the names.
    pub unit_row: bool,
}

impl Default for Dialect {
    fn default() -> Self {
        Self { separator: Separator::Comma, decimal: DecimalMark::Point, unit_row: false }
    }
}

/// Decimals of times: microseconds for events, and enough for a sampled clock.
const EVENT_DECIMALS: usize = 6;
const MOST_DECIMALS: usize = 9;

/// Writes a capture as CSV text. `steps` is each channel's converter step, which decides how
/// many decimals its numbers carry; logic levels are 0 and 1.
///
/// Returns `None` for a comma both between cells and within numbers.
#[must_use]
pub fn csv_text(capture: &Capture, steps: &[f64], dialect: Dialect) -> Option<String> {
    let separator = match dialect.separator {
        Separator::Comma if dialect.decimal == DecimalMark::Comma => return None,
        Separator::Comma => ',',
        Separator::Semicolon => ';',
        Separator::Tab => '\t',
    };
    let mut text = String::with_capacity(capture.rows() * (8 + 7 * capture.channels.len()));
    header(&mut text, capture, separator, dialect.unit_row);
    let events = capture.kind == CaptureKind::Events;
    let time_decimals = match &capture.clock {
        crate::capture::Clock::Uniform { step, .. } if !events => clock_decimals(step.0),
        _ => EVENT_DECIMALS,
    };
    let decimals: Vec<usize> = (0..capture.channels.len())
        .map(|channel| if events { 0 } else { value_decimals(steps.get(channel).copied()) })
        .collect();
    let body = text.len();
    for row in 0..capture.rows() {
        number(&mut text, capture.clock.at(row).0, time_decimals);
        for (channel, &decimals) in capture.channels.iter().zip(&decimals) {
            text.push(separator);
            number(&mut text, f64::from(channel.values[row]), decimals);
        }
        text.push('\n');
    }
    if dialect.decimal == DecimalMark::Comma {
        let body = text.split_off(body).replace('.', ",");
        text.push_str(&body);
    }
    Some(text)
}

fn header(text: &mut String, capture: &Capture, separator: char, unit_row: bool) {
    let unit = |unit: Unit| match unit {
        Unit::Volts => "V",
        Unit::Amperes => "A",
        Unit::Level => "",
    };
    let names = capture.channels.iter().map(|channel| (channel.name.as_str(), unit(channel.unit)));
    let all: Vec<(&str, &str)> = [("time", "s")].into_iter().chain(names).collect();
    let row = |cells: Vec<String>| {
        let cells: Vec<String> = cells.iter().map(|cell| quoted(cell, separator)).collect();
        cells.join(&separator.to_string())
    };
    if unit_row {
        let names = row(all.iter().map(|(name, _)| (*name).to_owned()).collect());
        let units =
            row(all.iter().map(|(_, unit)| format!("({unit})").replace("()", "")).collect());
        text.push_str(&format!("{names}\n{units}\n"));
        return;
    }
    let cells = all.iter().map(|(name, unit)| {
        if unit.is_empty() { (*name).to_owned() } else { format!("{name} ({unit})") }
    });
    text.push_str(&row(cells.collect()));
    text.push('\n');
}

/// A cell in quotes where it needs them (RFC 4180): a cam may be called anything.
fn quoted(cell: &str, separator: char) -> String {
    if cell.contains([separator, '"']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}

/// Decimals at which every tick of a clock is a different, exact enough number: a
/// thousandth of the step is not seen.
fn clock_decimals(step: f64) -> usize {
    let exact = |decimals: &usize| {
        let scaled = step * 10_f64.powi(*decimals as i32);
        (scaled - scaled.round()).abs() < 1e-6
    };
    (1..=MOST_DECIMALS).find(exact).unwrap_or(MOST_DECIMALS)
}

/// Decimals finer than half a converter step.
fn value_decimals(step: Option<f64>) -> usize {
    let step = step.filter(|step| *step > 0.0).unwrap_or(1e-3);
    (-(step / 2.0).log10()).ceil().clamp(0.0, MOST_DECIMALS as f64) as usize
}

/// A number with so many decimals; whole arithmetic, because a capture has a million of them.
fn number(text: &mut String, value: f64, decimals: usize) {
    let scale = 10_u64.pow(decimals as u32);
    let scaled = (value.abs() * scale as f64).round() as u64;
    if value < 0.0 && scaled > 0 {
        text.push('-');
    }
    // Writing to a String cannot fail.
    let _ = if decimals == 0 {
        write!(text, "{scaled}")
    } else {
        write!(text, "{}.{:0decimals$}", scaled / scale, scaled % scale)
    };
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::{Channel, Clock, ReadOptions, read_bytes};
    use crate::units::Seconds;

    #[test]
    fn numbers_carry_their_decimals_and_no_minus_zero() {
        let rows = [
            (1.25, 2, "1.25"),
            (-0.001, 2, "0.00"),
            (-3.456, 1, "-3.5"),
            (0.05, 3, "0.050"),
            (182.4, 0, "182"),
        ];
        for (value, decimals, want) in rows {
            let mut text = String::new();
            number(&mut text, value, decimals);
            assert_eq!(text, want);
        }
    }

    /// A name that is written is the name that is read, whatever stands in it.
    #[test]
    fn names_with_separators_and_quotes_come_back() {
        let names = ["crank", "B1 intake, exchanged once", "the \"good\" one; rear"];
        let channels = names.iter().zip(2..).map(|(name, column)| Channel {
            name: (*name).to_owned(),
            column,
            unit: Unit::Volts,
            values: (0..40).map(|row| ((row / 4) % 2 * 5) as f32).collect(),
            over_range: Vec::new(),
        });
        let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(1e-4) };
        let capture = Capture::new("x.csv".into(), CaptureKind::Sampled, clock, channels.collect());
        for (separator, decimal) in [
            (Separator::Comma, DecimalMark::Point),
            (Separator::Semicolon, DecimalMark::Comma),
            (Separator::Tab, DecimalMark::Point),
        ] {
            for unit_row in [false, true] {
                let dialect = Dialect { separator, decimal, unit_row };
                let text = csv_text(&capture, &[0.04; 3], dialect).expect("a dialect");
                let read = read_bytes(text.as_bytes(), "x.csv", &ReadOptions::default());
                let read = read.unwrap_or_else(|error| panic!("{error}: {}", &text[..120]));
                let got: Vec<&str> = read.channels.iter().map(|one| one.name.as_str()).collect();
                assert_eq!(got, names, "{}", &text[..120]);
            }
        }
    }

    #[test]
    fn decimals_follow_the_step() {
        assert_eq!(clock_decimals(1e-4), 4);
        assert_eq!(clock_decimals(2e-5), 5);
        assert_eq!(clock_decimals(1.25e-4), 6);
        assert_eq!(value_decimals(Some(0.04)), 2);
        assert_eq!(value_decimals(Some(3.9)), 0);
    }
}
