//! A table of rows becomes a capture that keeps every promise of [`Capture`].

use rayon::prelude::*;

use super::csv::header::{self, Column, Header, Role};
use super::csv::interval;
use super::error::{Class, Fault};
use super::kind;
use super::options::ReadOptions;
use super::over_range;
use super::table::{Stamps, Table};
use super::trim::trim;
use super::{Capture, CaptureKind, Channel, Clock, Unit, clock};
use crate::stats::upper_median;
use crate::units::Seconds;

/// A finished table, or the wish to read again with the stamps kept.
pub(super) enum Built {
    Done(Capture),
    KeepStamps,
}

/// Slower sampling than this sees no tooth of any crank wheel: a time column without a unit and with
/// such a step is more likely in milliseconds.
const SLOWEST_STEP: f64 = 0.01;

/// Start and step of a file without times: from the user, else from the lines above the data.
pub(super) fn interval(
    header: &Header,
    options: &ReadOptions,
) -> Result<Option<(f64, f64)>, Fault> {
    let start = header.timing.start.unwrap_or(0.0);
    match options.rate {
        Some(rate) if rate.is_finite() && rate > 0.0 => Ok(Some((start, 1.0 / rate))),
        Some(rate) => Err(Fault::malformed(
            format!("a sample rate of {rate} samples per second is not possible"),
            "Pass `--rate` with a positive number",
        )),
        None => Ok(header.timing.step.map(|step| (start, step))),
    }
}

/// Puts the capture together.
pub(super) fn build(
    mut table: Table,
    header: &Header,
    source: &str,
    options: &ReadOptions,
) -> Result<Built, Fault> {
    if table.rows < 2 {
        return Err(Fault::malformed(
            "there is only one row of numbers",
            "A capture needs many rows; export it again",
        ));
    }
    let stated = interval(header, options)?;
    let straight = clock::straight(&table.pieces, table.finest);
    let departure = straight.as_ref().map_or(0.0, |(_, departure)| *departure);
    let clock = match (table.stamps, stated, straight) {
        (Stamps::Absent, Some((start, step)), _) => {
            Clock::Uniform { start: Seconds(start), step: Seconds(step) }
        }
        (Stamps::Absent, None, _) => return Err(missing_rate()),
        (_, _, Some((clock, _))) => clock,
        (Stamps::Line, ..) => return Ok(Built::KeepStamps),
        (Stamps::Keep, ..) => Clock::Stamped(std::mem::take(&mut table.times)),
    };
    let channels = channels(&mut table, header)?;
    let source = source.to_owned();
    let mut capture = Capture { source, kind: CaptureKind::Sampled, clock, channels };
    capture.kind = match options.force_kind {
        Some(kind) => kind,
        // A rate makes every row a tick.
        None if table.stamps == Stamps::Absent => CaptureKind::Sampled,
        None => kind::decide(&capture.clock, &capture.channels)?,
    };
    if capture.kind == CaptureKind::Events {
        refuse_marks(&capture, &table)?;
        // The stamps of events are measurements, not ticks: they stay as printed.
        if departure > 0.0 && table.stamps == Stamps::Line {
            return Ok(Built::KeepStamps);
        }
        if departure > 0.0 {
            capture.clock = Clock::Stamped(std::mem::take(&mut table.times));
        }
    } else {
        check_step(&capture.clock, header, options, stated)?;
    }
    let first = trim(&mut capture, options)?;
    if let (CaptureKind::Sampled, Clock::Stamped(stamps)) = (capture.kind, &capture.clock) {
        refuse_hole(stamps, first, &table)?;
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
    let signals: Vec<(usize, &Column)> =
        of_file.filter(|(_, column)| column.role == Role::Channel).collect();
    let values = std::mem::take(&mut table.channels);
    let channels: Vec<Channel> = signals
        .into_par_iter()
        .zip(values)
        .filter_map(|((index, column), mut values)| {
            // A column without one number is an input that was switched off.
            let over_range = over_range::settle(&mut values)?;
            let unit = unit_of(column, &values);
            let name = column.name.clone();
            Some(Channel { name, column: index + 1, unit, values, over_range })
        })
        .collect();
    if channels.is_empty() {
        return Err(Fault::malformed(
            "no channel has a single number in it",
            "Export the capture with at least one channel switched on",
        ));
    }
    Ok(channels)
}

fn unit_of(column: &Column, values: &[f32]) -> Unit {
    let bare = column.unit.is_none();
    match column.channel_unit() {
        Some(unit) => unit,
        None if bare && values.iter().all(|&value| value == 0.0 || value == 1.0) => Unit::Level,
        None => Unit::Volts,
    }
}

/// A blank or a mark in an event list leaves a level unknown until the next change.
fn refuse_marks(capture: &Capture, table: &Table) -> Result<(), Fault> {
    let marked = capture
        .channels
        .iter()
        .filter_map(|channel| channel.over_range.first().map(|&(row, _)| (row, channel.column)));
    let Some((row, column)) = marked.min() else { return Ok(()) };
    Err(Fault::malformed(
        "the level is blank or over range in a list of changes",
        "Write the level of every channel in every row, or pass `--kind sampled`",
    )
    .at_line(table.line_of(row))
    .at_column(column))
}

/// The step of a sampled capture against what else is said about it.
fn check_step(
    clock: &Clock,
    header: &Header,
    options: &ReadOptions,
    stated: Option<(f64, f64)>,
) -> Result<(), Fault> {
    let (Clock::Uniform { step, .. }, Some(time)) = (clock, header.time()) else { return Ok(()) };
    if let (Some(rate), Some((_, stated))) = (options.rate, stated)
        && !interval::agree(step.0, stated)
    {
        return Err(Fault::malformed(
            format!("the times are {} s apart, which is not {rate} samples per second", step.0),
            "Leave `--rate` out, or export the capture without times",
        ));
    }
    let unit_known = header.columns[time].unit.is_some();
    let contradicted = stated.is_some_and(|(_, stated)| !interval::agree(step.0, stated));
    let agreed = stated.is_some() && !contradicted;
    if !unit_known && !agreed && (contradicted || step.0 >= SLOWEST_STEP) {
        return Err(header::unknown_unit());
    }
    Ok(())
}

/// A sampled capture with a piece missing, or several buffers joined: a straight line across the hole
/// would be an invention.
fn refuse_hole(stamps: &[f64], first: usize, table: &Table) -> Result<(), Fault> {
    /// A hole is this many times the usual step.
    const HOLE: f64 = 10.0;
    /// Enough steps for their median.
    const LOOKED_AT: usize = 10_000;
    let step = |pair: &[f64]| pair[1] - pair[0];
    let stride = (stamps.len() / LOOKED_AT).max(1);
    let mut steps: Vec<f64> = stamps.windows(2).step_by(stride).map(step).collect();
    let Some(usual) = upper_median(&mut steps) else { return Ok(()) };
    let Some(row) = stamps.windows(2).position(|pair| step(pair) > HOLE * usual) else {
        return Ok(());
    };
    let (from, to) = (stamps[row], stamps[row + 1]);
    Err(Fault::new(
        Class::Malformed,
        format!(
            "the time jumps from {from} s to {to} s, where rows are usually {usual:.3e} s apart"
        ),
        "A piece is missing, or several buffers follow one another: choose one with --from and --to; \
         if the rows are changes and not samples, pass `--kind events`",
    )
    .at_line(table.line_of(first + row + 1)))
}
