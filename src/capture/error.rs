//! Why a capture file cannot be used: what, where, and what to do.
//!
//! Lines, columns and rows count from 1, as an editor shows them. The classes are
//! apart on purpose: a *malformed* file is damaged, an *unsupported* one is sound but
//! not for this reader, a *too large* one passes a limit, an *ambiguous* one has two readings
//! and the user must choose.

use crate::error::{FileError, harmless};
use crate::remedy::{Mend, Remedy, Setting, mended_errors};
use crate::watch::Stopped;

/// A capture that cannot be read.
#[derive(Debug)]
pub enum CaptureError {
    /// The operating system did not hand the file over.
    File(FileError),
    /// Reading was stopped by whoever waited for it.
    Stopped(Stopped),
    /// Damaged or inconsistent: the place and what was found there.
    Malformed {
        /// File name.
        file: String,
        /// Line, counted from 1; absent when the whole file is meant.
        line: Option<usize>,
        /// Column of the table, counted from 1.
        column: Option<usize>,
        /// What was expected and what was found.
        what: String,
        /// What would mend it.
        remedies: Vec<Remedy>,
    },
    /// Not a kind of file this reader takes.
    Unsupported {
        /// File name.
        file: String,
        /// What it seems to be.
        what: String,
        /// What would mend it.
        remedies: Vec<Remedy>,
    },
    /// Over a limit.
    TooLarge {
        /// File name.
        file: String,
        /// Line, counted from 1, for limits on a line.
        line: Option<usize>,
        /// What is too large, how large, and the limit.
        what: String,
        /// What would mend it.
        remedies: Vec<Remedy>,
    },
    /// Two readings fit.
    Ambiguous {
        /// File name.
        file: String,
        /// Line, counted from 1, of an example.
        line: Option<usize>,
        /// The two readings.
        what: String,
        /// What settles it.
        remedies: Vec<Remedy>,
    },
}

impl From<FileError> for CaptureError {
    fn from(error: FileError) -> Self {
        CaptureError::File(error)
    }
}

impl From<Stopped> for CaptureError {
    fn from(stopped: Stopped) -> Self {
        CaptureError::Stopped(stopped)
    }
}

impl Mend for CaptureError {
    fn complaint(&self) -> String {
        match self {
            CaptureError::File(error) => error.complaint(),
            CaptureError::Stopped(stopped) => stopped.to_string(),
            CaptureError::Malformed { file, line, column, what, .. } => {
                format!("{file}{}: {what}", place(*line, *column))
            }
            CaptureError::Unsupported { file, what, .. } => format!("{file}: {what}"),
            CaptureError::TooLarge { file, line, what, .. }
            | CaptureError::Ambiguous { file, line, what, .. } => {
                format!("{file}{}: {what}", place(*line, None))
            }
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        match self {
            CaptureError::File(error) => error.remedies(),
            CaptureError::Stopped(_) => Vec::new(),
            CaptureError::Malformed { remedies, .. }
            | CaptureError::Unsupported { remedies, .. }
            | CaptureError::TooLarge { remedies, .. }
            | CaptureError::Ambiguous { remedies, .. } => remedies.clone(),
        }
    }
}

mended_errors!(CaptureError);

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
    pub remedies: Vec<Remedy>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Class {
    Malformed,
    Unsupported,
    TooLarge,
    Ambiguous,
}

impl Fault {
    pub fn new(class: Class, what: impl Into<String>, remedy: impl Into<Remedy>) -> Self {
        let remedies = vec![remedy.into()];
        Fault { class, line: None, column: None, what: what.into(), remedies }
    }

    pub fn malformed(what: impl Into<String>, remedy: impl Into<Remedy>) -> Self {
        Self::new(Class::Malformed, what, remedy)
    }

    pub fn ambiguous(what: impl Into<String>, remedy: impl Into<Remedy>) -> Self {
        Self::new(Class::Ambiguous, what, remedy)
    }

    /// Another thing that would mend it.
    pub fn or(mut self, remedy: impl Into<Remedy>) -> Self {
        self.remedies.push(remedy.into());
        self
    }

    /// A cell that is no number, as [`shown`] quotes it.
    pub fn no_number(found: &str) -> Self {
        let fault = Self::malformed(
            format!("expected a number, found {found}"),
            "correct or remove this row",
        )
        .or("export the capture again");
        if found.contains([',', '.']) {
            fault
                .or(Remedy::give(Setting::DecimalMark)
                    .only_if("the decimal mark was taken wrongly"))
        } else {
            fault
        }
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

    /// The error for the user. What it quotes from the file, a name of a column among it, is made
    /// harmless here.
    pub fn in_file(self, file: &str) -> CaptureError {
        let Fault { class, line, column, what, remedies } = self;
        let what = harmless(&what, &[]).into_owned();
        let file = file.to_owned();
        match class {
            Class::Malformed => CaptureError::Malformed { file, line, column, what, remedies },
            Class::Unsupported => CaptureError::Unsupported { file, what, remedies },
            Class::TooLarge => CaptureError::TooLarge { file, line, what, remedies },
            Class::Ambiguous => CaptureError::Ambiguous { file, line, what, remedies },
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
