//! RIFF WAVE: a channel per sound channel, in parts of full scale from −1 to 1. What full scale is
//! in volts the file does not say; edges and degrees do not depend on it.
//!
//! Chunks as IBM and Microsoft describe them (Multimedia Programming Interface and Data
//! Specifications 1.0, 1991), with the extensible format of 1999; both from memory. The tests hold
//! this reader against files of another writer. When it was recorded stands in the `bext` chunk of
//! the broadcast format (EBU Tech 3285, from memory) or as `ICRD` in a list of information.

use super::{Format, Inside, check_values};
use crate::capture::error::{Class, Fault};
use crate::capture::options::ReadOptions;
use crate::capture::source::Source;
use crate::capture::table::column::{Column, ColumnRole};
use crate::capture::table::whole::{Whole, refuse_nan};

/// RIFF WAVE.
pub(super) const FORMAT: Format = Format { begins, read, recorded };

/// Codes of the `fmt ` chunk.
const PCM: u16 = 1;
const FLOAT: u16 = 3;
const EXTENSIBLE: u16 = 0xfffe;
/// Length of a chunk's mark and size, and of the mark of the whole file.
const CHUNK_HEAD: u64 = 8;
const FILE_HEAD: u64 = 12;
/// Most of a `fmt ` chunk that matters: up to the code within the extension.
const FMT_BYTES: usize = 26;
/// Samples read at a time.
const PIECE_SAMPLES: usize = 1 << 15;

fn begins(head: &[u8]) -> bool {
    head.starts_with(b"RIFF") && head.get(8..).is_some_and(|rest| rest.starts_with(b"WAVE"))
}

/// What the `fmt ` chunk says.
struct Sound {
    channels: usize,
    rate: u32,
    /// Bytes of a sample.
    size: usize,
    decode: fn(&[u8]) -> Option<f32>,
}

/// Reads integer samples of 8 to 32 bits or float samples of 32 or 64.
fn read(source: &Source, options: &ReadOptions) -> Result<Inside, Fault> {
    let (sound, data, length) = chunks(source)?;
    let count = sound.channels;
    let frame = (sound.size * count) as u64;
    if count > options.limits.columns {
        return Err(damaged(&format!("it speaks of {count} channels")));
    }
    if !length.is_multiple_of(frame) {
        return Err(damaged("it ends within a sample"));
    }
    check_values(length / sound.size as u64, &options.limits)?;
    let rows = usize::try_from(length / frame).map_err(|_| damaged("its length"))?;
    let mut channels = vec![Vec::with_capacity(rows); count];
    let mut piece = Vec::new();
    let mut at = 0;
    while at < length {
        piece.clear();
        let wanted = (length - at).min(PIECE_SAMPLES as u64 * frame) as usize;
        let read = source.read_at(data + at, wanted, &mut piece);
        read.map_err(|error| damaged(&error.to_string()))?;
        for (index, raw) in piece.chunks_exact(sound.size).enumerate() {
            let value = (sound.decode)(raw).ok_or_else(|| damaged("a sample"))?;
            channels[index % count].push(value);
        }
        at += wanted as u64;
    }
    refuse_nan(&channels)?;
    let columns = (1..=count).map(|at| Column::unnamed(at, ColumnRole::Channel)).collect();
    let step = Some(1.0 / f64::from(sound.rate));
    Ok(Inside::Columns(Whole { columns, channels, step, ..Whole::default() }))
}

/// Walks the chunks to the samples: how they are written, where they begin, how many bytes they
/// are.
fn chunks(source: &Source) -> Result<(Sound, u64, u64), Fault> {
    let mut at = FILE_HEAD;
    let mut sound = None;
    while let Some((mark, size)) = chunk(source, at)? {
        let body = at + CHUNK_HEAD;
        match &mark {
            b"fmt " => sound = Some(format(source, body, size)?),
            b"data" => {
                let sound = sound.ok_or_else(|| damaged("its samples come before their format"))?;
                let there = source.length() - body;
                // A recorder that was stopped, or writes into a pipe, leaves the size open.
                let open = size == 0 || size == u64::from(u32::MAX);
                let frame = (sound.size * sound.channels) as u64;
                let size = if open { there - there % frame } else { size };
                if size > there {
                    return Err(damaged("fewer samples than its header says"));
                }
                return Ok((sound, body, size));
            }
            _ => {}
        }
        // A chunk of odd length has a byte behind it, which some writers forget.
        let padded = body + size + size % 2;
        let forgot = size % 2 == 1
            && !chunk(source, padded)?.is_some_and(|(mark, _)| is_mark(mark))
            && chunk(source, padded - 1)?.is_some_and(|(mark, _)| is_mark(mark));
        at = padded - u64::from(forgot);
    }
    Err(damaged("it has no samples"))
}

/// The date and time of a broadcast extension: behind 256 letters of description, 32 of originator
/// and 32 of reference stand ten of the date and eight of the time.
const BEXT_DATE: u64 = 320;
const BEXT_LETTERS: usize = 18;
/// Where chunks are looked for that say when: more has no recorder of signals.
const MOST_CHUNKS: usize = 1000;
/// Longest creation date of a list of information.
const MOST_LETTERS: usize = 40;

/// When it was recorded. A file that is damaged behind its samples does not say it.
fn recorded(source: &Source, _: &[u8]) -> Option<String> {
    let letters = |at: u64, count: usize| {
        let mut bytes = Vec::new();
        source.copy_at(at, count, &mut bytes).ok()?;
        let end = bytes.iter().position(|&byte| byte == 0).unwrap_or(bytes.len());
        let text = std::str::from_utf8(&bytes[..end]).ok()?.trim().to_owned();
        text.chars().all(|letter| !letter.is_control()).then_some(text)
    };
    let mut at = FILE_HEAD;
    // A creation date stands in for one of the broadcast format.
    let mut created = None;
    for _ in 0..MOST_CHUNKS {
        let Ok(Some((mark, size))) = chunk(source, at) else { break };
        let body = at + CHUNK_HEAD;
        match &mark {
            b"bext" if size >= BEXT_DATE + BEXT_LETTERS as u64 => {
                let said = letters(body + BEXT_DATE, BEXT_LETTERS)?;
                return broadcast(&said).or(created);
            }
            // Its parts are looked at like chunks; what follows the list as well.
            b"LIST" if letters(body, 4).as_deref() == Some("INFO") => {
                at = body + 4;
                continue;
            }
            b"ICRD" => {
                let count = MOST_LETTERS.min(usize::try_from(size).unwrap_or(MOST_LETTERS));
                created =
                    letters(body, count).filter(|text| text.bytes().any(|b| b.is_ascii_digit()));
            }
            _ => {}
        }
        at = body + size + size % 2;
    }
    created
}

/// "2026-03-04 10:11:12" of the letters of a broadcast extension, whatever stands between its
/// numbers; `None` where they are blank or no numbers.
fn broadcast(letters: &str) -> Option<String> {
    let part = |from: usize, to: usize| {
        let part = letters.get(from..to)?;
        part.bytes().all(|byte| byte.is_ascii_digit()).then_some(part)
    };
    let (year, month, day) = (part(0, 4)?, part(5, 7)?, part(8, 10)?);
    if year == "0000" {
        return None;
    }
    let time = part(10, 12).zip(part(13, 15)).zip(part(16, 18));
    let time =
        time.map_or(String::new(), |((hour, minute), second)| format!(" {hour}:{minute}:{second}"));
    Some(format!("{year}-{month}-{day}{time}"))
}

/// Mark and size of the chunk at an offset; `None` at the end.
fn chunk(source: &Source, at: u64) -> Result<Option<([u8; 4], u64)>, Fault> {
    let mut head = Vec::new();
    let read = source.read_at(at, CHUNK_HEAD as usize, &mut head);
    read.map_err(|error| damaged(&error.to_string()))?;
    let found = head.first_chunk().zip(long(&head, 4));
    Ok(found.map(|(mark, size)| (*mark, u64::from(size))))
}

fn is_mark(mark: [u8; 4]) -> bool {
    mark.iter().all(|byte| (b' '..=b'~').contains(byte))
}

fn format(source: &Source, at: u64, size: u64) -> Result<Sound, Fault> {
    let mut bytes = Vec::new();
    let wanted = FMT_BYTES.min(usize::try_from(size).unwrap_or(FMT_BYTES));
    let read = source.read_at(at, wanted, &mut bytes);
    read.map_err(|error| damaged(&error.to_string()))?;
    let fields =
        || Some((short(&bytes, 0)?, short(&bytes, 2)?, long(&bytes, 4)?, short(&bytes, 14)?));
    let (code, channels, rate, bits) = fields().ok_or_else(|| damaged("its format is cut off"))?;
    let code = if code == EXTENSIBLE { short(&bytes, 24).unwrap_or(code) } else { code };
    if channels == 0 || rate == 0 || bits == 0 {
        return Err(damaged("no channels, no rate or no sample size"));
    }
    let size = usize::from(bits).div_ceil(8);
    let decode: fn(&[u8]) -> Option<f32> = match (code, size) {
        // Eight bits are from 0 to 255, more are signed.
        (PCM, 1) => |raw| Some((f32::from(*raw.first()?) - 128.0) / 128.0),
        (PCM, 2..=4) => |raw| {
            let mut four = [0; 4];
            four.get_mut(4 - raw.len()..)?.copy_from_slice(raw);
            Some((f64::from(i32::from_le_bytes(four)) / -f64::from(i32::MIN)) as f32)
        },
        (FLOAT, 4) => |raw| Some(f32::from_le_bytes(raw.try_into().ok()?)),
        (FLOAT, 8) => |raw| Some(f64::from_le_bytes(raw.try_into().ok()?) as f32),
        _ => return Err(unsupported(code, bits)),
    };
    Ok(Sound { channels: usize::from(channels), rate, size, decode })
}

fn short(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..)?.first_chunk().map(|raw| u16::from_le_bytes(*raw))
}

fn long(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|raw| u32::from_le_bytes(*raw))
}

fn unsupported(code: u16, bits: u16) -> Fault {
    Fault::new(
        Class::Unsupported,
        format!("this kind of WAV file is not read (code {code}, {bits} bits)"),
        "Export it as PCM with 16, 24 or 32 bits",
    )
}

fn damaged(how: &str) -> Fault {
    Fault::malformed(
        format!("the WAV file is damaged or cut short ({how})"),
        "Export the capture again",
    )
}
