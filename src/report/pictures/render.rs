//! From a drawing to SVG and PNG, by the backends of plotters.

use plotters_backend::text_anchor::HPos;
use plotters_backend::{BackendColor, BackendStyle, DrawingBackend, DrawingErrorKind};
use plotters_bitmap::BitMapBackend;
use plotters_svg::SVGBackend;
use thiserror::Error;

use super::drawing::{Anchor, At, Drawing, Ink, Mark, Text};
use super::font::{Letters, UNITS};
use crate::error::harmless;

/// A picture that could not be drawn or encoded.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("a picture could not be drawn: {0}")]
pub struct PictureError(pub(super) String);

/// The drawing as one SVG element.
pub(super) fn svg(drawing: &Drawing) -> Result<String, PictureError> {
    let mut text = String::new();
    play(drawing, &mut SVGBackend::with_string(&mut text, size(drawing)), Means::SVG)?;
    Ok(text)
}

/// The drawing as a PNG file.
pub(super) fn png(drawing: &Drawing) -> Result<Vec<u8>, PictureError> {
    let (width, height) = size(drawing);
    let mut pixels = vec![0; width as usize * height as usize * 3];
    play(drawing, &mut BitMapBackend::with_buffer(&mut pixels, (width, height)), Means::PIXELS)?;
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let failed = |error: png::EncodingError| PictureError(error.to_string());
    let mut writer = encoder.write_header().map_err(failed)?;
    writer.write_image_data(&pixels).map_err(failed)?;
    writer.finish().map_err(failed)?;
    Ok(bytes)
}

fn size(drawing: &Drawing) -> (u32, u32) {
    ((drawing.width * UNITS).ceil() as u32, (drawing.height * UNITS).ceil() as u32)
}

/// What a backend needs to be told.
#[derive(Debug, Clone, Copy)]
struct Means {
    /// Lines piece by piece: whole, the pixel backend mitres a sharp corner into a spike many times
    /// as long as the line is wide.
    pieces: bool,
    /// How far to lower a text, as a share of its size: the pixel backend sets it that much too
    /// high.
    lower: f64,
}

impl Means {
    const SVG: Means = Means { pieces: false, lower: 0.0 };
    const PIXELS: Means = Means { pieces: true, lower: 0.14 };
}

fn play<DB: DrawingBackend>(
    drawing: &Drawing,
    backend: &mut DB,
    means: Means,
) -> Result<(), PictureError> {
    let (width, height) = size(drawing);
    let done = backend
        .draw_rect((0, 0), (width as i32, height as i32), &colour(Ink::White), true)
        .and_then(|()| drawing.marks.iter().try_for_each(|mark| draw(backend, mark, means)))
        .and_then(|()| backend.present());
    done.map_err(|error| PictureError(error.to_string()))
}

type Drawn<DB> = Result<(), DrawingErrorKind<<DB as DrawingBackend>::ErrorType>>;

fn draw<DB: DrawingBackend>(backend: &mut DB, mark: &Mark, means: Means) -> Drawn<DB> {
    match mark {
        Mark::Line { points, ink, width, dash } => {
            let stroke = Stroke::new(*ink, *width);
            match dash {
                None if means.pieces => units(points)
                    .windows(2)
                    .try_for_each(|pair| backend.draw_path(pair.iter().copied(), &stroke)),
                None => backend.draw_path(units(points), &stroke),
                Some(dash) => dashes(points, *dash)
                    .iter()
                    .try_for_each(|piece| backend.draw_path(units(piece), &stroke)),
            }
        }
        Mark::Area { points, ink } => backend.fill_polygon(units(points), &colour(*ink)),
        Mark::Disc { centre, radius, ink, filled } => {
            let radius = (radius * UNITS).round().max(0.0) as u32;
            backend.draw_circle(unit(*centre), radius, &Stroke::new(*ink, 1.0), *filled)
        }
        Mark::Text(text) => letters(backend, text, means.lower),
    }
}

fn letters<DB: DrawingBackend>(backend: &mut DB, text: &Text, lower: f64) -> Drawn<DB> {
    let held = match text.hold {
        Anchor::Left => HPos::Left,
        Anchor::Middle => HPos::Center,
        Anchor::Right => HPos::Right,
    };
    let look = Letters::new(colour(text.ink), held, text.size, text.bold);
    let at = unit((text.at.0, text.at.1 + text.size * lower));
    // XML has no control characters, not even escaped.
    backend.draw_text(&harmless(&text.text, &[]), &look, at)
}

fn colour(ink: Ink) -> BackendColor {
    let (red, green, blue) = ink.rgb();
    BackendColor { alpha: 1.0, rgb: (red, green, blue) }
}

/// A line as the backends have it.
struct Stroke {
    color: BackendColor,
    width: u32,
}

impl Stroke {
    fn new(ink: Ink, width: f64) -> Stroke {
        Stroke { color: colour(ink), width: (width * UNITS).round().max(1.0) as u32 }
    }
}

impl BackendStyle for Stroke {
    fn color(&self) -> BackendColor {
        self.color
    }
    fn stroke_width(&self) -> u32 {
        self.width
    }
}

fn unit((x, y): At) -> (i32, i32) {
    ((x * UNITS).round() as i32, (y * UNITS).round() as i32)
}

fn units(points: &[At]) -> Vec<(i32, i32)> {
    points.iter().copied().map(unit).collect()
}

/// The drawn pieces of a dashed line.
fn dashes(points: &[At], (on, off): (f64, f64)) -> Vec<Vec<At>> {
    let mut pieces = Vec::new();
    let mut piece: Vec<At> = points.first().copied().into_iter().collect();
    let (mut left, mut drawn) = (on, true);
    for pair in points.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            if length <= left {
                left -= length;
                break;
            }
            let share = left / length;
            from = (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
            if drawn {
                piece.push(from);
                pieces.push(std::mem::take(&mut piece));
            } else {
                piece = vec![from];
            }
            drawn = !drawn;
            left = if drawn { on } else { off };
        }
        if drawn {
            piece.push(to);
        }
    }
    if piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}
