//! Gzip around a capture of any format.

use std::io::{self, BufRead, Read};

use flate2::bufread::GzDecoder;

use super::{Format, Forward, Inside, never_says};
use crate::capture::error::{Class, Fault};
use crate::capture::options::ReadOptions;
use crate::capture::source::Source;

/// RFC 1952.
pub(super) const FORMAT: Format =
    Format { begins: |head| head.starts_with(&[0x1f, 0x8b]), read: unpack, recorded: never_says };

/// Unpacks into memory, up to the limit on what is held there: a small file can unpack to any size.
fn unpack(source: &Source, options: &ReadOptions) -> Result<Inside, Fault> {
    let limit = options.limits.held_bytes;
    let mut packed = Forward::new(source);
    let mut bytes = Vec::new();
    loop {
        let left = limit.saturating_sub(bytes.len() as u64).saturating_add(1);
        let member = GzDecoder::new(&mut packed).take(left).read_to_end(&mut bytes);
        member.map_err(|error| damaged(&error))?;
        if bytes.len() as u64 > limit {
            return Err(Fault::new(
                Class::TooLarge,
                format!("the file unpacks to more than {limit} bytes"),
                "Unpack it first, or export a shorter capture",
            ));
        }
        skip_zeros(&mut packed).map_err(|error| damaged(&error))?;
        if packed.fill_buf().map_err(|error| damaged(&error))?.is_empty() {
            return Ok(Inside::Packed(bytes));
        }
    }
}

/// Files that were on a medium of whole blocks end in zeros, which are no member.
fn skip_zeros(packed: &mut impl BufRead) -> io::Result<()> {
    loop {
        let there = packed.fill_buf()?;
        let zeros = there.iter().take_while(|&&byte| byte == 0).count();
        let more = zeros > 0 && zeros == there.len();
        packed.consume(zeros);
        if !more {
            return Ok(());
        }
    }
}

fn damaged(error: &io::Error) -> Fault {
    Fault::malformed(
        format!("the packed file is damaged or cut short ({error})"),
        "Copy or export it again",
    )
}
