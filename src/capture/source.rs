//! Bytes on demand, from a file or from memory.

use std::fs::File;
use std::io;

use crate::watch::Watch;

/// A capture's bytes. Any part can be read at any time from any thread. Every reader of every
/// format asks here, so this is where it is told how far it is and where it stops on request.
#[derive(Debug)]
pub(super) struct Source<'a> {
    place: Place<'a>,
    watch: Watch,
}

/// Where the bytes are.
#[derive(Debug)]
enum Place<'a> {
    Memory(&'a [u8]),
    Held(Vec<u8>),
    File { file: File, length: u64 },
}

impl<'a> Source<'a> {
    pub fn memory(bytes: &'a [u8], watch: &Watch) -> Source<'a> {
        Source { place: Place::Memory(bytes), watch: watch.clone() }
    }
    pub fn held(bytes: Vec<u8>, watch: &Watch) -> Source<'a> {
        Source { place: Place::Held(bytes), watch: watch.clone() }
    }
    pub fn file(file: File, length: u64, watch: &Watch) -> Source<'a> {
        Source { place: Place::File { file, length }, watch: watch.clone() }
    }

    /// Bytes in all.
    pub fn length(&self) -> u64 {
        match &self.place {
            Place::Memory(bytes) => bytes.len() as u64,
            Place::Held(bytes) => bytes.len() as u64,
            Place::File { length, .. } => *length,
        }
    }

    /// Gives all bytes in order, piece by piece. How far that is, is not told: it comes after the
    /// reading.
    #[cfg(feature = "report")]
    pub fn pieces(&self, mut take: impl FnMut(&[u8])) -> io::Result<()> {
        /// Large enough for a disk, small beside a capture.
        const PIECE: usize = 1 << 20;
        let (mut piece, mut offset) = (Vec::new(), 0);
        while offset < self.length() {
            self.watch.go_on().map_err(io::Error::other)?;
            piece.clear();
            self.copy_at(offset, PIECE, &mut piece)?;
            take(&piece);
            offset += piece.len() as u64;
        }
        Ok(())
    }

    /// Adds up to `count` bytes from `offset` on to the buffer; fewer only at the end.
    pub fn read_at(&self, offset: u64, count: usize, into: &mut Vec<u8>) -> io::Result<()> {
        self.go_on(offset)?;
        self.copy_at(offset, count, into)
    }

    /// As [`Source::read_at`], in place of what a buffer holds that is used again: what is read over
    /// need not be made zero before.
    pub fn read_over(&self, offset: u64, count: usize, buffer: &mut Vec<u8>) -> io::Result<()> {
        self.go_on(offset)?;
        self.copy(offset, count, buffer, 0)
    }

    /// As [`Source::read_at`], and nobody is told of it.
    pub fn copy_at(&self, offset: u64, count: usize, into: &mut Vec<u8>) -> io::Result<()> {
        self.copy(offset, count, into, into.len())
    }

    fn go_on(&self, offset: u64) -> io::Result<()> {
        self.watch.go_on().map_err(io::Error::other)?;
        self.watch.tell(offset as f64 / self.length().max(1) as f64);
        Ok(())
    }

    /// Puts bytes into a buffer, behind the first `kept` that it holds.
    fn copy(&self, offset: u64, count: usize, into: &mut Vec<u8>, kept: usize) -> io::Result<()> {
        let left = self.length().saturating_sub(offset);
        let count = usize::try_from(left).map_or(count, |left| left.min(count));
        let bytes: &[u8] = match &self.place {
            Place::Memory(bytes) => bytes,
            Place::Held(bytes) => bytes,
            Place::File { file, .. } => {
                into.resize(kept + count, 0);
                return read_exact_at(file, &mut into[kept..], offset);
            }
        };
        let start = (self.length() - left) as usize;
        into.truncate(kept);
        into.extend_from_slice(&bytes[start..start + count]);
        Ok(())
    }
}

#[cfg(unix)]
fn read_exact_at(file: &File, into: &mut [u8], offset: u64) -> io::Result<()> {
    std::os::unix::fs::FileExt::read_exact_at(file, into, offset)
}

#[cfg(windows)]
fn read_exact_at(file: &File, mut into: &mut [u8], mut offset: u64) -> io::Result<()> {
    while !into.is_empty() {
        match std::os::windows::fs::FileExt::seek_read(file, into, offset)? {
            0 => return Err(io::ErrorKind::UnexpectedEof.into()),
            count => {
                into = &mut into[count..];
                offset += count as u64;
            }
        }
    }
    Ok(())
}

/// A browser file has no files: what is read there is held.
#[cfg(not(any(unix, windows)))]
fn read_exact_at(_: &File, _: &mut [u8], _: u64) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}
