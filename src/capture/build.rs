//! A table of rows becomes a capture that keeps every promise of [`Capture`].

use super::clock;
use super::csv::header::{Column, Header, Role};
use super::error::Fault;
use super::kind;
use super::options::ReadOptions;
use super::over_range;
use super::table::{Stamps, Table};
use super::{Capture, CaptureKind, Channel, Clock, Unit};
use crate::units::Seconds;

/// A finished table, or the wish to read again with the stamps kept.
pub(super) enum Built {
    Done(Capture),
    KeepStamps,
}

/// Puts the capture together. `interval` is start and step for a file without times.
pub(super) fn build(
    mut table: Table,
    header: &Header,
    interval: Option<(f64, f64)>,
    source: &str,
    options: &ReadOptions,
) -> Result<Built, Fault> {
    if table.rows < 2 {
        return Err(Fault::malformed(
            "there is only one row of numbers",
            "A capture needs many rows; export it again",
        ));
    }
    let mut departure = 0.0;
    let clock = match (table.stamps, interval) {
        (Stamps::Absent, Some((start, step))) => {
            Clock::Uniform { start: Seconds(start), step: Seconds(step) }
        }
        (Stamps::Absent, None) => return Err(missing_rate()),
        (stamps, _) => match clock::straight(&table.pieces, table.finest) {
            Some((clock, off)) => {
                departure = off;
                clock
            }
            None if stamps == Stamps::Line => return Ok(Built::KeepStamps),
            None => Clock::Stamped(std::mem::take(&mut table.times)),
        },
    };
    let channels = channels(&mut table, header)?;
    let mut capture =
        Capture { source: source.to_owned(), kind: CaptureKind::Sampled, clock, channels };
    trim(&mut capture, options)?;
    capture.kind = match options.force_kind {
        Some(kind) => kind,
        None => kind::decide(&capture.clock, &capture.channels)?,
    };
    // The stamps of events are measurements, not ticks: they stay as printed.
    if capture.kind == CaptureKind::Events && departure > 0.0 {
        if table.stamps == Stamps::Line {
            return Ok(Built::KeepStamps);
        }
        if table.stamps == Stamps::Keep {
            capture.clock = Clock::Stamped(std::mem::take(&mut table.times));
            trim(&mut capture, options)?;
        }
    }
    Ok(Built::Done(capture))
}

/// The message for a file that does not say when its rows are.
pub(super) fn missing_rate() -> Fault {
    Fault::malformed(
        "there is no time column, and no sample rate or interval above the data",
        "Pass `--rate` with the samples per second, or export the capture with its times",
    )
}

fn channels(table: &mut Table, header: &Header) -> Result<Vec<Channel>, Fault> {
    let of_file = header.columns.iter().enumerate();
    let is_channel = |(_, column): &(usize, &Column)| column.role == Role::Channel;
    let mut channels = Vec::new();
    let values = std::mem::take(&mut table.channels);
    for ((index, column), mut values) in of_file.filter(is_channel).zip(values) {
        // A column without one number is an input that was switched off.
        let Some(over_range) = over_range::settle(&mut values) else { continue };
        let bare = column.unit.is_none();
        let levels = bare && values.iter().all(|&value| value == 0.0 || value == 1.0);
        let unit = column.channel_unit().unwrap_or(if levels { Unit::Level } else { Unit::Volts });
        let name = column.name.clone();
        channels.push(Channel { name, column: index + 1, unit, values, over_range });
    }
    if channels.is_empty() {
        return Err(Fault::malformed(
            "no channel has a single number in it",
            "Export the capture with at least one channel switched on",
        ));
    }
    Ok(channels)
}

/// Cuts the capture to the times asked for.
fn trim(capture: &mut Capture, options: &ReadOptions) -> Result<(), Fault> {
    let rows = capture.rows();
    let first = options.from.map_or(0, |from| capture.clock.row_at_or_after(from, rows));
    // `row_at_or_after` gives the first row after `to` unless one lies exactly there.
    let end = options.to.map_or(rows, |to| {
        let row = capture.clock.row_at_or_after(to, rows);
        if row < rows && capture.clock.at(row).0 <= to.0 { row + 1 } else { row }
    });
    if first == 0 && end == rows {
        return Ok(());
    }
    let (start, stop) = capture.span();
    if end < first + 2 {
        return Err(Fault::malformed(
            format!(
                "nothing is left between --from and --to; it runs from {} s to {} s",
                start.0, stop.0
            ),
            "Choose times inside the capture",
        ));
    }
    match &mut capture.clock {
        Clock::Uniform { start, step } => start.0 += first as f64 * step.0,
        Clock::Stamped(stamps) => {
            stamps.truncate(end);
            stamps.drain(..first);
        }
    }
    for channel in &mut capture.channels {
        channel.values.truncate(end);
        channel.values.drain(..first);
        channel.over_range.retain_mut(|range| {
            *range = (range.0.max(first) - first, range.1.clamp(first, end) - first);
            range.0 < range.1
        });
    }
    Ok(())
}
