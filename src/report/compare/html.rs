//! The sign-off sheet: one page to print and file with the job.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{Table, compression as alone, finding_of, table};
use crate::analysis::{Analysis, CrankingTest};
use crate::compare::{Comparison, CompressionComparison};
use crate::report::job::{Conditions, Job};
use crate::report::pictures::before_and_after;
use crate::report::words;

const STYLE: &str = include_str!("sheet.css");

/// What the file may load: its own styles, nothing else.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

/// Writes the sheet: self-contained, nothing loaded from elsewhere. Text from files is escaped by
/// the template engine.
#[must_use]
pub fn sign_off(comparison: &Comparison, job: &Job) -> String {
    let table = table(comparison);
    let (before, after) = (&comparison.before, &comparison.after);
    // A picture that cannot be drawn leaves its figures, which stand in the table.
    let picture = before_and_after(comparison).ok().flatten();
    // Within HTML an SVG needs no name space, and the sheet names no address.
    let picture = picture.map(|svg| svg.replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1));
    sheet(&Sheet {
        of: "Cam timing before and after",
        engine: &after.engine.name,
        job,
        conditions: [conditions_of(before), conditions_of(after)],
        finding: (table.title, &table.sentence),
        differences: words::differences(&comparison.differences, &after.engine),
        measured: html! {
            @if let Some(svg) = picture { div.picture { (PreEscaped(svg)) } }
            (cams(&table)) (banks(comparison)) (compression(&table))
        },
        findings: (finding_of(before), finding_of(after)),
        foot: "Degrees are crank degrees; late means retarded, early advanced. Intervals are 95 %.",
    })
}

/// Writes the sheet of two captures without the crank: compression alone.
#[must_use]
pub fn compression_sign_off(comparison: &CompressionComparison, job: &Job) -> String {
    let (title, sentence) = alone::finding(comparison);
    let (before, after) = (&comparison.before, &comparison.after);
    sheet(&Sheet {
        of: "Compression before and after",
        engine: &after.engine.name,
        job,
        conditions: [cranking_conditions(before), cranking_conditions(after)],
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
        foot: "Intervals are 95 %. The crank and the camshafts were not measured.",
    })
}

/// What the capture itself shows of how it was made.
struct Shown {
    captures: String,
    speed: String,
    state: &'static str,
}

fn conditions_of(analysis: &Analysis) -> Shown {
    let crank = &analysis.crank;
    Shown {
        captures: analysis.captures.join(", "),
        speed: format!(
            "{:.0} rpm ({:.0} to {:.0}), {} cycles",
            crank.rpm_mean.0, crank.rpm_min.0, crank.rpm_max.0, analysis.cycles
        ),
        state: crank.condition.word(),
    }
}

fn cranking_conditions(test: &CrankingTest) -> Shown {
    let main = test.main();
    Shown {
        captures: test.captures.join(", "),
        speed: format!(
            "{:.0} rpm ({:.0} to {:.0}), {} cycles",
            main.rpm.0.0, main.rpm.1.0, main.rpm.2.0, main.cycles
        ),
        state: "cranking",
    }
}

/// What a sheet says. Of two, the first is before the repair.
struct Sheet<'a> {
    of: &'static str,
    engine: &'a str,
    job: &'a Job,
    conditions: [Shown; 2],
    /// Title and sentence.
    finding: (&'a str, &'a str),
    differences: Vec<String>,
    measured: Markup,
    findings: (String, String),
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
            body { main {
                h1 { (sheet.of) }
                p.head {
                    "Engine: " (sheet.engine)
                    @for (word, text) in head(sheet.job) { span { (word) ": " (text) } }
                }
                div.finding { strong { (sheet.finding.0) } br; (sheet.finding.1) }
                (conditions(sheet))
                (differences(&sheet.differences))
                (sheet.measured)
                h2 { "Findings" }
                p { "Before: " (sheet.findings.0) }
                p { "After: " (sheet.findings.1) }
                (signed_off(sheet.job))
                h2 { "Cautions" }
                p.cautions { (words::cautions().join(" ")) }
                p { small { (sheet.foot) " Camwitness " (words::VERSION) "." } }
            } }
        }
    };
    page.into_string()
}

/// What was said of the job.
fn head(job: &Job) -> Vec<(&'static str, &str)> {
    let all = [
        ("Job", &job.number),
        ("Vehicle", &job.vehicle),
        ("Identification", &job.identification),
        ("Mileage", &job.mileage),
    ];
    all.into_iter().filter_map(|(word, text)| Some((word, text.as_deref()?))).collect()
}

/// How both captures were made; a line to write on where nobody said it.
fn conditions(sheet: &Sheet) -> Markup {
    let [before, after] = &sheet.conditions;
    let noted: [&Conditions; 2] = [&sheet.job.before, &sheet.job.after];
    let said = |text: &Option<String>| match text {
        Some(text) => html! { (text) },
        None => html! { span.blank {} },
    };
    html! {
        table.conditions {
            tr { th { "Conditions" } th { "Before" } th { "After" } }
            tr { th { "Capture" } td { (before.captures) } td { (after.captures) } }
            tr { th { "Engine" } td { (before.state) ", " (before.speed) } td { (after.state) ", " (after.speed) } }
            tr { th { "Temperature" } @for one in noted { td { (said(&one.temperature)) } } }
            tr { th { "Method" } @for one in noted { td { (said(&one.method)) } } }
        }
    }
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

/// Each cam against its fellow of another bank, before and after.
fn banks(comparison: &Comparison) -> Markup {
    let engine = &comparison.after.engine;
    let told = |analysis: &Analysis, cams: (usize, usize)| {
        let found = analysis.bank_differences.iter().find(|pair| pair.cams == cams);
        found.map_or("not measured".to_owned(), |pair| pair.difference.to_string())
    };
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for analysis in [&comparison.before, &comparison.after] {
        for pair in &analysis.bank_differences {
            if !pairs.contains(&pair.cams) {
                pairs.push(pair.cams);
            }
        }
    }
    html! {
        @if !pairs.is_empty() {
            h2 { "Bank against bank" }
            @for cams in pairs {
                p {
                    (engine.cams[cams.0].name) " against " (engine.cams[cams.1].name)
                    ": before " (told(&comparison.before, cams)) ", after " (told(&comparison.after, cams))
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

/// Room to write in.
fn signed_off(job: &Job) -> Markup {
    let joined = |parts: [&Option<String>; 2]| -> String {
        let said: Vec<&str> = parts.into_iter().flatten().map(String::as_str).collect();
        said.join(", ")
    };
    html! {
        h2 { "Signed off" }
        table.sign {
            // The head of the sheet says it where both are known.
            @if job.vehicle.is_none() || job.mileage.is_none() {
                tr { th { "Vehicle, mileage" } td { (joined([&job.vehicle, &job.mileage])) } }
            }
            @for (line, said) in [
                ("Work done", job.work.clone().unwrap_or_default()),
                ("Technician, date", joined([&job.technician, &job.date])),
                ("Signature", String::new()),
            ] {
                tr { th { (line) } td { (said) } }
            }
        }
    }
}
