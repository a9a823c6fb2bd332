//! Captures that are not text tables. Each is told by its content, not by its file name, and ends
//! in the same [`Capture`](super::Capture), so that the same signal gives the same degrees.
//!
//! A format is a file here and an entry of [`FORMATS`].

mod gzip;
mod npy;
mod npz;
mod vcd;
mod wav;
mod zip;

use std::io::{self, Read};

use super::error::Fault;
use super::options::ReadOptions;
use super::source::Source;
use super::table::whole::Whole;

/// One way of storing a capture.
pub(super) struct Format {
    /// Whether a file that begins so is one.
    begins: fn(&[u8]) -> bool,
    /// How it is read.
    pub read: Way,
}

/// How a format is read.
#[derive(Clone, Copy)]
pub(super) enum Way {
    /// It is packed around a capture of another format: gives that one's bytes.
    Packed(fn(&Source, &ReadOptions) -> Result<Vec<u8>, Fault>),
    /// It holds whole columns of numbers.
    Whole(fn(&Source, &ReadOptions) -> Result<Whole, Fault>),
}

/// Every format. No two begin alike.
const FORMATS: [&Format; 5] =
    [&gzip::FORMAT, &wav::FORMAT, &npy::FORMAT, &npz::FORMAT, &vcd::FORMAT];

/// Tells the format from the beginning of the file; `None` for a text table.
pub(super) fn detect(head: &[u8]) -> Option<&'static Format> {
    FORMATS.into_iter().find(|format| (format.begins)(head))
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

#[cfg(test)]
mod tests {
    use super::FORMATS;

    #[test]
    fn every_format_has_a_fixture_and_no_file_is_of_two() {
        let folder =
            std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/formats");
        let mut seen = [false; FORMATS.len()];
        for file in std::fs::read_dir(folder).expect("the fixtures are there") {
            let path = file.expect("a file").path();
            let bytes = std::fs::read(&path).expect("readable");
            let formats = || (0..FORMATS.len()).filter(|&at| (FORMATS[at].begins)(&bytes));
            assert!(formats().count() <= 1, "{} is of two formats", path.display());
            formats().for_each(|at| seen[at] = true);
        }
        assert!(!seen.contains(&false), "a format without a fixture: {seen:?}");
    }
}
