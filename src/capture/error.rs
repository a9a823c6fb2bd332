//! Why a capture file cannot be used: what, where, and what to do.
//!
//! Lines, columns and rows count from 1, as an editor shows them. The classes are
//! apart on purpose: a *malformed* file is damaged, an *unsupported* one is sound but
//! not for this reader, a *too large* one passes a limit, an *ambiguous* one has two readings
//! and the user must choose.

use thiserror::Error;

use crate::error::{FileError, harmless};
use crate::watch::Stopped;

/// A capture that cannot be read.
#[derive(Debug, Error)]
pub enum CaptureError {
    /// The operating system did not hand the file over.
    #[error(transparent)]
    File(#[from] FileError),
    /// Reading was stopped by whoever waited for it.
    #[error("{0}")]
    Stopped(#[from] Stopped),
    /// Damaged or inconsistent: the place and what was found there.
    #[error("{file}{}: {what}. {advice}", place(*.line, *.column))]
    Malformed {
        /// File name.
        file: String,
        /// Line, counted from 1; absent when the whole file is meant.
        line: Option<usize>,
        /// Column of the table, counted from 1.
        column: Option<usize>,
        /// What was expected and what was found.
        what: String,
        /// What to do. A sentence without its last stop is never given.
        advice: String,
    },
    /// Not a kind of file this reader takes.
    #[error("{file}: {what}. {advice}")]
    Unsupported {
        /// File name.
        file: String,
        /// What it seems to be.
        what: String,
        /// What to do.
        advice: String,
    },
    /// Over a limit.
    #[error("{file}{}: {what}. {advice}", place(*.line, None))]
    TooLarge {
        /// File name.
        file: String,
        /// Line, counted from 1, for limits on a line.
        line: Option<usize>,
        /// What is too large, how large, and the limit.
        what: String,
        /// What to do.
        advice: String,
    },
    /// Two readings fit.
    #[error("{file}{}: {what}. {advice}", place(*.line, None))]
    Ambiguous {
        /// File name.
        file: String,
        /// Line, counted from 1, of an example.
        line: Option<usize>,
        /// The two readings.
        what: String,
        /// The option that settles it.
        advice: String,
    },
}

fn place(line: Option<usize>, column: Option<usize>) -> String {
    let mut text = line.map_or_else(String::new, |line| format!(", line {line}"));
    if let Some(column) = column {
        text.push_str(&format!(", column {column}"));
    }
    text
}

/// A complaint that does not know its file or the lines before its block yet.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fault {
    pub class: Class,
    /// Counted from 1 within whatever raised the fault.
    pub line: Option<usize>,
    pub column: Option<usize>,
    pub what: String,
    pub advice: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Class {
    Malformed,
    Unsupported,
    TooLarge,
    Ambiguous,
}

impl Fault {
    pub fn new(class: Class, what: impl Into<String>, advice: impl Into<String>) -> Self {
        Fault { class, line: None, column: None, what: what.into(), advice: advice.into() }
    }

    pub fn malformed(what: impl Into<String>, advice: impl Into<String>) -> Self {
        Self::new(Class::Malformed, what, advice)
    }

    pub fn ambiguous(what: impl Into<String>, advice: impl Into<String>) -> Self {
        Self::new(Class::Ambiguous, what, advice)
    }

    /// A cell that is no number, as [`shown`] quotes it.
    pub fn no_number(found: &str) -> Self {
        let marked = found.contains([',', '.']);
        let advice = if marked {
            "If the decimal mark was taken wrongly, pass `--decimal comma` or `--decimal point`; else correct or remove \
             this row, or export the capture again"
        } else {
            "Correct or remove this row, or export the capture again"
        };
        Self::malformed(format!("expected a number, found {found}"), advice)
    }

    pub fn at_line(mut self, line: usize) -> Self {
        self.line = Some(line);
        self
    }

    pub fn at_column(mut self, column: usize) -> Self {
        self.column = Some(column);
        self
    }

    /// Moves the line down by the lines that came before.
    pub fn after_lines(mut self, lines: usize) -> Self {
        self.line = self.line.map(|line| line + lines);
        self
    }

    /// The error for the user. What it quotes from the file, a name of a column among it, is made harmless here.
    pub fn in_file(self, file: &str) -> CaptureError {
        let Fault { class, line, column, what, advice } = self;
        let what = harmless(&what, &[]).into_owned();
        let file = file.to_owned();
        match class {
            Class::Malformed => CaptureError::Malformed { file, line, column, what, advice },
            Class::Unsupported => CaptureError::Unsupported { file, what, advice },
            Class::TooLarge => CaptureError::TooLarge { file, line, what, advice },
            Class::Ambiguous => CaptureError::Ambiguous { file, line, what, advice },
        }
    }
}

/// Text of a cell or line for a message: quoted, control characters shown, long ones cut.
pub(super) fn shown(bytes: &[u8]) -> String {
    const LONGEST: usize = 40;
    let text = String::from_utf8_lossy(bytes);
    let text = text.trim();
    let mut short: String = text.chars().take(LONGEST).flat_map(char::escape_debug).collect();
    if text.chars().count() > LONGEST {
        short.push('…');
    }
    format!("`{short}`")
}
