//! Odds become a finding.

use rayon::prelude::*;

use super::compression::CompressionEvidence;
use super::density::log_sum;
use super::deviations::{CamDeviation, deviations};
use super::evidence::Evidence;
use super::hypotheses::{Catalogue, Cause, EQUAL_FIT_DEG, SecondFault, Variant, enumerate};
use super::likelihood::log_likelihood;
use super::open::{Open, Unobservable};
use super::readings::{Rows, SignalCharacter, Steadiness, errors};
use super::unobservable::unobservable_skip;
use super::{Caveat, Kind, SURE, State, Verdict, Weighed, codes, health, next_test};
use crate::units::{CYCLE_DEG, TURN_DEG};

/// Weighs every explanation against the evidence and decides.
///
/// The same evidence always gives the same answer. Cams that are named out of range of the engine,
/// which no earlier stage makes, are ignored.
#[must_use]
pub fn weigh(evidence: &Evidence) -> Verdict {
    let rows = Rows::new(evidence, None);
    let crossed: Vec<Rows> =
        evidence.swapped.iter().map(|swap| Rows::new(evidence, Some(swap))).collect();
    let catalogue = enumerate(evidence, &rows, &crossed);
    let odds = Odds::new(evidence, &catalogue, &rows, &crossed);
    conclude(evidence, &catalogue, &odds, &rows, &crossed)
}

/// A cause's probability and the way it most likely shows.
struct Odds<'a> {
    /// Index of the cause, its probability, its likeliest variant; likeliest first.
    ranked: Vec<(usize, f64, &'a Variant)>,
    /// The likeliest skip that would not show in these readings.
    unobservable: Option<usize>,
}

/// A cam this many standard deviations beyond its tolerance is no cam in time, whatever the odds
/// that its reading is an outlier: three, as for any gross error (one in 700 of a normal). It keeps
/// a cam wheel that slipped far, which the odds call an outlier, from passing for in time.
const FAR_OUT_SDS: f64 = 3.0;

impl<'a> Odds<'a> {
    fn new(
        evidence: &Evidence,
        catalogue: &'a Catalogue,
        rows: &Rows,
        crossed: &[Rows],
    ) -> Odds<'a> {
        let variants = &catalogue.variants;
        let character = SignalCharacter::new(evidence);
        // Thousands of variants, side by side and kept in order.
        let logs: Vec<f64> = variants
            .par_iter()
            .map(|variant| {
                variant.prior.ln() + log_evidence(evidence, variant, &character, rows, crossed)
            })
            .collect();
        let total = log_sum(logs.iter().copied());
        let wrong = health::crank_angle_wrong(evidence);
        let posterior = |variant: usize| {
            let prior = variants[variant].prior;
            // When nothing explains the readings at all, the prior is what is left.
            if !total.is_finite() {
                return prior;
            }
            (1.0 - wrong) * (logs[variant] - total).exp() + wrong * prior
        };
        let mut ranked: Vec<(usize, f64, &Variant)> = (0..catalogue.causes.len())
            .filter_map(|cause| {
                let own =
                    || (0..variants.len()).filter(|&variant| variants[variant].cause == cause);
                let best = own().max_by(|&a, &b| posterior(a).total_cmp(&posterior(b)))?;
                Some((cause, own().map(posterior).sum(), &variants[best]))
            })
            .collect();
        // A stable sort: equal odds keep the catalogue's order.
        ranked.sort_by(|a, b| b.1.total_cmp(&a.1));
        let unobservable = unobservable_skip(catalogue, rows, ranked.iter().map(|one| one.0));
        Odds { ranked, unobservable }
    }
}

/// Log density of everything measured under one variant.
fn log_evidence(
    evidence: &Evidence,
    variant: &Variant,
    character: &SignalCharacter,
    rows: &Rows,
    crossed: &[Rows],
) -> f64 {
    let own = variant.swap.and_then(|swap| crossed.get(swap)).unwrap_or(rows);
    let mut log = log_of_rows(own, variant, character);
    // A wheel that fits only another cam's lead is no accident where leads are crossed.
    for (index, swap) in evidence.swapped.iter().enumerate() {
        if variant.swap == Some(index) {
            continue;
        }
        for (cam, position) in [(swap.cams.0, &swap.positions.0), (swap.cams.1, &swap.positions.1)]
        {
            if evidence.cam(cam).is_none() {
                log += (errors::FITS_BY_CHANCE / position.known_modulo.0).ln();
            }
        }
    }
    log
}

/// Log density of the rows that a variant is about: its chains swing, or they do not.
fn log_of_rows(rows: &Rows, variant: &Variant, character: &SignalCharacter) -> f64 {
    let of = |swings| {
        log_likelihood(
            rows,
            &variant.model,
            &character.of(rows, &variant.moving, variant.damaged, swings),
        )
    };
    if variant.moving.iter().all(|(_, steadiness)| *steadiness != Steadiness::SlackChain) {
        return of(false);
    }
    let shows = errors::MOVING_SHOWS;
    log_sum([(1.0 - shows).ln() + of(false), shows.ln() + of(true)])
}

/// Whether any cam was held against a known place, or against another it is related to.
fn judged(evidence: &Evidence) -> bool {
    let root = |cam: usize| evidence.engine.relation_root(cam).0;
    let measured: Vec<usize> = evidence.cams.iter().map(|result| result.measured.cam).collect();
    evidence.cams.iter().any(|result| result.deviation().is_some())
        || (1..measured.len())
            .any(|i| measured[..i].iter().any(|&other| root(other) == root(measured[i])))
}

fn conclude(
    evidence: &Evidence,
    catalogue: &Catalogue,
    odds: &Odds,
    rows: &Rows,
    crossed: &[Rows],
) -> Verdict {
    let causes = &catalogue.causes;
    let (first, odds_first, variant) = odds.ranked[0];
    let (second, odds_second, _) = odds.ranked.get(1).copied().unwrap_or(odds.ranked[0]);
    let far_out = rows.beyond(|cam| evidence.engine.cams[cam].tolerance.0, FAR_OUT_SDS);
    // With nothing held against anything the odds are the priors, which find nothing.
    let (state, probability) = if judged(evidence) {
        state(causes, odds, far_out.is_some())
    } else {
        (State::CannotTell, odds_first)
    };
    // What a finding names is its likeliest cause; the leading one of a sum of faults.
    let leading = &causes[first];
    // Where leads are crossed the readings are those with them put right.
    let readings = |variant: &Variant| {
        let own = variant.swap.and_then(|swap| crossed.get(swap)).unwrap_or(rows);
        deviations(own, evidence)
    };
    let shown = readings(variant);
    let explanations: Vec<Weighed> = odds
        .ranked
        .iter()
        .map(|&(cause, probability, variant)| {
            let exchanged = matches!(variant.second, SecondFault::Crossed(..));
            let own = if exchanged { &readings(variant) } else { &shown };
            Weighed::new(evidence, own, &causes[cause], probability, &variant.second)
        })
        .collect();
    let skips: f64 = odds
        .ranked
        .iter()
        .filter(|(cause, ..)| causes[*cause].kind == Kind::Skip)
        .map(|(_, odds, _)| odds)
        .sum();
    let found = matches!(state, State::Jumped | State::OffNotJumped);
    let withheld = state == State::CannotTell && probability >= SURE;
    let outlier = far_out.filter(|_| withheld && leading.kind == Kind::InTime);
    // A skip that would not show, where nothing else is in doubt.
    let unobservable = odds.unobservable.filter(|_| withheld && outlier.is_none());
    let open = match (outlier, unobservable) {
        (Some(cam), _) => Open::Outlier(cam),
        (None, Some(skip)) => Open::Unobservable {
            skip: odds.ranked.iter().position(|one| one.0 == skip).unwrap_or(0),
            because: Unobservable::of(&causes[skip], evidence, &shown),
        },
        (None, None) if shown.is_empty() => Open::NoCam,
        (None, None) if skips >= SURE && leading.teeth.is_none() => Open::HowFar,
        (None, None) if skips >= SURE => Open::Where,
        (None, None) => Open::Odds,
    };
    let head = &explanations[0];
    Verdict {
        state,
        probability,
        teeth: head.teeth.filter(|_| state == State::Jumped),
        on: head.on.clone().filter(|_| found),
        chain: head.chain.clone().filter(|_| found),
        moves: if found { head.moves.clone() } else { vec![] },
        open: (state == State::CannotTell).then_some(open),
        next_test: match (state, unobservable) {
            // Nothing is in doubt.
            (State::InTime, _) => None,
            (_, Some(skip)) => Some(next_test::showing(evidence, &causes[skip])),
            _ => next_test::best(
                evidence,
                (leading, odds_first),
                (&causes[second], odds_second),
                skips,
            ),
        },
        codes: answers(evidence, state, head, &shown),
        caveats: caveats(evidence, rows, crossed),
        compression: evidence.compression.as_ref().map(CompressionEvidence::judge),
        skipped: skips,
        deviations: shown,
        explanations,
    }
}

/// The finding and its probability.
///
/// `in_time` must rest on what was measured: a skip that would not show (on a cam without a lead,
/// or of cams that are only known against each other) keeps it at `cannot_tell`, however rare skips
/// are; and so does a cam whose reading stands far out of tolerance (`far_out`), however likely it
/// is that the reading is at fault.
///
/// `jumped` names a place and a number of teeth, so one such skip must reach the odds by itself: a
/// sum of several says that a chain skipped, not where, and stays `cannot_tell`.
fn state(causes: &[Cause], odds: &Odds, far_out: bool) -> (State, f64) {
    let (mut in_time, mut others) = (0.0, 0.0);
    let mut skip: f64 = 0.0;
    for &(cause, probability, _) in &odds.ranked {
        match causes[cause].kind {
            Kind::InTime => in_time += probability,
            Kind::Skip if causes[cause].teeth.is_some() => skip = skip.max(probability),
            Kind::Skip => {}
            _ => others += probability,
        }
    }
    if in_time >= SURE {
        // What cannot be seen is not in time because it is rare.
        let open = far_out || odds.unobservable.is_some();
        (if open { State::CannotTell } else { State::InTime }, in_time)
    } else if skip >= SURE {
        (State::Jumped, skip)
    } else if others >= SURE {
        (State::OffNotJumped, others)
    } else {
        (State::CannotTell, odds.ranked[0].1)
    }
}

fn answers(
    evidence: &Evidence,
    state: State,
    leading: &Weighed,
    shown: &[CamDeviation],
) -> Vec<codes::CodeAnswer> {
    let off: Vec<(usize, bool)> = shown
        .iter()
        .filter(|cam| cam.deviation.0.abs() > evidence.engine.cams[cam.cam].tolerance.0)
        .map(|cam| (cam.cam, cam.deviation.0 < 0.0))
        .collect();
    let leads: Vec<(usize, String)> = evidence
        .cams
        .iter()
        .map(|result| (result.measured.cam, result.measured.lead.clone()))
        .collect();
    let finding = codes::Finding {
        engine: evidence.engine,
        state,
        leading: (state != State::CannotTell).then_some(leading),
        off: &off,
        faults: evidence.faults,
        crank_lead: &evidence.crank.lead,
        leads: &leads,
    };
    codes::answer(evidence.codes, &finding)
}

/// Signal health, then what the readings cannot cover.
fn caveats(evidence: &Evidence, rows: &Rows, crossed: &[Rows]) -> Vec<Caveat> {
    let mut caveats = health::caveats(evidence);
    if rows.list.iter().any(|row| row.unreferenced.is_some()) {
        caveats.push(Caveat::RelationsOnly);
    }
    caveats.extend(symmetry(evidence, rows));
    for (swap, crossed) in evidence.swapped.iter().zip(crossed) {
        let measured = evidence.cam(swap.cams.0).is_some() && evidence.cam(swap.cams.1).is_some();
        let apart = (rows.worst_deviation() - crossed.worst_deviation()).abs();
        if measured && apart < EQUAL_FIT_DEG {
            caveats.push(Caveat::FitEitherWay(swap.cams.0, swap.cams.1));
        }
    }
    if evidence.engine.drive.chains.is_empty() && !evidence.engine.cams.is_empty() {
        caveats.push(Caveat::NoDrive);
    }
    caveats
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
