//! From a path or bytes to a capture.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use super::build::{self, Built};
use super::csv::header::{self, Header};
use super::csv::layout::{self, Layout};
use super::csv::rows::Plan;
use super::csv::stream::{self, Stopped as Ended};
use super::dialect::{Dialect, DialectColumn};
use super::encoding::{self, Encoding, UTF8_MARK};
use super::error::{CaptureError, Class, Fault};
use super::formats::{self, Format};
use super::options::ReadOptions;
use super::source::Source;
use super::table::{Stamps, Table};
use super::{Capture, Clock};
use crate::error::FileError;
use crate::watch::Stopped;

/// Bytes looked at to find the layout.
const HEAD_BYTES: usize = 64 * 1024;

/// Why reading stopped: the content, or the system.
enum Failure {
    Fault(Fault),
    Read(io::Error),
}

impl From<Fault> for Failure {
    fn from(fault: Fault) -> Self {
        Failure::Fault(fault)
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        Failure::Read(error)
    }
}

/// Reads a capture file in one pass, in parallel; memory is four bytes per value, eight more per row
/// when the times are uneven, and a few megabytes.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
/// # use std::path::Path;
/// use camwitness::{ReadOptions, read};
///
/// let capture = read(Path::new("demo-data/sound.csv"), &ReadOptions::default())?;
/// assert_eq!(capture.channels[0].name, "crank");
/// # Ok(())
/// # }
/// ```
///
/// # Errors
/// [`CaptureError`]: the file cannot be opened, is no capture, is damaged, is over a limit, or
/// can be read two ways.
pub fn read(path: &Path, options: &ReadOptions) -> Result<Capture, CaptureError> {
    read_described(path, options).map(|(capture, _)| capture)
}

/// As [`read`], with a description of how the file was written; `None` for a file that is no text.
///
/// # Errors
/// As [`read`].
pub fn read_described(
    path: &Path,
    options: &ReadOptions,
) -> Result<(Capture, Option<Dialect>), CaptureError> {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    let result = open(path, options).and_then(|source| read_source(&source, &name, options));
    result.map_err(|failure| match failure {
        _ if options.watch.is_stopped() => Stopped.into(),
        Failure::Fault(fault) => fault.in_file(&name),
        Failure::Read(source) => FileError {
            path: path.to_owned(),
            doing: "read",
            source,
            advice: "Check its name, that it may be read, and that nothing is changing it",
        }
        .into(),
    })
}

/// Reads a capture held in memory; `name` stands for the file in messages and results.
///
/// # Errors
/// As [`read`].
pub fn read_bytes(
    bytes: &[u8],
    name: &str,
    options: &ReadOptions,
) -> Result<Capture, CaptureError> {
    read_bytes_described(bytes, name, options).map(|(capture, _)| capture)
}

/// As [`read_bytes`], with a description as from [`read_described`].
///
/// # Errors
/// As [`read`].
pub fn read_bytes_described(
    bytes: &[u8],
    name: &str,
    options: &ReadOptions,
) -> Result<(Capture, Option<Dialect>), CaptureError> {
    let source = Source::memory(bytes, &options.watch);
    read_source(&source, name, options).map_err(|failure| match failure {
        _ if options.watch.is_stopped() => Stopped.into(),
        Failure::Fault(fault) => fault.in_file(name),
        Failure::Read(source) => {
            FileError { path: name.into(), doing: "read", source, advice: "Try again" }.into()
        }
    })
}

/// Opens a file; a pipe is read into memory, because it cannot be read at any place.
fn open(path: &Path, options: &ReadOptions) -> Result<Source<'static>, Failure> {
    let mut file = File::open(path)?;
    let about = file.metadata()?;
    if about.is_dir() {
        return Err(Failure::Fault(Fault::new(
            Class::Unsupported,
            "this is a folder",
            "Name a capture file in it",
        )));
    }
    if about.is_file() {
        return Ok(Source::file(file, about.len(), &options.watch));
    }
    let mut bytes = Vec::new();
    let limit = options.limits.held_bytes.saturating_add(1);
    file.by_ref().take(limit).read_to_end(&mut bytes)?;
    check_size(bytes.len() as u64, options.limits.held_bytes)?;
    Ok(Source::held(bytes, &options.watch))
}

fn read_source(
    source: &Source,
    name: &str,
    options: &ReadOptions,
) -> Result<(Capture, Option<Dialect>), Failure> {
    check_size(source.length(), options.limits.bytes)?;
    let mut head = Vec::new();
    source.read_at(0, HEAD_BYTES, &mut head)?;
    match formats::detect(&head) {
        Some(Format::Gzip) => {
            let bytes = formats::unpack(source, options)?;
            let head = &bytes[..bytes.len().min(HEAD_BYTES)];
            read_unpacked(&Source::memory(&bytes, &options.watch), head, name, options)
        }
        _ => read_unpacked(source, &head, name, options),
    }
}

fn read_unpacked(
    source: &Source,
    head: &[u8],
    name: &str,
    options: &ReadOptions,
) -> Result<(Capture, Option<Dialect>), Failure> {
    if let Some(format) = formats::detect(head) {
        return Ok((formats::read(format, source, name, options)?, None));
    }
    let encoding = encoding::detect(head)?;
    let (capture, dialect) = match encoding {
        Encoding::Bytes => read_text(source, head, encoding, name, options),
        Encoding::Utf8Marked => read_text(source, &head[UTF8_MARK..], encoding, name, options),
        Encoding::Utf16Le | Encoding::Utf16Be => {
            check_size(source.length(), options.limits.held_bytes)?;
            let mut bytes = Vec::new();
            source.read_at(0, usize::MAX, &mut bytes)?;
            let text = encoding::from_utf16(&bytes, encoding == Encoding::Utf16Le)?;
            drop(bytes);
            let head = &text[..text.len().min(HEAD_BYTES)];
            read_text(&Source::memory(&text, &options.watch), head, encoding, name, options)
        }
    }?;
    Ok((capture, Some(dialect)))
}

fn check_size(length: u64, limit: u64) -> Result<(), Fault> {
    if length <= limit {
        return Ok(());
    }
    Err(Fault::new(
        Class::TooLarge,
        format!("the file has {length} bytes, more than {limit}"),
        "Export a shorter capture or fewer channels",
    ))
}

/// Reads text whose beginning, without byte order mark, is `head`.
fn read_text(
    source: &Source,
    head: &[u8],
    encoding: Encoding,
    name: &str,
    options: &ReadOptions,
) -> Result<(Capture, Dialect), Failure> {
    let mark = if encoding == Encoding::Utf8Marked { UTF8_MARK } else { 0 };
    let whole = (head.len() + mark) as u64 == source.length();
    let layout = layout::find(head, whole, options)?;
    let header = header::read(&layout, options)?;
    check_columns(&layout, &header, options)?;
    let plan = plan(&layout, &header, options);
    let offset = (layout.data_offset + mark) as u64;
    let mut stamps = if header.time().is_some() { Stamps::Line } else { Stamps::Absent };
    loop {
        let mut table = Table::new(header.channels(), stamps, layout.data_line);
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
        match build::build(table, &header, name, options)? {
            Built::Done(capture) => {
                let dialect = describe(&capture, &layout, header, encoding);
                return Ok((capture, dialect));
            }
            Built::KeepStamps => stamps = Stamps::Keep,
        }
    }
}

fn check_columns(layout: &Layout, header: &Header, options: &ReadOptions) -> Result<(), Fault> {
    let line = layout.data_line;
    let timed = header.time().is_some() || build::interval(header, options)?.is_some();
    if layout.width > options.limits.columns {
        return Err(Fault::new(
            Class::TooLarge,
            format!("there are {} columns, more than {}", layout.width, options.limits.columns),
            "Export fewer channels",
        )
        .at_line(line));
    }
    if header.channels() == 0 || (layout.width == 1 && !timed) {
        return Err(Fault::malformed(
            "there is only one column; a capture has a time and at least one channel",
            "Export the capture with its times, or pass `--rate` if the column is a channel; if it \
             has more columns, put commas, semicolons or tabs between them",
        )
        .at_line(line));
    }
    if timed { Ok(()) } else { Err(build::missing_rate().at_line(line)) }
}

fn plan(layout: &Layout, header: &Header, options: &ReadOptions) -> Plan {
    Plan {
        separator: layout.separator,
        style: layout.style,
        line_end: layout.line_end,
        columns: header.columns.iter().map(|column| (column.role, column.shift())).collect(),
        trailing: layout.trailing,
        repeated: header.repeated.clone(),
        line_bytes: options.limits.line_bytes,
    }
}

fn describe(capture: &Capture, layout: &Layout, header: Header, encoding: Encoding) -> Dialect {
    let column = |column: &header::Column| DialectColumn {
        name: column.name.clone(),
        has_unit: column.unit.is_some(),
        is_time: column.role == header::Role::Time,
        is_counter: column.role == header::Role::Counter,
    };
    let kept = |position: usize| capture.channels.iter().any(|channel| channel.column == position);
    let is_channel = |position: usize| header.columns[position - 1].role == header::Role::Channel;
    Dialect {
        encoding,
        separator: char::from(layout.separator),
        decimal: char::from(layout.style.decimal),
        thousands: layout.style.thousands.map(char::from),
        columns: header.columns.iter().map(column).collect(),
        data_line: layout.data_line,
        rate: match capture.clock {
            Clock::Uniform { step, .. } => Some(1.0 / step.0),
            Clock::Stamped(_) => None,
        },
        left_out: (1..=layout.width).filter(|&at| is_channel(at) && !kept(at)).collect(),
        titles: header.titles,
    }
}
