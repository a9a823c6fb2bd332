//! The result for a person at a terminal: the finding, a short table per bank, what it rests on,
//! cautions.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::compression::{self, Said};
use super::numbers::counted;
use super::words::{self, between, capital, percent, repeats, teeth_alone, varying};
use super::wrap::{Lines, WIDTH, bullet, first_cell, hanging, paragraph, pieces};
use crate::analysis::Analysis;
use crate::cam::CamResult;
use crate::crank::Condition;
use crate::notice::Notice;
use crate::units::{CYCLE_DEG, CrankDelta};
use crate::verdict::{Open, State};

/// Explanations less likely than this are left to the JSON.
pub(super) const WORTH_SAYING: f64 = 0.001;
/// Most explanations printed.
pub(super) const MOST_SAID: usize = 6;
/// Room for the name of a cam.
const NAME_WIDE: usize = 12;
/// Characters that the table of cams takes; on a narrower page each cam is told in a sentence.
const TABLE_WIDE: usize = 90;

/// Writes the whole result.
#[must_use]
pub fn write(analysis: &Analysis) -> String {
    write_to_width(analysis, WIDTH)
}

/// [`write()`] wrapped to `width` characters.
#[must_use]
pub fn write_to_width(analysis: &Analysis, width: usize) -> String {
    let mut out = Lines::new(width);
    heading(&mut out, analysis);
    finding(&mut out, analysis);
    questions(&mut out, analysis);
    banks(&mut out, analysis);
    compression(&mut out, analysis);
    explanations(&mut out, analysis);
    rests_on(&mut out, analysis);
    codes(&mut out, analysis);
    controller(&mut out, analysis);
    foot(&mut out, &words::warnings(analysis));
    out.into_text()
}

/// What is to be noted, and the cautions.
pub(super) fn foot(out: &mut Lines, warnings: &[Notice]) {
    if !warnings.is_empty() {
        out.push_str("\nTake note\n");
        for warning in warnings {
            bullet(out, &format!("{}: {}", warning.about, warning.text));
        }
    }
    out.push_str("\nCautions\n");
    for caution in words::cautions() {
        bullet(out, caution);
    }
}

/// The finding alone, on a few lines.
#[must_use]
pub fn finding_alone(analysis: &Analysis) -> String {
    finding_alone_to_width(analysis, WIDTH)
}

/// [`finding_alone`] wrapped to `width` characters.
#[must_use]
pub fn finding_alone_to_width(analysis: &Analysis, width: usize) -> String {
    let mut out = Lines::new(width);
    finding(&mut out, analysis);
    out.into_text().trim_start().to_owned()
}

/// The line above "in time" where not every cam was measured.
const IN_TIME_PARTLY: &str = "IN TIME, FOR WHAT WAS RECORDED";

/// The line that stands above a finding.
#[must_use]
pub fn title(state: State) -> &'static str {
    match state {
        State::InTime => "IN TIME",
        State::Jumped => "JUMPED",
        State::DriveDue => "TIMING DRIVE DUE",
        State::OffNotJumped => "OFF, BUT NOT A JUMPED CHAIN",
        State::DoesNotFit => "THE DESCRIPTION DOES NOT FIT",
        State::CannotTell => "CANNOT TELL",
    }
}

fn heading(out: &mut Lines, analysis: &Analysis) {
    let crank = &analysis.crank;
    hanging(out, &analysis.engine.name, "Engine   ");
    hanging(out, &analysis.captures.join(", "), "Capture  ");
    let doing = match crank.condition {
        Condition::Cranking => "cranking",
        Condition::Running => "running",
        Condition::Mixed => "cranking and running",
    };
    let _ = writeln!(
        out,
        "         {doing} at {:.0} rpm ({:.0} to {:.0}), {}; {:.1} s used, {:.1} s left out",
        crank.rpm_mean.0,
        crank.rpm_min.0,
        crank.rpm_max.0,
        counted(analysis.cycles, "whole cycle", "whole cycles"),
        analysis.seconds_used.0,
        analysis.seconds_dropped.0,
    );
}

fn finding(out: &mut Lines, analysis: &Analysis) {
    let verdict = &analysis.verdict;
    let title = match verdict.state {
        State::InTime if !verdict.covers_every_cam => IN_TIME_PARTLY,
        state => title(state),
    };
    let _ = writeln!(out, "\n{title}");
    paragraph(out, &words::finding(&analysis.engine, verdict), "  ");
    if let Some(clause) = words::clause_of(analysis) {
        paragraph(out, &clause, "  ");
    }
    if let Some(next) = words::next(&analysis.engine, verdict) {
        paragraph(out, &format!("Measure next: {next}"), "  ");
    }
}

fn questions(out: &mut Lines, analysis: &Analysis) {
    let answered = words::told_once(words::questions(&analysis.engine, &analysis.verdict));
    if answered.is_empty() {
        return;
    }
    out.push_str("\nWhat is asked\n");
    for one in answered {
        let odds = percent(one.probability);
        let told = format!("{} {}. {}", one.question, one.answer, one.why);
        hanging(out, &told, &format!("  {odds:>8}  "));
    }
}

fn banks(out: &mut Lines, analysis: &Analysis) {
    let banks: BTreeSet<u32> = analysis.engine.cams.iter().map(|cam| cam.bank).collect();
    for bank in banks {
        let of_bank: Vec<&CamResult> = analysis
            .cams
            .iter()
            .filter(|cam| analysis.engine.cams[cam.measured.cam].bank == bank)
            .collect();
        let _ = writeln!(out, "\nBank {bank}");
        if !of_bank.is_empty() && out.width() >= TABLE_WIDE {
            let _ = writeln!(
                out,
                "  {:<NAME_WIDE$} {:>7} {:>7} {:<12} {:<24} {}",
                "cam",
                "stands",
                "should",
                "off",
                "95 % sure between",
                if of_bank.iter().all(|cam| cam.by_links) { "teeth = links" } else { "teeth" }
            );
        }
        for cam in of_bank {
            cam_line(out, analysis, cam);
        }
        for &cam in &analysis.unmeasured {
            let described = &analysis.engine.cams[cam];
            if described.bank == bank {
                let why = if analysis.has_lead(cam) {
                    "its wheel was not found on its lead"
                } else {
                    "no lead"
                };
                let name = first_cell(out, &described.name, "  ", NAME_WIDE);
                let _ = writeln!(out, "{name} not measured: {why}");
            }
        }
    }
    if !analysis.bank_differences.is_empty() {
        out.push_str("\nBank against bank\n");
    }
    for pair in &analysis.bank_differences {
        let (first, second) =
            (&analysis.engine.cams[pair.cams.0], &analysis.engine.cams[pair.cams.1]);
        let low = pair.difference - pair.half_width95;
        let high = pair.difference + pair.half_width95;
        let text = format!(
            "{} against {}: {} (95 % sure between {})",
            first.name,
            second.name,
            pair.difference,
            between(low, high)
        );
        hanging(out, &text, "  ");
    }
}

fn cam_line(out: &mut Lines, analysis: &Analysis, cam: &CamResult) {
    let described = &analysis.engine.cams[cam.measured.cam];
    let should =
        cam.expected.map_or("unknown".into(), |expected| format!("{:.1}°", expected.at.get()));
    let off = cam.deviation().map_or("unknown".into(), |deviation| deviation.to_string());
    let sure = cam.ci95().map_or_else(
        || format!("± {:.1}°", cam.measured.half_width95.0),
        |(low, high)| between(low, high),
    );
    if out.width() < TABLE_WIDE {
        let text = format!(
            "{}: {off}. Stands at {:.1}°, should be {should}; 95 % sure {sure}; teeth: {}",
            described.name,
            cam.measured.position.get(),
            words::teeth(cam)
        );
        return hanging(out, &text, "  ");
    }
    let name = first_cell(out, &described.name, "  ", NAME_WIDE);
    let _ = writeln!(
        out,
        "{name} {:>7} {:>7} {:<12} {:<24} {}",
        format!("{:.1}°", cam.measured.position.get()),
        should,
        off,
        sure,
        teeth_alone(cam)
    );
}

fn compression(out: &mut Lines, analysis: &Analysis) {
    let Some((title, said)) = compression::said(analysis) else { return };
    let _ = writeln!(out, "\n{title}");
    for one in said {
        match one {
            Said::Row(start, list) => pieces(out, &list, &format!("  {start}")),
            Said::Paragraph(text) => paragraph(out, &text, "  "),
        }
    }
}

fn explanations(out: &mut Lines, analysis: &Analysis) {
    let said: Vec<_> = analysis
        .verdict
        .explanations
        .iter()
        .filter(|weighed| weighed.probability >= WORTH_SAYING)
        .take(MOST_SAID)
        .collect();
    // Without a cam the odds are the priors and say nothing of this engine; nor do odds that rest
    // on an assumption.
    let assumed = matches!(analysis.verdict.open, Some(Open::Assumed { .. }));
    if said.is_empty() || analysis.cams.is_empty() || assumed {
        return;
    }
    out.push_str("\nHow likely each explanation is\n");
    for weighed in said {
        let odds = percent(weighed.probability);
        let name = capital(&words::explanation(&analysis.engine, weighed));
        hanging(out, &format!("{name}."), &format!("  {odds:>7}  "));
        paragraph(out, &words::why(&analysis.engine, weighed), &" ".repeat(11));
    }
}

fn rests_on(out: &mut Lines, analysis: &Analysis) {
    out.push_str("\nWhat this rests on\n");
    let crank = &analysis.crank;
    bullet(
        out,
        &format!(
            "Crank lead \"{}\" read as {}: {} teeth, {} missed, {} extra; the slots are identified with odds of {}.",
            analysis.crank_lead,
            analysis.engine.crank.wheel.name(),
            crank.teeth_seen,
            crank.missed,
            crank.extra,
            percent(crank.confidence)
        ),
    );
    let own = crank.angle.known_modulo();
    if own.0 < 360.0 {
        bullet(
            out,
            &format!(
                "The crank wheel looks the same every {:.0}°: alone it gives the crank angle only up to a multiple of that.",
                own.0
            ),
        );
    }
    if analysis.known_modulo.0 < CYCLE_DEG && !analysis.cams.is_empty() {
        bullet(
            out,
            &format!(
                "Which pass of the crank mark is which is not settled by the cams measured: a place is known only up to a \
                 multiple of {:.0}°.",
                analysis.known_modulo.0
            ),
        );
    }
    for cam in &analysis.cams {
        cam_basis(out, analysis, cam);
    }
    bullet(
        out,
        "Degrees are crank degrees. Late means retarded, early means advanced. Beside whole teeth stands what is left over.",
    );
}

fn cam_basis(out: &mut Lines, analysis: &Analysis, cam: &CamResult) {
    let described = &analysis.engine.cams[cam.measured.cam];
    let mut line = format!(
        "{} on lead \"{}\": {}",
        described.name,
        cam.measured.lead,
        counted(cam.measured.cycles.len(), "cycle", "cycles")
    );
    if let Some(sd) = cam.measured.cycle_sd {
        let _ = write!(line, ", {} from cycle to cycle", varying(sd));
    }
    match cam.expected.map(|expected| (expected.from, expected.sd)) {
        Some((from, sd)) => {
            let source = words::place_source(&analysis.engine, cam.measured.cam, from);
            let known = sd.map_or("accuracy not stated".into(), |sd| {
                format!("known to about ± {:.1}°", 2.0 * sd.0)
            });
            let _ = write!(line, "; expected place {source}, {known}");
        }
        None => line.push_str("; no expected place known"),
    }
    if cam.known_modulo < CrankDelta(CYCLE_DEG) {
        let _ = write!(line, "; {}", repeats(cam));
    }
    line.push('.');
    bullet(out, &line);
}

fn codes(out: &mut Lines, analysis: &Analysis) {
    if analysis.verdict.codes.is_empty() {
        return;
    }
    out.push_str("\nStored codes\n");
    for answer in &analysis.verdict.codes {
        let state = words::code_state(answer);
        bullet(out, &format!("{} {state}. {}", answer.code, words::code(answer)));
    }
    if let Some(accused) = words::accused(&analysis.verdict) {
        bullet(out, &accused);
    }
}

fn controller(out: &mut Lines, analysis: &Analysis) {
    let said = words::controller(&analysis.engine, &analysis.verdict);
    if !said.is_empty() {
        out.push_str("\nTyped in beside the captures\n");
    }
    for one in said {
        bullet(out, &one);
    }
}
