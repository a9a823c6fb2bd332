//! Why a known-good reference cannot be used.

use crate::error::{DescriptionError, FileError};
use crate::remedy::{Mend, Remedy, mended_errors};

/// Why a known-good reference cannot be used.
#[derive(Debug)]
pub enum KnownError {
    /// The file cannot be read or written.
    File(FileError),
    /// Its content is not a known-good reference, or contradicts itself.
    Description(DescriptionError),
    /// It belongs to another engine.
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

impl From<FileError> for KnownError {
    fn from(error: FileError) -> Self {
        KnownError::File(error)
    }
}

impl From<DescriptionError> for KnownError {
    fn from(error: DescriptionError) -> Self {
        KnownError::Description(error)
    }
}

impl Mend for KnownError {
    fn complaint(&self) -> String {
        match self {
            KnownError::File(error) => error.complaint(),
            KnownError::Description(error) => error.complaint(),
            KnownError::OtherEngine { file, what, known, described } => format!(
                "{file}: this known-good file has the {what} \"{known}\", the engine file has \"{described}\""
            ),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        match self {
            KnownError::File(error) => error.remedies(),
            KnownError::Description(error) => error.remedies(),
            KnownError::OtherEngine { .. } => vec![
                Remedy::to("use the engine file it was learned with"),
                Remedy::to("learn afresh"),
            ],
        }
    }
}

mended_errors!(KnownError);
