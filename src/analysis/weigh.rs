//! From what was measured to the whole [`Analysis`]: bank differences, verdict, warnings.

use super::join::Joined;
use super::{Analysis, BankDifference, Options};
use crate::cam::CamResult;
use crate::cam::deviation::difference;
use crate::compression::CompressionOutcome;
use crate::crank::Polarity;
use crate::edges::SignalFault;
use crate::engine::Engine;
use crate::leads::Role;
use crate::notice::Notice;
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta};
use crate::verdict::{
    self, CompressionEvidence, CrankFacts, Evidence, State, TdcEvidence, Verdict,
};

pub(super) fn weigh(joined: Joined, engine: &Engine, options: &Options) -> Analysis {
    let Joined { names, main_capture, cycles, seconds_used, seconds_dropped, main } = joined;
    let faults: Vec<(String, SignalFault)> = main
        .leads
        .iter()
        .flat_map(|lead| lead.faults.iter().map(|&fault| (lead.column.clone(), fault)))
        .collect();
    let has_starter_lead =
        main.leads.iter().any(|lead| matches!(lead.role, Role::Starter | Role::Battery));
    let verdict = verdict::weigh(&Evidence {
        engine,
        cams: &main.cams,
        crank: CrankFacts {
            lead: main.crank_lead.clone(),
            confidence: main.crank.confidence,
            known_modulo: main.crank.angle.known_modulo(),
            settled: main.datum.known_modulo.0 >= CYCLE_DEG,
            polarity: main.crank.polarity.unwrap_or(Polarity::Normal),
            teeth_seen: main.crank.teeth_seen,
            missed: main.crank.missed,
            extra: main.crank.extra,
        },
        condition: main.crank.condition,
        swapped: &main.swapped,
        faults: &faults,
        compression: CompressionEvidence::of(engine, &main.compression),
        has_starter_lead,
        tdc: tdc_evidence(&main.compression),
        codes: &options.codes,
    });
    let mut cams = main.cams;
    count_in_chain_that_skipped(engine, &verdict, &mut cams);
    cams.iter_mut().for_each(|cam| cam.count_from(verdict.datum_later));
    let mut warnings = main.notices;
    if let Some(width) = main.crank.edge_assumed {
        let stands = if engine.cams.is_empty() { "top dead centre" } else { "every cam" };
        warnings.push(Notice {
            about: "crank".into(),
            text: format!(
                "The engine file does not say which edge of the crank signal marks a tooth, and the spacing does not tell. \
                 Falling was taken; with the other, {stands} would stand {:.1}° differently. Add `edge` to [crank].",
                width.0.abs()
            ),
        });
    }
    for (source, reason) in &main.compression.withheld {
        warnings.push(Notice {
            about: source.word().replace('-', " "),
            text: format!("Not used for compression: {reason}."),
        });
    }
    warnings.extend(verdict.warnings.iter().cloned());
    Analysis {
        engine: engine.clone(),
        captures: names,
        main_capture,
        crank_lead: main.crank_lead,
        known_modulo: main.datum.known_modulo,
        datum_shift: main.datum.shift - verdict.datum_later,
        cycles,
        seconds_used,
        seconds_dropped,
        unmeasured: (0..engine.cams.len())
            .filter(|&index| !cams.iter().any(|cam| cam.measured.cam == index))
            .collect(),
        bank_differences: bank_differences(engine, &cams),
        leads: main.leads,
        crank: main.crank,
        cams,
        compression: main.compression,
        verdict,
        warnings,
    }
}

/// A cam displaced by a chain further up the drive than its own stands whole teeth of that one off,
/// not of its own.
fn count_in_chain_that_skipped(engine: &Engine, verdict: &Verdict, cams: &mut [CamResult]) {
    if verdict.state != State::Jumped {
        return;
    }
    let Some(chain) =
        engine.drive.chains.iter().find(|chain| Some(&chain.name) == verdict.chain.as_ref())
    else {
        return;
    };
    for cam in cams {
        if verdict.moves.contains(&engine.cams[cam.measured.cam].name) {
            cam.step = Some(chain.step());
        }
    }
}

fn tdc_evidence(outcome: &CompressionOutcome) -> Option<TdcEvidence> {
    let check = outcome.tdc.as_ref()?;
    Some(TdcEvidence { off: check.off?, sd: check.sd, known_modulo: check.modulo })
}

/// Every pair of cams of one kind on different banks whose places can be compared.
fn bank_differences(engine: &Engine, cams: &[CamResult]) -> Vec<BankDifference> {
    let mut differences = Vec::new();
    for (i, first) in cams.iter().enumerate() {
        for second in &cams[i + 1..] {
            let (a, b) = (&first.measured, &second.measured);
            let (cam_a, cam_b) = (&engine.cams[a.cam], &engine.cams[b.cam]);
            if cam_a.shaft != cam_b.shaft || cam_a.bank == cam_b.bank {
                continue;
            }
            let (root_a, later_a) = engine.relation_root(a.cam);
            let (root_b, later_b) = engine.relation_root(b.cam);
            let (place_a, place_b) = match (first.expected, second.expected) {
                (Some(of_a), Some(of_b)) => (of_a.at, of_b.at),
                // Both counted from their common root, whose place is not known.
                _ if root_a == root_b => (CrankDeg::new(later_a.0), CrankDeg::new(later_b.0)),
                _ => continue,
            };
            differences.push(BankDifference {
                cams: (a.cam, b.cam),
                difference: difference(
                    (a.position, place_a),
                    (b.position, place_b),
                    CrankDelta(first.period.0.min(second.period.0)),
                ),
                half_width95: CrankDelta(a.half_width95.0.hypot(b.half_width95.0)),
            });
        }
    }
    differences
}
