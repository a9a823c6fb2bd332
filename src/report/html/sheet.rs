//! A capture to be read by somebody, on paper: signals, ruler and wheels, and nothing that was
//! found.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{BLANK_DRIVE_SCALE, head, heading, held_in_corner};
use crate::capture::{CaptureKind, Clock};
use crate::report::job::Job;
use crate::report::pictures::{PictureError, Sheet};
use crate::report::words::{self, capital};

pub(super) const STYLE: &str = include_str!("sheet.css");

/// Writes the page.
///
/// # Errors
/// When the drawing library refuses a picture.
pub fn write_sheet(sheet: &Sheet, job: &Job) -> Result<String, PictureError> {
    let name = sheet.engine.map_or("", |engine| engine.name.as_str());
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (head("Signals to read"))
            style { (PreEscaped(STYLE)) }
            body { main {
                header { (heading("Signals to read", name, job)) }
                (recorded(sheet))
                (strips(sheet)?)
                (wheels(sheet)?)
                (drive(sheet)?)
                (cautions())
            } }
        }
    };
    Ok(page.into_string())
}

/// What the capture is, in a line or two. Its file's name stays out: it may say what is wrong.
pub(super) fn recorded(sheet: &Sheet) -> Markup {
    let capture = sheet.capture;
    let (first, last) = capture.span();
    let seconds = last.0 - first.0;
    let rate = match (&capture.clock, capture.kind) {
        (_, CaptureKind::Events) => "one row per change".to_owned(),
        (Clock::Uniform { step, .. }, _) => format!("{:.0} samples per second", 1.0 / step.0),
        (Clock::Stamped(_), _) => "a time in every row".to_owned(),
    };
    let names: Vec<&str> = sheet.channels().map(|(name, _)| name).collect();
    html! {
        p.recorded {
            b { "Recorded: " } (format!("{seconds:.2}")) " s, " (rate) ". "
            b { "Leads: " } (names.join(", ")) "."
        }
    }
}

/// The signals over their ruler.
pub(super) fn strips(sheet: &Sheet) -> Result<Markup, PictureError> {
    let svg = held_in_corner(&sheet.strips_svg()?);
    let title = if sheet.has_degrees() {
        "Signals over one engine cycle"
    } else {
        "Signals from the middle of the recording"
    };
    let said = if sheet.has_degrees() {
        "The upper strip is the first turn of the crank, the lower one the second. One degree of crank is half a degree of cam."
    } else {
        "The crank could not be read here, so the ruler is one of time. The lower strip goes on where the upper one ends."
    };
    Ok(html! {
        figure.strips {
            figcaption { b { (title) } ". " (said) }
            div role="img" aria-label=(title) { (PreEscaped(svg)) }
        }
    })
}

/// The wheels as described.
pub(super) fn wheels(sheet: &Sheet) -> Result<Markup, PictureError> {
    let Some(svg) = sheet.wheels_svg()? else { return Ok(html! {}) };
    let title = "Wheels as the engine file describes them";
    Ok(html! {
        figure.blank {
            figcaption { b { (title) } }
            div role="img" aria-label=(title) { (PreEscaped(held_in_corner(&svg))) }
        }
    })
}

/// The drive as its chains are described, in words and, where a picture has room for it, drawn with
/// every mark where it should stand. Degrees to a tooth are for the reader to work out.
pub(super) fn drive(sheet: &Sheet) -> Result<Markup, PictureError> {
    let Some(engine) = sheet.engine.filter(|engine| !engine.drive.chains.is_empty()) else {
        return Ok(html! {});
    };
    let drawn = sheet.drive_svg()?;
    let title = "The timing drive as the engine file describes it";
    Ok(html! {
        figure.drive {
            figcaption {
                b { (title) } ". "
                @for chain in &engine.drive.chains {
                    (capital(&chain.name)) " (" (chain.kind.word()) "): "
                    (chain.driver.on) ", " (chain.driver.teeth) " teeth, drives "
                    @for (at, sprocket) in chain.driven.iter().enumerate() {
                        @if at > 0 { ", " }
                        (sprocket.on) " (" (sprocket.teeth) ")"
                    }
                    ". "
                }
            }
            @if let Some((svg, width)) = drawn {
                div role="img" aria-label=(title) style=(format!("max-width: {:.0}pt", BLANK_DRIVE_SCALE * width)) {
                    (PreEscaped(held_in_corner(&svg)))
                }
            }
        }
    })
}

/// The usual cautions, for whoever goes to the car with what was read.
pub(super) fn cautions() -> Markup {
    html! {
        section.cautions {
            h3 { "Before anything is measured on a car" }
            ul { @for caution in words::cautions() { li { (caution) } } }
        }
    }
}
