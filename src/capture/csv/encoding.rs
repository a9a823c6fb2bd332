//! Is it text, and in which encoding? UTF-16 is turned into UTF-8 here; UTF-8 and Latin-1 differ
//! only in header words and are told apart there.

use crate::capture::error::{Class, Fault};
use crate::capture::failure::{Failure, check_size};
use crate::capture::options::Limits;
use crate::capture::source::Source;

/// How the file encodes its text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// ASCII, UTF-8 or Latin-1, one byte per digit.
    Bytes,
    /// As [`Encoding::Bytes`], after a UTF-8 byte order mark.
    Utf8Marked,
    /// Two bytes per character, the low one first.
    Utf16Le,
    /// Two bytes per character, the high one first.
    Utf16Be,
}

/// Bytes of the byte order mark EF BB BF.
pub(in crate::capture) const UTF8_MARK: usize = 3;

/// Beginnings of files that are something else: bytes, what it is, what to do.
const OTHERS: [(&[u8], &str, &str); 9] = [
    (b"\xd0\xcf\x11\xe0", "this is a spreadsheet or document in a binary format", SAVE_AS_CSV),
    (b"BZh", "this file is compressed (bzip2)", "Unpack it first"),
    (b"\xfd7zXZ", "this file is compressed (xz)", "Unpack it first"),
    (b"7z\xbc\xaf", "this file is compressed (7z)", "Unpack it first"),
    (b"RIFF", "this is a RIFF file, but no sound", SAVE_AS_CSV),
    (b"\x89HDF", "this is an HDF5 file", SAVE_AS_CSV),
    (b"%PDF", "this is a PDF document", SAVE_AS_CSV),
    (b"\x89PNG", "this is a picture", SAVE_AS_CSV),
    (b"\xff\xd8\xff", "this is a picture", SAVE_AS_CSV),
];
const SAVE_AS_CSV: &str = "Export the capture from the oscilloscope program as CSV";

/// Looks at the beginning of a file.
pub(in crate::capture) fn detect(head: &[u8]) -> Result<Encoding, Fault> {
    if head.is_empty() {
        return Err(Fault::malformed("the file is empty", "Export the capture again"));
    }
    if let Some((_, what, advice)) = OTHERS.iter().find(|(magic, ..)| head.starts_with(magic)) {
        return Err(Fault::new(Class::Unsupported, *what, *advice));
    }
    match head {
        [0xef, 0xbb, 0xbf, ..] => return Ok(Encoding::Utf8Marked),
        [0xff, 0xfe, ..] => return Ok(Encoding::Utf16Le),
        [0xfe, 0xff, ..] => return Ok(Encoding::Utf16Be),
        // Without a mark: the first two characters are ASCII in any capture.
        [a, 0, b, 0, ..] if *a != 0 && *b != 0 => return Ok(Encoding::Utf16Le),
        [0, a, 0, b, ..] if *a != 0 && *b != 0 => return Ok(Encoding::Utf16Be),
        _ => {}
    }
    let odd = |byte: &&u8| **byte < b' ' && !b"\t\n\r\x0c\x1a".contains(byte);
    match head.iter().find(odd) {
        Some(byte) => Err(Fault::new(
            Class::Unsupported,
            format!("this is not a text file: it holds the byte {byte:#04x}"),
            SAVE_AS_CSV,
        )),
        None => Ok(Encoding::Bytes),
    }
}

impl Encoding {
    /// Bytes of the byte order mark that text in it begins with, of text read as it stands.
    pub(in crate::capture) fn utf8_mark(self) -> usize {
        if self == Encoding::Utf8Marked { UTF8_MARK } else { 0 }
    }
}

/// All of a text in UTF-16 as UTF-8, held in memory.
pub(in crate::capture) fn narrowed(
    source: &Source,
    encoding: Encoding,
    limits: &Limits,
) -> Result<Vec<u8>, Failure> {
    check_size(source.length(), limits.held_bytes)?;
    let mut bytes = Vec::new();
    source.read_at(0, usize::MAX, &mut bytes)?;
    Ok(from_utf16(&bytes, encoding)?)
}

/// UTF-16 as UTF-8, byte order mark removed.
pub(in crate::capture) fn from_utf16(bytes: &[u8], encoding: Encoding) -> Result<Vec<u8>, Fault> {
    let low_first = encoding == Encoding::Utf16Le;
    let (pairs, rest) = bytes.as_chunks::<2>();
    let units = pairs
        .iter()
        .map(|&pair| if low_first { u16::from_le_bytes(pair) } else { u16::from_be_bytes(pair) });
    let mut text = String::with_capacity(bytes.len() / 2);
    for decoded in char::decode_utf16(units) {
        match decoded {
            Ok('\u{feff}') if text.is_empty() => {}
            Ok(character) => text.push(character),
            Err(_) => {
                return Err(damaged(&text));
            }
        }
    }
    if rest.is_empty() { Ok(text.into_bytes()) } else { Err(damaged(&text)) }
}

fn damaged(text: &str) -> Fault {
    let line = text.bytes().filter(|&byte| byte == b'\n').count() + 1;
    Fault::malformed("the UTF-16 text is damaged or cut short here", "Export the capture again")
        .at_line(line)
}
