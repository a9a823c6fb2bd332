//! Text tables: comma, semicolon or tab between cells. The road of every file that no other format
//! claims.

mod changes;
pub(super) mod clock;
mod decimal;
mod dialect;
pub(super) mod encoding;
mod header;
mod interval;
mod lanes;
mod layout;
mod no_rows;
mod number;
mod plain;
mod rows;
mod split;
mod stream;

use std::borrow::Cow;

use header::Header;
use layout::Layout;
use rows::Plan;
use stream::Stopped as Ended;

use super::Capture;
use super::error::{Class, Fault};
use super::failure::{Failure, HEAD_BYTES};
use super::options::ReadOptions;
use super::source::Source;
use super::table::build::{self, Built};
use super::table::rows::{Stamps, Table};
use super::table::timing::missing_rate;

use crate::remedy::{Remedy, Setting};
pub use dialect::Dialect;
pub use encoding::Encoding;
use encoding::UTF8_MARK;

/// Most bytes above the rows: comments and settings of a long measurement; more is no table.
const MOST_ABOVE: usize = 4 << 20;
/// How much more of the file is looked at when no row was in the part before.
const LONGER: usize = 8;

/// Reads text in any encoding; `head` is its beginning.
pub(super) fn read(
    source: &Source,
    head: &[u8],
    name: &str,
    options: &ReadOptions,
) -> Result<(Capture, Dialect), Failure> {
    let encoding = encoding::detect(head)?;
    match encoding {
        Encoding::Bytes => read_text(source, head, encoding, name, options),
        Encoding::Utf8Marked => read_text(source, &head[UTF8_MARK..], encoding, name, options),
        Encoding::Utf16Le | Encoding::Utf16Be => {
            let text = encoding::narrowed(source, encoding, &options.limits)?;
            let head = &text[..text.len().min(HEAD_BYTES)];
            read_text(&Source::memory(&text, &options.watch), head, encoding, name, options)
        }
    }
}

/// Reads text whose beginning, without byte order mark, is `head`.
fn read_text(
    source: &Source,
    head: &[u8],
    encoding: Encoding,
    name: &str,
    options: &ReadOptions,
) -> Result<(Capture, Dialect), Failure> {
    let mark = encoding.utf8_mark();
    let layout = find_layout(source, head, mark, options)?;
    let header = header::read(&layout, options)?;
    changes::refuse(&layout, &header)?;
    check_columns(&layout, &header, options)?;
    let plan = plan(&layout, &header, options);
    let offset = (layout.data_offset + mark) as u64;
    let mut stamps = if header.head.time().is_some() { Stamps::Line } else { Stamps::Absent };
    loop {
        let mut table = Table::new(header.head.channels(), stamps, layout.data_line)
            .counted_by(plan.counter.map(|(_, step)| step));
        match stream::read(source, offset, &plan, &mut table) {
            Ok(()) => {}
            // Only `Stamps::Line` stops for this, so the loop turns at most twice.
            Err(Ended::Uneven) => {
                stamps = Stamps::Keep;
                continue;
            }
            Err(Ended::Fault(fault)) => return Err(fault.into()),
            Err(Ended::Read(error)) => return Err(error.into()),
        }
        match build::build(table, &header.head, name, options)? {
            Built::Done(capture) => return Ok((*capture, describe(&layout, encoding))),
            Built::KeepStamps => stamps = Stamps::Keep,
        }
    }
}

/// Finds the layout, further on in the file where what stands above the rows is longer than its
/// head.
fn find_layout(
    source: &Source,
    head: &[u8],
    mark: usize,
    options: &ReadOptions,
) -> Result<Layout, Failure> {
    let mut head = Cow::Borrowed(head);
    loop {
        let whole = (head.len() + mark) as u64 >= source.length();
        let last = whole || head.len() >= MOST_ABOVE;
        if let Some(layout) = layout::find(&head, whole, last, options)? {
            return Ok(layout);
        }
        let wanted = (head.len() * LONGER).min(MOST_ABOVE);
        let mut longer = Vec::new();
        source.read_at(mark as u64, wanted, &mut longer)?;
        head = Cow::Owned(longer);
    }
}

fn check_columns(layout: &Layout, header: &Header, options: &ReadOptions) -> Result<(), Fault> {
    let line = layout.data_line;
    let timed = header.head.time().is_some() || header.head.timing.settled(options)?.is_some();
    if layout.width > options.limits.columns {
        return Err(Fault::new(
            Class::TooLarge,
            format!("there are {} columns, more than {}", layout.width, options.limits.columns),
            "Export fewer channels",
        )
        .at_line(line));
    }
    if header.head.channels() == 0 || (layout.width == 1 && !timed) {
        return Err(Fault::malformed(
            "there is only one column; a capture has a time and at least one channel",
            "export the capture with its times",
        )
        .or(Remedy::give(Setting::SampleRate).only_if("the column is a channel"))
        .or(Remedy::to("put commas, semicolons or tabs between them")
            .only_if("it has more columns"))
        .at_line(line));
    }
    if timed { Ok(()) } else { Err(missing_rate().at_line(line)) }
}

fn plan(layout: &Layout, header: &Header, options: &ReadOptions) -> Plan {
    Plan {
        separator: layout.separator,
        style: layout.style,
        line_end: layout.line_end,
        columns: header.head.columns.iter().map(|column| (column.role, column.shift())).collect(),
        trailing: layout.trailing,
        levels: (0..layout.width).map(|at| layout.is_levels(at)).collect(),
        timed: header.head.time().is_some(),
        clock: header.clock,
        counter: header.counter(layout),
        quoted: layout.sample.iter().any(|line| line.raw.contains(&b'"')),
        repeated: header.repeated.clone(),
        line_bytes: options.limits.line_bytes,
    }
}

fn describe(layout: &Layout, encoding: Encoding) -> Dialect {
    Dialect {
        encoding,
        separator: char::from(layout.separator),
        decimal: char::from(layout.style.decimal),
        thousands: layout.style.thousands.map(char::from),
        data_line: layout.data_line,
    }
}
