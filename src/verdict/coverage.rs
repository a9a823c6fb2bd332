//! What a verdict does not cover: signals that were bad, places that nothing confirmed, wheels that
//! look alike.

use super::compression::Agreement;
use super::evidence::Evidence;
use super::hypotheses::EQUAL_FIT_DEG;
use super::readings::{Rows, odd_share};
use super::{Caveat, health};
use crate::cam::{CamPosition, CamResult, ExpectedFrom, SwappedFit};
use crate::codes::{Complaint, tidy};
use crate::units::{CYCLE_DEG, TURN_DEG};

/// Signal health, then what the readings cannot cover.
pub(super) fn caveats(evidence: &Evidence, rows: &Rows, crossed: &[Rows]) -> Vec<Caveat> {
    let mut caveats = health::caveats(evidence);
    if rows.list.iter().any(|row| row.unreferenced.is_some()) {
        caveats.push(Caveat::RelationsOnly);
    }
    caveats.extend(codes_of_no_bank(evidence));
    caveats.extend(symmetry(evidence, rows));
    for (swap, crossed) in evidence.swapped.iter().zip(crossed) {
        let measured = evidence.cam(swap.cams.0).is_some() && evidence.cam(swap.cams.1).is_some();
        let apart = (rows.worst_deviation() - crossed.worst_deviation()).abs();
        // Banks half a cycle apart: exchanged, the cams fit a turn on, and take the names of the
        // cylinders along.
        let along = evidence.compression.as_ref().is_some_and(|one| one.turn_by_cams)
            && rows.likeliest_pass() != crossed.likeliest_pass();
        let settled = !along && settled_by_compression(evidence, swap.cams);
        if measured && apart < EQUAL_FIT_DEG && wheels_fit(evidence, swap) && !settled {
            caveats.push(Caveat::FitEitherWay(swap.cams.0, swap.cams.1));
        }
    }
    if evidence.engine.drive.chains.is_empty() && !evidence.engine.cams.is_empty() {
        caveats.push(Caveat::NoDrive);
    }
    let typed = never_confirmed(evidence);
    if !typed.is_empty() {
        caveats.push(Caveat::NeverConfirmed(typed));
    }
    let measured = |cam: usize| evidence.cam(cam).is_some();
    let unsaid: Vec<usize> = (0..evidence.engine.cams.len())
        .filter(|&cam| measured(cam) && evidence.engine.cams[cam].phaser_unsaid())
        .collect();
    if !unsaid.is_empty() {
        caveats.push(Caveat::PhaserPossible(unsaid));
    }
    caveats
}

/// Leads whose shares of odd edges differ by less than this are equally good: a clean lead has
/// none, a dirty one some per cent.
const EQUAL_ODD: f64 = 0.1;

/// Whether two wheels show their edges on each other's lead as they do on their own: where they are
/// of two kinds, that alone says which lead is whose.
fn wheels_fit(evidence: &Evidence, swap: &SwappedFit) -> bool {
    let worst = |position: &CamPosition| {
        position.edges.iter().map(|edge| edge.off.0.abs()).fold(0.0, f64::max)
    };
    let as_well = |cam: usize, exchanged: &CamPosition| {
        evidence.cam(cam).is_some_and(|own| {
            let own = &own.measured;
            worst(exchanged) < worst(own) + EQUAL_FIT_DEG
                && odd_share(exchanged) < odd_share(own) + EQUAL_ODD
        })
    };
    as_well(swap.cams.0, &swap.positions.0) && as_well(swap.cams.1, &swap.positions.1)
}

/// Whether compression tells which of two leads is which: the bank whose cam stands off has lost
/// what such a cam costs it, and exchanged the leads would put that cam on the bank that has not.
fn settled_by_compression(evidence: &Evidence, (first, second): (usize, usize)) -> bool {
    evidence.compression.as_ref().is_some_and(|compression| {
        let effect = |cam: usize| compression.per_degree.get(cam).copied().unwrap_or(0.0);
        effect(first) * effect(second) < 0.0 && compression.judge().agreement == Agreement::Agrees
    })
}

/// Codes about a bank that the engine has not.
fn codes_of_no_bank(evidence: &Evidence) -> impl Iterator<Item = Caveat> {
    let banks = &evidence.engine.banks;
    evidence.codes.iter().filter_map(|typed| {
        let bank = Complaint::of(typed)?.bank().filter(|bank| !banks.contains_key(bank))?;
        Some(Caveat::CodeOfNoBank { code: tidy(typed), bank })
    })
}

/// Wheels that look the same more than once a turn, where that leaves a cam's place open.
fn symmetry(evidence: &Evidence, rows: &Rows) -> Vec<Caveat> {
    /// Rounding of periods in crank degrees.
    const ROUNDING_DEG: f64 = 1e-6;
    let mut caveats = Vec::new();
    let placed =
        rows.list.iter().filter(|row| row.unreferenced.is_none() && row.kind.is_cam()).count();
    let crank = evidence.crank.known_modulo;
    // Two cams with a place of their own settle which group of teeth is which; one cannot.
    if crank.0 < TURN_DEG - ROUNDING_DEG && placed < 2 {
        caveats.push(Caveat::CrankRepeats(crank));
    }
    for result in evidence.cams {
        let (cam, every) = (result.measured.cam, result.measured.known_modulo);
        if every.0 < CYCLE_DEG - ROUNDING_DEG {
            caveats.push(Caveat::CamRepeats { cam, every });
        }
    }
    caveats
}

/// Cams held against places that somebody typed, and that no sound engine of the type has
/// confirmed.
pub(super) fn never_confirmed(evidence: &Evidence) -> Vec<usize> {
    let typed = |result: &&CamResult| {
        result.expected.is_some_and(|expected| expected.from == ExpectedFrom::EngineFile)
    };
    evidence.cams.iter().filter(typed).map(|result| result.measured.cam).collect()
}
