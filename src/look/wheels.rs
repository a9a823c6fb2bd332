//! The crank wheel from the signals alone: the likeliest answer, or why there is none.

use super::answers::Answer;
use super::base::Base;
use super::guess::{Doubt, RestsOn, WheelGuess};
use super::hypotheses::{Weighed, weigh};
use super::parts::{parts, within};
use super::places::{Standing, standing};
use super::priors;
use super::readings::Reading;
use super::ripple::places_known;
use super::steps::Turn;
use super::turns::{numbers_of_teeth, odds_of, turn_doubt};
use super::votes::{Called, EdgeLead, Other};
use super::wheel_text::{
    COARSE, Written, extra_tooth, in_library, of_library_teeth, of_slots, of_teeth, same_wheel,
};
use crate::crank::{CrankLock, MeanCycle, lock};
use crate::edges::{EdgeTrain, SignalShape};
use crate::engine::Sensor;
use crate::units::{Rpm, TURN_DEG};
use crate::wheel::EdgeKind;

/// Odds that an answer must reach.
pub(super) const SURE: f64 = 0.99;
/// Teeth missed and edges too many, as a share of the teeth, beyond which a wheel does not fit.
const MOST_WRONG: f64 = 0.1;

/// Edges that are no teeth, as a share of the teeth, beyond which a reading is of no wheel: a few
/// even teeth are found in the edges of mere noise when two of five may be left out (measured on
/// white noise: a quarter at the least).
const MOST_EXTRA: f64 = 0.2;

/// More of a wheel's places that do not fit than this are no bent tooth: one of sixty is two places.
const BENT: f64 = 0.05;
/// Of a wheel that does not fit better than that, the right one was not thought of, one time in twenty
/// (judgement, as where a finer lead is left over).
const UNTHOUGHT_OF_A_MISFIT: f64 = 0.05;

/// Answers less likely than this are not looked at.
const NEGLIGIBLE: f64 = 1e-4;

/// What was found.
pub(super) struct Found {
    /// Index of the lead taken for the crank.
    pub lead: Option<usize>,
    /// Its wheel, or why it is not named.
    pub wheel: Result<WheelGuess, Doubt>,
    /// The crank's angle with the likeliest wheel, sure or not.
    pub lock: Option<CrankLock>,
    /// What every other lead is, beside the likeliest wheel.
    pub others: Vec<(usize, Other)>,
    /// Hardly a tooth of the likeliest wheel is missing, and hardly an edge too many.
    clean: bool,
}

/// Finds the crank and its wheel among the leads. What the whole capture leaves open may be plain
/// while the engine cranks, or while it runs.
pub(super) fn find(leads: &[EdgeLead]) -> Found {
    let whole = find_in(leads);
    if whole.wheel.is_ok() {
        return whole;
    }
    let trains: Vec<&EdgeTrain> = leads.iter().map(|lead| lead.train).collect();
    let mut sure: Vec<Found> = Vec::new();
    for part in parts(&trains) {
        let cut: Vec<EdgeTrain> = trains.iter().map(|train| within(train, part)).collect();
        let leads = leads.iter().zip(&cut).map(|(lead, train)| EdgeLead { train, ..*lead });
        let found = find_in(&leads.collect::<Vec<_>>());
        // So few turns show a tooth lost now and then as one that is not there: only what fits is believed.
        sure.extend((found.wheel.is_ok() && found.clean).then_some(found));
    }
    // Two parts that contradict each other leave it open.
    let one =
        |found: &Found| found.wheel.as_ref().ok().map(|guess| (found.lead, guess.name.clone()));
    if sure.windows(2).any(|pair| one(&pair[0]) != one(&pair[1])) || sure.is_empty() {
        return whole;
    }
    let mut found = sure.swap_remove(0);
    let crank = found.wheel.as_ref().ok().map(|guess| guess.crank());
    let all =
        found.lead.zip(crank).and_then(|(lead, crank)| lock(trains[lead], &crank, "crank").ok());
    if let (Ok(guess), Some(all)) = (&mut found.wheel, all) {
        guess.rpm = (all.rpm_mean, all.rpm_min, all.rpm_max);
        found.lock = Some(all);
    }
    found
}

/// The same in these edges alone.
pub(super) fn find_in(leads: &[EdgeLead]) -> Found {
    let nothing = |doubt| Found {
        lead: None,
        wheel: Err(doubt),
        lock: None,
        others: Vec::new(),
        clean: false,
    };
    if leads.is_empty() {
        return nothing(Doubt::NoSignal);
    }
    let weighed = weigh(leads);
    let answers = weighed.answers();
    let Some(best) = answers.first() else { return nothing(Doubt::NoPattern) };
    let reading = weighed.reading(&best.best);
    let train = leads[best.best.lead].train;
    let others = best.best.others.clone();
    let clean = reading.is_regular();
    let found = |wheel, lock| Found { lead: Some(best.best.lead), wheel, lock, others, clean };
    let turns_open = turn_doubt(leads, &weighed, &answers);
    let plain = turn(reading, best.best.repeats);
    let Some(written) = describe(reading, best.best.repeats, sensor(train), &plain) else {
        return found(Err(turns_open.unwrap_or(Doubt::NoPattern)), None);
    };
    // Two patterns may be one wheel: teeth as wide and narrow, and at uneven places. The library's
    // name is kept of them.
    let mut written = written;
    let (mut probability, mut runner_up) = (0.0, None);
    for answer in answers.iter().take_while(|answer| answer.probability > NEGLIGIBLE) {
        let train = leads[answer.best.lead].train;
        let (reading, repeats) = (weighed.reading(&answer.best), answer.best.repeats);
        let other = describe(reading, repeats, sensor(train), &turn(reading, repeats));
        let Some(other) = other else { continue };
        if answer.best.lead == best.best.lead && same_wheel(&written, &other) {
            probability += answer.probability;
            if !in_library(&written) && in_library(&other) {
                written = other;
            }
        } else {
            runner_up = runner_up.or(Some(other.name));
        }
    }
    // Nothing in the signals tells a tooth that is lost every time from one that is not there; that
    // a wheel is known does.
    if !in_library(&written) {
        let loses = !lost(reading, best.best.repeats).is_empty();
        probability /= 1.0 + priors::with_a_tooth_lost(&reading.base, best.best.repeats, loses);
    }
    if !in_library(&written) && matches!(reading.base, Base::Uneven(_)) {
        let (settled, known) = settled(plain, reading, best.best.repeats);
        let settled = describe(reading, best.best.repeats, sensor(train), &settled);
        written = settled.unwrap_or(written);
        probability *= known;
    }
    let hides = !in_library(&written) && reading.fit.may_hide_a_tooth(best.best.repeats);
    if hides || reading.fit.misfits(best.best.repeats) > BENT {
        probability /= 1.0 + UNTHOUGHT_OF_A_MISFIT;
    }
    let odds = odds_of(best, &numbers_of_teeth(&weighed, &answers, best));
    probability *= (odds / best.probability).min(1.0);
    let mut guess = WheelGuess {
        confidence: probability,
        runner_up: runner_up.filter(|name| *name != written.name),
        sensor: sensor_of(&weighed, best, train),
        rests_on: rests_on(best),
        lost: lost(reading, best.best.repeats),
        rpm: speeds(reading, best.best.repeats),
        repeats: best.best.repeats,
        name: written.name,
        wheel: written.wheel,
        value: written.value,
    };
    let locked = lock(train, &guess.crank(), "crank").ok();
    guess.confidence *= locked.as_ref().map_or(0.0, |locked| {
        let wrong = (locked.missed + locked.extra) as f64 / locked.teeth_seen.max(1) as f64;
        if wrong > MOST_WRONG { 0.0 } else { locked.confidence }
    });
    let wheel = match turns_open {
        _ if guess.confidence >= SURE => Ok(guess),
        Some(doubt) => Err(doubt),
        None if reading.has_extra(MOST_EXTRA) => Err(Doubt::NoPattern),
        None => Err(Doubt::NotSure { odds: probability, best: Box::new(guess) }),
    };
    found(wheel, locked)
}

/// The sensor as the shape of its signal says.
fn sensor(train: &EdgeTrain) -> Sensor {
    match train.shape {
        SignalShape::Square => Sensor::Hall,
        SignalShape::Alternating => Sensor::Reluctance,
    }
}

/// The two slopes of a Hall signal show the same gaps; those of a conditioned reluctance signal do
/// not.
fn sensor_of(weighed: &Weighed, best: &Answer, train: &EdgeTrain) -> Sensor {
    let reading = weighed.reading(&best.best);
    let other_slope = weighed.readings[best.best.lead]
        .iter()
        .find(|other| other.kind != reading.kind && !other.lossy);
    let one_gap = matches!(reading.base, Base::Slots { plain: 1, .. }) && !reading.base.is_even();
    match other_slope {
        Some(other) if one_gap && !other.base.same_as(&reading.base) => Sensor::Reluctance,
        _ => sensor(train),
    }
}

/// What the answer would not be without.
fn rests_on(best: &Answer) -> RestsOn {
    let cam = best.best.others.iter().any(|(_, other)| matches!(other, Other::Cam { .. }));
    RestsOn { cam, headers: best.probability >= SURE && best.without_headers < SURE, speed: !cam }
}

/// Teeth of a turn that were not seen every time: how often, of how many turns. Only those seen in
/// under nine of ten.
fn lost(reading: &Reading, repeats: usize) -> Vec<(usize, usize)> {
    const OFTEN: f64 = 0.9;
    let seen = reading.fit.seen(repeats);
    seen.into_iter().filter(|&(hits, all)| (hits as f64) < OFTEN * all as f64).collect()
}

/// Mean, least and greatest speed over a period.
pub(super) fn speeds(reading: &Reading, repeats: usize) -> (Rpm, Rpm, Rpm) {
    let (mean, least, most) = reading.fit.seconds;
    let rpm = |seconds: f64| Rpm(60.0 / (seconds * repeats as f64));
    (rpm(mean), rpm(most), rpm(least))
}

/// The wheel of a reading that comes so many times a turn: equal slots where they do, listed teeth
/// where widths or places differ.
fn describe(reading: &Reading, repeats: usize, sensor: Sensor, turn: &Turn) -> Option<Written> {
    let mark_rises = reading.kind == EdgeKind::Rising;
    let edges: Vec<(f64, bool)> =
        turn.edges().into_iter().map(|(at, mark)| (at, mark == mark_rises)).collect();
    let paired = edges.len() == 2 * turn.steps.len();
    let hall = sensor == Sensor::Hall && paired;
    let listed = |edges: &[(f64, bool)]| of_library_teeth(edges);
    match &reading.base {
        Base::Slots { plain, counts } => {
            let counts = repeated(counts, repeats);
            let coarse = hall && counts.len() <= COARSE;
            let known = if coarse { listed(&edges) } else { None };
            known.or_else(|| {
                if *plain == 1 { of_slots(&counts) } else { extra_tooth(*plain, &counts) }
            })
        }
        Base::Coded(_) if hall => listed(&edges).or_else(|| of_teeth(&edges)),
        Base::Uneven(_) if hall => listed(&edges).or_else(|| of_teeth(&edges)),
        _ => None,
    }
}

fn repeated<T: Clone>(list: &[T], times: usize) -> Vec<T> {
    list.iter().cycle().take(list.len() * times).cloned().collect()
}

/// The turn as the reading has it, in degrees.
fn turn(reading: &Reading, repeats: usize) -> Turn {
    let steps = match reading.base {
        Base::Uneven(_) => reading.steps.clone(),
        _ => (0..reading.marks.at.len()).map(|mark| reading.marks.advance(mark, 1)).collect(),
    };
    turn_of(steps, reading, repeats)
}

fn turn_of(steps: Vec<f64>, reading: &Reading, repeats: usize) -> Turn {
    let whole: f64 = steps.iter().sum::<f64>() * repeats as f64;
    let steps: Vec<f64> = steps.iter().map(|step| step * TURN_DEG / whole).collect();
    Turn { steps: repeated(&steps, repeats), shares: repeated(&reading.shares, repeats) }
}

/// A turn with its uneven teeth where they are likeliest to stand, and the probability that they
/// do. An engine that runs steadily shows their places by itself; the swing of one that cranks is
/// told from them by what comes again every cycle.
fn settled(plain: Turn, reading: &Reading, repeats: usize) -> (Turn, f64) {
    let known = places_known(&plain.steps, 60.0 / (reading.steps_over.0 * repeats as f64));
    if known >= SURE {
        return (plain, known);
    }
    match by_cycles(reading, repeats) {
        Some(standing) if standing.known > known => {
            (turn_of(standing.shares, reading, repeats), standing.known)
        }
        _ => (plain, known),
    }
}

/// Where the teeth stand by the longest run in which none was missed.
fn by_cycles(reading: &Reading, repeats: usize) -> Option<Standing> {
    let count = reading.marks.at.len();
    let runs = reading.seen.chunk_by(|a, b| b.number == a.number + 1);
    let run = runs.max_by_key(|run| run.len())?;
    let times: Vec<f64> = run.iter().map(|seen| seen.at).collect();
    let mut cycle = MeanCycle::of(&times, 2 * repeats * count)?;
    let pulses: Vec<Option<f64>> = run.iter().map(|seen| seen.pulse).collect();
    let mut pulses = cycle.also(&times, &pulses);
    let first = (count - (run[0].number + cycle.from) % count) % count;
    cycle.steps.rotate_left(first);
    if let Some(pulses) = &mut pulses {
        pulses.rotate_left(first);
    }
    standing(&cycle, pulses.as_deref(), count)
}

/// What a header may say, for [`EdgeLead`].
pub(super) fn called(role: Option<&super::RoleGuess>) -> Called {
    match role {
        None => Called::Nothing,
        Some(super::RoleGuess::Crank) => Called::Crank,
        Some(super::RoleGuess::Cam) => Called::Cam,
        Some(_) => Called::Other,
    }
}
