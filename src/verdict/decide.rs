//! Odds become a finding.

use rayon::prelude::*;

use super::compression::CompressionEvidence;
use super::density::log_sum;
use super::deviations::{CamDeviation, deviations};
use super::evidence::Evidence;
use super::hypotheses::{Catalogue, EQUAL_FIT_DEG, SecondFault, Variant, enumerate};
use super::likelihood::log_likelihood;
use super::open::{Open, Unobservable};
use super::questions::{Questions, places, questions};
use super::readings::{Rows, SignalCharacter, Steadiness, errors};
use super::rule::{self, Grounds, Named};
use super::unobservable::{Hidden, hidden};
use super::{Caveat, SURE, State, Test, Verdict, Weighed, codes, health, next_test};
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
    /// What would not show in these readings.
    hidden: Hidden,
    questions: Questions,
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
        let posteriors: Vec<f64> = (0..variants.len()).map(posterior).collect();
        let mut ranked: Vec<(usize, f64, &Variant)> = (0..catalogue.causes.len())
            .filter_map(|cause| {
                let own =
                    || (0..variants.len()).filter(|&variant| variants[variant].cause == cause);
                let best = own().max_by(|&a, &b| posteriors[a].total_cmp(&posteriors[b]))?;
                Some((cause, own().map(|one| posteriors[one]).sum(), &variants[best]))
            })
            .collect();
        // A stable sort: equal odds keep the catalogue's order.
        ranked.sort_by(|a, b| b.1.total_cmp(&a.1));
        let hidden = hidden(catalogue, rows, ranked.iter().map(|one| one.0));
        let questions = questions(&catalogue.causes, variants, &posteriors, rows);
        Odds { ranked, hidden, questions }
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

/// A cam whose place is known only up to a part of a turn, where some cam was not measured: the
/// cams left would have to settle which part, and did not.
fn repeating(evidence: &Evidence) -> Option<usize> {
    if evidence.unmeasured().is_empty() {
        return None;
    }
    let open = evidence.cams.iter().find(|result| result.known_modulo.0 < TURN_DEG - 1e-6);
    open.map(|result| result.measured.cam)
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
    let repeats = repeating(evidence);
    let grounds = Grounds {
        judged: judged(evidence),
        far_out: far_out.is_some(),
        hidden: odds.hidden,
        repeats: repeats.is_some(),
    };
    let ranked: Vec<(usize, f64)> = odds.ranked.iter().map(|one| (one.0, one.1)).collect();
    let (state, probability) = rule::state(causes, &ranked, &odds.questions, grounds);
    // What a finding names is its likeliest cause; the leading one of a sum of faults.
    let leading = &causes[first];
    // Where leads are crossed the readings are those with them put right.
    let readings = |variant: &Variant| {
        let own = variant.swap.and_then(|swap| crossed.get(swap));
        deviations(own.unwrap_or(rows), evidence, own.is_some())
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
    let in_place = odds.questions.recorded_in_place >= SURE;
    let open = match (far_out, odds.hidden.of_recorded) {
        _ if shown.is_empty() => Open::NoCam,
        (Some(cam), _) if in_place => Open::Outlier(cam),
        // A fault that would not show, where nothing else is in doubt.
        (_, Some(fault)) if in_place => Open::Unobservable {
            fault: ranked.iter().position(|one| one.0 == fault).unwrap_or(0),
            because: Unobservable::of(&causes[fault], evidence),
        },
        _ => repeats.filter(|_| in_place).map_or(Open::Odds, Open::Repeats),
    };
    let places = match state {
        State::Jumped | State::DriveDue => places(&explanations),
        State::InTime | State::OffNotJumped | State::CannotTell => vec![],
    };
    let named = Named::new(state, &explanations, &places);
    let covers: Vec<usize> =
        shown.iter().filter(|one| one.against != Some(one.cam)).map(|one| one.cam).collect();
    let next_test = match (state, &open) {
        (State::InTime, _) => next_test::uncovered(evidence),
        (State::CannotTell, Open::Unobservable { .. }) => Some(Test::KnownGood),
        (State::CannotTell, Open::Repeats(_)) => next_test::uncovered(evidence),
        _ => next_test::best(
            evidence,
            (leading, odds_first),
            (&causes[second], odds_second),
            odds.questions.skipped,
        )
        .or_else(|| next_test::otherwise(evidence, state)),
    };
    Verdict {
        state,
        probability,
        teeth: named.teeth,
        links: named.links,
        on: named.on,
        chain: named.chain,
        moves: named.moves,
        places,
        covers_every_cam: covers.len() == evidence.engine.cams.len(),
        covers,
        questions: odds.questions,
        open: (state == State::CannotTell).then_some(open),
        next_test,
        codes: answers(evidence, state, &explanations[0], &shown),
        caveats: caveats(evidence, rows, crossed),
        compression: evidence.compression.as_ref().map(CompressionEvidence::judge),
        deviations: shown,
        explanations,
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
