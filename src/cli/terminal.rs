//! What a terminal adds to plain text: its width, and colour where it is wanted.

use std::io::Write;

use anstream::AutoStream;
use clap::ValueEnum;

use crate::report::WIDTH;
use crate::report::text::title;
use crate::verdict::State;

/// Narrower than this no line is broken: a telephone held upright shows 40 characters.
const NARROWEST: usize = 40;
/// Wider than this a line is hard to find back from (common practice, no source).
const WIDEST: usize = 110;

/// Words of `--color`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub enum Color {
    /// At a terminal, unless NO_COLOR is set
    #[default]
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

/// The colour asked for, from the bare words of the command line.
pub(super) fn asked_early(words: impl Iterator<Item = std::ffi::OsString>) -> clap::ColorChoice {
    let words: Vec<String> = words.map(|word| word.to_string_lossy().into_owned()).collect();
    let after = words.windows(2).rfind(|pair| pair[0] == "--color").map(|pair| pair[1].as_str());
    let joined = words.iter().rev().find_map(|word| word.strip_prefix("--color="));
    match after.or(joined) {
        Some("always") => clap::ColorChoice::Always,
        Some("never") => clap::ColorChoice::Never,
        _ => clap::ColorChoice::Auto,
    }
}

/// The width results are wrapped to: that of the terminal, else a usual one.
pub(super) fn width() -> usize {
    let there = terminal_size::terminal_size_of(std::io::stdout());
    there.map_or(WIDTH, |(columns, _)| fitting(usize::from(columns.0)))
}

fn fitting(columns: usize) -> usize {
    columns.clamp(NARROWEST, WIDEST)
}

/// Writes text to standard output, painted where colour is wanted. It holds no escape sequences of
/// its own.
pub(super) fn write(text: &str, color: Color) -> std::io::Result<()> {
    let choice = match color {
        // NO_COLOR, TERM=dumb and what is no terminal are known there.
        Color::Auto => anstream::ColorChoice::Auto,
        Color::Always => anstream::ColorChoice::AlwaysAnsi,
        Color::Never => anstream::ColorChoice::Never,
    };
    let mut out = AutoStream::new(std::io::stdout(), choice).lock();
    if out.current_choice() == anstream::ColorChoice::Never {
        out.write_all(text.as_bytes())?;
    } else {
        out.write_all(painted(text).as_bytes())?;
    }
    out.flush()
}

const BOLD: &str = "\u{1b}[1m";
const PLAIN: &str = "\u{1b}[0m";

/// The finding in colour, headings in bold. Colour never says anything that the words do not.
fn painted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 64);
    let mut after_blank = true;
    for line in text.split_inclusive('\n') {
        let bare = line.trim_end_matches('\n');
        let heading = after_blank && !bare.is_empty() && !bare.starts_with(' ');
        let ink = match State::ALL.into_iter().find(|state| title(*state) == bare) {
            Some(State::InTime) => Some("\u{1b}[1;32m"),
            Some(State::Jumped) => Some("\u{1b}[1;31m"),
            Some(_) => Some("\u{1b}[1;33m"),
            // A paragraph of its own is no heading: those end in a full stop.
            None => (heading && !bare.ends_with(['.', '"'])).then_some(BOLD),
        };
        match ink {
            Some(ink) => out.extend([ink, bare, PLAIN, &line[bare.len()..]]),
            None => out.push_str(line),
        }
        after_blank = bare.is_empty();
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paint_adds_nothing_but_escape_sequences() {
        let text =
            "Engine   V6\n\nJUMPED\n  The chain.\n\nBank 1\n  cam  off\n\nA sentence of its own.\n";
        let painted = painted(text);
        assert!(painted.contains("\u{1b}[1;31mJUMPED\u{1b}[0m\n"), "{painted:?}");
        assert!(painted.contains("\u{1b}[1mBank 1\u{1b}[0m\n"), "{painted:?}");
        assert!(painted.contains("\nA sentence of its own.\n"), "{painted:?}");
        let bare = anstream::adapter::strip_str(&painted).to_string();
        assert_eq!(bare, text);
    }

    #[test]
    fn a_terminal_is_never_too_narrow_nor_too_wide() {
        assert_eq!([0, 39, 72, 400].map(fitting), [40, 40, 72, 110]);
    }
}
