//! Why a class cannot be made, or its answers not be marked.

use std::fmt;

use crate::error::{DescriptionError, FileError};
use crate::practice::PracticeError;
use crate::remedy::{Mend, Remedy, mended_errors};

/// Why a class cannot be made, or its answers not be marked.
#[derive(Debug)]
pub enum ClassError {
    /// A capture cannot be made.
    Practice(PracticeError),
    /// The engine file cannot be used.
    Description(DescriptionError),
    /// A file cannot be read.
    File(FileError),
    /// An exercise that this engine cannot have.
    Exercise {
        /// The exercise, in its words.
        exercise: String,
        /// What is wrong with it.
        what: String,
    },
    /// A cell or a place of a file is not as it must be.
    At {
        /// Where.
        place: Place,
        /// What is wrong there.
        what: String,
        /// What to do.
        advice: String,
    },
}

/// A place in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The file.
    pub file: String,
    /// Line, from 1.
    pub line: u64,
    /// Column: of a table the cell, from 1; of other text the letter, from 1.
    pub column: usize,
    /// What that column of a table is called; empty for other text.
    pub name: String,
}

impl fmt::Display for Place {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}, line {}, column {}", self.file, self.line, self.column)?;
        if self.name.is_empty() { Ok(()) } else { write!(out, " ({})", self.name) }
    }
}

macro_rules! from {
    ($($error:ty => $variant:ident),*) => {
        $(impl From<$error> for ClassError {
            fn from(error: $error) -> Self {
                ClassError::$variant(error)
            }
        })*
    };
}

from!(PracticeError => Practice, DescriptionError => Description, FileError => File);

impl Mend for ClassError {
    fn complaint(&self) -> String {
        match self {
            ClassError::Practice(error) => error.complaint(),
            ClassError::Description(error) => error.complaint(),
            ClassError::File(error) => error.complaint(),
            ClassError::Exercise { exercise, what } => format!("{exercise}: {what}"),
            ClassError::At { place, what, .. } => format!("{place}: {what}"),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        match self {
            ClassError::Practice(error) => error.remedies(),
            ClassError::Description(error) => error.remedies(),
            ClassError::File(error) => error.remedies(),
            ClassError::Exercise { .. } => vec![],
            ClassError::At { advice, .. } => vec![Remedy::to(advice.clone())],
        }
    }
}

mended_errors!(ClassError);
