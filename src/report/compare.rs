//! A comparison for the screen, as JSON, and as a sign-off sheet.

mod compression;
#[cfg(feature = "report")]
mod html;

pub use compression::{compression_json, compression_table, compression_text};
#[cfg(feature = "report")]
pub use html::{compression_sign_off, sign_off};

use std::fmt::Write as _;

use serde::Serialize;

use super::wrap::{Lines, WIDTH, bullet, hanging, paragraph};
use crate::analysis::Analysis;
use crate::compare::{Back, Balance, CamChange, Change, Compared, Comparison, Difference, Outcome};
use crate::engine::Engine;
#[cfg(feature = "report")]
use crate::report::job::Job;
use crate::report::words;
use crate::units::CrankDelta;
use crate::verdict::Caution;

/// The title and the sentence of an outcome.
fn finding(comparison: &Comparison) -> (&'static str, String) {
    match comparison.outcome {
        Outcome::AllBack => ("ALL BACK IN TOLERANCE", "Every cam of the engine stands within tolerance after the repair.".into()),
        Outcome::NotBack => {
            let off: Vec<String> = comparison
                .cams
                .iter()
                .filter(|cam| cam.back == Back::Outside)
                .filter_map(|cam| Some(format!("{} {}", name(comparison, cam), cam.after?)))
                .collect();
            let list = if off.is_empty() { finding_of(&comparison.after) } else { off.join(", ") + "." };
            ("NOT BACK IN TOLERANCE", format!("After the repair: {list} Do not start the engine."))
        }
        Outcome::BanksAgree => ("BACK, AGAINST THE OTHER BANK", banks_agree(comparison)),
        Outcome::CannotTell => ("CANNOT TELL", "The two captures do not show that every cam is back in tolerance. See below what is missing.".into()),
    }
}

/// What moved back, how well the cams agree, and what that leaves open.
fn banks_agree(comparison: &Comparison) -> String {
    let moved: Vec<String> = comparison
        .cams
        .iter()
        .filter_map(|cam| {
            let (teeth, _) = cam.change?.teeth.filter(|(teeth, _)| *teeth != 0)?;
            let side = if teeth > 0 { "later" } else { "earlier" };
            Some(format!("{} by {} {side}", name(comparison, cam), words::teeth_count(teeth)))
        })
        .collect();
    let within = comparison.agree_within.map_or(0.0, |within| within.0);
    let level = match comparison.banks_level {
        Some(true) => "compression is level",
        _ => "compression was not measured",
    };
    format!(
        "Moved back: {}. The cams now agree within {within:.1}°; {level}. Where they should stand is not known but for each \
         other: all of them off alike would not show. Check the marks before the covers go on.",
        words::list(&moved)
    )
}

/// The finding of one of the two.
fn finding_of(analysis: &Analysis) -> String {
    words::whole_finding(analysis)
}

fn name<'a>(comparison: &'a Comparison, cam: &CamChange) -> &'a str {
    &comparison.after.engine.cams[cam.cam].name
}

fn back_word(back: Back) -> &'static str {
    match back {
        Back::Within => "yes",
        Back::Outside => "NO",
        Back::Unsure => "not sure: the interval reaches past the tolerance",
        Back::Agrees => "yes, against the cams it is known by",
        Back::NoPlaceKnown => "no expected place known",
        Back::NotMeasured => "not measured after",
    }
}

/// "17.1° earlier (± 0.4°), 1 tooth earlier".
fn change_words(change: Option<Change>) -> String {
    let Some(change) = change else { return "not known".into() };
    let side = |value: f64| if value > 0.0 { "later" } else { "earlier" };
    let size = change.moved.0.abs();
    let mut text = if size < 0.05 {
        format!("0.0° (± {:.1}°)", change.half_width95.0)
    } else {
        format!("{size:.1}° {} (± {:.1}°)", side(change.moved.0), change.half_width95.0)
    };
    if let Some((teeth, left)) = change.teeth.filter(|(teeth, _)| *teeth != 0) {
        let noun = if teeth.abs() == 1 { "tooth" } else { "teeth" };
        let _ = write!(
            text,
            ", {} {noun} {}, {:.1}° left over",
            teeth.abs(),
            side(f64::from(teeth)),
            left.0.abs()
        );
    }
    text
}

fn off_words(off: Option<CrankDelta>) -> String {
    off.map_or("not known".into(), |off| off.to_string())
}

fn balance_words(balance: Option<Balance>) -> String {
    balance.map_or("not measured".into(), |balance| {
        let which = balance.bank.map_or("the lower bank".into(), |bank| format!("bank {bank}"));
        format!(
            "{which} {:.1} % lower (95 % sure between {:.1} and {:.1} %)",
            -100.0 * balance.relative,
            -100.0 * balance.ci95.1,
            -100.0 * balance.ci95.0
        )
    })
}

fn compression_words(comparison: &Comparison) -> Option<&'static str> {
    comparison.banks_level.map(|level| {
        if level {
            "After the repair the banks are level within what sound banks differ."
        } else {
            "One bank is still lower after the repair: look for another cause before the covers go on."
        }
    })
}

/// A comparison in words, for a table of any kind.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Table {
    /// File names before and after.
    pub captures: (String, String),
    /// What comes of it.
    pub outcome: Outcome,
    /// The outcome in a few words.
    pub title: &'static str,
    /// The outcome in a sentence.
    pub sentence: String,
    /// One row per cam.
    pub cams: Vec<TableRow>,
    /// Compression, bank against bank: before, after, and what that means.
    pub compression: Option<[String; 3]>,
    /// How the two captures differ, in sentences.
    pub differences: Vec<String>,
}

/// One cam of a [`Table`], in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TableRow {
    /// Its name, with its bank.
    pub cam: String,
    /// Deviation before.
    pub before: String,
    /// Deviation after, with its interval.
    pub after: String,
    /// How far it moved.
    pub moved: String,
    /// Whether it is back within tolerance.
    pub back: String,
    /// The same as a yes or no.
    pub is_back: bool,
}

/// Puts a comparison into words.
#[must_use]
pub fn table(comparison: &Comparison) -> Table {
    let (title, sentence) = finding(comparison);
    let row = |cam: &CamChange| {
        let described = &comparison.after.engine.cams[cam.cam];
        let half =
            cam.after_half_width95.map_or(String::new(), |half| format!(" (± {:.1}°)", half.0));
        TableRow {
            cam: format!("{} (bank {})", described.name, described.bank),
            before: off_words(cam.before),
            after: off_words(cam.after) + &half,
            moved: change_words(cam.change),
            back: format!("{} (± {:.1}°)", back_word(cam.back), described.tolerance.0),
            is_back: matches!(cam.back, Back::Within | Back::Agrees),
        }
    };
    let balance = comparison.balance;
    let compression = (balance.0.is_some() || balance.1.is_some()).then(|| {
        let words = compression_words(comparison).unwrap_or("");
        [balance_words(balance.0), balance_words(balance.1), words.to_owned()]
    });
    Table {
        captures: (comparison.before.captures.join(", "), comparison.after.captures.join(", ")),
        outcome: comparison.outcome,
        title,
        sentence,
        cams: comparison.cams.iter().map(row).collect(),
        compression,
        differences: words::differences(&comparison.differences, &comparison.after.engine),
    }
}

/// What every comparison begins with: the engine, the two captures, what comes of it, in what they
/// differ.
fn opening(
    out: &mut Lines,
    engine: &Engine,
    (before, after): (&[String], &[String]),
    (title, sentence): (&str, String),
    differences: &[Difference],
) {
    hanging(out, &engine.name, "Engine   ");
    hanging(out, &before.join(", "), "Before   ");
    hanging(out, &after.join(", "), "After    ");
    let _ = writeln!(out, "\n{title}");
    paragraph(out, &sentence, "  ");
    if !differences.is_empty() {
        out.push_str("\nThe two captures differ\n");
        for difference in &words::differences(differences, engine) {
            bullet(out, difference);
        }
    }
}

/// What each of the two shows by itself.
fn findings(out: &mut Lines, before: &str, after: &str) {
    out.push('\n');
    hanging(out, before, "Before   ");
    hanging(out, after, "After    ");
}

fn cautions(out: &mut Lines) {
    out.push_str("\nCautions\n");
    for caution in words::cautions() {
        bullet(out, caution);
    }
}

/// Writes either kind of comparison for the screen, wrapped to `width` characters.
#[must_use]
pub fn compared_text(compared: &Compared, width: usize) -> String {
    match compared {
        Compared::Timing(comparison) => text_to_width(comparison, width),
        Compared::Compression(comparison) => compression_text(comparison, width),
    }
}

/// Writes either kind of comparison as indented JSON.
#[must_use]
pub fn compared_json(compared: &Compared) -> String {
    match compared {
        Compared::Timing(comparison) => json(comparison),
        Compared::Compression(comparison) => compression_json(comparison),
    }
}

/// Writes the sheet to sign of either kind of comparison.
#[cfg(feature = "report")]
#[must_use]
pub fn compared_sheet(compared: &Compared, job: &Job) -> String {
    match compared {
        Compared::Timing(comparison) => sign_off(comparison, job),
        Compared::Compression(comparison) => compression_sign_off(comparison, job),
    }
}

/// Puts either kind of comparison into words.
#[must_use]
pub fn compared_table(compared: &Compared) -> Table {
    match compared {
        Compared::Timing(comparison) => table(comparison),
        Compared::Compression(comparison) => compression_table(comparison),
    }
}

/// Writes the comparison for the screen.
#[must_use]
pub fn text(comparison: &Comparison) -> String {
    text_to_width(comparison, WIDTH)
}

/// [`text`] wrapped to `width` characters.
#[must_use]
pub fn text_to_width(comparison: &Comparison, width: usize) -> String {
    let mut out = Lines::new(width);
    let (before, after) = (&comparison.before, &comparison.after);
    let captures = (&before.captures[..], &after.captures[..]);
    opening(&mut out, &after.engine, captures, finding(comparison), &comparison.differences);
    for cam in &comparison.cams {
        let described = &comparison.after.engine.cams[cam.cam];
        let _ = writeln!(out, "\n{} (bank {})", described.name, described.bank);
        let after =
            cam.after_half_width95.map_or(String::new(), |half| format!(" (± {:.1}°)", half.0));
        let _ = writeln!(
            out,
            "  before   {}\n  after    {}{after}",
            off_words(cam.before),
            off_words(cam.after)
        );
        let _ = writeln!(out, "  moved    {}", change_words(cam.change));
        let _ = writeln!(
            out,
            "  back within ± {:.1}°?  {}",
            described.tolerance.0,
            back_word(cam.back)
        );
    }
    if comparison.balance.0.is_some() || comparison.balance.1.is_some() {
        out.push_str("\nCompression, bank against bank, relative\n");
        let _ = writeln!(out, "  before   {}", balance_words(comparison.balance.0));
        let _ = writeln!(out, "  after    {}", balance_words(comparison.balance.1));
        if let Some(words) = compression_words(comparison) {
            paragraph(&mut out, words, "  ");
        }
    }
    findings(&mut out, &finding_of(before), &finding_of(after));
    out.push_str("\nDegrees are crank degrees. Late means retarded, early means advanced.\n");
    cautions(&mut out);
    out.into_text()
}

/// Name and version of the JSON format.
const FORMAT: &str = "camwitness-comparison/1";

#[derive(Serialize)]
struct File<'a> {
    format: &'static str,
    engine: &'a str,
    before: &'a [String],
    after: &'a [String],
    outcome: Outcome,
    agree_within_deg: Option<f64>,
    cams: Vec<CamPart<'a>>,
    compression_before: Option<f64>,
    compression_after: Option<f64>,
    differences: Vec<String>,
    cautions: [&'static str; Caution::ALL.len()],
}

#[derive(Serialize)]
struct CamPart<'a> {
    cam: &'a str,
    tolerance_deg: f64,
    before_deg: Option<f64>,
    after_deg: Option<f64>,
    moved_deg: Option<f64>,
    moved_ci95_deg: Option<[f64; 2]>,
    moved_teeth: Option<i32>,
    back: Back,
}

/// Writes the comparison as indented JSON.
///
/// # Panics
/// Never: plain values always serialize.
#[must_use]
pub fn json(comparison: &Comparison) -> String {
    let round = |value: f64| (value * 100.0).round() / 100.0 + 0.0;
    let cams = comparison
        .cams
        .iter()
        .map(|cam| CamPart {
            cam: name(comparison, cam),
            tolerance_deg: comparison.after.engine.cams[cam.cam].tolerance.0,
            before_deg: cam.before.map(|off| round(off.0)),
            after_deg: cam.after.map(|off| round(off.0)),
            moved_deg: cam.change.map(|change| round(change.moved.0)),
            moved_ci95_deg: cam.change.map(|change| {
                [
                    round((change.moved - change.half_width95).0),
                    round((change.moved + change.half_width95).0),
                ]
            }),
            moved_teeth: cam.change.and_then(|change| change.teeth).map(|(teeth, _)| teeth),
            back: cam.back,
        })
        .collect();
    let file = File {
        format: FORMAT,
        engine: &comparison.after.engine.name,
        before: &comparison.before.captures,
        after: &comparison.after.captures,
        outcome: comparison.outcome,
        agree_within_deg: comparison.agree_within.map(|within| round(within.0)),
        cams,
        compression_before: comparison.balance.0.map(|balance| round(balance.relative)),
        compression_after: comparison.balance.1.map(|balance| round(balance.relative)),
        differences: words::differences(&comparison.differences, &comparison.after.engine),
        cautions: words::cautions(),
    };
    serde_json::to_string_pretty(&file).expect("plain values always serialize") + "\n"
}
