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

use super::error::{Class, Fault};
use super::options::{Limits, ReadOptions};
use super::source::Source;
use super::table::whole::Whole;

/// One way of storing a capture.
pub(super) struct Format {
    /// Whether a file that begins so is one.
    begins: fn(&[u8]) -> bool,
    /// Reads it.
    pub read: fn(&Source, &ReadOptions) -> Result<Inside, Fault>,
    /// When it was recorded, of the file and its beginning; `None` where it does not say.
    pub recorded: fn(&Source, &[u8]) -> Option<String>,
}

/// Of formats that have no place for when they were recorded.
fn never_says(_: &Source, _: &[u8]) -> Option<String> {
    None
}

/// What a file of a format holds.
pub(super) enum Inside {
    /// A capture of another format, unpacked.
    Packed(Vec<u8>),
    /// Columns of numbers.
    Columns(Whole),
}

/// Every format. No two begin alike.
const FORMATS: [&Format; 6] =
    [&gzip::FORMAT, &wav::FORMAT, &npy::FORMAT, &zip::FORMAT, &vcd::FORMAT, &vcd::WIDE];

/// Tells the format from the beginning of the file; `None` for a text table.
pub(super) fn detect(head: &[u8]) -> Option<&'static Format> {
    FORMATS.into_iter().find(|format| (format.begins)(head))
}

/// Refuses more numbers than the limit: what a packed or compact file holds can take many times its
/// own bytes.
fn check_values(values: u64, limits: &Limits) -> Result<(), Fault> {
    if values <= limits.values {
        return Ok(());
    }
    Err(Fault::new(
        Class::TooLarge,
        format!("there are {values} values in it, more than {}", limits.values),
        "Export a shorter capture, fewer channels or a lower sample rate",
    ))
}

/// Reads a source from front to back.
struct Forward<'a> {
    source: &'a Source<'a>,
    at: u64,
    end: u64,
}

impl<'a> Forward<'a> {
    /// All of it.
    fn new(source: &'a Source<'a>) -> io::BufReader<Self> {
        Forward::part(source, 0, source.length())
    }

    /// From an offset on, so many bytes.
    fn part(source: &'a Source<'a>, at: u64, length: u64) -> io::BufReader<Self> {
        let end = at.saturating_add(length);
        io::BufReader::with_capacity(1 << 16, Forward { source, at, end })
    }
}

impl Read for Forward<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let left = self.end.saturating_sub(self.at);
        let wanted = usize::try_from(left).map_or(into.len(), |left| left.min(into.len()));
        let mut bytes = Vec::with_capacity(wanted);
        self.source.read_at(self.at, wanted, &mut bytes)?;
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
