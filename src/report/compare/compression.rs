//! Compression before and after a repair: on the screen, as JSON, as a sign-off sheet.

use std::fmt::Write as _;

use serde::Serialize;

use super::{Table, TableRow, cautions, findings, opening};
use crate::analysis::CrankingTest;
use crate::compare::{CompressionComparison, CylinderChange, Outcome};
use crate::report::words;
use crate::report::wrap::Lines;
use crate::verdict::Caution;

/// The title and the sentence of an outcome.
pub(super) fn finding(comparison: &CompressionComparison) -> (&'static str, String) {
    match comparison.outcome {
        // No cam was measured here: banks agree by their cylinders alone.
        Outcome::AllBack | Outcome::BanksAgree => (
            "CYLINDERS ALIKE AFTER THE REPAIR",
            "No cylinder stands out after the repair. All cylinders down alike cannot be seen this way, and where the camshafts \
             stand was not measured."
                .into(),
        ),
        Outcome::NotBack => ("NOT ALIKE AFTER THE REPAIR", format!("After the repair: {}", finding_of(&comparison.after))),
        Outcome::CannotTell => (
            "CANNOT TELL",
            format!("The capture made after the repair does not tell whether the cylinders are alike: {}", finding_of(&comparison.after)),
        ),
    }
}

/// The finding of one of the two.
pub(super) fn finding_of(test: &CrankingTest) -> String {
    let measured = test.main().compression.measured.as_ref();
    words::compression_finding(&test.engine, measured, &test.finding)
}

fn share((value, (low, high)): (f64, (f64, f64))) -> String {
    format!("{:.0} % ({:.0} to {:.0})", value * 100.0, low * 100.0, high * 100.0)
}

fn moved((by, half): (f64, f64)) -> String {
    let percent = by.abs() * 100.0;
    let side = if by < 0.0 { "lower" } else { "higher" };
    if by.abs() <= half {
        format!("no change beyond noise (± {:.0} %)", half * 100.0)
    } else {
        format!("{percent:.0} % {side} (± {:.0} %)", half * 100.0)
    }
}

/// A row of the table: the cylinder, before, after, and how it changed.
pub(super) fn row(one: &CylinderChange) -> [String; 4] {
    [format!("Cylinder {}", one.cylinder), share(one.before), share(one.after), moved(one.change)]
}

/// Puts a comparison into words, for the table that cams stand in.
#[must_use]
pub fn compression_table(comparison: &CompressionComparison) -> Table {
    let (title, sentence) = finding(comparison);
    let line = |one: &CylinderChange| {
        let [cam, before, after, moved] = row(one);
        let is_back = one.after.1.1 >= 1.0;
        let back = if is_back { "as high as the mean" } else { "below the mean" };
        TableRow { cam, before, after, moved, back: back.to_owned(), is_back }
    };
    Table {
        captures: (comparison.before.captures.join(", "), comparison.after.captures.join(", ")),
        outcome: comparison.outcome,
        title,
        sentence,
        cams: comparison.cylinders.iter().map(line).collect(),
        compression: None,
        differences: words::differences(&comparison.differences, &comparison.after.engine),
    }
}

/// Writes the comparison for the screen, wrapped to `width` characters.
#[must_use]
pub fn compression_text(comparison: &CompressionComparison, width: usize) -> String {
    let mut out = Lines::new(width);
    let (before, after) = (&comparison.before, &comparison.after);
    let captures = (&before.captures[..], &after.captures[..]);
    opening(&mut out, &after.engine, captures, finding(comparison), &comparison.differences);
    if !comparison.cylinders.is_empty() {
        out.push_str("\nCompression against the mean of all cylinders (95 % interval)\n");
    }
    for one in &comparison.cylinders {
        let [cylinder, before, after, moved] = row(one);
        let _ =
            writeln!(out, "  {cylinder}\n    before   {before}\n    after    {after}\n    {moved}");
    }
    findings(&mut out, &finding_of(before), &finding_of(after));
    cautions(&mut out);
    out.into_text()
}

#[derive(Serialize)]
struct File<'a> {
    format: &'static str,
    engine: &'a str,
    before: &'a [String],
    after: &'a [String],
    outcome: Outcome,
    finding_before: &'static str,
    finding_after: &'static str,
    cylinders: Vec<CylinderPart>,
    differences: Vec<String>,
    cautions: [&'static str; Caution::ALL.len()],
}

#[derive(Serialize)]
struct CylinderPart {
    cylinder: u32,
    before: f64,
    before_ci95: [f64; 2],
    after: f64,
    after_ci95: [f64; 2],
    change: f64,
    change_ci95: [f64; 2],
}

/// Writes the comparison as indented JSON.
///
/// # Panics
/// Never: plain values always serialize.
#[must_use]
pub fn compression_json(comparison: &CompressionComparison) -> String {
    let round = |value: f64| (value * 1000.0).round() / 1000.0 + 0.0;
    let both = |(low, high): (f64, f64)| [round(low), round(high)];
    let part = |one: &CylinderChange| CylinderPart {
        cylinder: one.cylinder,
        before: round(one.before.0),
        before_ci95: both(one.before.1),
        after: round(one.after.0),
        after_ci95: both(one.after.1),
        change: round(one.change.0),
        change_ci95: both((one.change.0 - one.change.1, one.change.0 + one.change.1)),
    };
    let file = File {
        format: super::FORMAT,
        engine: &comparison.after.engine.name,
        before: &comparison.before.captures,
        after: &comparison.after.captures,
        outcome: comparison.outcome,
        finding_before: comparison.before.finding.state.word(),
        finding_after: comparison.after.finding.state.word(),
        cylinders: comparison.cylinders.iter().map(part).collect(),
        differences: words::differences(&comparison.differences, &comparison.after.engine),
        cautions: words::cautions(),
    };
    serde_json::to_string_pretty(&file).expect("plain values always serialize") + "\n"
}
