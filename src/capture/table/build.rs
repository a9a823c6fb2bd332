//! A table of rows becomes a capture that keeps every promise of [`Capture`].

use std::ops::Range;

use rayon::prelude::*;

use super::column::{Column, ColumnRole, Head};
use super::ends::ends_early;
use super::pieces::refuse_break;
use super::rows::{Stamps, Table};
use super::timing::{agree, check_stated, missing_rate};
use super::trim::trim;
use super::units::unknown_unit;
use super::{blanks, clock, footer, instants, kind, over_range, zeros};
use crate::capture::error::{Class, Fault};
use crate::capture::options::ReadOptions;
use crate::capture::{
    Capture, CaptureKind, Channel, Clock, LeftOut, Remark, Samples, Unit, Values, Why,
};
use crate::remedy::{Remedy, Setting};
use crate::stats::upper_median;
use crate::units::Seconds;

/// A finished table, or the wish to read again with the stamps kept.
pub(crate) enum Built {
    Done(Box<Capture>),
    KeepStamps,
}

/// Slower sampling than this sees no tooth of any crank wheel: a time column without a unit and
/// with such a step is more likely in milliseconds.
const SLOWEST_STEP: f64 = 0.01;

/// Puts the capture together.
pub(crate) fn build(
    mut table: Table,
    head: &Head,
    source: &str,
    options: &ReadOptions,
) -> Result<Built, Fault> {
    footer::drop_spoilt_end(&mut table);
    footer::drop_apart(&mut table);
    instants::join(&mut table, options)?;
    if table.rows < 2 {
        return Err(Fault::malformed(
            "there is only one row of numbers",
            "A capture needs many rows; export it again",
        ));
    }
    let stated = head.timing.settled(options)?;
    let straight = clock::straight(&table.pieces, table.finest);
    let departure = straight.as_ref().map_or(0.0, |(_, departure)| *departure);
    let clock = match (table.stamps, stated, straight) {
        (Stamps::Absent, Some((start, step)), _) => {
            check_stated(&head.timing, table.rows, options)?;
            Clock::Uniform { start: Seconds(start), step: Seconds(step) }
        }
        (Stamps::Absent, None, _) => return Err(missing_rate()),
        (_, _, Some((clock, _))) => clock,
        (Stamps::Line, ..) => return Ok(Built::KeepStamps),
        (Stamps::Keep, ..) => Clock::Stamped(std::mem::take(&mut table.times)),
    };
    let Channels { channels, remarks, ended } = channels(&mut table, head, &clock, options)?;
    let mut capture = Capture::new(source.to_owned(), CaptureKind::Sampled, clock, channels);
    capture.notes.left_out = left_out(head, &capture.channels, &ended, &table);
    capture.notes.remarks = std::mem::take(&mut table.remarks);
    capture.notes.remarks.extend(remarks);
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
        check_step(&capture.clock, head, options, stated)?;
    }
    let first = trim(&mut capture, options)?;
    if let (CaptureKind::Sampled, Clock::Stamped(stamps)) = (capture.kind, &capture.clock) {
        refuse_hole(stamps, first, &table)?;
    }
    if table.stamps == Stamps::Absent {
        refuse_break(first, &capture, &table)?;
    }
    Ok(Built::Done(Box::new(capture)))
}

/// What became of the columns of numbers.
struct Channels {
    channels: Vec<Channel>,
    /// What is to be said of blank cells.
    remarks: Vec<Remark>,
    /// Columns whose values end early: position counted from 1, and last row counted from 0.
    ended: Vec<(usize, usize)>,
}

/// Why a column of numbers is no channel.
enum Lost {
    Ended(usize, usize),
    /// It has no number, or cells that are none and come without a rule.
    Values,
}

/// Makes the channels.
fn channels(
    table: &mut Table,
    head: &Head,
    clock: &Clock,
    options: &ReadOptions,
) -> Result<Channels, Fault> {
    let of_file = head.columns.iter().enumerate();
    let signals: Vec<(usize, &Column)> =
        of_file.filter(|(_, column)| column.role == ColumnRole::Channel).collect();
    let values = std::mem::take(&mut table.channels);
    let row_of = |time: Seconds| clock.row_at_or_after(time, table.rows);
    let asked = options.from.map_or(0, row_of)..options.to.map_or(table.rows, row_of);
    let built: Vec<Result<(Channel, Vec<Remark>), Lost>> = signals
        .into_par_iter()
        .zip(values)
        .zip(&table.spoilt)
        .map(|(((index, column), values), spoilt)| {
            // What is no number beside the seconds that are asked for is no matter.
            let spoilt = spoilt.as_ref().filter(|_| blank_cells(values.all(), &asked) > 0);
            if spoilt.is_some_and(|spoilt| !spoilt.not_measured) {
                return Err(Lost::Values);
            }
            match ends_early(values.all(), asked.end) {
                Some(row) => Err(Lost::Ended(index + 1, row)),
                None => {
                    let (values, spoilt) = ((values, &asked), spoilt.is_some());
                    channel(index + 1, column, values, spoilt, clock).ok_or(Lost::Values)
                }
            }
        })
        .collect();
    let mut done = Channels { channels: Vec::new(), remarks: Vec::new(), ended: Vec::new() };
    for one in built {
        match one {
            Ok((channel, remarks)) => {
                done.channels.push(channel);
                done.remarks.extend(remarks);
            }
            Err(Lost::Ended(column, row)) => done.ended.push((column, row)),
            Err(Lost::Values) => {}
        }
    }
    match (&done.channels[..], &done.ended[..]) {
        ([], [(column, row), ..]) => Err(Fault::malformed(
            "the values end here and the times go on",
            "Export the channel with as many rows as there are times",
        )
        .at_line(table.line_of(*row))
        .at_column(*column)),
        ([], []) => Err(no_channel(head, table)),
        _ => Ok(done),
    }
}

/// A column's channel; `None` for one without a number, or with blanks that are marked as not
/// measured and come without a rule.
fn channel(
    position: usize,
    column: &Column,
    (mut values, asked): (Values, &Range<usize>),
    spoilt: bool,
    clock: &Clock,
) -> Option<(Channel, Vec<Remark>)> {
    let name = column.name.clone();
    let zeros = zeros::blank_between(&mut values, clock);
    let blank = !values.all().has_none(f32::is_nan);
    let filled = if blank { blanks::fill_regular(values.to_mut(), clock) } else { 0 };
    let held = blank_cells(values.all(), asked);
    if spoilt && held > 0 {
        return None;
    }
    let marked = !values.all().has_none(|value| !value.is_finite());
    let over_range = if marked { over_range::settle(values.to_mut())? } else { Vec::new() };
    let unit = unit_of(column, values.all());
    let mut remarks = Vec::new();
    if filled > 0 {
        remarks.push(Remark::Slower { column: position, name: name.clone(), filled, zeros });
    }
    if held > 0 {
        remarks.push(Remark::Held { column: position, name: name.clone(), held });
    }
    Some((Channel { name, column: position, unit, values, over_range }, remarks))
}

/// How many cells of a column are blank or no number among the rows asked for.
fn blank_cells(values: Samples<'_>, asked: &Range<usize>) -> usize {
    if values.has_none(f32::is_nan) || asked.start > asked.end || asked.end > values.len() {
        return 0;
    }
    values.slice(asked.clone()).iter().filter(|value| value.is_nan()).count()
}

/// The message for a table of which no column is a channel.
fn no_channel(head: &Head, table: &Table) -> Fault {
    let signals = head.columns.iter().enumerate();
    let signals = signals.filter(|(_, column)| column.role == ColumnRole::Channel);
    let spoilt = signals.zip(&table.spoilt);
    let spoilt = spoilt.filter_map(|((index, _), spoilt)| Some((index + 1, spoilt.as_ref()?)));
    match spoilt.min_by_key(|(_, spoilt)| spoilt.row) {
        Some((column, spoilt)) => {
            Fault::no_number(&spoilt.found).at_line(table.line_of(spoilt.row)).at_column(column)
        }
        None => Fault::malformed(
            "no channel has a single number in it",
            "Export the capture with at least one channel switched on",
        ),
    }
}

/// The columns that became no channel.
fn left_out(
    head: &Head,
    channels: &[Channel],
    ended: &[(usize, usize)],
    table: &Table,
) -> Vec<LeftOut> {
    let mut spoilt = table.spoilt.iter();
    let mut left_out = Vec::new();
    for (column, of_file) in (1..).zip(&head.columns) {
        let why = match of_file.role {
            ColumnRole::Time => Why::Time { unit: of_file.time_unit() },
            ColumnRole::TimeAgain => Why::TimeAgain,
            ColumnRole::Counter => Why::Counter,
            ColumnRole::Words => Why::Words,
            ColumnRole::Channel => {
                let spoilt = spoilt.next().and_then(Option::as_ref);
                match (ended.iter().find(|(at, _)| *at == column), spoilt) {
                    (Some(&(_, row)), _) => Why::Ended { line: table.line_of(row) },
                    (None, Some(spoilt)) => {
                        let line = table.line_of(spoilt.row);
                        Why::NoNumber { line, found: spoilt.found.clone() }
                    }
                    (None, None) => Why::Blank,
                }
            }
        };
        if !channels.iter().any(|channel| channel.column == column) {
            left_out.push(LeftOut { column, name: of_file.name.clone(), why });
        }
    }
    left_out
}

fn unit_of(column: &Column, values: Samples<'_>) -> Unit {
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
        "write the level of every channel in every row",
    )
    .or(Remedy::set(Setting::RowKind, "sampled"))
    .at_line(table.line_of(row))
    .at_column(column))
}

/// The step of a sampled capture against what else is said about it.
fn check_step(
    clock: &Clock,
    head: &Head,
    options: &ReadOptions,
    stated: Option<(f64, f64)>,
) -> Result<(), Fault> {
    let (Clock::Uniform { step, .. }, Some(time)) = (clock, head.time()) else { return Ok(()) };
    if let (Some(rate), Some((_, stated))) = (options.rate, stated)
        && !agree(step.0, stated)
    {
        return Err(Fault::malformed(
            format!("the times are {} s apart, which is not {rate} samples per second", step.0),
            Remedy::LeaveOut(Setting::SampleRate),
        )
        .or("export the capture without times"));
    }
    let unit_known = head.columns[time].unit.is_some();
    let contradicted = stated.is_some_and(|(_, stated)| !agree(step.0, stated));
    let agreed = stated.is_some() && !contradicted;
    if !unit_known && !agreed && (contradicted || step.0 >= SLOWEST_STEP) {
        return Err(unknown_unit());
    }
    Ok(())
}

/// A sampled capture with a piece missing, or several buffers joined: a straight line across the
/// hole would be an invention.
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
        Remedy::give(Setting::Stretch)
            .only_if("a piece is missing, or several buffers follow one another"),
    )
    .or(Remedy::set(Setting::RowKind, "events").only_if("the rows are changes and not samples"))
    .at_line(table.line_of(first + row + 1)))
}
