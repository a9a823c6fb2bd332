//! As much of the ZIP format as exporters and NumPy write (PKWARE's APPNOTE, sections 4.3 and 4.4):
//! members stored or deflated, without encryption, in one file under 4 GB. Inside is a capture of
//! another format, or NumPy arrays.

use std::io::{self, Read};

use flate2::Crc;
use flate2::read::DeflateDecoder;

use super::{Format, Forward, Inside, never_says, npz};
use crate::capture::error::{Class, Fault, shown};
use crate::capture::options::ReadOptions;
use crate::capture::source::Source;

/// ZIP archive.
pub(super) const FORMAT: Format = Format { begins, read, recorded: never_says };

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
/// Most bytes of a list of contents: some ten thousand members.
const MOST_CONTENTS: u64 = 1 << 20;

/// One file in the archive.
pub(super) struct Member {
    /// Its name with its folders.
    pub name: String,
    /// Its bytes, unpacked.
    pub size: u64,
    offset: u64,
    packed: u64,
    method: usize,
    sum: u32,
}

/// Whether a file begins as an archive does, with members or without.
fn begins(head: &[u8]) -> bool {
    head.starts_with(LOCAL_MARK) || head.starts_with(END_MARK)
}

/// Arrays, or the one capture in it.
fn read(source: &Source, options: &ReadOptions) -> Result<Inside, Fault> {
    let members: Vec<Member> = members(source)?.into_iter().filter(Member::is_content).collect();
    if members.iter().any(|member| SPREADSHEET.contains(&member.name.as_str())) {
        return Err(Fault::new(
            Class::Unsupported,
            "this is a spreadsheet",
            "Save the spreadsheet as CSV",
        ));
    }
    if members.is_empty() || members.iter().any(|member| member.name.ends_with(".npy")) {
        return npz::read(source, &members, options).map(Inside::Columns);
    }
    let mut captures = members.iter().filter(|member| member.may_be_capture());
    let capture = match (captures.next(), captures.next(), &members[..]) {
        (Some(only), None, _) | (None, _, [only]) => only,
        _ => return Err(several(&members)),
    };
    capture.unpack(source, options.limits.held_bytes).map(Inside::Packed)
}

/// Members by which a spreadsheet is told (ECMA-376 part 2, OASIS OpenDocument part 2).
const SPREADSHEET: [&str; 2] = ["[Content_Types].xml", "content.xml"];
/// Endings of captures, in lower case.
const ENDINGS: [&str; 7] = [".csv", ".tsv", ".txt", ".dat", ".wav", ".vcd", ".gz"];

fn several(members: &[Member]) -> Fault {
    const NAMED: usize = 4;
    let names: Vec<String> =
        members.iter().take(NAMED).map(|member| shown(member.name.as_bytes())).collect();
    let more = if members.len() > NAMED { ", …" } else { "" };
    Fault::new(
        Class::Unsupported,
        format!("this archive holds {} files: {}{more}", members.len(), names.join(", ")),
        "Unpack it and name the capture in it",
    )
}

/// The members in the order of the central directory.
fn members(source: &Source) -> Result<Vec<Member>, Fault> {
    let end = end(source)?.ok_or_else(no_contents)?;
    let listed = || Some((short(&end, 10)?, long(&end, 12)?, long(&end, 16)?));
    let (count, length, offset) = listed().ok_or_else(no_contents)?;
    let misfit = || damaged("its list of contents does not fit its data");
    if u64::from(length) > MOST_CONTENTS {
        return Err(damaged("its list of contents is too long"));
    }
    let list = bytes(source, u64::from(offset), length as usize)?;
    let mut rest = &list[..];
    let mut found = Vec::new();
    for _ in 0..count {
        let entry = Some(rest).filter(|entry| entry.starts_with(ENTRY_MARK));
        let (member, length) = entry.and_then(|entry| member(source, entry)).ok_or_else(misfit)?;
        found.push(member?);
        rest = rest.get(length..).unwrap_or_default();
    }
    Ok(found)
}

fn bytes(source: &Source, at: u64, count: usize) -> Result<Vec<u8>, Fault> {
    let mut bytes = Vec::new();
    source.read_at(at, count, &mut bytes).map_err(|error| damaged(&error.to_string()))?;
    Ok(bytes)
}

/// The end record: the last place that looks like one.
fn end(source: &Source) -> Result<Option<Vec<u8>>, Fault> {
    let earliest = source.length().saturating_sub((END_BYTES + LONGEST_COMMENT) as u64);
    let tail = bytes(source, earliest, END_BYTES + LONGEST_COMMENT)?;
    let Some(latest) = tail.len().checked_sub(END_BYTES) else { return Ok(None) };
    let at = (0..=latest).rev().find(|&at| tail[at..].starts_with(END_MARK));
    Ok(at.map(|at| tail[at..].to_vec()))
}

/// Reads an entry of the directory and finds its data: the member, and the entry's length.
fn member(source: &Source, entry: &[u8]) -> Option<(Result<Member, Fault>, usize)> {
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
    let at = u64::from(long(entry, 42)?);
    let local = bytes(source, at, LOCAL_BYTES).ok()?;
    let local = Some(local).filter(|local| local.starts_with(LOCAL_MARK))?;
    let offset = at + (LOCAL_BYTES + short(&local, 26)? + short(&local, 28)?) as u64;
    let (packed, size) = (u64::from(packed), u64::from(size));
    if offset + packed > source.length() {
        return None;
    }
    Some((Ok(Member { name, size, offset, packed, method, sum }), length))
}

impl Member {
    /// Folders, and what a system adds of its own, are none.
    fn is_content(&self) -> bool {
        let hidden = |part: &str| part.starts_with('.') || part.starts_with("__");
        !self.name.ends_with('/') && !self.name.split('/').any(hidden)
    }

    fn may_be_capture(&self) -> bool {
        let lower = self.name.to_lowercase();
        ENDINGS.iter().any(|ending| lower.ends_with(ending))
    }

    /// The member's bytes from front to back, unpacked as they are asked for.
    pub fn open<'a>(&self, source: &'a Source<'a>) -> Unpacking<'a> {
        let packed = Forward::part(source, self.offset, self.packed);
        let bytes: Box<dyn Read + 'a> = if self.method == STORED {
            Box::new(packed)
        } else {
            Box::new(DeflateDecoder::new(packed))
        };
        Unpacking { bytes, sum: Crc::new() }
    }

    /// The member's bytes, whole, if they are not more than `limit`.
    fn unpack(&self, source: &Source, limit: u64) -> Result<Vec<u8>, Fault> {
        if self.size > limit {
            return Err(Fault::new(
                Class::TooLarge,
                format!("the archive unpacks to more than {limit} bytes"),
                "Export a shorter capture",
            ));
        }
        let mut bytes = Vec::new();
        let mut unpacking = self.open(source);
        // One more than it should have tells a member that goes on from one that ends.
        let read = (&mut unpacking).take(self.size + 1).read_to_end(&mut bytes);
        if read.is_err() || bytes.len() as u64 != self.size || !self.is_whole(&unpacking) {
            return Err(self.does_not_unpack());
        }
        Ok(bytes)
    }

    /// Whether what was read is what was packed.
    pub fn is_whole(&self, read: &Unpacking) -> bool {
        read.sum.sum() == self.sum
    }

    /// The message for one that is not.
    pub fn does_not_unpack(&self) -> Fault {
        damaged(&format!("{} does not unpack", shown(self.name.as_bytes())))
    }
}

/// A member on its way, with the checksum of what was read.
pub(super) struct Unpacking<'a> {
    bytes: Box<dyn Read + 'a>,
    sum: Crc,
}

impl Read for Unpacking<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.bytes.read(into)?;
        self.sum.update(&into[..count]);
        Ok(count)
    }
}

fn short(bytes: &[u8], at: usize) -> Option<usize> {
    bytes.get(at..)?.first_chunk().map(|raw| usize::from(u16::from_le_bytes(*raw)))
}

fn long(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|raw| u32::from_le_bytes(*raw))
}

/// The message for what only begins as an archive: nothing says whether arrays or a spreadsheet
/// were in it.
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
        "Save it again without a password, or unpack it first",
    )
}
