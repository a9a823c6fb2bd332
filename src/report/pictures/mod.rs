//! Pictures of a result: one file per picture, drawn as marks and rendered as SVG or PNG.

mod axis;
mod blank_wheels;
mod compression;
mod current;
mod cycles;
mod drawing;
mod drive;
mod face;
#[cfg(feature = "output")]
mod files;
mod font;
mod gaps;
mod names;
mod panels;
mod pressure;
mod render;
mod ring;
mod scene;
mod sheet;
mod speed;
mod standing;
mod strips;
mod traces;
mod wheels;

#[cfg(feature = "output")]
pub use files::{WritePicturesError, files, sheet_files, write_all, write_sheet};
pub(super) use font::text_width;
pub use render::PictureError;
pub use sheet::Sheet;

use crate::analysis::{Analysis, Checked, CrankingTest, Overlay};
use crate::capture::Capture;
use crate::compare::Comparison;
use crate::wheel::Wheel;
use drawing::Drawing;
use scene::Scene;

/// A picture of a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Picture {
    /// Signals over one cycle, measured against expected edges.
    Traces,
    /// The wheels as rings.
    Wheels,
    /// Both turns of the crank wheel, with tooth numbers.
    Gaps,
    /// Sprockets and chains, and what moved.
    Drive,
    /// Deviation in every cycle.
    Cycles,
    /// Speed against crank angle.
    Speed,
    /// Relative compression.
    Compression,
    /// What it was measured from, over one cycle.
    Current,
    /// The pressure in a cylinder.
    Pressure,
}

impl Picture {
    /// Every picture, in the order in which they are shown.
    pub const ALL: [Picture; 9] = [
        Picture::Traces,
        Picture::Wheels,
        Picture::Gaps,
        Picture::Drive,
        Picture::Cycles,
        Picture::Speed,
        Picture::Compression,
        Picture::Current,
        Picture::Pressure,
    ];

    /// Name of its files, without extension.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Picture::Traces => "traces",
            Picture::Wheels => "wheels",
            Picture::Gaps => "gaps",
            Picture::Drive => "drive",
            Picture::Cycles => "cycles",
            Picture::Speed => "speed",
            Picture::Compression => "compression",
            Picture::Current => "current",
            Picture::Pressure => "pressure",
        }
    }

    /// Its heading.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Picture::Traces => "Signals over one engine cycle",
            Picture::Wheels => "Wheels, measured and as they should be",
            Picture::Gaps => "Counted in teeth: where to look",
            Picture::Drive => "The timing drive and its marks",
            Picture::Cycles => "How far off, cycle by cycle",
            Picture::Speed => "Crank speed over the cycle, every cycle",
            Picture::Compression => "Relative compression by bank",
            Picture::Current => "What it was measured from, over one cycle",
            Picture::Pressure => "Pressure in the cylinder",
        }
    }

    fn draw(self, scene: &Scene) -> Option<Drawing> {
        match self {
            Picture::Traces => Some(traces::draw(scene)),
            Picture::Wheels => Some(wheels::draw(scene)),
            Picture::Gaps => gaps::draw(scene),
            Picture::Drive => drive::draw(scene),
            Picture::Cycles => (!scene.analysis.cams.is_empty()).then(|| cycles::draw(scene)),
            Picture::Speed => Some(speed::draw(scene)),
            Picture::Compression => compression::is_there(scene).then(|| compression::draw(scene)),
            Picture::Current => {
                scene.analysis.compression.measured.as_ref().and_then(current::draw)
            }
            Picture::Pressure => pressure::is_there(scene).then(|| pressure::draw(scene)),
        }
    }
}

/// A picture that was drawn, ready to be rendered.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    /// Which one.
    pub picture: Picture,
    drawing: Drawing,
}

impl Drawn {
    /// Width of the sheet, in its own points.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.drawing.width
    }

    /// Its height.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.drawing.height
    }

    /// As one SVG element; every text in it is escaped.
    ///
    /// # Errors
    /// When the drawing library refuses.
    pub fn svg(&self) -> Result<String, PictureError> {
        render::svg(&self.drawing)
    }

    /// As the bytes of a PNG file.
    ///
    /// # Errors
    /// When the drawing library or the encoder refuses.
    pub fn png(&self) -> Result<Vec<u8>, PictureError> {
        render::png(&self.drawing)
    }
}

/// Draws every picture there is something to show of. `captures` are those the analysis was made
/// of, in the same order.
#[must_use]
pub fn draw_all(analysis: &Analysis, captures: &[Capture]) -> Vec<Drawn> {
    draw_over(analysis, captures, None)
}

/// The same, with a recording laid over the signals of the close-up.
fn draw_over(analysis: &Analysis, captures: &[Capture], over: Option<&Overlay>) -> Vec<Drawn> {
    let scene = Scene::new(analysis, captures).with(over);
    Picture::ALL
        .into_iter()
        .filter_map(|picture| Some(Drawn { picture, drawing: picture.draw(&scene)? }))
        .collect()
}

/// Draws what there is to show of a check. `captures` are those it was made of, in the same order;
/// `over` is laid over their signals.
#[must_use]
pub fn draw_checked(checked: &Checked, captures: &[Capture], over: Option<&Overlay>) -> Vec<Drawn> {
    match checked {
        Checked::Timing(analysis) => draw_over(analysis, captures, over),
        Checked::Compression(test) => draw_cranking(test),
    }
}

/// What there is to show of captures without a crank.
fn draw_cranking(test: &CrankingTest) -> Vec<Drawn> {
    let Some(measured) = test.main().compression.measured.as_ref() else { return Vec::new() };
    let bars = Drawn { picture: Picture::Compression, drawing: compression::bars(measured) };
    let current = current::draw(measured);
    let current = current.map(|drawing| Drawn { picture: Picture::Current, drawing });
    std::iter::once(bars).chain(current).collect()
}

/// Where each cam stood before and after a repair, as an SVG element; `None` where none was held
/// against a place.
///
/// # Errors
/// When the drawing library refuses.
pub fn before_and_after(comparison: &Comparison) -> Result<Option<String>, PictureError> {
    standing::draw(comparison).map(|drawing| render::svg(&drawing)).transpose()
}

/// A wheel alone, drawn as an SVG element.
///
/// # Errors
/// When the drawing library refuses.
pub fn wheel_svg(wheel: &Wheel) -> Result<String, PictureError> {
    render::svg(&wheels::alone(wheel))
}

#[cfg(test)]
mod tests;
