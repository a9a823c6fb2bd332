//! One engine in one condition, with every mistake made on it.

use camwitness::analysis::{Options, analyse};
use camwitness::capture::Capture;
use camwitness::engine::Engine;
use camwitness::practice::{ExtraLead, Fault, Scenario, Truth, generate};
use camwitness::units::CrankDelta;
use camwitness::verdict::{Kind as Explanation, Place, Reason, State, Verdict};

use super::kinds::{Before, HandedIn, Kind, kinds};
use super::spec::{Phaser, Spec};

/// What state the engine is in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Condition {
    Sound,
    /// Skipped so many teeth.
    Skipped(i32),
}

impl Condition {
    pub const ALL: [Condition; 3] =
        [Condition::Sound, Condition::Skipped(1), Condition::Skipped(-2)];
}

/// What came of a trial.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// A finding that is right of the engine.
    Right,
    /// A finding that is not.
    Wrong,
    /// A finding that is not, where every cam reads as the fault it names makes it read: no signal
    /// tells the two apart.
    Alike,
    /// `does_not_fit`, and the mistake named is the one made.
    Named,
    /// `does_not_fit`, with another mistake named.
    Unnamed,
    /// `cannot_tell`.
    Open,
    /// Refused with a message.
    Refused,
}

/// One trial.
#[derive(Debug, Clone)]
pub struct Trial {
    pub kind: &'static str,
    pub engine: &'static str,
    pub condition: Condition,
    pub seed: u64,
    pub outcome: Outcome,
    /// What was said.
    pub said: String,
}

/// Samples per second of the trials' captures.
const RATE: f64 = 10_000.0;

fn scenario(engine: &Spec, faults: Vec<Fault>, seed: u64) -> Scenario {
    let leads = if seed.is_multiple_of(2) { vec![ExtraLead::Starter] } else { vec![] };
    let real = engine.engine().unwrap_or_else(|error| panic!("{}: {error}", engine.name));
    Scenario { faults, seed, rate: RATE, seconds: 2.5, leads, ..Scenario::new(real) }
}

fn made(engine: &Spec, faults: Vec<Fault>, seed: u64) -> (Capture, Truth) {
    let made = generate(&scenario(engine, faults, seed))
        .unwrap_or_else(|error| panic!("{}, seed {seed}: {error}", engine.name));
    (made.capture, made.truth)
}

/// The fault of a condition: at one driven sprocket or at the crank, by the seed.
fn faults(engine: &Spec, condition: Condition, seed: u64) -> Vec<Fault> {
    let Condition::Skipped(teeth) = condition else { return vec![] };
    let chain = &engine.chains[0];
    let shaft = if seed % 5 == 4 { chain.2.0 } else { chain.3[seed as usize % chain.3.len()].0 };
    vec![Fault::Skip { shaft: shaft.into(), chain: chain.0.into(), teeth }]
}

/// Every mistake whose name is wanted, on an engine in a condition.
pub fn trials(
    engine: &Spec,
    condition: Condition,
    seed: u64,
    wanted: impl Fn(&str) -> bool,
) -> Vec<Trial> {
    let (mut capture, truth) = made(engine, faults(engine, condition, seed), seed);
    capture.source = "first.csv".into();
    let (mut other, _) = made(engine, faults(engine, Condition::Skipped(1), seed + 1), seed + 1000);
    other.source = "second.csv".into();
    // A phaser that was left two thirds of its travel from rest, on a sound engine.
    let moved = engine.cams.iter().find_map(|cam| match cam.phaser {
        Phaser::Rests("retarded", travel) => Some((cam.name, -0.65 * travel)),
        Phaser::Rests(_, travel) => Some((cam.name, 0.65 * travel)),
        _ => None,
    });
    let off_rest = moved.filter(|_| condition == Condition::Sound).map(|(cam, degrees)| {
        made(engine, vec![Fault::Phaser { cam: cam.into(), degrees, wander: 0.0 }], seed)
    });
    let (off_rest, away) = off_rest.unzip();
    let before =
        Before { right: engine, capture: &capture, other: &other, off_rest: off_rest.as_ref() };
    kinds()
        .iter()
        .filter(|kind| wanted(kind.name))
        .filter_map(|kind| {
            let handed = (kind.make)(&before)?;
            let truth = if kind.name.ends_with("off rest") { away.as_ref()? } else { &truth };
            let (outcome, said) = outcome(kind, &handed, truth, condition);
            Some(Trial { kind: kind.name, engine: engine.name, condition, seed, outcome, said })
        })
        .collect()
}

fn outcome(
    kind: &Kind,
    handed: &HandedIn,
    truth: &Truth,
    condition: Condition,
) -> (Outcome, String) {
    let engine = match handed.spec.engine() {
        Ok(engine) => engine,
        Err(message) => return (Outcome::Refused, message),
    };
    let options =
        Options { leads: handed.leads.clone(), codes: handed.codes.clone(), ..Options::default() };
    match analyse(&handed.captures, &engine, &options) {
        Err(error) => (Outcome::Refused, error.to_string()),
        Ok(analysis) => {
            let verdict = &analysis.verdict;
            let said: Vec<String> = verdict
                .explanations
                .iter()
                .take(3)
                .map(|one| {
                    let mistake = match &one.reason {
                        Reason::DoesNotFit { mistake, .. } => format!(" {mistake:?}"),
                        _ => String::new(),
                    };
                    let on = one.on.as_deref().unwrap_or("");
                    format!(
                        "{} {on} {:?}{mistake} {:.4}",
                        one.kind.word(),
                        one.teeth,
                        one.probability
                    )
                })
                .collect();
            let said =
                format!("{} {:.4}: {}", verdict.state.word(), verdict.probability, said.join("; "));
            (judged(kind, &engine, verdict, truth, condition), said)
        }
    }
}

/// Readings within this of what a fault makes are that fault's, crank degrees: two standard
/// deviations of a place stated to a degree, with the build of the cam and the crank (0.6° and
/// 0.5°).
const READS_AS_DEG: f64 = 2.5;

fn judged(
    kind: &Kind,
    engine: &Engine,
    verdict: &Verdict,
    truth: &Truth,
    condition: Condition,
) -> Outcome {
    let sound = condition == Condition::Sound;
    let leading = verdict.explanations.first();
    let wrong = if reads_as_said(engine, verdict) { Outcome::Alike } else { Outcome::Wrong };
    match verdict.state {
        State::CannotTell => Outcome::Open,
        State::DoesNotFit => {
            let named = verdict.explanations.iter().find_map(|one| match &one.reason {
                Reason::DoesNotFit { mistake, .. } => Some((kind.is)(mistake)),
                _ => None,
            });
            if named == Some(true) { Outcome::Named } else { Outcome::Unnamed }
        }
        // Of some cams alone it is right where the skip moved others.
        State::InTime if sound || !moved_one_of(engine, truth, &verdict.covers) => Outcome::Right,
        State::DriveDue if !sound => Outcome::Right,
        State::Jumped if truth.skips.iter().any(|skip| says(verdict, &skip.moves, skip.teeth)) => {
            Outcome::Right
        }
        // Leads exchanged, found on an engine that is in time; a phaser off rest that is.
        State::OffNotJumped if sound => {
            let found = leading.map(|one| one.kind);
            let leads = kind.name.starts_with("leads") && found == Some(Explanation::LeadsCrossed);
            // Where the file denies the phaser, its cam is all that can be named.
            let moved =
                matches!(found, Some(Explanation::PhaserOffRest | Explanation::CamWheelMoved));
            let phaser = kind.name.ends_with("off rest") && moved && is_away(truth, &verdict.moves);
            if leads || phaser { Outcome::Right } else { wrong }
        }
        _ => wrong,
    }
}

/// Whether a skip moved one of these cams.
fn moved_one_of(engine: &Engine, truth: &Truth, cams: &[usize]) -> bool {
    let moved = |cam: &usize| {
        let name = &engine.cams[*cam].name;
        truth.skips.iter().any(|skip| skip.moves.contains(name))
    };
    cams.iter().any(moved)
}

/// Whether these are the cams whose phasers stand away from rest.
fn is_away(truth: &Truth, cams: &[String]) -> bool {
    let away = truth.cams.iter().filter(|cam| cam.parts.phaser != 0.0);
    away.map(|cam| &cam.cam).eq(cams)
}

/// Whether `jumped` says this skip, or lists it where the place is open.
fn says(verdict: &Verdict, moves: &[String], teeth: i32) -> bool {
    if !verdict.place_is_open() {
        return verdict.moves == moves && verdict.teeth == Some(teeth);
    }
    let is = |place: &Place| place.moves == moves && place.teeth == Some(teeth);
    verdict.places.iter().any(is)
}

/// Whether every cam stands where the fault that is found would put it: nothing is left that could
/// speak against it.
fn reads_as_said(engine: &Engine, verdict: &Verdict) -> bool {
    let Some(leading) = verdict.explanations.first() else { return false };
    let by = match (&leading.reason, verdict.state) {
        (Reason::Skip { shift: Some(shift), .. }, State::Jumped) => shift.by.0,
        // A sensor that lags by a steady time shows a cam that is late.
        (Reason::Wear { stand, .. }, State::OffNotJumped) if !stand.is_empty() => {
            stand.iter().map(|one| one.deviation.0).sum::<f64>() / stand.len() as f64
        }
        // A phaser may stand anywhere in its travel: its cam reads as it would, whatever it reads.
        (Reason::PhaserOffRest { .. }, State::OffNotJumped) => {
            return verdict.deviations.iter().all(|one| {
                let cam = &engine.cams[one.cam];
                let left = one.deviation.wrap(CrankDelta(360.0)).0.abs();
                leading.moves.contains(&cam.name) || left <= cam.tolerance.0
            });
        }
        // Read with the leads put right.
        (Reason::LeadsCrossed, State::OffNotJumped) => 0.0,
        (_, State::InTime) => 0.0,
        _ => return false,
    };
    let reads = |pass: f64| {
        verdict.deviations.iter().all(|one| {
            let cam = &engine.cams[one.cam];
            let moved = leading.moves.contains(&cam.name);
            let left = one.deviation.0 - pass - if moved { by } else { 0.0 };
            let in_place =
                verdict.state == State::InTime || leading.kind == Explanation::LeadsCrossed;
            let apart = if in_place { cam.tolerance.0 } else { READS_AS_DEG };
            CrankDelta(left).wrap(CrankDelta(720.0)).0.abs() <= apart
        })
    };
    reads(0.0) || reads(360.0)
}
