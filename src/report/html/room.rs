//! What finds room on a sheet of paper: an estimate from the text itself, so that what has none
//! goes into the annex and nothing is squeezed or cut off.
//!
//! It reads the markup of the report's own pages and knows the sizes of `report.css` for paper. It
//! need not be right to a line: `MARGIN` is its room for that, and what it takes for smaller than
//! it is goes on to the next page whole.

use crate::report::pictures::text_width;

/// What A4 and Letter leave between margins of 10 and 12 mm, across and down, in points.
const PAPERS: [(f64, f64); 2] = [(527.2, 785.2), (543.9, 735.3)];
/// The narrower of the two, across.
pub(super) const WIDTH: f64 = PAPERS[0].0;
/// Kept free: a line and a half, by which estimate and browser may differ. Over the pages of the
/// browser's test the two differ by 11 points at the most.
const MARGIN: f64 = 16.0;
/// Widths are those of the font of pictures; Liberation Sans, the font of paper, is narrower by
/// this (measured over the words of the README).
const NARROWER: f64 = 0.885;

/// The plain text of a page, in points.
#[derive(Debug, Clone, Copy)]
pub(super) struct Type {
    size: f64,
    line: f64,
}

/// Of the first page, and of the second.
pub(super) const FIRST: Type = Type { size: 9.4, line: 1.28 };
pub(super) const SECOND: Type = Type { size: 8.0, line: 1.2 };

/// What is left of a page when `taken` says how much stands on a page of a width: on A4 or on
/// Letter, whichever leaves less.
pub(super) fn left_of_page(taken: impl Fn(f64) -> f64) -> f64 {
    let left = PAPERS.map(|(across, down)| down - MARGIN - taken(across));
    left.into_iter().fold(f64::INFINITY, f64::min)
}

/// The heading, whose columns hold the job's texts.
pub(super) fn heading(texts: &[Option<&str>], width: f64) -> f64 {
    /// Shares of the five columns, and the gaps between them.
    const SHARES: [f64; 5] = [1.0, 2.0, 1.0, 1.3, 1.0];
    let all: f64 = SHARES.iter().sum();
    let lines = texts.iter().zip(SHARES).map(|(text, share)| {
        lines(text.unwrap_or_default(), FIRST.size, (width - 30.0) * share / all)
    });
    // The title, the row of words, the row of texts.
    28.0 + 11.0 + 9.0 + lines.max().unwrap_or(1).max(1) as f64 * FIRST.size * FIRST.line
}

/// Height of a caption above a picture of a width.
pub(super) fn caption(text: &str, width: f64) -> f64 {
    lines(text, 8.4, width) as f64 * 8.4 * 1.25 + 3.0
}

/// Height of markup in a column of a width.
pub(super) fn height(markup: &str, width: f64, of: Type) -> f64 {
    let mut reading = Reading { width, of, ..Reading::default() };
    for piece in markup.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').unwrap_or((piece, ""));
        reading.tag(tag);
        reading.text.push_str(text);
    }
    reading.close();
    reading.height
}

/// Where text stands that takes another size or another width than plain text.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
enum Within {
    #[default]
    Plain,
    /// The framed finding: large, beside its sign.
    Finding,
    /// The owner's rows: beside their words.
    Row,
    /// A list, which is set in.
    Item,
    /// A cell; the row is as high as its highest.
    Cell,
    /// A heading of the second or the third order.
    Heading(u8),
    /// What is laid out beside other text.
    Beside,
}

#[derive(Debug)]
struct Reading {
    width: f64,
    of: Type,
    within: Within,
    in_row: bool,
    in_finding: bool,
    text: String,
    cells: Vec<String>,
    height: f64,
}

impl Default for Reading {
    fn default() -> Reading {
        let (text, cells) = Default::default();
        let (width, of, within) = (WIDTH, FIRST, Within::Plain);
        Reading { width, of, within, in_row: false, in_finding: false, text, cells, height: 0.0 }
    }
}

impl Reading {
    fn tag(&mut self, tag: &str) {
        let name: &str = tag.split([' ', '/']).find(|part| !part.is_empty()).unwrap_or_default();
        let ends = tag.starts_with('/');
        match name {
            "div" => {
                self.close();
                self.in_finding = !ends && (self.in_finding || tag.contains("class=\"finding"));
            }
            "dd" => {
                self.close();
                self.in_row = !ends;
            }
            "td" | "th" => {
                self.close();
                self.within = if ends { Within::Plain } else { Within::Cell };
                return;
            }
            "tr" if ends => {
                self.close();
                self.row();
            }
            // The words of a row, and the sign of the finding, stand beside its text.
            "dt" | "span" if !ends && (name == "dt" || tag.contains("class=\"sign")) => {
                self.close();
                self.within = Within::Beside;
                return;
            }
            "p" | "li" | "h2" | "h3" | "dt" | "ul" | "footer" | "table" | "section" => self.close(),
            _ => return,
        }
        self.within = match name {
            "h2" if !ends => Within::Heading(2),
            "h3" if !ends => Within::Heading(3),
            "li" if !ends => Within::Item,
            _ if self.in_row => Within::Row,
            _ if self.in_finding => Within::Finding,
            _ => Within::Plain,
        };
    }

    /// Ends a block of text.
    fn close(&mut self) {
        let text = std::mem::take(&mut self.text);
        if self.within == Within::Cell {
            self.cells.push(text);
            return;
        }
        if text.trim().is_empty() {
            return;
        }
        let Type { size, line } = self.of;
        // Size, height of a line, width, and what stands above and below.
        let (size, line, width, around) = match self.within {
            Within::Plain | Within::Cell => (size, line, self.width, 2.0),
            Within::Finding => (11.5, 1.28, self.width - 75.0, 8.0),
            Within::Row => (9.0, 1.22, self.width - 112.0, 2.0),
            Within::Item => (size, line, self.width - 14.0, 0.0),
            Within::Heading(2) => (12.5, line, self.width, 10.0),
            Within::Heading(_) => (9.5, line, self.width, 5.0),
            Within::Beside => return,
        };
        self.height += lines(&text, size, width) as f64 * size * line + around;
    }

    /// Ends a row of cells: each takes what it needs and at most a quarter, the longest the rest.
    fn row(&mut self) {
        let cells = std::mem::take(&mut self.cells);
        let size = self.of.size;
        let wide = |text: &String| NARROWER * text_width(text, size, false) + 8.0;
        let longest = cells.iter().map(wide).fold(0.0, f64::max);
        let others = cells.iter().map(wide).filter(|&one| one < longest);
        let rest = self.width - others.map(|one| one.min(self.width / 4.0)).sum::<f64>();
        let high = cells.iter().map(|text| {
            let given = if wide(text) < longest { self.width / 4.0 } else { rest };
            lines(text, size, given.max(self.width / 8.0) - 8.0)
        });
        self.height += high.max().unwrap_or(0) as f64 * size * self.of.line + 3.0;
    }
}

/// Lines that a text takes in a column, word by word.
fn lines(text: &str, size: f64, width: f64) -> usize {
    let wide = |text: &str| NARROWER * text_width(text, size, false);
    let blank = wide(" ");
    let (mut lines, mut at) = (0, f64::INFINITY);
    for word in text.split_whitespace().map(wide) {
        if at + blank + word > width {
            // A word longer than a line is broken.
            lines += 1 + (word / width) as usize;
            at = word % width;
        } else {
            at += blank + word;
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Twice the text takes twice the lines, in half the width as well; a table's row is as high as
    /// its highest cell, and an element that is not known adds its words alone.
    #[test]
    fn text_takes_room_by_its_length() {
        let words = "a word and another ".repeat(40);
        let one = height(&format!("<p>{words}</p>"), 500.0, SECOND);
        let two = height(&format!("<p>{words} {words}</p>"), 500.0, SECOND);
        assert!((1.8..2.2).contains(&(two / one)), "{one} {two}");
        let narrow = height(&format!("<p>{words}</p>"), 250.0, SECOND);
        assert!((1.8..2.2).contains(&(narrow / one)), "{one} {narrow}");
        let bold = height(&format!("<p><b>{words}</b></p>"), 500.0, SECOND);
        assert!((bold - one).abs() < 1e-9, "{one} {bold}");
        let row = format!("<table><tr><th>short</th><td>{words}</td><td>x</td></tr></table>");
        let row = height(&row, 500.0, SECOND);
        assert!((0.9..1.5).contains(&(row / one)), "{one} {row}");
        assert_eq!(lines("", 8.0, 100.0), 0);
        assert!(lines(&"w".repeat(2000), 8.0, 100.0) > 50, "a word is broken");
    }
}
