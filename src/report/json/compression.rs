//! Relative compression in the result.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{delta, round};
use crate::analysis::Analysis;
use crate::compression::{BankResult, CompressionOutcome, CylinderResult, NamedBy};
use crate::engine::Engine;
use crate::report::words;
use crate::verdict::{Agreement, CompressionFinding};

#[derive(Serialize)]
pub(super) struct CompressionPart {
    from: Option<&'static str>,
    angle_from: &'static str,
    finding: FindingPart,
    cylinders: Vec<CylinderPart>,
    banks: Vec<BankCompressionPart>,
    bank_difference: Option<BankDifferencePart>,
    cycles: usize,
    named_by: Option<&'static str>,
    agreement: Option<&'static str>,
    expected_difference: Option<f64>,
    tdc_off_deg: Option<f64>,
}

#[derive(Serialize)]
struct FindingPart {
    state: &'static str,
    cylinders: Vec<u32>,
    peaks: Vec<usize>,
    bank: Option<u32>,
    below: Option<f64>,
    ci95: Option<[f64; 2]>,
    probability: Option<f64>,
    as_if_intake_late_deg: Option<f64>,
    odds: BTreeMap<&'static str, f64>,
    why: String,
}

#[derive(Serialize)]
struct CylinderPart {
    cylinder: Option<u32>,
    bank: Option<u32>,
    relative: f64,
    ci95: [f64; 2],
    raw: f64,
}

#[derive(Serialize)]
struct BankCompressionPart {
    bank: u32,
    relative: f64,
}

#[derive(Serialize)]
struct BankDifferencePart {
    low_bank: Option<u32>,
    relative: f64,
    ci95: [f64; 2],
    cylinders_agreeing: usize,
    of: usize,
}

pub(super) fn compression_part(analysis: &Analysis) -> Option<CompressionPart> {
    analysis.compression.measured.as_ref()?;
    let judgement = analysis.verdict.compression.as_ref();
    let finding = &analysis.compression_finding;
    Some(CompressionPart {
        agreement: judgement.map(|judgement| match judgement.agreement {
            Agreement::Agrees => "agrees",
            Agreement::Silent => "silent",
            Agreement::Contradicts => "contradicts",
            Agreement::OtherCause => "other-cause",
        }),
        expected_difference: judgement
            .and_then(|judgement| judgement.expected)
            .map(|e| round(e, 4)),
        ..outcome_part(&analysis.engine, &analysis.compression, finding)
    })
}

/// What was measured and found of an outcome; nothing of the cams.
pub(super) fn outcome_part(
    engine: &Engine,
    outcome: &CompressionOutcome,
    finding: &CompressionFinding,
) -> CompressionPart {
    let measured = outcome.measured.as_ref();
    let pair = |(low, high): (f64, f64)| [round(low, 4), round(high, 4)];
    CompressionPart {
        from: measured.map(|measured| measured.source.word()),
        angle_from: outcome.angle_from.word(),
        finding: FindingPart {
            state: finding.state.word(),
            cylinders: finding.cylinders.clone(),
            peaks: finding.peaks.clone(),
            bank: finding.bank,
            below: finding.below.map(|(share, _)| round(share, 4)),
            ci95: finding.below.map(|(_, interval)| pair(interval)),
            probability: (!finding.odds.is_empty()).then(|| round(finding.probability, 6)),
            as_if_intake_late_deg: finding.as_if_late.map(delta),
            odds: finding
                .odds
                .iter()
                .map(|(state, odds)| (state.word(), round(*odds, 6)))
                .collect(),
            why: words::compression_finding(engine, measured, finding),
        },
        cylinders: measured.map_or_else(Vec::new, |measured| {
            let part = |cylinder: &CylinderResult| CylinderPart {
                cylinder: cylinder.cylinder,
                bank: cylinder.bank,
                relative: round(cylinder.relative, 4),
                ci95: pair(cylinder.ci95),
                raw: round(cylinder.raw, 4),
            };
            measured.cylinders.iter().map(part).collect()
        }),
        banks: measured.map_or_else(Vec::new, |measured| {
            let part = |bank: &BankResult| BankCompressionPart {
                bank: bank.bank,
                relative: round(bank.relative, 4),
            };
            measured.banks.iter().map(part).collect()
        }),
        bank_difference: measured.and_then(|measured| measured.bank_difference.as_ref()).map(
            |difference| BankDifferencePart {
                low_bank: difference.low_bank,
                relative: round(difference.relative, 4),
                ci95: pair(difference.ci95),
                cylinders_agreeing: difference.beyond_noise,
                of: difference.of,
            },
        ),
        cycles: measured.map_or(0, |measured| measured.cycles_used),
        named_by: measured.map(|measured| match measured.named_by {
            NamedBy::Phase => "phase",
            NamedBy::FiringPattern => "firing-pattern",
            NamedBy::Ignition { .. } => "ignition",
            NamedBy::Injector { .. } => "injector",
            NamedBy::Pressure { .. } => "pressure",
            NamedBy::Nothing => "nothing",
        }),
        agreement: None,
        expected_difference: None,
        tdc_off_deg: outcome.tdc.and_then(|tdc| tdc.off).map(delta),
    }
}
