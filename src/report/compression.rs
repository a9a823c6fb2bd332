//! Relative compression in words, for the terminal.

use super::numbers::counted;
use crate::analysis::Analysis;
use crate::compression::{
    Compression, CompressionOutcome, CylinderResult, NamedBy, PressureResult, TdcCheck,
    ValveEventKind,
};
use crate::engine::Engine;
use crate::units::CrankDelta;
use crate::verdict::{Agreement, CompressionJudgement};

/// One line, or a paragraph to be wrapped.
pub(super) enum Said {
    /// What the line begins with, and pieces that follow it, none of them broken.
    Row(String, Vec<String>),
    /// Wrapped to the width of the text.
    Paragraph(String),
}

/// Title and content; `None` when there is nothing of the kind in the captures.
pub(super) fn said(analysis: &Analysis) -> Option<(String, Vec<Said>)> {
    said_of(&analysis.engine, &analysis.compression, analysis.verdict.compression.as_ref())
}

/// The same of an outcome.
pub(super) fn said_of(
    engine: &Engine,
    outcome: &CompressionOutcome,
    judgement: Option<&CompressionJudgement>,
) -> Option<(String, Vec<Said>)> {
    let mut said = Vec::new();
    let title = match &outcome.measured {
        Some(measured) => {
            table(&mut said, engine, measured);
            said.extend(raw(measured).map(Said::Paragraph));
            said.push(Said::Paragraph(basis(outcome, measured)));
            format!("Compression, relative, from {}", source_words(measured))
        }
        None => {
            let (source, reason) = outcome.withheld.first()?;
            let source = source.word().replace('-', " ");
            said.push(Said::Paragraph(format!("Not judged from {source}: {reason}.")));
            "Compression".to_owned()
        }
    };
    if let Some(judgement) = judgement {
        said.push(Said::Paragraph(agreement(judgement)));
    }
    if let Some(text) = outcome.tdc.as_ref().and_then(tdc) {
        said.push(Said::Paragraph(text));
    }
    said.extend(outcome.pressure.iter().flat_map(pressure).map(Said::Paragraph));
    if outcome.measured.is_some() {
        let limit = "Relative only: it cannot show all cylinders down alike.";
        said.push(Said::Paragraph(limit.into()));
    }
    Some((title, said))
}

fn source_words(measured: &Compression) -> String {
    measured.source.word().replace('-', " ")
}

fn table(said: &mut Vec<Said>, engine: &Engine, measured: &Compression) {
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let half = |(low, high): (f64, f64)| format!("± {:.0} %", (high - low) * 50.0);
    let by_bank = by_bank(measured);
    let list = |members: Vec<&CylinderResult>, open: &str, close: &str| -> Vec<String> {
        let last = members.len().saturating_sub(1);
        let mut pieces = Vec::new();
        for (index, one) in members.into_iter().enumerate() {
            let (open, close) =
                (if index == 0 { open } else { "" }, if index == last { close } else { "," });
            let (share, half) = (percent(one.relative), half(one.ci95));
            pieces.push(format!("{open}{} {share} {half}{close}", name(one)));
        }
        pieces
    };
    if let Some(order) = from_the_trigger(engine, measured) {
        let first = order.first().map_or_else(String::new, |one| name(one));
        said.push(Said::Row(
            format!("In the order of firing from {first}: "),
            list(order, "", "."),
        ));
    }
    for bank in measured.banks.iter().filter(|_| by_bank) {
        let members = measured.cylinders.iter().filter(|one| one.bank == Some(bank.bank));
        let start =
            format!("bank {}  {} {}   ", bank.bank, percent(bank.relative), half(bank.ci95));
        said.push(Said::Row(start, list(members.collect(), "(", ")")));
    }
    if !by_bank && from_the_trigger(engine, measured).is_none() {
        let members = measured.cylinders.iter().collect();
        said.push(Said::Row("In the order of firing: ".into(), list(members, "", ".")));
    }
    if let Some(difference) = &measured.bank_difference {
        let low = format!(
            "{:.1} % (95 % sure between {:.1} and {:.1} %); {} of its {} cylinders agree",
            -difference.relative * 100.0,
            -difference.ci95.1 * 100.0,
            -difference.ci95.0 * 100.0,
            difference.beyond_noise,
            difference.of
        );
        let lead = match difference.low_bank {
            Some(bank) => format!("Bank {bank} is lower by {low}"),
            None if difference.stands_out => format!("One bank is lower by {low}"),
            None => "The banks are alike within what can be measured here".into(),
        };
        let unknown = if difference.bank.is_none() { BANK_UNKNOWN } else { "" };
        said.push(Said::Paragraph(format!("{lead}.{unknown}")));
    }
}

/// From this far below the mean on a cylinder's raw peak is told beside its compression.
const RAW_IS_TOLD: f64 = 0.08;

/// What the raw peaks would have made of the lowest cylinder: they hold friction, inertia and the
/// starter's own answer.
fn raw(measured: &Compression) -> Option<String> {
    let lowest = measured.cylinders.iter().min_by(|a, b| a.relative.total_cmp(&b.relative))?;
    let (below, raw) = (1.0 - lowest.relative, 1.0 - lowest.raw);
    (below > RAW_IS_TOLD).then(|| {
        format!(
            "Raw peaks, for comparison: that of {} is {:.0} % below the mean of all, its compression {:.0} %. The rest is friction, \
             inertia and the starter's answer; a raw peak alone misleads.",
            name(lowest),
            raw * 100.0,
            below * 100.0
        )
    })
}

/// Said where the banks were compared by the firing order alone.
const BANK_UNKNOWN: &str = " Which bank a peak belongs to is not known: the peaks of one bank are told from those of the \
                            other by the firing order alone.";

/// The cylinders in the order of firing from the one whose coil, injector or pressure named them;
/// `None` where another thing did.
fn from_the_trigger<'a>(
    engine: &Engine,
    measured: &'a Compression,
) -> Option<Vec<&'a CylinderResult>> {
    let from = match measured.named_by {
        NamedBy::Ignition { cylinder, waste_spark: false }
        | NamedBy::Injector { cylinder, every_turn: false }
        | NamedBy::Pressure { cylinder } => cylinder,
        _ => return None,
    };
    let first = engine.firing_order.iter().position(|&cylinder| cylinder == from)?;
    let order = engine.firing_order.iter().cycle().skip(first).take(engine.firing_order.len());
    order
        .map(|&number| measured.cylinders.iter().find(|one| one.cylinder == Some(number)))
        .collect()
}

/// Whether banks say more than the cylinders in the order of firing: an engine with one bank is its
/// own mean.
fn by_bank(measured: &Compression) -> bool {
    measured.banks.len() > 1
}

/// Name of a cylinder, or the number of the peak where the cylinder is not known.
fn name(one: &CylinderResult) -> String {
    one.cylinder.map_or(format!("peak {}", one.peak), |number| format!("cyl {number}"))
}

/// The difference between banks in a few words, without interval; with one bank, whether cylinders
/// are known.
#[cfg(feature = "report")]
pub(super) fn banks_in_short(measured: &Compression) -> String {
    let Some(difference) = &measured.bank_difference else {
        return match measured.named_by {
            NamedBy::Nothing => {
                "Which cylinder is which is not known; peaks are numbered as they come".into()
            }
            _ => String::new(),
        };
    };
    let low = format!(
        "is lower by {:.1} %; {} of its {} cylinders agree",
        difference.relative.abs() * 100.0,
        difference.beyond_noise,
        difference.of
    );
    match difference.low_bank {
        Some(bank) => format!("Bank {bank} {low}"),
        None if difference.stands_out => {
            format!("One bank {low}. Which bank a peak belongs to is not known")
        }
        None if difference.bank.is_none() => {
            "The banks are alike within what can be measured here. Which bank a peak belongs to is not known"
                .into()
        }
        None => "The banks are alike within what can be measured here".into(),
    }
}

/// What gave the compressions their names, and which cycles were used.
fn basis(outcome: &CompressionOutcome, measured: &Compression) -> String {
    let named = match measured.named_by {
        NamedBy::Phase => {
            "Cylinders named by TDC of the engine file and the phase of the cams".to_owned()
        }
        NamedBy::FiringPattern => "Cylinders named by the uneven firing".to_owned(),
        NamedBy::Ignition { cylinder, waste_spark: false } => {
            format!("Cylinders named by the ignition lead of cylinder {cylinder}")
        }
        NamedBy::Ignition { cylinder, waste_spark: true } => format!(
            "The ignition of cylinder {cylinder} sparks every turn (waste spark): it names that cylinder or its companion"
        ),
        NamedBy::Injector { cylinder, every_turn: false } => format!(
            "Cylinders named by the injector lead of cylinder {cylinder}, taken to open near its top dead centre of \
             compression, as on diesels"
        ),
        NamedBy::Injector { cylinder, every_turn: true } => format!(
            "The injector of cylinder {cylinder} opens every turn: it names that cylinder or its companion"
        ),
        NamedBy::Pressure { cylinder } => {
            format!("Cylinders named by the pressure lead of cylinder {cylinder}")
        }
        NamedBy::Nothing => {
            "Which cylinder is which is not known; peaks are numbered as they come. A lead on the ignition of one \
             cylinder would name them".to_owned()
        }
    };
    let steady = outcome.steady;
    let left_out = measured.cycles_odd + steady.map_or(0, |s| s.before + s.fired + s.after);
    let fired = match steady.map_or(0, |steady| steady.fired) {
        0 => String::new(),
        n => format!(", {n} of them with the engine firing"),
    };
    let used = counted(measured.cycles_used, "cycle", "cycles");
    format!("{named}. {used} used, {left_out} left out{fired}.")
}

fn agreement(judgement: &CompressionJudgement) -> String {
    let expected = |share: f64| format!("{:.0} %", share.abs() * 100.0);
    match (judgement.agreement, judgement.expected) {
        (Agreement::Agrees, Some(share)) => format!(
            "This agrees with the cams: standing where they are measured they should leave about {} between the banks.",
            expected(share)
        ),
        (Agreement::Contradicts, Some(share)) => format!(
            "This contradicts the cams: if they really stood where they are measured, the banks should differ by about {}. \
             A sensor wheel may have moved instead.",
            expected(share)
        ),
        (Agreement::OtherCause, _) => {
            "A bank is down that no measured cam explains: valves, rings or a cam without a lead.".into()
        }
        _ if judgement.all_banks_alike => {
            "Both banks' cams are off alike: then relative compression stays even and says nothing of it.".into()
        }
        (_, Some(share)) if share.abs() < LEAST_TOLD => {
            "As evidence about the cams this is silent: standing where they are measured they should leave no difference.".into()
        }
        (_, Some(share)) => format!(
            "As evidence about the cams this is silent: they should leave about {} between the banks, which is too near to what sound \
             banks differ by.",
            expected(share)
        ),
        (_, None) => {
            "What the cams should make of it cannot be reckoned where they are not measured on each bank by name; a shift that is \
             supposed is held against it all the same."
                .into()
        }
    }
}

/// A difference that is said to be none: half of what sound banks differ by.
const LEAST_TOLD: f64 = 0.01;

fn tdc(check: &TdcCheck) -> Option<String> {
    let off = check.off?;
    Some(if check.has_moved() {
        format!(
            "The engine's own motion puts TDC {off} of where the engine file has it (± {:.0}°): the crank wheel or its key may have \
             moved, or `tdc` is wrong.",
            2.0 * check.sd.0
        )
    } else {
        format!(
            "TDC by the engine's motion agrees with the engine file within {:.0}°.",
            2.0 * check.sd.0
        )
    })
}

fn pressure(result: &PressureResult) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(off) = result.tdc_off {
        let word = if off.word().is_empty() { "at".to_owned() } else { format!("{off} against") };
        said.push(format!(
            "Pressure in cylinder {}: over {} its peak puts TDC {word} the engine file's. That counts in the odds.",
            result.cylinder,
            counted(result.cycles, "cycle", "cycles")
        ));
    }
    for event in &result.events {
        let name = match event.kind {
            ValveEventKind::IntakeCloses => "intake closes",
            ValveEventKind::ExhaustOpens => "exhaust opens",
        };
        let against = event
            .off
            .map_or_else(String::new, |off: CrankDelta| format!(", {off} against the engine file"));
        said.push(format!(
            "Cylinder {} {name} {:.0}° after its firing TDC{against} ({}).",
            result.cylinder,
            event.at.get(),
            counted(event.cycles, "cycle", "cycles")
        ));
    }
    said
}
