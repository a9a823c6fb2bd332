//! Files that are written: held against everything that is read before any work begins ([`Files`]),
//! then written whole or not at all ([`write_whole`]), or added to under a lock ([`OwnFile`]).
//!
//! A link is followed: the file it leads to is replaced, and the link stays. What is replaced keeps
//! its mode.

mod files;
mod own;
mod place;
mod whole;

pub use files::{Files, OutputError, ReadAs, WrittenAs};
pub use own::OwnFile;
pub use whole::{Existing, Ours, Ready, write_whole};
pub(crate) use whole::{UNFINISHED, not_written};
