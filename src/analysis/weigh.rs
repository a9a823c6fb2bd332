//! From what was measured to the whole [`Analysis`]: bank differences, verdict, warnings.

use super::join::Joined;
use super::{Analysis, BankDifference, Options};
use crate::cam::CamResult;
use crate::cam::deviation::{common_period, difference};
use crate::compression::{CompressionOutcome, PressureResult, ValveEventKind};
use crate::crank::Polarity;
use crate::edges::SignalFault;
use crate::engine::{ChainKind, Engine};
use crate::leads::Role;
use crate::notice::Notice;
use crate::units::{CrankDeg, CrankDelta};
use crate::verdict::{
    self, CompressionEvidence, CompressionState, CrankFacts, Evidence, Open, State, TdcEvidence,
    ValveEvidence, Verdict,
};
use crate::watch::Watch;

pub(super) fn weigh(joined: Joined, engine: &Engine, options: &Options) -> Analysis {
    let Joined { names, facts, main_capture, cycles, seconds_used, seconds_dropped, main } = joined;
    let faults: Vec<(String, SignalFault)> = main
        .leads
        .iter()
        .flat_map(|lead| lead.faults.iter().map(|&fault| (lead.column.clone(), fault)))
        .collect();
    let has_starter_lead =
        main.leads.iter().any(|lead| matches!(lead.role, Role::Starter | Role::Battery));
    let has_pressure_lead = main.leads.iter().any(|lead| matches!(lead.role, Role::Pressure(_)));
    let with_lead = main.leads.iter().filter_map(|lead| match lead.role {
        Role::Cam(cam) => Some(cam),
        _ => None,
    });
    let with_lead = with_lead.collect();
    let verdict = verdict::weigh(&Evidence {
        engine,
        cams: &main.cams,
        crank: CrankFacts {
            lead: main.crank_lead.clone(),
            confidence: main.crank.confidence,
            known_modulo: main.crank.angle.known_modulo(),
            polarity: main.crank.polarity.unwrap_or(Polarity::Normal),
            teeth_seen: main.crank.teeth_seen,
            missed: main.crank.missed,
            extra: main.crank.extra,
            jitter: main.crank.jitter,
            other_edge: main.other_edge.as_ref().and_then(|other| Some((other.why, other.later?))),
        },
        condition: main.crank.condition,
        swapped: &main.swapped,
        reordered: &main.reordered,
        same_sensor: &main.same_sensor,
        other_wheels: &main.other_wheels,
        faults: &faults,
        compression: CompressionEvidence::of(engine, &main.compression),
        has_starter_lead,
        has_pressure_lead,
        with_lead,
        tdc: tdc_evidence(&main.compression),
        pressure_tdc: pressure_tdc(&main.compression),
        valves: &valves(&main.compression),
        controller: &options.controller,
        after_repair: options.after_repair,
        codes: &options.codes,
        code_evidence: !options.no_code_evidence,
    });
    let mut verdict = verdict;
    let compression_finding = verdict::judge_cylinders(engine, &main.compression);
    if let Some(Open::Assumed { low_bank, some_bank_low }) = &mut verdict.open {
        let measured = main.compression.measured.as_ref();
        if let Some(difference) = measured.and_then(|one| one.bank_difference.as_ref()) {
            let percent = (-100.0 * difference.relative).round() as u32;
            *low_bank = difference.low_bank.map(|bank| (bank, percent));
            *some_bank_low = difference.stands_out;
        }
        // Where not even the grouping is known, what the cylinders show together may.
        *some_bank_low |= compression_finding.state == CompressionState::BankLow;
    }
    let mut cams = main.cams;
    count_in_chain_that_skipped(engine, &verdict, &mut cams);
    let odd = engine
        .notes
        .iter()
        .map(|note| Notice { about: "engine file".into(), text: note.to_string() });
    let changed = options.known.iter().flat_map(|known| known.changed_since(engine));
    let changed = changed.map(|(cam, confirmed, typed)| Notice {
        about: engine.cams[cam].name.clone(),
        text: format!(
            "The known-good file confirmed {:.1}° for it; the engine file has {:.1}° now. The place that was measured is the \
             one it is held against.",
            confirmed.get(),
            typed.get()
        ),
    });
    let mut warnings: Vec<Notice> = odd.chain(main.notices).chain(changed).collect();
    warnings.extend(main.other_edge.as_ref().map(|other| other.notice(engine)));
    for (source, reason) in &main.compression.withheld {
        warnings.push(Notice {
            about: source.word().replace('-', " "),
            text: format!("Not used for compression: {reason}."),
        });
    }
    Analysis {
        engine: engine.clone(),
        captures: names,
        facts,
        asked: Options { watch: Watch::default(), ..options.clone() },
        main_capture,
        crank_lead: main.crank_lead,
        known_modulo: main.datum.known_modulo,
        datum_shift: main.datum.shift,
        cycles,
        seconds_used,
        seconds_dropped,
        unmeasured: (0..engine.cams.len())
            .filter(|&index| !cams.iter().any(|cam| cam.measured.cam == index))
            .collect(),
        bank_differences: bank_differences(engine, &cams),
        leads: main.leads,
        crank: main.crank,
        other_edge: main.other_edge,
        cams,
        compression_finding,
        compression: main.compression,
        verdict,
        warnings,
    }
}

/// A cam's deviation is counted in teeth of its own chain; one displaced by a chain further up the
/// drive stands whole teeth of that one off.
fn count_in_chain_that_skipped(engine: &Engine, verdict: &Verdict, cams: &mut [CamResult]) {
    let chains = &engine.drive.chains;
    let skipped = (verdict.state == State::Jumped)
        .then(|| chains.iter().find(|chain| Some(&chain.name) == verdict.chain.as_ref()))
        .flatten();
    for cam in cams {
        let name = &engine.cams[cam.measured.cam].name;
        let above = skipped.filter(|_| verdict.moves.contains(name));
        let own = engine.drive.chain_driving(name).map(|own| &chains[own]);
        if let Some(chain) = above.or(own) {
            cam.step = Some(chain.step());
            cam.by_links = chain.kind == ChainKind::Chain;
        }
    }
}

fn tdc_evidence(outcome: &CompressionOutcome) -> Option<TdcEvidence> {
    let check = outcome.tdc.as_ref()?;
    Some(TdcEvidence { off: check.off?, sd: check.sd, known_modulo: check.modulo })
}

/// TDC by the pressure leads, the mean where there are several.
fn pressure_tdc(outcome: &CompressionOutcome) -> Option<TdcEvidence> {
    let read: Vec<(CrankDelta, CrankDelta)> =
        outcome.pressure.iter().filter_map(|one| Some((one.tdc_off?, one.mean_sd()))).collect();
    let known_modulo = outcome.pressure.first()?.tdc_modulo;
    let (first, _) = *read.first()?;
    // Leads that disagree about the turn are brought beside the first of them.
    let beside = |off: CrankDelta| (off - first).wrap(known_modulo).0;
    let mean = read.iter().map(|(off, _)| beside(*off)).sum::<f64>() / read.len() as f64;
    let sd = read.iter().map(|(_, sd)| sd.0).fold(0.0, f64::max);
    Some(TdcEvidence {
        off: (first + CrankDelta(mean)).wrap(known_modulo),
        sd: CrankDelta(sd),
        known_modulo,
    })
}

fn valves(outcome: &CompressionOutcome) -> Vec<ValveEvidence> {
    let of = |one: &PressureResult| {
        let cylinder = one.cylinder;
        one.events
            .iter()
            .map(move |event| ValveEvidence {
                cylinder,
                intake: event.kind == ValveEventKind::IntakeCloses,
                at: event.at,
                off: event.off,
                scatter: event.mean_sd(),
            })
            .collect::<Vec<_>>()
    };
    outcome.pressure.iter().flat_map(of).collect()
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
                    common_period(a.known_modulo, b.known_modulo),
                ),
                half_width95: CrankDelta(a.half_width95.0.hypot(b.half_width95.0)),
            });
        }
    }
    differences
}
