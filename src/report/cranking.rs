//! The result of captures without a crank lead, for a person at a terminal.

use std::fmt::Write as _;

use super::compression::{Said, said_of};
use super::numbers::counted;
use super::text::foot;
use super::words;
use super::wrap::{Lines, bullet, hanging, paragraph, pieces};
use crate::analysis::{Attempt, CoarseCam, CrankingTest};
use crate::angle::AngleFrom;

/// Writes the whole result, wrapped to `width` characters.
#[must_use]
pub fn write(test: &CrankingTest, width: usize) -> String {
    let mut out = Lines::new(width);
    heading(&mut out, test);
    finding(&mut out, test);
    if let Some((title, said)) = said_of(&test.engine, &test.main().compression, None) {
        let _ = writeln!(out, "\n{title}");
        for one in said {
            match one {
                Said::Row(start, list) => pieces(&mut out, &list, &format!("  {start}")),
                Said::Paragraph(text) => paragraph(&mut out, &text, "  "),
            }
        }
    }
    out.push_str("\nWhat this rests on\n");
    for line in basis(test) {
        bullet(&mut out, &line);
    }
    foot(&mut out, &test.warnings);
    out.into_text()
}

/// The finding alone, on a few lines.
#[must_use]
pub fn finding_alone(test: &CrankingTest, width: usize) -> String {
    let mut out = Lines::new(width);
    finding(&mut out, test);
    out.trim_start().to_owned()
}

fn heading(out: &mut Lines, test: &CrankingTest) {
    let main = test.main();
    hanging(out, &test.engine.name, "Engine   ");
    hanging(out, &test.captures.join(", "), "Capture  ");
    let _ = writeln!(
        out,
        "         cranking at {:.0} rpm ({:.0} to {:.0}), {}, {:.1} to {:.1} s; the crank was not recorded",
        main.rpm.0.0,
        main.rpm.1.0,
        main.rpm.2.0,
        counted(main.cycles, "whole cycle", "whole cycles"),
        main.span.0.0,
        main.span.1.0,
    );
}

fn finding(out: &mut Lines, test: &CrankingTest) {
    let measured = test.main().compression.measured.as_ref();
    let _ = writeln!(out, "\n{}", words::compression_title(&test.finding));
    paragraph(out, &words::compression_finding(&test.engine, measured, &test.finding), "  ");
    if let Some(next) = words::compression_next(&test.engine, measured, &test.finding) {
        paragraph(out, &format!("Measure next: {next}."), "  ");
    }
}

/// Where the angle is from, what it is worth, and the attempts.
pub(super) fn basis(test: &CrankingTest) -> Vec<String> {
    let main = test.main();
    let mut lines = vec![angle(main)];
    if test.attempts.len() > 1 {
        lines.push(attempts(test));
    }
    if main.cams.is_empty() {
        lines.push(
            "Without the crank sensor no camshaft can be placed: this is compression alone, and says nothing of timing by itself."
                .into(),
        );
    }
    lines.extend(main.cams.iter().map(|cam| coarse(test, cam)));
    lines
}

/// A cam without a crank, with what such a figure is good for.
fn coarse(test: &CrankingTest, cam: &CoarseCam) -> String {
    let name = &test.engine.cams[cam.cam].name;
    let half = cam.half_width95.0;
    let stands = if cam.stands_off() {
        let side = if cam.deviation.0 > 0.0 { "late" } else { "early" };
        format!("stands about {:.0}° {side}, ± {half:.0}°", cam.deviation.0.abs())
    } else {
        format!("stands where it should to within ± {half:.0}°")
    };
    format!(
        "{name} (column \"{}\") {stands}: counted from the compressions, because the crank was not recorded. That is too coarse to \
         tell one tooth. Record it together with the crank sensor.",
        cam.lead
    )
}

fn angle(main: &Attempt) -> String {
    let sd = main.found.sd.0;
    let from = match main.found.from {
        AngleFrom::Ignition(cylinder) => {
            format!("the coil of cylinder {cylinder}, and between its sparks from the compressions")
        }
        AngleFrom::Injector(cylinder) => {
            format!(
                "the injector of cylinder {cylinder}, and between its pulses from the compressions"
            )
        }
        AngleFrom::Pressure(cylinder) => {
            format!(
                "the peaks of the pressure in cylinder {cylinder}, and between them from the compressions"
            )
        }
        AngleFrom::Current => "the compressions in the starter's current alone".to_owned(),
        AngleFrom::Battery => "the compressions in the battery's voltage alone".to_owned(),
        AngleFrom::Crank => "the crank's wheel".to_owned(),
    };
    let mut line = format!("Crank angle from {from}: good to about ± {:.0}°.", 2.0 * sd);
    if let Some(strikes) = &main.found.strikes {
        let each = if strikes.every_turn { "every turn" } else { "every cycle" };
        let _ = write!(
            line,
            " {} {each}, {} missed, {} that do not fit.",
            counted(strikes.at.len(), "mark", "marks"),
            strikes.missed,
            strikes.extra
        );
        if strikes.in_bursts > 0 {
            let _ = write!(
                line,
                " It strikes several times while cranking; the first of each is taken."
            );
        }
    }
    line
}

fn attempts(test: &CrankingTest) -> String {
    let list: Vec<String> = test
        .attempts
        .iter()
        .enumerate()
        .map(|(index, attempt)| {
            let used = match &attempt.compression.measured {
                Some(measured) => counted(measured.cycles_used, "cycle used", "cycles used"),
                None => "not usable".into(),
            };
            let file = if test.captures.len() > 1 {
                format!(" of {}", test.captures[attempt.capture])
            } else {
                String::new()
            };
            let taken = if index == test.chosen { ", taken" } else { "" };
            format!("{:.1} to {:.1} s{file} ({used}{taken})", attempt.span.0.0, attempt.span.1.0)
        })
        .collect();
    let agree = match test.agreement() {
        Some(apart) => format!(
            " Where they can be compared their cylinders differ by {:.0} % at most.",
            apart * 100.0
        ),
        None => String::new(),
    };
    format!(
        "The engine was cranked {} times: {}.{agree} Another one is taken by giving the first and the last second to use.",
        test.attempts.len(),
        list.join("; ")
    )
}
