//! A picture as a list of marks on a sheet, before any format: what is drawn is decided here, how
//! it becomes SVG or PNG in [`super::render`].
//!
//! Lengths are points, y grows downward. Keeping texts as marks lets a test see that none covers
//! another.

use super::font::text_width;

/// A place on the sheet.
pub(super) type At = (f64, f64);

/// The few tones a picture uses. They differ in lightness as well as in hue, so that they stay
/// apart in black and white; blue and vermilion are told apart by every common kind of colour
/// blindness (after the palette of Okabe and Ito, 2008).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    /// Text, axes, measured marks.
    Black,
    /// Secondary text, dashed lines.
    Grey,
    /// Ghosts behind the measurement.
    Pale,
    /// Bands and grids.
    Faint,
    /// The measured signal.
    Blue,
    /// What is off.
    Vermilion,
    /// The sheet.
    White,
}

impl Ink {
    /// Red, green and blue.
    pub fn rgb(self) -> (u8, u8, u8) {
        match self {
            Ink::Black => (26, 26, 26),
            Ink::Grey => (96, 96, 96),
            Ink::Pale => (190, 190, 190),
            Ink::Faint => (229, 229, 229),
            Ink::Blue => (0, 92, 150),
            Ink::Vermilion => (200, 76, 0),
            Ink::White => (255, 255, 255),
        }
    }
}

/// Where a text is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    /// By its left end.
    Left,
    /// By its middle.
    Middle,
    /// By its right end.
    Right,
}

/// A text on one line, held at the middle of its height.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Text {
    pub at: At,
    pub text: String,
    pub size: f64,
    pub bold: bool,
    pub ink: Ink,
    pub hold: Anchor,
}

impl Text {
    /// Left, top, right and bottom.
    #[cfg(test)]
    pub fn bounds(&self) -> (f64, f64, f64, f64) {
        let width = text_width(&self.text, self.size, self.bold);
        let left = match self.hold {
            Anchor::Left => self.at.0,
            Anchor::Middle => self.at.0 - width / 2.0,
            Anchor::Right => self.at.0 - width,
        };
        (left, self.at.1 - self.size / 2.0, left + width, self.at.1 + self.size / 2.0)
    }
}

/// One mark.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Mark {
    /// An open line; `dash` is drawn and left out in turn.
    Line { points: Vec<At>, ink: Ink, width: f64, dash: Option<(f64, f64)> },
    /// A filled outline.
    Area { points: Vec<At>, ink: Ink },
    /// A disc, or a ring of one line.
    Disc { centre: At, radius: f64, ink: Ink, filled: bool },
    /// A text.
    Text(Text),
}

/// A sheet with marks, later ones over earlier ones.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawing {
    pub width: f64,
    pub height: f64,
    pub marks: Vec<Mark>,
}

/// Usual size of text, in points.
pub(super) const TEXT: f64 = 14.0;
/// Size of secondary text.
pub(super) const SMALL: f64 = 12.5;

impl Drawing {
    /// An empty sheet.
    pub fn new(width: f64, height: f64) -> Drawing {
        Drawing { width, height, marks: Vec::new() }
    }

    /// A whole line.
    pub fn line(&mut self, points: &[At], ink: Ink, width: f64) {
        if points.len() > 1 {
            self.marks.push(Mark::Line { points: points.to_vec(), ink, width, dash: None });
        }
    }

    /// A dashed line.
    pub fn dashed(&mut self, points: &[At], ink: Ink, width: f64) {
        let dash = Some((5.0, 4.0));
        self.marks.push(Mark::Line { points: points.to_vec(), ink, width, dash });
    }

    /// A filled outline.
    pub fn area(&mut self, points: &[At], ink: Ink) {
        self.marks.push(Mark::Area { points: points.to_vec(), ink });
    }

    /// A filled rectangle by two corners.
    pub fn block(&mut self, (left, top): At, (right, bottom): At, ink: Ink) {
        self.area(&[(left, top), (right, top), (right, bottom), (left, bottom)], ink);
    }

    /// The outline of a rectangle.
    pub fn frame(&mut self, (left, top): At, (right, bottom): At, ink: Ink) {
        let corners = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
        self.line(&corners, ink, 1.0);
    }

    /// A disc.
    pub fn disc(&mut self, centre: At, radius: f64, ink: Ink) {
        self.marks.push(Mark::Disc { centre, radius, ink, filled: true });
    }

    /// A ring of one line.
    pub fn circle(&mut self, centre: At, radius: f64, ink: Ink) {
        self.marks.push(Mark::Disc { centre, radius, ink, filled: false });
    }

    /// A text in the usual size.
    pub fn text(&mut self, at: At, text: impl Into<String>, hold: Anchor) {
        self.write(at, text, TEXT, false, Ink::Black, hold);
    }

    /// A text in bold.
    pub fn bold(&mut self, at: At, text: impl Into<String>, hold: Anchor) {
        self.write(at, text, TEXT, true, Ink::Black, hold);
    }

    /// A secondary text.
    pub fn small(&mut self, at: At, text: impl Into<String>, hold: Anchor) {
        self.write(at, text, SMALL, false, Ink::Grey, hold);
    }

    /// Any text. Control characters have no shape and are left out.
    pub fn write(
        &mut self,
        at: At,
        text: impl Into<String>,
        size: f64,
        bold: bool,
        ink: Ink,
        hold: Anchor,
    ) {
        let text: String = text.into().chars().filter(|c| !c.is_control()).collect();
        self.marks.push(Mark::Text(Text { at, text, size, bold, ink, hold }));
    }

    /// A small arrow head whose tip is at `tip`, pointing right or left.
    pub fn arrow_head(&mut self, tip: At, to_right: bool, ink: Ink) {
        let back = if to_right { -6.0 } else { 6.0 };
        let (x, y) = tip;
        self.area(&[(x, y), (x + back, y - 3.5), (x + back, y + 3.5)], ink);
    }

    /// Every text of the sheet.
    #[cfg(test)]
    pub fn texts(&self) -> impl Iterator<Item = &Text> {
        self.marks.iter().filter_map(|mark| match mark {
            Mark::Text(text) => Some(text),
            _ => None,
        })
    }
}

/// Cuts a text so that it takes at most `width` points, with an ellipsis where it was cut.
pub(super) fn fitted(text: &str, size: f64, bold: bool, width: f64) -> String {
    let text: String = text.chars().filter(|c| !c.is_control()).collect();
    if text_width(&text, size, bold) <= width {
        return text;
    }
    let mut kept: Vec<char> = text.chars().take(200).collect();
    while !kept.is_empty() {
        kept.pop();
        let cut: String = kept.iter().collect::<String>() + "…";
        if text_width(&cut, size, bold) <= width {
            return cut;
        }
    }
    String::new()
}
