//! What can go wrong in a way the user can mend, each with the place and the remedy.
//!
//! Every variant ends as one plain message on standard error and exit status 1.
//! The stages have error types of their own, next to the code that raises them;
//! this one joins them for the commands.

use std::borrow::Cow;
use std::path::PathBuf;

use crate::remedy::{Mend, Remedy, mended_errors};

/// A wheel, engine, job or known-good description that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DescriptionError {
    /// File name, or the words on the command line the description came from.
    pub file: String,
    /// Line, counted from 1, where it is known.
    pub line: Option<usize>,
    /// The key at fault, with its tables: `cam "B1 intake".wheel`. Empty when none is.
    pub key: String,
    /// What was found and what was expected.
    pub what: String,
    /// What the user should do.
    pub advice: Remedy,
}

impl Mend for DescriptionError {
    fn complaint(&self) -> String {
        let DescriptionError { file, line, key, what, .. } = self;
        format!("{file}{}: {}{what}", line_suffix(*line), key_prefix(key))
    }

    fn remedies(&self) -> Vec<Remedy> {
        vec![self.advice.clone()]
    }
}

fn line_suffix(line: Option<usize>) -> String {
    line.map_or_else(String::new, |line| format!(", line {line}"))
}

fn key_prefix(key: &str) -> String {
    if key.is_empty() { String::new() } else { format!("`{key}`: ") }
}

/// A file that could not be read or written.
#[derive(Debug)]
pub struct FileError {
    /// The file.
    pub path: PathBuf,
    /// The verb: "read", "write".
    pub doing: &'static str,
    /// What the operating system said.
    pub source: std::io::Error,
    /// What the user should do.
    pub advice: Remedy,
}

impl Mend for FileError {
    fn complaint(&self) -> String {
        format!("{}: cannot {} this file: {}", self.path.display(), self.doing, self.source)
    }

    fn remedies(&self) -> Vec<Remedy> {
        vec![self.advice.clone()]
    }
}

mended_errors!(DescriptionError, FileError);

/// Text that does nothing to a terminal: names and cells of a file are printed, and an escape
/// sequence in one would be obeyed. What acts is replaced by U+FFFD; line ends and tabs among it
/// too, where `kept` does not list them.
#[must_use]
pub fn harmless<'a>(text: &'a str, kept: &[char]) -> Cow<'a, str> {
    let acts = |letter: char| acts_on_a_terminal(letter) && !kept.contains(&letter);
    if text.contains(acts) {
        Cow::Owned(text.replace(acts, "\u{fffd}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// Control characters (Unicode's category Cc: C0, delete and C1), and the marks that turn the
/// direction of writing, with which a name can pass for another one (Unicode Standard Annex #9,
/// explicit formatting characters).
fn acts_on_a_terminal(letter: char) -> bool {
    letter.is_control() || matches!(letter, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// The name that looks most like what was written, if one does: a third of its letters may be
/// wrong, missing or exchanged.
#[must_use]
pub fn nearest<'a>(written: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let written = written.trim().to_lowercase();
    let wrong = |name: &str| strsim::damerau_levenshtein(&written, &name.to_lowercase());
    let allowed = written.chars().count() / 3;
    names
        .map(|name| (wrong(name), name))
        .filter(|(wrong, _)| *wrong <= allowed)
        .min()
        .map(|best| best.1)
}

/// Line number, counted from 1, of a byte offset in a text.
#[must_use]
pub fn line_of(text: &str, offset: usize) -> usize {
    text.as_bytes().iter().take(offset).filter(|&&byte| byte == b'\n').count() + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_is_near() {
        let names = ["crank", "B1 intake", "B2 intake", "tolerance", "at"];
        // (written, nearest)
        let rows = [
            ("crnk", Some("crank")),
            ("CRANK", Some("crank")),
            ("b1 intkae", Some("B1 intake")),
            ("tolerence", Some("tolerance")),
            ("att", Some("at")),
            ("pressure", None),
            ("x", None),
            ("", None),
        ];
        for (written, want) in rows {
            assert_eq!(nearest(written, names.into_iter()), want, "{written}");
        }
    }

    #[test]
    fn what_acts_on_a_terminal_is_replaced_and_nothing_else() {
        let rows = [
            ("B1 intake µs ° – 曲", &[][..], "B1 intake µs ° – 曲"),
            ("\x1b[31mred\x1b[0m", &[], "\u{fffd}[31mred\u{fffd}[0m"),
            ("bell\x07 delete\x7f csi\u{9b}2J", &[], "bell\u{fffd} delete\u{fffd} csi\u{fffd}2J"),
            ("one\ntwo\tthree\r", &['\n', '\t'], "one\ntwo\tthree\u{fffd}"),
            ("one\ntwo", &[], "one\u{fffd}two"),
            ("a\u{202e}b\u{2066}", &[], "a\u{fffd}b\u{fffd}"),
        ];
        for (text, kept, want) in rows {
            assert_eq!(harmless(text, kept), want);
        }
    }
}
