//! As much of the ZIP format as NumPy writes (PKWARE's APPNOTE, sections 4.3 and 4.4): members stored or
//! deflated, without encryption, in one file under 4 GB.

use std::io::Read;

use flate2::Crc;
use flate2::read::DeflateDecoder;

use crate::capture::error::{Class, Fault, shown};

/// End of the central directory: its mark, its length, and the longest comment behind it.
const END_MARK: &[u8] = b"PK\x05\x06";
const END_BYTES: usize = 22;
const LONGEST_COMMENT: usize = 0xffff;
/// An entry of the central directory, without its texts.
const ENTRY_MARK: &[u8] = b"PK\x01\x02";
const ENTRY_BYTES: usize = 46;
/// What stands before a member's data, without its texts.
const LOCAL_MARK: &[u8] = b"PK\x03\x04";
const LOCAL_BYTES: usize = 30;
/// Bit of the flags that says a member is encrypted.
const ENCRYPTED: usize = 1;
const STORED: usize = 0;
const DEFLATED: usize = 8;

/// One file in the archive.
pub(super) struct Member<'a> {
    /// Its name with its folders.
    pub name: String,
    packed: &'a [u8],
    method: usize,
    size: usize,
    sum: usize,
}

/// Whether a file begins as an archive does, with members or without.
pub(super) fn begins_like_one(head: &[u8]) -> bool {
    head.starts_with(LOCAL_MARK) || head.starts_with(END_MARK)
}

/// The members in the order of the central directory.
pub(super) fn members(bytes: &[u8]) -> Result<Vec<Member<'_>>, Fault> {
    let listed = end(bytes).and_then(|end| Some((short(end, 10)?, long(end, 16)?)));
    let (count, mut at) = listed.ok_or_else(no_contents)?;
    let mut found = Vec::new();
    for _ in 0..count {
        let entry = bytes.get(at..).filter(|entry| entry.starts_with(ENTRY_MARK));
        let (member, length) = entry
            .and_then(|entry| member(bytes, entry))
            .ok_or_else(|| damaged("its list of contents does not fit its data"))?;
        found.push(member?);
        at += length;
    }
    Ok(found)
}

/// The end record: the last place that looks like one.
fn end(bytes: &[u8]) -> Option<&[u8]> {
    let earliest = bytes.len().saturating_sub(END_BYTES + LONGEST_COMMENT);
    let latest = bytes.len().checked_sub(END_BYTES)?;
    let at = (earliest..=latest).rev().find(|&at| bytes[at..].starts_with(END_MARK))?;
    bytes.get(at..)
}

/// Reads an entry of the directory and finds its data: the member, and the entry's length.
fn member<'a>(bytes: &'a [u8], entry: &[u8]) -> Option<(Result<Member<'a>, Fault>, usize)> {
    let (flags, method) = (short(entry, 8)?, short(entry, 10)?);
    let (sum, packed, size) = (long(entry, 16)?, long(entry, 20)?, long(entry, 24)?);
    let name_length = short(entry, 28)?;
    let length = ENTRY_BYTES + name_length + short(entry, 30)? + short(entry, 32)?;
    let name = entry.get(ENTRY_BYTES..ENTRY_BYTES + name_length)?;
    let name = String::from_utf8_lossy(name).into_owned();
    if flags & ENCRYPTED != 0 || ![STORED, DEFLATED].contains(&method) {
        let how = format!("{} is encrypted or packed in an unusual way", shown(name.as_bytes()));
        return Some((Err(unsupported(&how)), length));
    }
    let local = bytes.get(long(entry, 42)?..).filter(|local| local.starts_with(LOCAL_MARK))?;
    let data = LOCAL_BYTES + short(local, 26)? + short(local, 28)?;
    let packed = local.get(data..data.checked_add(packed)?)?;
    Some((Ok(Member { name, packed, method, size, sum }), length))
}

impl Member<'_> {
    /// The member's bytes, whole, if they are not more than `limit`.
    pub fn unpack(&self, limit: u64) -> Result<Vec<u8>, Fault> {
        let mut bytes = Vec::new();
        let limit = limit.min(self.size as u64);
        // One more than it should have tells a member that goes on from one that ends.
        let most = limit.saturating_add(1);
        let read = if self.method == STORED {
            self.packed.take(most).read_to_end(&mut bytes)
        } else {
            DeflateDecoder::new(self.packed).take(most).read_to_end(&mut bytes)
        };
        if bytes.len() as u64 > limit && limit < self.size as u64 {
            return Err(too_large(limit));
        }
        let mut sum = Crc::new();
        sum.update(&bytes);
        if read.is_err() || bytes.len() != self.size || sum.sum() as usize != self.sum {
            return Err(damaged(&format!("{} does not unpack", shown(self.name.as_bytes()))));
        }
        Ok(bytes)
    }
}

/// The message for contents over the limit.
fn too_large(limit: u64) -> Fault {
    Fault::new(
        Class::TooLarge,
        format!("the archive unpacks to more than {limit} bytes"),
        "Save a shorter capture",
    )
}

fn short(bytes: &[u8], at: usize) -> Option<usize> {
    bytes.get(at..)?.first_chunk().map(|raw| usize::from(u16::from_le_bytes(*raw)))
}

fn long(bytes: &[u8], at: usize) -> Option<usize> {
    bytes.get(at..)?.first_chunk().map(|raw| u32::from_le_bytes(*raw) as usize)
}

/// The message for what only begins as an archive: nothing says whether arrays or a spreadsheet were in it.
fn no_contents() -> Fault {
    Fault::malformed(
        "this is a zip archive or a spreadsheet, and its list of contents is missing",
        "Save or copy it again; a spreadsheet must be saved as CSV",
    )
}

fn damaged(how: &str) -> Fault {
    Fault::malformed(format!("the archive is damaged: {how}"), "Save or copy it again")
}

fn unsupported(how: &str) -> Fault {
    Fault::new(
        Class::Unsupported,
        format!("this archive is not read: {how}"),
        "Save the capture with NumPy's savez or savez_compressed, or unpack it first",
    )
}
