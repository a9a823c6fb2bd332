//! Bytes on demand, from a file or from memory.

use std::fs::File;
use std::io;

/// Where a capture's bytes are. Any part can be read at any time from any thread.
#[derive(Debug)]
pub(super) enum Source<'a> {
    Memory(&'a [u8]),
    Held(Vec<u8>),
    File { file: File, length: u64 },
}

impl Source<'_> {
    /// Bytes in all.
    pub fn length(&self) -> u64 {
        match self {
            Source::Memory(bytes) => bytes.len() as u64,
            Source::Held(bytes) => bytes.len() as u64,
            Source::File { length, .. } => *length,
        }
    }

    /// Adds up to `count` bytes from `offset` on to the buffer; fewer only at the end.
    pub fn read_at(&self, offset: u64, count: usize, into: &mut Vec<u8>) -> io::Result<()> {
        let left = self.length().saturating_sub(offset);
        let count = usize::try_from(left).map_or(count, |left| left.min(count));
        let start = self.length() - left;
        let mut copy = |bytes: &[u8]| {
            let start = start as usize;
            into.extend_from_slice(&bytes[start..start + count]);
        };
        match self {
            Source::Memory(bytes) => copy(bytes),
            Source::Held(bytes) => copy(bytes),
            Source::File { file, .. } => {
                let from = into.len();
                into.resize(from + count, 0);
                read_exact_at(file, &mut into[from..], offset)?;
            }
        }
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
