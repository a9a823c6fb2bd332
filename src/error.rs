//! What can go wrong in a way the user can mend, each with the place and the remedy.
//!
//! Every variant ends as one plain message on standard error and exit status 1.
//! The stages have error types of their own, next to the code that raises them;
//! this one joins them for the commands.

use std::path::PathBuf;

use thiserror::Error;

/// A wheel, engine, job or known-good description that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{file}{}: {}{what}. {advice}", line_suffix(*.line), key_prefix(.key))]
pub struct DescriptionError {
    /// File name, or the words on the command line the description came from.
    pub file: String,
    /// Line, counted from 1, where it is known.
    pub line: Option<usize>,
    /// The key at fault, with its tables: `cam "B1 intake".wheel`. Empty when none is.
    pub key: String,
    /// What was found and what was expected.
    pub what: String,
    /// What the user should do. A whole sentence.
    pub advice: String,
}

fn line_suffix(line: Option<usize>) -> String {
    line.map_or_else(String::new, |line| format!(", line {line}"))
}

fn key_prefix(key: &str) -> String {
    if key.is_empty() { String::new() } else { format!("`{key}`: ") }
}

/// A file that could not be read or written.
#[derive(Debug, Error)]
#[error("{}: cannot {doing} this file: {source}. {advice}", path.display())]
pub struct FileError {
    /// The file.
    pub path: PathBuf,
    /// The verb: "read", "write".
    pub doing: &'static str,
    /// What the operating system said.
    pub source: std::io::Error,
    /// What the user should do. A whole sentence.
    pub advice: &'static str,
}

/// Line number, counted from 1, of a byte offset in a text.
#[must_use]
pub fn line_of(text: &str, offset: usize) -> usize {
    text.as_bytes().iter().take(offset).filter(|&&byte| byte == b'\n').count() + 1
}
