//! From a path or bytes to a capture.

use std::path::Path;

use super::Capture;
use super::build::{self, Built};
use super::csv::header::{self, Header, Role};
use super::csv::layout::{self, Layout};
use super::csv::rows::{self, Block, Plan};
use super::error::{CaptureError, Class, Fault};
use super::options::ReadOptions;
use super::table::{Refused, Stamps, Table};
use crate::error::FileError;

/// Bytes looked at to find the layout.
const HEAD_BYTES: usize = 128 * 1024;

/// Reads a capture file.
///
/// # Errors
/// [`CaptureError`]: the file cannot be opened, is no capture, is damaged, is over a limit or can be
/// read two ways.
pub fn read(path: &Path, options: &ReadOptions) -> Result<Capture, CaptureError> {
    let bytes = std::fs::read(path).map_err(|source| FileError {
        path: path.to_owned(),
        doing: "read",
        source,
        advice: "Check its name and that it may be read",
    })?;
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    read_bytes(&bytes, &name, options)
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
    read_text(bytes, name, options).map_err(|fault| fault.in_file(name))
}

fn read_text(bytes: &[u8], name: &str, options: &ReadOptions) -> Result<Capture, Fault> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if bytes.is_empty() {
        return Err(Fault::malformed("the file is empty", "Export the capture again"));
    }
    if bytes.iter().take(HEAD_BYTES).any(|&byte| byte == 0) {
        return Err(Fault::new(
            Class::Unsupported,
            "this is not a text file",
            "Export the capture as CSV",
        ));
    }
    let head = &bytes[..bytes.len().min(HEAD_BYTES)];
    let layout = layout::find(head, head.len() == bytes.len(), options)?;
    let header = header::read(&layout, options)?;
    let has_time = header.columns.iter().any(|column| column.role == Role::Time);
    if header.columns.iter().all(|column| column.role != Role::Channel) {
        return Err(Fault::malformed(
            "there is one column only, the time",
            "Export the capture with at least one channel",
        )
        .at_line(layout.data_line));
    }
    let interval = options.rate.map(|rate| (0.0, 1.0 / rate));
    if !has_time && interval.is_none() {
        return Err(build::missing_rate().at_line(layout.data_line));
    }
    let plan = plan(&layout, &header, options);
    let first = if has_time { Stamps::Line } else { Stamps::Absent };
    for stamps in [first, Stamps::Keep] {
        let channels = header.columns.iter().filter(|c| c.role == Role::Channel).count();
        let mut table = Table::new(channels, stamps, layout.data_line);
        let mut block = Block::default();
        rows::read(&bytes[layout.data_offset..], &plan, &mut block)
            .map_err(|fault| fault.after_lines(table.lines_before()))?;
        match table.append(&mut block, true) {
            Ok(()) => {}
            Err(Refused::Uneven) => continue,
            Err(Refused::Fault(fault)) => return Err(fault),
        }
        match build::build(table, &header, interval, name, options)? {
            Built::Done(capture) => return Ok(capture),
            Built::KeepStamps => {}
        }
    }
    unreachable!("kept stamps always build")
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
