//! The two faces that are part of the program, plain and bold: how far each letter moves the pen, and which pixels it
//! covers.

use std::sync::LazyLock;

use ab_glyph_rasterizer::{Point, Rasterizer, point};
use read_fonts::model::glyph::outline::PathSink;
use read_fonts::tables::cmap::Cmap;
use read_fonts::tables::glyf::outline::{Outline, OutlineContext, PathContourStart, ScaleF32};
use read_fonts::tables::glyf::{Glyf, PHANTOM_POINT_COUNT};
use read_fonts::tables::gvar::GlyphVariationData;
use read_fonts::tables::hmtx::Hmtx;
use read_fonts::tables::loca::{Loca, LocaGlyph};
use read_fonts::types::{Fixed, GlyphId};
use read_fonts::{FontRef, TableProvider, types};

/// A face; absent only if its file were broken, which a test denies.
static PLAIN: LazyLock<Option<Face>> =
    LazyLock::new(|| Face::read(include_bytes!("../../../assets/font/DejaVuSansCondensed.ttf")));
static BOLD: LazyLock<Option<Face>> = LazyLock::new(|| {
    Face::read(include_bytes!("../../../assets/font/DejaVuSansCondensed-Bold.ttf"))
});

/// Drawn for a letter that a face has not got: a white square.
const MISSING: char = '\u{25a1}';

/// The plain or the bold face.
pub(super) fn face(bold: bool) -> Option<&'static Face> {
    if bold { BOLD.as_ref() } else { PLAIN.as_ref() }
}

/// One face, measured in the units it was designed in. Letters stand as far apart as each is wide: no pair is moved.
pub(super) struct Face {
    letters: Cmap<'static>,
    widths: Hmtx<'static>,
    shapes: (Glyf<'static>, Loca<'static>),
    units_per_em: u16,
    /// The highest and the lowest point of a line.
    line: (i32, i32),
}

/// One letter as pixels: where its box stands, seen from the pen on the base line (down is positive), and how much of
/// each pixel of the box is covered, 0 to 1, row by row.
pub(super) struct Pixels {
    pub(super) top: f32,
    pub(super) cover: Vec<(u32, u32, f32)>,
}

impl Face {
    fn read(bytes: &'static [u8]) -> Option<Face> {
        let font = FontRef::new(bytes).ok()?;
        let about = font.hhea().ok()?;
        Some(Face {
            letters: font.cmap().ok()?,
            widths: font.hmtx().ok()?,
            shapes: (font.glyf().ok()?, font.loca(None).ok()?),
            units_per_em: font.head().ok()?.units_per_em(),
            line: (about.ascender().to_i16().into(), about.descender().to_i16().into()),
        })
    }

    /// Pixels to a unit, of letters whose line is `height` pixels high.
    fn scale(&self, height: f32) -> f32 {
        height / (self.line.0 - self.line.1) as f32
    }

    /// A letter or digit that the face has not got is a square, so that a name is never blank; anything else, as an
    /// accent of its own, takes some room and shows nothing.
    fn id(&self, letter: char) -> GlyphId {
        let square = || self.letters.map_codepoint(MISSING).filter(|_| letter.is_alphanumeric());
        self.letters.map_codepoint(letter).or_else(square).unwrap_or(GlyphId::NOTDEF)
    }

    /// How far a letter moves the pen, of letters whose line is `height` high, in the same unit.
    pub(super) fn advance(&self, letter: char, height: f32) -> f32 {
        self.scale(height) * f32::from(self.widths.advance(self.id(letter)).unwrap_or(0))
    }

    /// The pixels of a letter whose line is `height` pixels high; none of a letter without a shape, such as a blank.
    pub(super) fn pixels(&'static self, letter: char, height: f32) -> Option<Pixels> {
        let glyph = self.id(letter);
        let scale = self.scale(height);
        let shape = self.glyph(glyph)?.into_glyph()?;
        let [left, right] = [shape.x_min(), shape.x_max()].map(|x| f32::from(x) * scale);
        let [top, bottom] = [shape.y_max(), shape.y_min()].map(|y| f32::from(y) * -scale);
        // The box ends on whole pixels.
        let (left, right, top, bottom) = (left.floor(), right.ceil(), top.floor(), bottom.ceil());
        if left >= right || top >= bottom {
            return None;
        }
        let mut pen = Pen {
            to: Rasterizer::new((right - left) as usize, (bottom - top) as usize),
            scale,
            offset: point(-left, -top),
            start: point(0.0, 0.0),
            at: point(0.0, 0.0),
        };
        let mut outline = Outline::<ScaleF32>::new();
        let outline = outline.load(self, glyph, None).ok()?;
        if !outline.to_path(PathContourStart::ScanBackward, &mut pen) {
            return None;
        }
        let mut cover = Vec::new();
        pen.to.for_each_pixel_2d(|across, down, covered| cover.push((across, down, covered)));
        Some(Pixels { top, cover })
    }
}

/// The shapes do not vary, and no size has shapes of its own.
impl OutlineContext<'static> for Face {
    fn glyph(&self, glyph: GlyphId) -> Option<LocaGlyph<'static>> {
        self.shapes.1.get(glyph, &self.shapes.0)
    }

    fn glyph_variation_data(&self, _: GlyphId) -> Option<GlyphVariationData<'static>> {
        None
    }

    fn has_gvar(&self) -> bool {
        false
    }

    fn phantom_point_deltas(
        &self,
        _: GlyphId,
    ) -> Option<[types::Point<Fixed>; PHANTOM_POINT_COUNT]> {
        None
    }

    fn units_per_em(&self) -> u16 {
        self.units_per_em
    }

    fn h_metrics(&self, glyph: GlyphId) -> (i32, i32) {
        let width = self.widths.advance(glyph).unwrap_or(0);
        (self.widths.side_bearing(glyph).unwrap_or(0).into(), width.into())
    }

    fn h_line_metrics(&self) -> (i32, i32) {
        self.line
    }
}

/// Draws the outline of a letter, in units of the face and upwards, on pixels, downwards.
struct Pen {
    to: Rasterizer,
    scale: f32,
    offset: Point,
    start: Point,
    at: Point,
}

impl Pen {
    fn place(&self, x: f32, y: f32) -> Point {
        point(x * self.scale, y * -self.scale) + self.offset
    }
}

impl PathSink for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.start = self.place(x, y);
        self.at = self.start;
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let to = self.place(x, y);
        self.to.draw_line(self.at, to);
        self.at = to;
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let [control, to] = [self.place(x1, y1), self.place(x, y)];
        self.to.draw_quad(self.at, control, to);
        self.at = to;
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let [first, second, to] = [self.place(x1, y1), self.place(x2, y2), self.place(x, y)];
        self.to.draw_cubic(self.at, first, second, to);
        self.at = to;
    }

    fn close(&mut self) {
        self.to.draw_line(self.at, self.start);
        self.at = self.start;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Advance widths, areas inside the outline and highest points as fontTools 4.68 reads them from the two files
    /// (`hmtx`, `AreaPen`, `glyf`), in units of 1/2048 em; lines are 2384 of them high.
    #[test]
    fn letters_are_as_wide_and_as_black_as_another_reader_finds_them() {
        for (bold, letter, advance, area, top) in [
            (false, 'A', 1260.0, 611_305.5, 1493.0),
            (false, 'i', 512.0, 223_245.0, 1556.0),
            (false, '8', 1172.0, 693_304.6, 1520.0),
            (false, '°', 921.0, 184_022.8, 1520.0),
            (false, 'Ä', 1260.0, 685_400.5, 1870.0),
            (true, '8', 1282.0, 1_100_170.8, 1520.0),
            (true, 'Ä', 1426.0, 1_184_341.0, 1899.0),
            (true, 'щ', 2037.0, 1_361_282.0, 1120.0),
        ] {
            let face = face(bold).unwrap();
            // One pixel is 8 units.
            let height = 2384.0 / 8.0;
            approx::assert_relative_eq!(
                face.advance(letter, height) * 8.0,
                advance,
                max_relative = 1e-6
            );
            let pixels = face.pixels(letter, height).unwrap();
            let black: f32 = pixels.cover.iter().map(|(_, _, cover)| cover).sum();
            // Curves are drawn as a few chords each.
            approx::assert_relative_eq!(black * 8.0 * 8.0, area, max_relative = 1e-2);
            assert_eq!(pixels.top, -f32::ceil(top / 8.0), "{letter}");
        }
        // A blank has a width and no shape, and so has an accent that is not there; a letter is a square.
        let plain = face(false).unwrap();
        approx::assert_relative_eq!(plain.advance(' ', 2384.0), 585.0, max_relative = 1e-6);
        assert!(plain.pixels(' ', 40.0).is_none());
        assert!(plain.advance('\u{301}', 40.0) > 0.0 && plain.pixels('\u{301}', 40.0).is_none());
        let black = |letter| plain.pixels(letter, 40.0).unwrap().cover;
        assert_eq!(
            (plain.advance('漢', 40.0), black('漢')),
            (plain.advance('□', 40.0), black('□'))
        );
    }
}
