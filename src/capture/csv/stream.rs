//! The data rows, block by block, several blocks at a time.
//!
//! Nothing is read twice and nothing waits for a neighbour: a block owns the lines that
//! *begin* in its byte range, and looks past its ends for where those lines end. Blocks are
//! parsed in parallel, then taken into the table in the file's order, so that
//! messages do not depend on the number of processors.

use std::io;
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use super::plain;
use super::rows::{self, BadLine, Plan};
use super::split::without_return;
use crate::capture::Remark;
use crate::capture::error::{Class, Fault, shown};
use crate::capture::source::Source;
use crate::capture::table::block::Block;
use crate::capture::table::rows::{Refused, Table};

/// Text per block: text and values stay in a core's second-level cache, and all blocks in
/// flight take a few megabytes. The inputs of a fuzzer are small and should have seams as well.
const BLOCK_BYTES: usize = if cfg!(fuzzing) { 32 } else { 256 * 1024 };
/// Blocks per processor and round, so that one slow block does not leave the others idle.
const BLOCKS_PER_THREAD: usize = 4;
/// From so many rounds on what cells said before is kept: of a shorter file little is met again.
const LONG: usize = 4;
/// Read past the block's end in one go; most lines end within it.
const TAIL_BYTES: usize = 1024;

/// Why the rows were not all taken.
#[derive(Debug)]
pub(crate) enum Stopped {
    /// See [`Refused::Uneven`].
    Uneven,
    Fault(Fault),
    /// The file could not be read on.
    Read(io::Error),
}

impl From<io::Error> for Stopped {
    fn from(error: io::Error) -> Self {
        Stopped::Read(error)
    }
}

#[derive(Debug, Default)]
struct Slot {
    /// Where the text began in the file, and in that the first line that begins in the block.
    offset: u64,
    begin: usize,
    block: Block,
}

/// Reads every row from the offset of the first one on.
pub(crate) fn read(
    source: &Source,
    data_offset: u64,
    plan: &Plan,
    table: &mut Table,
) -> Result<(), Stopped> {
    let slots = (rayon::current_num_threads() * BLOCKS_PER_THREAD).max(1);
    let mut slots: Vec<Slot> = (0..slots).map(|_| Slot::default()).collect();
    // As many as are read at once, so that they stay at hand.
    let buffers = Mutex::new(Vec::<Vec<u8>>::new());
    let buffers = || buffers.lock().unwrap_or_else(PoisonError::into_inner);
    let length = source.length();
    let mut offset = data_offset;
    if plain::may_be(plan) && length - offset > (LONG * slots.len() * BLOCK_BYTES) as u64 {
        table.know_again();
    }
    while offset < length {
        let left = (length - offset).div_ceil(BLOCK_BYTES as u64);
        let count = usize::try_from(left).unwrap_or(usize::MAX).min(slots.len());
        let round = &mut slots[..count];
        let texts = table.texts();
        let results: Vec<Result<Option<BadLine>, Stopped>> = round
            .par_iter_mut()
            .enumerate()
            .map(|(index, slot)| {
                let start = offset + (index * BLOCK_BYTES) as u64;
                let mut text = buffers().pop().unwrap_or_default();
                slot.load(source, start, start == data_offset, plan, &mut text)?;
                let read = rows::read(&text[slot.begin..], plan, &texts, &mut slot.block);
                buffers().push(text);
                Ok(read.err())
            })
            .collect();
        let mut end = offset + (count * BLOCK_BYTES) as u64;
        let mut taken = 0;
        for (slot, result) in round.iter_mut().zip(results) {
            let bad_line = result.map_err(|stopped| after_lines(stopped, table.lines_before()))?;
            let before = table.lines_before();
            table.note(&mut slot.block).map_err(|refused| match refused {
                Refused::Uneven => Stopped::Uneven,
                Refused::Fault(fault) => Stopped::Fault(fault),
            })?;
            taken += 1;
            if let Some(BadLine { at, fault }) = bad_line {
                let fault = fault.after_lines(before);
                let at = slot.offset + (slot.begin + at) as u64;
                table.remarks.push(tail(source, at, plan, fault)?);
                end = length;
                break;
            }
        }
        let blocks: Vec<&Block> = round[..taken].iter().map(|slot| &slot.block).collect();
        let done = (end.min(length) - data_offset) as f64 / (length - data_offset) as f64;
        table.take_values(&blocks, done).map_err(Stopped::Fault)?;
        offset = end;
    }
    table.finish();
    Ok(())
}

/// What an exporter writes below the rows is short: more than this is a part of the table that
/// cannot be read.
const LONGEST_TAIL: u64 = 64 * 1024;

/// Whether a line that is no row begins the end of the file: what to say of the lines left out, or
/// the line's fault.
fn tail(source: &Source, from: u64, plan: &Plan, fault: Fault) -> Result<Remark, Stopped> {
    let Some(line) = fault.line.filter(|_| fault.class == Class::Malformed) else {
        return Err(Stopped::Fault(fault));
    };
    if source.length() - from > LONGEST_TAIL {
        return Err(Stopped::Fault(fault));
    }
    let mut text = Vec::new();
    source.read_at(from, LONGEST_TAIL as usize, &mut text)?;
    let end_byte = plan.line_end.byte();
    let lines = text.split(|&byte| byte == end_byte).map(without_return);
    let mut block = Block::default();
    block.clear(plan.channels(), |_| false);
    let mut filled = 0;
    let mut numbers = 0;
    for line in lines.clone().filter(|line| !line.trim_ascii().is_empty()) {
        filled += 1;
        numbers += usize::from(rows::is_all_numbers(line, plan));
        // One row may be cut short, the last one written; after it and between words there is no
        // row.
        if numbers > 1 || rows::careful_row(line, plan, &mut block) == Ok(true) {
            return Err(Stopped::Fault(fault));
        }
    }
    let found = shown(text.split(|&byte| byte == end_byte).next().unwrap_or_default());
    Ok(Remark::Tail { line, lines: filled, found })
}

fn after_lines(stopped: Stopped, lines: usize) -> Stopped {
    match stopped {
        Stopped::Fault(fault) => Stopped::Fault(fault.after_lines(lines)),
        other => other,
    }
}

impl Slot {
    /// Fetches the lines that begin in the block at `start`.
    fn load(
        &mut self,
        source: &Source,
        start: u64,
        first: bool,
        plan: &Plan,
        text: &mut Vec<u8>,
    ) -> Result<(), Stopped> {
        let end_byte = plan.line_end.byte();
        // One byte before the block says whether a line begins right at its start.
        let from = if first { start } else { start - 1 };
        let owned = BLOCK_BYTES - usize::from(first);
        self.offset = from;
        source.read_over(from, owned + TAIL_BYTES, text)?;
        // The line end that closes the block is the first one at or after its last byte.
        let mut searched = owned;
        let end = loop {
            let found = text.get(searched..).and_then(|tail| find(tail, end_byte));
            if let Some(at) = found {
                break searched + at + 1;
            }
            searched = text.len().max(owned);
            let next = from + text.len() as u64;
            if next >= source.length() {
                break text.len();
            }
            if searched - owned > plan.line_bytes {
                return Err(Stopped::Fault(too_long(&text[..owned], plan)));
            }
            source.read_at(next, plan.line_bytes, text)?;
        };
        text.truncate(end);
        let begins = || find(text, end_byte).map_or(end, |at| at + 1);
        self.begin = if first { 0 } else { begins() };
        Ok(())
    }
}

fn too_long(text: &[u8], plan: &Plan) -> Fault {
    let end_byte = plan.line_end.byte();
    let lines = text.iter().filter(|&&byte| byte == end_byte).count();
    Fault::new(
        Class::TooLarge,
        format!("the line has more than {} bytes", plan.line_bytes),
        "Check that this is a capture exported as CSV",
    )
    .at_line(lines.max(1))
}

fn find(text: &[u8], wanted: u8) -> Option<usize> {
    text.iter().position(|&byte| byte == wanted)
}
