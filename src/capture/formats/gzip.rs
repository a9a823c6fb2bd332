//! Gzip around a capture of any format.

use std::io::{self, Read};

use flate2::read::MultiGzDecoder;

use super::{Format, Forward, Way};
use crate::capture::error::{Class, Fault};
use crate::capture::options::ReadOptions;
use crate::capture::source::Source;

/// RFC 1952.
pub(super) const FORMAT: Format =
    Format { begins: |head| head.starts_with(&[0x1f, 0x8b]), read: Way::Packed(unpack) };

/// Unpacks into memory, up to the limit on what is held there: a small file can unpack to any size.
fn unpack(source: &Source, options: &ReadOptions) -> Result<Vec<u8>, Fault> {
    let limit = options.limits.held_bytes;
    let mut bytes = Vec::new();
    let packed = MultiGzDecoder::new(Forward::new(source));
    let done = packed.take(limit.saturating_add(1)).read_to_end(&mut bytes);
    done.map_err(|error| damaged(&error))?;
    if bytes.len() as u64 > limit {
        return Err(Fault::new(
            Class::TooLarge,
            format!("the file unpacks to more than {limit} bytes"),
            "Unpack it first, or export a shorter capture",
        ));
    }
    Ok(bytes)
}

fn damaged(error: &io::Error) -> Fault {
    Fault::malformed(
        format!("the packed file is damaged or cut short ({error})"),
        "Copy or export it again",
    )
}
