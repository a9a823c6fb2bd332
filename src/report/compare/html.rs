//! The sign-off sheet: one page to print and file with the job.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{Table, compression as alone, finding_of, table};
use crate::compare::{Compared, Comparison, CompressionComparison};
use crate::report::words;

const STYLE: &str = "body{font:15px/1.4 sans-serif;max-width:46em;margin:2em auto;padding:0 1em;color:#111}\
table{border-collapse:collapse;width:100%}th,td{border:1px solid #888;padding:.35em .5em;text-align:left;vertical-align:top}\
td,th,p,.finding{overflow-wrap:anywhere}tr,li{break-inside:avoid}\
h1{font-size:1.3em}h2{font-size:1.05em;margin-top:1.6em;break-after:avoid}.finding{border:2px solid #111;padding:.6em 1em}\
.off{font-weight:bold}.sign th{width:30%}.sign td{height:2.6em}small,li{font-size:.9em}";

/// What the file may load: its own styles, nothing else.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

/// What stands on the lines at the foot of a sheet; an empty one is left to write on.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SignOff {
    /// Job number, vehicle, mileage.
    pub vehicle: String,
    /// Work done.
    pub work: String,
    /// Technician and date.
    pub technician: String,
}

/// Writes the sheet: self-contained, nothing loaded from elsewhere. Text from files is escaped by
/// the template engine.
#[must_use]
pub fn sign_off(comparison: &Comparison) -> String {
    sign_off_for(comparison, &SignOff::default())
}

/// The same, with lines filled in.
fn sign_off_for(comparison: &Comparison, signed: &SignOff) -> String {
    let table = table(comparison);
    let (before, after) = (&comparison.before, &comparison.after);
    sheet(&Sheet {
        of: "Cam timing before and after",
        engine: &after.engine.name,
        captures: (&before.captures[..], &after.captures[..]),
        finding: (table.title, &table.sentence),
        differences: words::differences(&comparison.differences, &after.engine),
        measured: html! { (cams(&table)) (compression(&table)) },
        findings: (finding_of(before), finding_of(after)),
        signed,
        foot: "Degrees are crank degrees; late means retarded, early advanced. Intervals are 95 %.",
    })
}

/// Writes the sheet of two captures without the crank: compression alone.
#[must_use]
pub fn compression_sign_off(comparison: &CompressionComparison) -> String {
    compression_sign_off_for(comparison, &SignOff::default())
}

/// The same, with lines filled in.
fn compression_sign_off_for(comparison: &CompressionComparison, signed: &SignOff) -> String {
    let (title, sentence) = alone::finding(comparison);
    let (before, after) = (&comparison.before, &comparison.after);
    sheet(&Sheet {
        of: "Compression before and after",
        engine: &after.engine.name,
        captures: (&before.captures[..], &after.captures[..]),
        finding: (title, &sentence),
        differences: words::differences(&comparison.differences, &after.engine),
        measured: html! {
            h2 { "Cylinders, against the mean of all" }
            table {
                tr { th { "Cylinder" } th { "Before" } th { "After" } th { "Change" } }
                @for one in &comparison.cylinders {
                    tr { @for cell in alone::row(one) { td { (cell) } } }
                }
            }
        },
        findings: (alone::finding_of(before), alone::finding_of(after)),
        signed,
        foot: "Intervals are 95 %. The crank and the camshafts were not measured.",
    })
}

/// The sheet with the job's own lines on it.
#[must_use]
pub fn compared_sheet_for(compared: &Compared, signed: &SignOff) -> String {
    match compared {
        Compared::Timing(comparison) => sign_off_for(comparison, signed),
        Compared::Compression(comparison) => compression_sign_off_for(comparison, signed),
    }
}

/// What a sheet says. Of two, the first is before the repair.
struct Sheet<'a> {
    of: &'static str,
    engine: &'a str,
    captures: (&'a [String], &'a [String]),
    /// Title and sentence.
    finding: (&'a str, &'a str),
    differences: Vec<String>,
    measured: Markup,
    findings: (String, String),
    signed: &'a SignOff,
    foot: &'static str,
}

fn sheet(sheet: &Sheet) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width";
                title { (sheet.of) ": " (sheet.engine) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                h1 { (sheet.of) }
                p {
                    "Engine: " (sheet.engine) br;
                    "Before: " (sheet.captures.0.join(", ")) br;
                    "After: " (sheet.captures.1.join(", "))
                }
                div.finding { strong { (sheet.finding.0) } br; (sheet.finding.1) }
                (differences(&sheet.differences))
                (sheet.measured)
                h2 { "Findings" }
                p { "Before: " (sheet.findings.0) }
                p { "After: " (sheet.findings.1) }
                (signed_off(sheet.signed))
                h2 { "Cautions" }
                ul { @for caution in words::cautions() { li { (caution) } } }
                p { small { (sheet.foot) } }
            }
        }
    };
    page.into_string()
}

fn differences(differences: &[String]) -> Markup {
    html! {
        @if !differences.is_empty() {
            h2 { "The two captures differ" }
            ul { @for difference in differences { li { (difference) } } }
        }
    }
}

fn cams(table: &Table) -> Markup {
    html! {
        h2 { "Cams" }
        table {
            tr { th { "Cam" } th { "Before" } th { "After" } th { "Moved" } th { "Back in tolerance?" } }
            @for cam in &table.cams {
                tr {
                    td { (cam.cam) }
                    td { (cam.before) }
                    td { (cam.after) }
                    td { (cam.moved) }
                    td.off[!cam.is_back] { (cam.back) }
                }
            }
        }
    }
}

fn compression(table: &Table) -> Markup {
    html! {
        @if let Some([before, after, words]) = &table.compression {
            h2 { "Compression, bank against bank, relative" }
            p { "Before: " (before) br; "After: " (after) br; (words) }
        }
    }
}

/// Room to write in, and what is known.
fn signed_off(signed: &SignOff) -> Markup {
    html! {
        h2 { "Signed off" }
        table.sign {
            @for (line, text) in [("Vehicle, mileage", &signed.vehicle), ("Work done", &signed.work), ("Technician, date", &signed.technician)] {
                tr { th scope="row" { (line) } td { (text) } }
            }
        }
    }
}
