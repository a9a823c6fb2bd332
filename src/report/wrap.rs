//! Lines of text for a terminal or a printer.

use std::fmt::Write as _;

/// Width that text is wrapped to.
pub(super) const WIDTH: usize = 96;

/// A paragraph with a dash before it.
pub(super) fn bullet(out: &mut String, text: &str) {
    hanging(out, text, "  - ");
}

/// A paragraph whose first line begins with `mark` and whose others are indented alike.
pub(super) fn hanging(out: &mut String, text: &str, mark: &str) {
    let indent = mark.chars().count();
    for (number, line) in wrapped(text, WIDTH - indent).iter().enumerate() {
        let before = if number == 0 { mark.to_owned() } else { " ".repeat(indent) };
        let _ = writeln!(out, "{before}{line}");
    }
}

/// A paragraph, every line indented.
pub(super) fn paragraph(out: &mut String, text: &str, indent: &str) {
    for line in wrapped(text, WIDTH - indent.len()) {
        let _ = writeln!(out, "{indent}{line}");
    }
}

/// Breaks a text into lines of at most `width` characters at its spaces.
pub(super) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
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
