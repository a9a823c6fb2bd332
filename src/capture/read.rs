//! From a path or bytes to a capture.

use std::fs::File;
use std::io::Read as _;
use std::path::Path;

use super::Capture;
use super::csv::{self, Dialect};
use super::error::{CaptureError, Class, Fault};
use super::failure::{Failure, HEAD_BYTES, check_size};
use super::formats::{self, Inside};
use super::options::ReadOptions;
use super::source::Source;
use super::{facts, recorded};
use crate::error::FileError;
use crate::watch::Stopped;

/// Reads a capture file in one pass, in parallel; memory is two or four bytes per value, eight more per
/// row when the times are uneven, and a few megabytes.
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
            advice: "Check its name, that it may be read, and that nothing is changing it".into(),
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
            FileError { path: name.into(), doing: "read", source, advice: "Try again".into() }
                .into()
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
    let Read { mut capture, dialect, recorded } = read_packed(source, name, options, false)?;
    if options.identify {
        capture.notes.file = Some(facts::of(source, options, recorded)?);
    }
    Ok((capture, dialect))
}

/// What a file gave.
struct Read {
    capture: Capture,
    dialect: Option<Dialect>,
    /// When it was recorded, where that was asked for and it says so.
    recorded: Option<String>,
}

/// Reads a file; `unpacked` for what was packed in another.
fn read_packed(
    source: &Source,
    name: &str,
    options: &ReadOptions,
    unpacked: bool,
) -> Result<Read, Failure> {
    check_size(source.length(), options.limits.bytes)?;
    let mut head = Vec::new();
    source.read_at(0, HEAD_BYTES, &mut head)?;
    let Some(format) = formats::detect(&head) else {
        let (capture, dialect) = csv::read(source, &head, name, options)?;
        let recorded = options.identify.then(|| recorded::in_text(&head)).flatten();
        return Ok(Read { capture, dialect: Some(dialect), recorded });
    };
    match (format.read)(source, options)? {
        Inside::Columns(columns) => {
            let recorded = options.identify.then(|| (format.recorded)(source, &head)).flatten();
            Ok(Read { capture: columns.build(name, options)?, dialect: None, recorded })
        }
        Inside::Packed(_) if unpacked => {
            Err(Fault::malformed("this file is packed twice", "Unpack it first").into())
        }
        Inside::Packed(bytes) => {
            read_packed(&Source::memory(&bytes, &options.watch), name, options, true)
        }
    }
}
