//! What was learned, for the screen.

use std::fmt::Write as _;

use super::numbers::counted;
use super::wrap::{Lines, WIDTH, paragraph};
use crate::engine::Engine;
use crate::known::KnownGood;
use crate::stats::NORMAL95;

/// The table of a reference after learning.
#[must_use]
pub fn write(known: &KnownGood, engine: &Engine, added: usize, file: &str) -> String {
    write_to_width(known, engine, added, file, WIDTH)
}

/// [`write()`] wrapped to `width` characters.
#[must_use]
pub fn write_to_width(
    known: &KnownGood,
    engine: &Engine,
    added: usize,
    file: &str,
    width: usize,
) -> String {
    let mut out = Lines::new(width);
    let _ = writeln!(out, "Engine   {}", known.engine);
    let _ = writeln!(
        out,
        "Learned  {} added; {} in all, of {}",
        counted(added, "capture", "captures"),
        known.captures.len(),
        counted(known.engines(), "engine", "engines")
    );
    let _ = writeln!(out, "Written  {file}\n");
    let _ = writeln!(
        out,
        "  {:<16} {:>9}  {:>8}  {:>22}  engines",
        "cam", "stands at", "spread", "a new engine within"
    );
    for cam in &engine.cams {
        let Some(figures) = known.figures(&cam.name) else {
            let _ = writeln!(out, "  {:<16} not learned: it was not measured", cam.name);
            continue;
        };
        let spread =
            figures.spread.map_or("one only".to_owned(), |spread| format!("{:.1}°", spread.0));
        let _ = writeln!(
            out,
            "  {:<16} {:>9}  {spread:>8}  {:>22}  {}",
            cam.name,
            format!("{:.1}°", figures.at.get()),
            format!("± {:.1}° (95 % sure)", NORMAL95 * figures.predicts.0),
            figures.engines
        );
    }
    out.push('\n');
    let file_has = |cam: &&crate::engine::Cam| {
        let place = engine.cam_index(&cam.name).and_then(|cam| engine.expected(cam));
        place.is_some() && known.figures(&cam.name).is_some()
    };
    let (borne_out, not): (Vec<_>, Vec<_>) = engine
        .cams
        .iter()
        .filter(file_has)
        .map(|cam| cam.name.as_str())
        .partition(|name| known.confirms.contains_key(*name));
    if !borne_out.is_empty() {
        let text = format!("The engine file's place is confirmed for {}.", borne_out.join(", "));
        paragraph(&mut out, &text, "");
    }
    if !not.is_empty() {
        let text = format!(
            "The engine file's place is not confirmed for {}: what was measured stands before it. Put it right.",
            not.join(", ")
        );
        paragraph(&mut out, &text, "");
    }
    if known.engines() < 4 {
        paragraph(
            &mut out,
            "Few engines: a new one may well differ. Add more sound engines to the same file later; each one narrows it.",
            "",
        );
    }
    if !known.pass_known {
        paragraph(
            &mut out,
            "The engine file gives no place for any cam, so which pass of the crank mark belongs to which cylinder stays open: \
             compression is then not named by cylinder. A capture with a lead \"ignition 1\", and `tdc` in the engine file, settles it.",
            "",
        );
    }
    out.into_text()
}
