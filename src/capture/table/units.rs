//! Units in headers and unit rows.

use super::time_names::is_time_name;
use crate::capture::Unit;
use crate::capture::error::Fault;
use crate::error::harmless;
use crate::remedy::{Remedy, Setting};

/// What a column's unit text means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Measure {
    /// Seconds, after the shift.
    Time,
    /// Samples per second, after the shift; only in lines before the data.
    Rate,
    /// A channel's unit, after the shift.
    Channel(Unit),
    /// A unit this tool has no use for; values stay as written.
    Other,
}

/// A unit and the power of ten of its prefix: mV is volts and −3.
pub(crate) type UnitOf = (Measure, i32);

/// Units stay as written for a channel that carries something other than volts or amperes.
const OTHER: [&str; 16] = [
    "bar", "mbar", "pa", "kpa", "mpa", "psi", "°", "deg", "%", "°c", "°f", "rpm", "1/min", "g",
    "min", "h",
];

/// Reads a unit as written: `ms`, `[µs]`, `(mV)`, `Volts`. Case matters for prefixes only.
pub(crate) fn unit(text: &str) -> Option<UnitOf> {
    let text = text.trim();
    let text = text
        .strip_prefix(['[', '('])
        .and_then(|inner| inner.strip_suffix([']', ')']))
        .unwrap_or(text)
        .trim();
    // `Â` is what a UTF-8 micro sign looks like after a trip through Latin-1.
    let text = text.replace('Â', "").replace(['μ', 'µ'], "u");
    let volts = Measure::Channel(Unit::Volts);
    let amperes = Measure::Channel(Unit::Amperes);
    let known = match text.as_str() {
        "s" | "S" | "с" => (Measure::Time, 0),
        "ms" | "мс" => (Measure::Time, -3),
        "us" | "мкс" => (Measure::Time, -6),
        "ns" | "нс" => (Measure::Time, -9),
        "V" | "v" | "В" => (volts, 0),
        "mV" | "mv" | "мВ" => (volts, -3),
        "uV" | "мкВ" => (volts, -6),
        "kV" | "кВ" => (volts, 3),
        "A" | "a" | "А" => (amperes, 0),
        "mA" | "ma" | "мА" => (amperes, -3),
        "uA" => (amperes, -6),
        "kA" => (amperes, 3),
        "Hz" | "hz" | "S/s" | "Sa/s" | "Гц" => (Measure::Rate, 0),
        "kHz" | "kS/s" | "kSa/s" | "кГц" => (Measure::Rate, 3),
        "MHz" | "MS/s" | "MSa/s" | "МГц" => (Measure::Rate, 6),
        _ => return spelled(&text.to_lowercase(), volts, amperes),
    };
    Some(known)
}

fn spelled(lower: &str, volts: Measure, amperes: Measure) -> Option<UnitOf> {
    let known = match lower {
        "sec" | "secs" | "second" | "seconds" | "сек" => (Measure::Time, 0),
        "msec" | "millisecond" | "milliseconds" => (Measure::Time, -3),
        "usec" | "microsecond" | "microseconds" => (Measure::Time, -6),
        "nanosecond" | "nanoseconds" => (Measure::Time, -9),
        "volt" | "volts" => (volts, 0),
        "millivolt" | "millivolts" => (volts, -3),
        "amp" | "amps" | "ampere" | "amperes" => (amperes, 0),
        "samples/s" | "samples per second" | "hertz" => (Measure::Rate, 0),
        _ if OTHER.contains(&lower) => (Measure::Other, 0),
        _ => return None,
    };
    Some(known)
}

/// Splits `name (unit)` and `name [unit]`; a bracket that is no unit stays in the name. No control
/// character does.
pub(crate) fn split_name(header: &str) -> (String, Option<UnitOf>) {
    let header = harmless(header.trim(), &[]);
    for (open, close) in [('(', ')'), ('[', ']')] {
        let Some(inside) = header.strip_suffix(close) else { continue };
        let Some(at) = inside.rfind(open) else { continue };
        if let Some(unit) = unit(&inside[at + 1..]) {
            return (inside[..at].trim().to_owned(), Some(unit));
        }
    }
    split_quantity(&header)
        .or_else(|| split_time(&header))
        .unwrap_or_else(|| (header.into_owned(), None))
}

/// `U / V`, a quantity over its unit as ISO 80000-1 writes the heads of tables, and `crank, mV`.
fn split_quantity(header: &str) -> Option<(String, Option<UnitOf>)> {
    let (name, after) = header.rsplit_once(" / ").or_else(|| header.rsplit_once(", "))?;
    let known = unit(after).filter(|(measure, _)| *measure != Measure::Rate)?;
    (!name.trim().is_empty()).then(|| (name.trim().to_owned(), Some(known)))
}

/// `time_s`, `Elapsed ms`, `t/s`, `Zeit in s`, `Time:s`: only behind the name of a time. A unit's letter behind the name
/// of a channel is more likely a part of it, as in `Channel A`.
fn split_time(header: &str) -> Option<(String, Option<UnitOf>)> {
    let at = header.rfind(['/', '_', ' ', ',', ':']);
    let Some(at) = at else { return split_word(header) };
    let (name, after) = (header[..at].trim_end_matches([' ', '-', ':']), &header[at + 1..]);
    let name = name.strip_suffix(" in").unwrap_or(name);
    let known = unit(after).filter(|(measure, _)| *measure == Measure::Time)?;
    is_time_name(name).then(|| (name.to_owned(), Some(known)))
}

/// `TimeMs`, `timesec`: a unit of two letters at least, as `times` is no time in seconds.
fn split_word(header: &str) -> Option<(String, Option<UnitOf>)> {
    const NAME: usize = "time".len();
    let name = header.get(..NAME).filter(|name| name.eq_ignore_ascii_case("time"))?;
    let after = header[NAME..].to_lowercase();
    let known = unit(&after).filter(|(measure, _)| *measure == Measure::Time && after.len() > 1)?;
    Some((name.to_owned(), Some(known)))
}

/// The message for times that can be seconds, milliseconds or ticks.
pub(crate) fn unknown_unit() -> Fault {
    Fault::ambiguous(
        "the time column has no unit, and its numbers do not look like seconds",
        Remedy::give(Setting::TimeUnit),
    )
    .or("write the unit into the header: `Time (ms)`")
}
