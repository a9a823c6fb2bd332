//! A capture to be read by somebody: what its signals are drawn over, and nothing that was found.

#[cfg(feature = "output")]
use super::drawing::Drawing;
use super::render::{self, PictureError};
use super::scene::typical_cycle;
use super::{blank_wheels, drive, strips};
use crate::analysis::Analysis;
use crate::capture::{Capture, Channel};
use crate::crank::{CrankAngle, CrankLock};
use crate::engine::Engine;
use crate::leads::LeadRequest;
use crate::units::{CYCLE_DEG, CrankDelta, CrankTurned, Seconds};

/// Seconds of a capture that are shown where there is no crank angle: two turns at 200 rpm, a
/// common cranking speed (common practice, no source).
const SECONDS_SHOWN: f64 = 0.6;

/// A capture to be read by somebody.
pub struct Sheet<'a> {
    /// The capture that is shown.
    pub capture: &'a Capture,
    /// What each of its channels is called: its header, and what the user named it.
    names: Vec<String>,
    /// The engine whose wheels are drawn as described; none where nothing is described.
    pub engine: Option<&'a Engine>,
    pub(super) ruler: Ruler<'a>,
}

/// What the signals are drawn over.
pub(super) enum Ruler<'a> {
    /// Crank degrees of one cycle.
    Degrees {
        angle: &'a CrankAngle,
        /// Where the cycle begins.
        start: CrankTurned,
        /// Firing TDCs within the cycle, as described.
        tdcs: Vec<(u32, f64)>,
    },
    /// Time.
    Seconds { from: Seconds, to: Seconds },
}

impl<'a> Sheet<'a> {
    /// One cycle of the capture that the crank angle is of. `captures` are those the analysis was
    /// made of, in the same order; `None` where that capture is not among them. Of the analysis only
    /// the crank angle and the description are used.
    #[must_use]
    pub fn of(
        analysis: &'a Analysis,
        captures: &'a [Capture],
        leads: &[LeadRequest],
    ) -> Option<Sheet<'a>> {
        let capture = captures.get(analysis.main_capture)?;
        let engine = &analysis.engine;
        let place = |&cylinder: &u32| Some((cylinder, engine.firing_tdc(cylinder)?.get()));
        let tdcs = if analysis.known_modulo.0 < CYCLE_DEG {
            Vec::new()
        } else {
            engine.firing_order.iter().filter_map(place).collect()
        };
        let angle = &analysis.crank.angle;
        let start = typical_cycle(angle, analysis.datum_shift);
        let ruler = Ruler::Degrees { angle, start, tdcs };
        Some(Sheet { capture, names: names(capture, leads), engine: Some(engine), ruler })
    }

    /// One cycle of a capture whose crank wheel was recognised without a description.
    #[must_use]
    pub fn locked(capture: &'a Capture, lock: &'a CrankLock, leads: &[LeadRequest]) -> Sheet<'a> {
        let angle = &lock.angle;
        let start = typical_cycle(angle, CrankDelta(0.0));
        let ruler = Ruler::Degrees { angle, start, tdcs: Vec::new() };
        Sheet { capture, names: names(capture, leads), engine: None, ruler }
    }

    /// The middle of a capture against time, where the crank cannot be read.
    #[must_use]
    pub fn against_time(
        capture: &'a Capture,
        engine: Option<&'a Engine>,
        leads: &[LeadRequest],
    ) -> Sheet<'a> {
        let (first, last) = capture.span();
        let half = (SECONDS_SHOWN / 2.0).min((last.0 - first.0) / 2.0);
        let middle = f64::midpoint(first.0, last.0);
        let ruler = Ruler::Seconds { from: Seconds(middle - half), to: Seconds(middle + half) };
        Sheet { capture, names: names(capture, leads), engine, ruler }
    }

    /// Whether there is a ruler in crank degrees.
    #[must_use]
    pub fn has_degrees(&self) -> bool {
        matches!(self.ruler, Ruler::Degrees { .. })
    }

    /// The channels with their names.
    pub fn channels(&self) -> impl Iterator<Item = (&str, &'a Channel)> {
        self.names.iter().map(String::as_str).zip(&self.capture.channels)
    }

    /// The signals over their ruler, as one SVG element.
    ///
    /// # Errors
    /// When the drawing library refuses.
    pub fn strips_svg(&self) -> Result<String, PictureError> {
        render::svg(&strips::draw(self))
    }

    /// Signals and, where they are described, wheels.
    #[cfg(feature = "output")]
    pub(super) fn drawings(&self) -> Vec<Drawing> {
        let wheels = self.engine.map(blank_wheels::draw);
        std::iter::once(strips::draw(self)).chain(wheels).collect()
    }

    /// The wheels as described, each within a ring of crank degrees; `None` where nothing is
    /// described.
    ///
    /// # Errors
    /// When the drawing library refuses.
    pub fn wheels_svg(&self) -> Result<Option<String>, PictureError> {
        self.engine.map(|engine| render::svg(&blank_wheels::draw(engine))).transpose()
    }

    /// The drive as described, every mark where it should stand, and the width of its sheet in its
    /// own points; `None` where no chain is described.
    ///
    /// # Errors
    /// When the drawing library refuses.
    pub fn drive_svg(&self) -> Result<Option<(String, f64)>, PictureError> {
        let Some(drawing) = self.engine.and_then(drive::blank) else { return Ok(None) };
        Ok(Some((render::svg(&drawing)?, drawing.width)))
    }
}

/// A header, with the lead the user said is on it.
fn names(capture: &Capture, leads: &[LeadRequest]) -> Vec<String> {
    let name = |channel: &Channel| {
        let asked = leads.iter().find(|lead| {
            channel.name.eq_ignore_ascii_case(&lead.column)
                || lead.column.parse() == Ok(channel.column)
        });
        match asked {
            Some(lead) if !lead.name.eq_ignore_ascii_case(&channel.name) => {
                format!("{} ({})", lead.name, channel.name)
            }
            _ => channel.name.clone(),
        }
    };
    capture.channels.iter().map(name).collect()
}
