//! Why reading stops, and how much is looked at before it begins: what every reader shares.

use std::io;

use super::error::{Class, Fault};

/// Bytes looked at to tell the format and find the layout.
pub(super) const HEAD_BYTES: usize = 64 * 1024;

/// Why reading stopped: the content, or the system.
pub(super) enum Failure {
    Fault(Fault),
    Read(io::Error),
}

impl From<Fault> for Failure {
    fn from(fault: Fault) -> Self {
        Failure::Fault(fault)
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        Failure::Read(error)
    }
}

/// Refuses more bytes than a limit.
pub(super) fn check_size(length: u64, limit: u64) -> Result<(), Fault> {
    if length <= limit {
        return Ok(());
    }
    Err(Fault::new(
        Class::TooLarge,
        format!("the file has {length} bytes, more than {limit}"),
        "Export a shorter capture or fewer channels",
    ))
}
