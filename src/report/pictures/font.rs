//! The font of pictures, and how wide a text is in it.

use std::sync::Once;

use plotters::prelude::{FontStyle, IntoFont};
use plotters::style::register_font;

/// Picture units per point: plotters places marks on whole units, and half a point is fine enough.
pub(super) const UNITS: f64 = 2.0;
/// Name the font is asked for by; in SVG the reader's own plain font takes its place.
pub(super) const FONT: &str = "sans-serif";
/// plotters divides a size by this to get the em of SVG. Pixels take it as the height of a line,
/// which of this font is 1.16 em: letters in PNG are a fifteenth larger than in SVG.
pub(super) const SIZE_OVER_EM: f64 = 1.24;
/// A reader's plain font may be this much wider than the letters of the PNG.
const WIDER_FONTS: f64 = 1.03;

static REGULAR: &[u8] = include_bytes!("../../../assets/font/DejaVuSansCondensed.ttf");
static BOLD: &[u8] = include_bytes!("../../../assets/font/DejaVuSansCondensed-Bold.ttf");

/// Makes the fonts known, once.
pub(super) fn fonts() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // Both are part of the program; a font that is none would show as an error of every
        // picture.
        let _ = register_font(FONT, FontStyle::Normal, REGULAR);
        let _ = register_font(FONT, FontStyle::Bold, BOLD);
    });
}

/// A weight as plotters has it.
pub(super) fn style(bold: bool) -> FontStyle {
    if bold { FontStyle::Bold } else { FontStyle::Normal }
}

/// Width of a text in points, on the safe side.
pub(super) fn text_width(text: &str, size: f64, bold: bool) -> f64 {
    fonts();
    let font = (FONT, size * UNITS * SIZE_OVER_EM, style(bold)).into_font();
    // A text that cannot be measured is taken to have em-wide letters.
    font.box_size(text).map_or(text.chars().count() as f64 * size, |(width, _)| {
        f64::from(width) / UNITS * WIDER_FONTS
    })
}
