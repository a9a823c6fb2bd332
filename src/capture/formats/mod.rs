//! Captures that are not text tables. Each is told by its content, not by its file name, and ends
//! in the same [`Capture`], so that the same signal gives the same degrees.

mod columns;
mod gzip;
mod npy;
mod npz;
mod vcd;
mod wav;
mod zip;

use std::io::{self, Read};

use super::Capture;
use super::error::Fault;
use super::options::ReadOptions;
use super::source::Source;

pub(super) use gzip::unpack;

/// A format told by its first bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Format {
    /// RFC 1952, around any of the others.
    Gzip,
    /// RIFF WAVE.
    Wav,
    /// NumPy array, format 1 to 3.
    Npy,
    /// ZIP archive of NumPy arrays.
    Npz,
    /// Value change dump, IEEE 1364.
    Vcd,
}

/// Tells the format from the beginning of the file; `None` for a text table.
pub(super) fn detect(head: &[u8]) -> Option<Format> {
    match head {
        [0x1f, 0x8b, ..] => Some(Format::Gzip),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'A', b'V', b'E', ..] => Some(Format::Wav),
        _ if head.starts_with(npy::MARK) => Some(Format::Npy),
        _ if zip::begins_like_one(head) => Some(Format::Npz),
        _ if vcd::begins_like_one(head) => Some(Format::Vcd),
        _ => None,
    }
}

/// Reads anything but gzip, which [`unpack`] takes off first.
pub(super) fn read(
    format: Format,
    source: &Source,
    name: &str,
    options: &ReadOptions,
) -> Result<Capture, Fault> {
    match format {
        Format::Wav => wav::read(source, name, options),
        Format::Npz => npz::read(source, name, options),
        Format::Npy => npy::read(source, name, options),
        Format::Vcd => vcd::read(source, name, options),
        Format::Gzip => Err(Fault::malformed("this file is packed twice", "Unpack it first")),
    }
}

/// Reads a source from front to back.
struct Forward<'a> {
    source: &'a Source<'a>,
    at: u64,
}

impl<'a> Forward<'a> {
    fn new(source: &'a Source<'a>) -> io::BufReader<Self> {
        io::BufReader::with_capacity(1 << 16, Forward { source, at: 0 })
    }
}

impl Read for Forward<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let mut bytes = Vec::with_capacity(into.len());
        self.source.read_at(self.at, into.len(), &mut bytes)?;
        into[..bytes.len()].copy_from_slice(&bytes);
        self.at += bytes.len() as u64;
        Ok(bytes.len())
    }
}
