//! Why a known-good reference cannot be used.

use thiserror::Error;

use crate::error::{DescriptionError, FileError};

/// Why a known-good reference cannot be used.
#[derive(Debug, Error)]
pub enum KnownError {
    /// The file cannot be read or written.
    #[error(transparent)]
    File(#[from] FileError),
    /// Its content is not a known-good reference, or contradicts itself.
    #[error(transparent)]
    Description(#[from] DescriptionError),
    /// It belongs to another engine.
    #[error(
        "{file}: this known-good file has the {what} \"{known}\", the engine file has \"{described}\". Use the engine file it was \
         learned with, or learn afresh"
    )]
    OtherEngine {
        /// The known-good file.
        file: String,
        /// What differs.
        what: &'static str,
        /// As learned.
        known: String,
        /// As described.
        described: String,
    },
}
