//! Odds become a finding.

use super::compression::CompressionEvidence;
use super::contradiction::contradictions;
use super::coverage::{caveats, never_confirmed};
use super::cranking::{Cranking, cranking};
use super::deviations::{CamDeviation, deviations};
use super::evidence::Evidence;
use super::hypotheses::{Catalogue, Cause, SecondFault, Variant, accused, enumerate};
use super::open::{Open, Unobservable};
use super::questions::{Questions, places, questions};
use super::readings::Rows;
use super::rule::{self, Grounds, Named};
use super::unobservable::{UnobservableFaults, unobservable_faults};
use super::weighing::{instead, log_odds};
use super::{Caveat, Kind, Mistake, SURE, State, Test, Verdict, Weighed, codes, health, next_test};
use crate::cam::{CamResult, ExpectedFrom, Movement};
use crate::stats::log_sum;
use crate::units::TURN_DEG;

/// Weighs every explanation against the evidence and decides.
///
/// The same evidence always gives the same answer. Cams that are named out of range of the engine,
/// which no earlier stage makes, are ignored.
#[must_use]
pub fn weigh(evidence: &Evidence) -> Verdict {
    let rows = Rows::new(evidence, &[]);
    let crossed: Vec<Rows> =
        instead(evidence).iter().map(|positions| Rows::new(evidence, positions)).collect();
    let catalogue = enumerate(evidence, &rows, &crossed);
    let odds = Odds::new(evidence, &catalogue, &rows, &crossed);
    conclude(evidence, &catalogue, &odds, &rows, &crossed)
}

/// A cause's probability and the way it most likely shows.
struct Odds<'a> {
    /// Index of the cause, its probability, its likeliest variant; likeliest first.
    ranked: Vec<(usize, f64, &'a Variant)>,
    /// What would not show in these readings.
    hidden: UnobservableFaults,
    questions: Questions,
    /// Share of the odds of the leading cause that needs a second fault which has nothing to do
    /// with it.
    paired: f64,
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
        let logs = log_odds(evidence, variants, rows, crossed);
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
        // Of every cause its odds and its likeliest variant, of equals the last.
        let mut of_causes: Vec<Option<(f64, usize)>> = vec![None; catalogue.causes.len()];
        for (variant, &odds) in posteriors.iter().enumerate() {
            let of = of_causes[variants[variant].cause].get_or_insert((0.0, variant));
            of.0 += odds;
            if odds.total_cmp(&posteriors[of.1]).is_ge() {
                of.1 = variant;
            }
        }
        let of_causes = of_causes.into_iter().enumerate();
        let mut ranked: Vec<(usize, f64, &Variant)> = of_causes
            .filter_map(|(cause, of)| of.map(|(odds, best)| (cause, odds, &variants[best])))
            .collect();
        rank(&mut ranked, |one| one.1, |one| (catalogue.causes[one.0].kind as u8, one.0));
        let hidden = unobservable_faults(catalogue, rows, ranked.iter().map(|one| one.0));
        // Each cam by itself, and all of them on one pass of the crank's mark.
        let tolerance = |cam: usize| evidence.engine.cams[cam].tolerance.0;
        let within = |cam: &CamDeviation| cam.deviation.0.abs() <= tolerance(cam.cam);
        let within = rows.beyond(tolerance, 0.0).is_none()
            && deviations(rows, evidence, false).iter().all(within);
        let questions = questions(&catalogue.causes, variants, &posteriors, rows, within);
        let leading = || (0..variants.len()).filter(|&at| variants[at].cause == ranked[0].0);
        let unconnected = leading().filter(|&at| variants[at].second.is_unconnected());
        let both: f64 = unconnected.map(|at| posteriors[at]).sum();
        let paired = both / ranked[0].1.max(f64::MIN_POSITIVE);
        Odds { ranked, hidden, questions, paired }
    }
}

/// Odds that differ by a smaller share are equal: what sums in another order, or another processor's
/// logarithm, make of one number.
const EQUAL_ODDS: f64 = 1e-9;

/// Likeliest first. Those of equal odds stand in an order that no last digit changes: by their kind,
/// and within it as the catalogue lists them, place by place along the drive and tooth by tooth.
pub(super) fn rank<T, O: Ord>(list: &mut [T], odds: impl Fn(&T) -> f64, order: impl Fn(&T) -> O) {
    list.sort_by(|a, b| odds(b).total_cmp(&odds(a)));
    let mut rest = list;
    while let Some(head) = rest.first().map(&odds) {
        let equal = rest.partition_point(|one| odds(one) >= head * (1.0 - EQUAL_ODDS)).max(1);
        let (alike, less) = rest.split_at_mut(equal);
        alike.sort_by_key(&order);
        rest = less;
    }
}

/// Whether any cam was held against a known place, or against another it is related to.
fn judged(evidence: &Evidence) -> bool {
    let root = |cam: usize| evidence.engine.relation_root(cam).0;
    let measured: Vec<usize> = evidence.cams.iter().map(|result| result.measured.cam).collect();
    evidence.cams.iter().any(|result| result.deviation().is_some())
        || (1..measured.len())
            .any(|i| measured[..i].iter().any(|&other| root(other) == root(measured[i])))
}

/// A cam that moved out of its tolerance while it was recorded: it is in time by its place over the
/// whole capture and was not all the while, so that "in time" would be wrong of a part of it.
fn moved_out(evidence: &Evidence) -> Option<usize> {
    let out = |result: &&CamResult| {
        let tolerance = evidence.engine.cams.get(result.measured.cam).map(|cam| cam.tolerance.0);
        let (Some(deviation), Some(movement), Some(tolerance)) =
            (result.deviation(), Movement::of(&result.measured.cycles), tolerance)
        else {
            return false;
        };
        let (earliest, latest) = movement.offs;
        (deviation + earliest).0 < -tolerance || (deviation + latest).0 > tolerance
    };
    evidence.cams.iter().find(out).map(|result| result.measured.cam)
}

/// Whether a cam is held against another by a relation that nobody confirmed. One whose place was
/// learned is not.
fn rests_on_assumption(evidence: &Evidence) -> bool {
    evidence.cams.iter().any(|one| {
        let learned = one.expected.is_some_and(|expected| expected.from == ExpectedFrom::KnownGood);
        !learned && evidence.engine.rests_on_assumption(one.measured.cam)
    })
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
    let moved = moved_out(evidence);
    let repeats = repeating(evidence);
    // An assumed relation may have been read off the very engine under test, with its fault in it.
    let assumed = rests_on_assumption(evidence);
    let grounds = Grounds {
        judged: judged(evidence) && !assumed,
        far_out: far_out.or(moved).is_some(),
        hidden: odds.hidden,
        repeats: repeats.is_some(),
        leads_alone: leads_alone(causes, &odds.ranked),
    };
    let ranked: Vec<(usize, f64)> = odds.ranked.iter().map(|one| (one.0, one.1)).collect();
    let (state, probability) = rule::state(causes, &ranked, &odds.questions, grounds);
    // What a finding names is its likeliest cause; the leading one of a sum of faults.
    let leading = &causes[first];
    let contradictions = contradictions(evidence, leading.kind, odds.paired);
    let held_back = contradictions.iter().position(|one| one.holds_back(state));
    let (state, probability) =
        if held_back.is_some() { (State::CannotTell, odds_first) } else { (state, probability) };
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
            let own = readings(variant);
            Weighed::new(evidence, &own, &causes[cause], probability, &variant.second)
        })
        .collect();
    let in_place = odds.questions.recorded_in_time >= SURE;
    let open = match (far_out, odds.hidden.of_recorded) {
        _ if held_back.is_some() => Open::Contradiction(held_back.unwrap_or(0)),
        _ if shown.is_empty() => Open::NoCam,
        _ if assumed => Open::Assumed { low_bank: None, some_bank_low: false },
        (Some(cam), _) if in_place => Open::Outlier(cam),
        _ if in_place && moved.is_some() => Open::Moved(moved.unwrap_or(0)),
        // A fault that would not show, where nothing else is in doubt.
        (_, Some(fault)) if in_place => Open::Unobservable {
            fault: ranked.iter().position(|one| one.0 == fault).unwrap_or(0),
            because: Unobservable::of(&causes[fault], evidence),
        },
        _ => repeats.filter(|_| in_place).map_or(Open::Odds, Open::Repeats),
    };
    let places = match state {
        State::Jumped | State::DriveDue => places(&explanations),
        State::InTime | State::OffNotJumped | State::DoesNotFit | State::CannotTell => vec![],
    };
    let named = Named::new(state, &explanations, &places);
    let covers: Vec<usize> =
        shown.iter().filter(|one| one.against != Some(one.cam)).map(|one| one.cam).collect();
    let cranking = cranking(evidence, &explanations, &odds.questions);
    let caveats = caveats(evidence, rows, crossed);
    let next_test = match (state, &open) {
        // Nothing is in doubt but the figures themselves, where nothing has borne them out.
        (State::InTime, _) => next_test::uncovered(evidence).or_else(|| {
            let typed = !never_confirmed(evidence).is_empty()
                && evidence.tdc.is_none()
                && evidence.pressure_tdc.is_none();
            typed.then_some(Test::KnownGood)
        }),
        _ if in_company_of_leads(&caveats, leading, variant) => Some(Test::TraceLeads),
        (State::DoesNotFit, _) => Some(next_test::of_mistake(&explanations[0])),
        (_, Open::Assumed { .. }) => Some(Test::KnownGood),
        (State::CannotTell, Open::Unobservable { .. }) => Some(Test::KnownGood),
        (State::CannotTell, Open::Repeats(_)) => next_test::uncovered(evidence),
        _ => next_test::best(
            evidence,
            (leading, odds_first),
            (&causes[second], odds_second),
            next_test::Limits {
                still: cranking == Cranking::NotAgain,
                // A sound engine says nothing more of one that has jumped.
                settled: state == State::Jumped,
            },
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
        accused: accused(evidence).into_iter().collect(),
        controller: evidence.controller.to_vec(),
        after_repair: evidence.after_repair,
        cranking,
        questions: odds.questions,
        open: (state == State::CannotTell).then_some(open),
        next_test,
        codes: answers(evidence, state, &explanations[0], &shown),
        caveats,
        contradictions,
        compression: evidence.compression.as_ref().map(CompressionEvidence::judge),
        deviations: shown,
        explanations,
    }
}

/// Odds of the causes that more than two leads are on other sensors, and that nothing else is off in
/// the way each most likely shows.
fn leads_alone(causes: &[Cause], ranked: &[(usize, f64, &Variant)]) -> f64 {
    let alone = |&&(cause, _, variant): &&(usize, f64, &Variant)| {
        matches!(causes[cause].mistake, Some(Mistake::Leads(_))) && variant.model.moves_nothing()
    };
    ranked.iter().filter(alone).map(|one| one.1).sum()
}

/// Whether what is found would be on another cam if two leads that fit either way were exchanged,
/// or stands beside leads that are: following a lead takes two minutes.
fn in_company_of_leads(caveats: &[Caveat], leading: &Cause, variant: &Variant) -> bool {
    let one_of = |caveat: &Caveat| match caveat {
        Caveat::FitEitherWay(first, second) => {
            leading.moves.contains(first) != leading.moves.contains(second)
        }
        _ => false,
    };
    let same = |caveat: &Caveat| one_of(caveat) && leading.kind != Kind::DoesNotFit;
    caveats.iter().any(same) || matches!(variant.second, SecondFault::Crossed(..))
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
        leading: state.answers().then_some(leading),
        off: &off,
        faults: evidence.faults,
        crank_lead: &evidence.crank.lead,
        leads: &leads,
    };
    codes::answer(evidence.codes, &finding)
}
