//! An engine that has no file: what the capture shows and the user knows, made into a description
//! of the moment.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::Failure;
use crate::analysis::{Analysis, Options, analyse};
use crate::capture::Capture;
use crate::compression::Compression;
use crate::known::quoted;
use crate::leads::LeadRequest;
use crate::look::{
    Facts, Look, TdcProposal, Undescribable, Undescribed, common_layouts, read_banks, read_firing,
};
use crate::report::hanging_lines;
use crate::verdict::Open;
use crate::wheel::{EdgeKind, WheelSource};

/// What is known of an engine without a file.
#[derive(Debug, Clone, Args)]
pub struct FactArgs {
    /// Without an engine file: cylinders in firing order, such as 1-6-5-4-3-2
    #[arg(long, value_name = "ORDER", value_parser = read_firing)]
    firing: Option<Order>,
    /// Without an engine file: cylinders of bank 1, a slash, those of bank 2, such as 1-2-3/4-5-6
    #[arg(long, value_name = "BANKS", value_parser = read_banks)]
    banks: Option<Banks>,
    /// Without an engine file: the crank's wheel, a name from `wheels`, notation such as 60-2, or a
    /// wheel file
    #[arg(long, value_name = "WHEEL")]
    wheel: Option<String>,
    /// Without an engine file: the electrical edge that marks the crank's teeth, falling or rising
    #[arg(long, value_name = "EDGE", value_enum, hide_possible_values = true)]
    edge: Option<EdgeArg>,
}

// By these names the command line takes each as one value, and not as a list of values.
type Order = Vec<u32>;
type Banks = BTreeMap<u32, Vec<u32>>;

/// Words of `--edge`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum EdgeArg {
    /// Falling
    Falling,
    /// Rising
    Rising,
}

impl FactArgs {
    /// Whether nothing is said.
    pub(super) fn is_empty(&self) -> bool {
        self.firing.is_none() && self.banks.is_none() && self.wheel.is_none() && self.edge.is_none()
    }

    /// The wheel file it names, if it names one.
    pub(super) fn wheel_file(&self) -> Option<PathBuf> {
        WheelSource::Named(self.wheel.clone()?).path(None)
    }

    /// What is known, checked.
    ///
    /// # Errors
    /// A wheel that is not there, or banks that do not go with the firing order.
    pub(super) fn facts(&self) -> Result<Facts, Failure> {
        let wheel = match &self.wheel {
            Some(name) => {
                let wheel = WheelSource::Named(name.clone()).resolve(None, "--wheel", "")?;
                let whole = self.wheel_file().and_then(|path| path.canonicalize().ok());
                let value = whole.map_or_else(|| name.clone(), |path| path.display().to_string());
                Some((wheel, quoted(&value)))
            }
            None => None,
        };
        if let Some(banks) = &self.banks {
            let Some(firing) = &self.firing else {
                return Err(Failure(
                    "--banks names cylinders, and their firing order is not known. Give --firing as well".into(),
                ));
            };
            let mut named: Vec<u32> = banks.values().flatten().copied().collect();
            let mut all = firing.clone();
            named.sort_unstable();
            all.sort_unstable();
            if named != all {
                return Err(Failure(
                    "--banks and --firing do not name the same cylinders. Give each cylinder one bank".into(),
                ));
            }
        }
        let edge = self.edge.map(|edge| match edge {
            EdgeArg::Falling => EdgeKind::Falling,
            EdgeArg::Rising => EdgeKind::Rising,
        });
        Ok(Facts { firing: self.firing.clone(), banks: self.banks.clone(), wheel, edge, tdc: None })
    }
}

/// Looks at a capture, with the wheel that was named where one was.
pub(super) fn look_with(
    capture: &Capture,
    requests: &[LeadRequest],
    facts: &Facts,
) -> Result<Look, Failure> {
    crate::look::look_with(capture, requests, facts).map_err(|error| told(&capture.source, error))
}

/// Describes the engine of a capture.
///
/// # Errors
/// The crank's wheel is not sure, or the number of cylinders.
pub(super) fn describe(
    capture: &Capture,
    requests: &[LeadRequest],
    facts: &Facts,
) -> Result<Undescribed, Failure> {
    crate::look::describe(capture, requests, facts).map_err(|error| told(&capture.source, error))
}

/// Why nothing is described, with the options that would mend it.
fn told(source: &str, error: Undescribable) -> Failure {
    match error {
        Undescribable::WheelGiven(why) => Failure(format!("{source}: {why}")),
        Undescribable::NoWheel(doubt) => Failure(format!(
            "{source}: without an engine file the crank's wheel has to be seen, and {doubt}. Name it with --wheel, and the crank's column \
             with --lead crank=COLUMN; `camwitness look` tells more"
        )),
        Undescribable::NoCylinders => Failure(format!(
            "{source}: how many cylinders the engine has is not seen in its speed. Give its firing order: --firing {}",
            layouts(None).join(", or --firing ")
        )),
        Undescribable::Engine(error) => error.into(),
    }
}

/// TDC as the motion of a capture shows it, for whoever begins an engine file; `None` where it
/// shows nothing.
pub(super) fn proposed_tdc(
    capture: &Capture,
    requests: &[LeadRequest],
    facts: &Facts,
) -> Option<TdcProposal> {
    let undescribed = describe(capture, requests, facts).ok()?;
    let options = Options { leads: undescribed.leads, ..Options::default() };
    let analysis = analyse(std::slice::from_ref(capture), &undescribed.engine, &options).ok()?;
    let tdc = analysis.compression.tdc.as_ref()?;
    Some(TdcProposal { at: tdc.found, sd: tdc.sd, modulo: tdc.modulo })
}

fn layouts(cylinders: Option<usize>) -> Vec<String> {
    common_layouts(cylinders)
        .into_iter()
        .map(|(order, banks)| match banks {
            "" => order.to_owned(),
            banks => format!("{order} --banks {banks}"),
        })
        .collect()
}

/// What could be compared without an engine file, and what one more fact would add.
pub(super) fn said(analysis: &Analysis, guessed: &[String], width: usize) -> String {
    let engine = &analysis.engine;
    let mut lines: Vec<String> =
        guessed.iter().map(|guess| format!("{guess}. Follow that lead.")).collect();
    let held: Vec<&str> = analysis
        .cams
        .iter()
        .filter(|cam| engine.rests_on_assumption(cam.measured.cam))
        .map(|cam| engine.cams[cam.measured.cam].name.as_str())
        .collect();
    lines.push(match (held.is_empty(), &analysis.verdict.open) {
        (false, Some(Open::Assumed { .. })) => format!(
            "Compared: {} with a cam whose wheel is alike. That both are clocked alike is assumed.",
            held.join(", ")
        ),
        _ => "Compared: no cam, because no two wheels were seen that are alike. Places are measured and not judged.".into(),
    });
    if let Some(tdc) = &analysis.compression.tdc {
        lines.push(format!(
            "TDC by the motion: {:.0}° ± {:.0}° after the mark of the crank wheel, or a multiple of {:.0}° from there.",
            tdc.found.0,
            2.0 * tdc.sd.0,
            tdc.modulo.0
        ));
    }
    if engine.firing_assumed {
        let cylinders = engine.firing_order.len();
        let mut line = format!(
            "The firing order would name cylinders and banks. The speed dips {cylinders} times a cycle; common: "
        );
        let known = layouts(Some(cylinders));
        let _ = write!(
            line,
            "--firing {}",
            if known.is_empty() { "ORDER".into() } else { known.join(", --firing ") }
        );
        lines.push(line + " (from memory; look it up).");
    } else if engine.banks.len() < 2 {
        lines.push("Banks, --banks 1-2-3/4-5-6, would compare their compression.".into());
    }
    if !named(analysis.compression.measured.as_ref()) && !engine.firing_assumed {
        lines.push(
            "A lead on one coil, --lead \"ignition 3=COLUMN\", would say which cylinder is which."
                .into(),
        );
    }
    lines.push(
        "A known-good of this engine, made by `learn`, or the maker's places in an engine file (begun by `look --write-engine`), \
         would make a finding of it; the teeth of the sprockets would count it in teeth."
            .into(),
    );
    let mut out = String::from("\nWithout an engine file\n");
    for line in lines {
        out.push_str(&hanging_lines(&line, "  - ", width));
    }
    out
}

fn named(measured: Option<&Compression>) -> bool {
    measured.is_some_and(Compression::is_named)
}
