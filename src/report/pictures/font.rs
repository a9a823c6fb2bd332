//! The font of pictures: how wide a text is in it, and what its letters look like in pixels.
//!
//! It is part of the program and measured here, so that a picture is the same wherever it is drawn.

use std::convert::Infallible;

use plotters_backend::text_anchor::{HPos, Pos, VPos};
use plotters_backend::{BackendColor, BackendCoord, BackendTextStyle, FontFamily, FontStyle};

use super::face::face;

/// Picture units per point: the backends place marks on whole units, and half a point is fine
/// enough.
pub(super) const UNITS: f64 = 2.0;
/// The SVG backend divides a size by this to get the em. Pixels take it as the height of a line,
/// which of this font is 1.16 em: letters in PNG are a fifteenth larger than in SVG.
const SIZE_OVER_EM: f64 = 1.24;
/// A reader's plain font may be this much wider than the letters of the PNG.
const WIDER_FONTS: f64 = 1.03;

/// Width of a text in points, on the safe side.
pub(in crate::report) fn text_width(text: &str, size: f64, bold: bool) -> f64 {
    // A text that cannot be measured is taken to have em-wide letters.
    width(text, size * UNITS * SIZE_OVER_EM, bold)
        .map_or(text.chars().count() as f64 * size, |width| f64::from(width) / UNITS * WIDER_FONTS)
}

/// Width in whole picture units, of letters whose line is `height` units high.
fn width(text: &str, height: f64, bold: bool) -> Option<i32> {
    let face = face(bold)?;
    let width: f32 = text.chars().map(|letter| face.advance(letter, height as f32)).sum();
    Some(width as i32)
}

/// How the backends are told what a text looks like.
pub(super) struct Letters {
    color: BackendColor,
    held: HPos,
    bold: bool,
    height: f64,
}

impl Letters {
    /// Letters of a size in points, held at one place of their line and half way up it.
    pub(super) fn new(color: BackendColor, held: HPos, size: f64, bold: bool) -> Letters {
        Letters { color, held, bold, height: size * UNITS * SIZE_OVER_EM }
    }
}

impl BackendTextStyle for Letters {
    type FontError = Infallible;

    fn color(&self) -> BackendColor {
        self.color
    }

    fn size(&self) -> f64 {
        self.height
    }

    fn style(&self) -> FontStyle {
        if self.bold { FontStyle::Bold } else { FontStyle::Normal }
    }

    fn anchor(&self) -> Pos {
        Pos::new(self.held, VPos::Center)
    }

    /// In SVG the reader's own plain font takes the place of this one.
    fn family(&self) -> FontFamily<'_> {
        FontFamily::SansSerif
    }

    fn layout_box(&self, text: &str) -> Result<(BackendCoord, BackendCoord), Infallible> {
        let width = width(text, self.height, self.bold).unwrap_or(0);
        Ok(((0, 0), (width, (self.height / SIZE_OVER_EM) as i32)))
    }

    fn draw<E, DrawFunc: FnMut(i32, i32, BackendColor) -> Result<(), E>>(
        &self,
        text: &str,
        (left, top): BackendCoord,
        mut draw: DrawFunc,
    ) -> Result<Result<(), E>, Infallible> {
        let Some(face) = face(self.bold) else { return Ok(Ok(())) };
        let height = self.height as f32;
        let mut pen = 0.0;
        for letter in text.chars() {
            if let Some(pixels) = face.pixels(letter, height) {
                let x = left + pen as i32;
                let y = top + (height / 2.0 + pixels.top) as i32;
                for (across, down, cover) in pixels.cover {
                    let color = self.color.mix(f64::from(cover));
                    if let Err(error) = draw(x + across as i32, y + down as i32, color) {
                        return Ok(Err(error));
                    }
                }
            }
            pen += face.advance(letter, height);
        }
        Ok(Ok(()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_fonts_are_whole_and_bold_is_wider() {
        assert!(face(false).is_some() && face(true).is_some());
        let [plain, bold] = [false, true].map(|bold| text_width("B2 intake", 9.0, bold));
        assert!(plain > 9.0 && bold > plain, "{plain} {bold}");
        // Thirteen letters as wide as they are high would be 117.
        assert!(text_width("Nockenwelle °", 9.0, false) < 80.0);
    }
}
