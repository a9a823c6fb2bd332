//! Lines of text for a terminal or a printer.

use std::fmt::Write as _;

/// Width that text is wrapped to where nobody says otherwise, in characters.
pub const WIDTH: usize = 96;

/// Text that grows line by line, and the width it is wrapped to.
#[derive(Debug)]
pub(super) struct Lines {
    text: String,
    width: usize,
}

impl Lines {
    /// Nothing yet, to be wrapped to `width` characters.
    pub fn new(width: usize) -> Lines {
        Lines { text: String::new(), width }
    }

    /// Characters that a line may have.
    pub fn width(&self) -> usize {
        self.width
    }

    /// The whole text.
    pub fn into_text(self) -> String {
        self.text
    }
}

// What is written without wrapping goes straight into the text.
impl std::ops::Deref for Lines {
    type Target = String;

    fn deref(&self) -> &String {
        &self.text
    }
}

impl std::ops::DerefMut for Lines {
    fn deref_mut(&mut self) -> &mut String {
        &mut self.text
    }
}

/// A paragraph with a dash before it.
pub(super) fn bullet(out: &mut Lines, text: &str) {
    hanging(out, text, "  - ");
}

/// A paragraph whose first line begins with `mark` and whose others are indented alike.
pub(super) fn hanging(out: &mut Lines, text: &str, mark: &str) {
    let indent = mark.chars().count();
    for (number, line) in wrapped(text, out.width.saturating_sub(indent)).iter().enumerate() {
        let before = if number == 0 { mark.to_owned() } else { " ".repeat(indent) };
        let _ = writeln!(out, "{before}{line}");
    }
}

/// A paragraph by itself: `mark` before its first line, the others indented alike.
#[must_use]
pub fn hanging_lines(text: &str, mark: &str, width: usize) -> String {
    let mut lines = Lines::new(width);
    hanging(&mut lines, text, mark);
    lines.into_text()
}

/// A paragraph, every line indented.
pub(super) fn paragraph(out: &mut Lines, text: &str, indent: &str) {
    for line in wrapped(text, out.width.saturating_sub(indent.len())) {
        let _ = writeln!(out, "{indent}{line}");
    }
}

/// Pieces one after the other, none of them broken; the first line begins with `mark`, the others
/// are indented alike.
pub(super) fn pieces(out: &mut Lines, pieces: &[String], mark: &str) {
    let indent = mark.chars().count();
    let lines = filled(pieces.iter().map(String::as_str), out.width.saturating_sub(indent));
    for (number, line) in lines.iter().enumerate() {
        let before = if number == 0 { mark.to_owned() } else { " ".repeat(indent) };
        let _ = writeln!(out, "{before}{line}");
    }
}

/// The first cell of a row, `wide` characters; a longer text is written on lines of its own that
/// begin with `mark`, and an empty cell is left below it. Gives what the row begins with.
pub(super) fn first_cell(out: &mut Lines, text: &str, mark: &str, wide: usize) -> String {
    if text.chars().count() <= wide {
        return format!("{mark}{text:<wide$}");
    }
    hanging(out, text, mark);
    " ".repeat(mark.chars().count() + wide)
}

/// Breaks a text into lines of at most `width` characters at its spaces.
pub(super) fn wrapped(text: &str, width: usize) -> Vec<String> {
    filled(text.split_whitespace(), width)
}

/// Lines of at most `width` characters, a space between pieces. A piece that is longer stands
/// alone.
fn filled<'a>(pieces: impl Iterator<Item = &'a str>, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in pieces {
        let last = lines.last_mut().expect("one line to begin with");
        let room = width.saturating_sub(last.chars().count());
        if last.is_empty() {
            last.push_str(word);
        } else if word.chars().count() < room {
            last.push(' ');
            last.push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_stay_whole_and_columns_in_line() {
        let cylinders: Vec<String> = (1..=8).map(|n| format!("{n} 100 % ± 12 %,")).collect();
        let mut out = Lines::new(WIDTH);
        pieces(&mut out, &cylinders, "  bank 1  100 % ± 3 %   ");
        assert!(out.lines().count() > 1, "{}", out.as_str());
        for line in out.lines() {
            assert!(line.chars().count() <= WIDTH && line.ends_with("12 %,"), "{line}");
        }
        assert!(
            out.lines().nth(1).is_some_and(|line| line.starts_with(&" ".repeat(23))),
            "{}",
            out.as_str()
        );
        let mut above = Lines::new(WIDTH);
        let short = first_cell(&mut above, "crank", "  [ ] 1  ", 16);
        assert!(above.is_empty());
        let long = first_cell(&mut above, "a name that is too long", "  [ ] 2  ", 16);
        assert_eq!(above.into_text(), "  [ ] 2  a name that is too long\n");
        assert_eq!(short.chars().count(), long.chars().count());
    }
}
