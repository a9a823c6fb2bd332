//! On which lines of its file a description says what: for messages that point there.

use std::ops::Range;

use crate::error::line_of;

/// Lines of a table of the engine file, from 1; absent what the table does not say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Lines {
    /// The wheel.
    pub wheel: Option<usize>,
    /// The marking edge.
    pub edge: Option<usize>,
    /// TDC of cylinder 1.
    pub tdc: Option<usize>,
    /// The place of a cam.
    pub at: Option<usize>,
    /// Its relation to another.
    pub same_as: Option<usize>,
    /// What is said of its phaser.
    pub phaser: Option<usize>,
}

impl Lines {
    /// The lines of the table that begins at `span`. A table written in one line has that line for
    /// everything.
    pub(super) fn of(text: &str, span: Range<usize>) -> Lines {
        let first = line_of(text, span.start);
        let lines: Vec<(usize, &str)> = text
            .lines()
            .enumerate()
            .skip(first)
            .take_while(|(_, line)| !line.trim_start().starts_with('['))
            .map(|(index, line)| (index + 1, line))
            .collect();
        let find = |key: &str| {
            let says =
                |line: &str| line.split_once('=').is_some_and(|(left, _)| left.trim() == key);
            let own = lines.iter().find(|(_, line)| says(line)).map(|(number, _)| *number);
            // `cam = [{ … }]` has all its keys where the table begins.
            own.or_else(|| inline(text, &span).contains(key).then_some(first))
        };
        Lines {
            wheel: find("wheel"),
            edge: find("edge"),
            tdc: find("tdc"),
            at: find("at"),
            same_as: find("same_as"),
            phaser: find("phaser"),
        }
    }
}

/// The text of a table that stands between braces; nothing for one with a header of its own.
fn inline<'a>(text: &'a str, span: &Range<usize>) -> &'a str {
    text.get(span.clone()).filter(|table| table.starts_with('{')).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_has_its_line() {
        let text = "name = \"x\"\n[crank]\nwheel = \"36-2\"\n# at = 1\ntdc   = 74.0\n\n[[cam]]\nat = 12.0\nwheel = \"4\"\n";
        let at = |part: &str| text.find(part).expect("it is there");
        let crank = Lines::of(text, at("[crank]")..at("# at"));
        assert_eq!((crank.wheel, crank.tdc, crank.at, crank.edge), (Some(3), Some(5), None, None));
        let cam = Lines::of(text, at("[[cam]]")..at("wheel = \"4\""));
        assert_eq!((cam.at, cam.wheel, cam.same_as), (Some(8), Some(9), None));
    }
}
