//! Which one measurement would best separate the leading two explanations.
//!
//! Each test of the workshop predicts an outcome under each explanation and is right
//! with a stated reliability. Where the two predictions differ the test is a noisy
//! yes-or-no channel: it removes I(p, e) = H(p(1 − e) + (1 − p)e) − H(e) bits of the H(p) bits in
//! doubt (Shannon's binary symmetric channel). The test that removes the largest share wins,
//! labour counted against it.

use super::evidence::Evidence;
use super::hypotheses::Cause;
use super::{Kind, Mistake, Reason, State, Weighed};
use crate::crank::Condition;
use crate::engine::{CamShaft, Reference};

/// An hour of labour is worth this share of the doubt. The diagnosis pays for about an hour
/// (common practice, no source): half a day under the covers is only proposed when no lead helps.
const HOUR_COST: f64 = 0.2;

/// A test a workshop can do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Test {
    /// Follow each lead to its sensor.
    TraceLeads,
    /// Capture again with every filter of the scope and the leads switched off.
    Unfiltered,
    /// Put a lead on a cam that has none: index into the engine's cams.
    OtherCam(usize),
    /// See to the lead of a cam whose wheel was not found on it: index into the engine's cams.
    MendLead(usize),
    /// Compare with a sound engine of the type.
    KnownGood,
    /// Correct the line of the engine file that is named and have the capture read again.
    CorrectFile,
    /// Capture while cranking, when this one was running.
    Cranking,
    /// Cranking with the phasers' control valves unplugged.
    UnplugValves,
    /// A capture at idle.
    Idle,
    /// Add a starter-current lead.
    StarterCurrent,
    /// A pressure transducer in a plug hole.
    Pressure,
    /// Look at the trigger wheel through its sensor's hole.
    LookAtWheel,
    /// Take the cover off and look at the timing marks.
    InspectMarks,
}

/// Probability that the test's answer is right, and hours it takes (*judgement, no source*).
fn cost(test: Test) -> (f64, f64) {
    match test {
        // Following a wire is certain; it takes minutes.
        Test::TraceLeads => (0.99, 0.1),
        // What is delayed on every channel alike no longer shows as late.
        Test::Unfiltered => (0.95, 0.2),
        Test::OtherCam(_) => (0.98, 0.3),
        // As good once it reads; a sensor or wheel that has to be mended first takes longer.
        Test::MendLead(_) => (0.95, 0.4),
        // Another engine of the type has its own build scatter.
        Test::KnownGood => (0.85, 0.5),
        // A figure put right that makes every cam fit is hardly chance.
        Test::CorrectFile => (0.95, 0.05),
        // Most phasers lock when cranking; some do not.
        Test::Cranking => (0.9, 0.2),
        // A stuck phaser does not go home either.
        Test::UnplugValves => (0.8, 0.3),
        // Wear and phasers move with speed more often than not.
        Test::Idle => (0.7, 0.2),
        // A small shift hardly shows, and banks differ for other reasons.
        Test::StarterCurrent => (0.85, 0.2),
        Test::Pressure => (0.95, 0.7),
        Test::LookAtWheel => (0.85, 0.5),
        Test::InspectMarks => (0.98, 4.0),
    }
}

/// What a test has to keep to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    /// It must not crank the engine.
    pub still: bool,
    /// Where the cams should stand is no longer in question.
    pub settled: bool,
}

/// The best test for the two leading causes.
pub(super) fn best(
    evidence: &Evidence,
    leading: (&Cause, f64),
    rival: (&Cause, f64),
    limits: Limits,
) -> Option<Test> {
    let share = leading.1 / (leading.1 + rival.1).max(f64::MIN_POSITIVE);
    choose(evidence, leading.0, rival.0, share, limits)
}

/// What shows whether the likeliest mistake was made.
pub(super) fn of_mistake(leading: &Weighed) -> Test {
    match &leading.reason {
        Reason::DoesNotFit { mistake: Mistake::Delayed(_), .. } => Test::Unfiltered,
        Reason::DoesNotFit { mistake, .. } if mistake.is_of_leads() => Test::TraceLeads,
        Reason::DoesNotFit { mistake, .. } if mistake.leaves_all_in_time() => Test::CorrectFile,
        // What is wrong is not known well enough to be put right: a sound engine shows where the
        // cams stand.
        Reason::DoesNotFit { mistake: Mistake::OtherEngine | Mistake::Wheel { .. }, .. } => {
            Test::TraceLeads
        }
        _ => Test::KnownGood,
    }
}

/// What would cover a cam that the readings do not.
pub(super) fn uncovered(evidence: &Evidence) -> Option<Test> {
    evidence.unmeasured().first().map(|&cam| reading(evidence, cam))
}

/// What is left to do where no test separates the leading two: read a cam that is not read yet,
/// else learn where the cams should stand, else look; after the repair is due, look.
pub(super) fn otherwise(evidence: &Evidence, state: State) -> Option<Test> {
    let engine = evidence.engine;
    if engine.cams.is_empty() {
        return None;
    }
    match state {
        State::Jumped | State::DriveDue => Some(Test::InspectMarks),
        State::OffNotJumped | State::InTime => None,
        State::DoesNotFit | State::CannotTell => uncovered(evidence).or_else(|| {
            let unplaced = (0..engine.cams.len()).any(|cam| engine.expected(cam).is_none());
            Some(if unplaced { Test::KnownGood } else { Test::InspectMarks })
        }),
    }
}

/// How a cam that was not measured gets read: a lead on it, or a look at the one it has.
fn reading(evidence: &Evidence, cam: usize) -> Test {
    if evidence.with_lead.contains(&cam) { Test::MendLead(cam) } else { Test::OtherCam(cam) }
}

/// The best test when the first of two causes has this share of their odds.
pub(super) fn choose(
    evidence: &Evidence,
    first: &Cause,
    second: &Cause,
    share: f64,
    limits: Limits,
) -> Option<Test> {
    let worth = |test: &Test| {
        let (right, hours) = cost(*test);
        removed(share, 1.0 - right) - HOUR_COST * hours
    };
    candidates(evidence, first, second)
        .into_iter()
        .filter(|test| !limits.still || !test.cranks())
        .filter(|test| !limits.settled || *test != Test::KnownGood)
        .filter(|test| outcome(evidence, *test, first) != outcome(evidence, *test, second))
        .max_by(|a, b| worth(a).total_cmp(&worth(b)))
        // Where two skips look alike from outside, the marks are what is left to look at.
        .or(limits.still.then_some(Test::InspectMarks))
}

impl Test {
    /// Every test; that of one cam for the first of an engine.
    pub const ALL: [Test; 13] = [
        Test::TraceLeads,
        Test::Unfiltered,
        Test::OtherCam(0),
        Test::MendLead(0),
        Test::KnownGood,
        Test::CorrectFile,
        Test::Cranking,
        Test::UnplugValves,
        Test::Idle,
        Test::StarterCurrent,
        Test::Pressure,
        Test::LookAtWheel,
        Test::InspectMarks,
    ];

    /// Whether the starter turns this engine for it.
    #[must_use]
    pub fn cranks(self) -> bool {
        match self {
            Test::OtherCam(_)
            | Test::MendLead(_)
            | Test::Unfiltered
            | Test::Cranking
            | Test::UnplugValves
            | Test::Idle
            | Test::StarterCurrent
            | Test::Pressure => true,
            Test::TraceLeads
            | Test::KnownGood
            | Test::CorrectFile
            | Test::LookAtWheel
            | Test::InspectMarks => false,
        }
    }
}

/// Share of the doubt that a test with this error rate removes.
fn removed(p: f64, error: f64) -> f64 {
    // Odds beyond this leave no doubt to remove; the share tends to a limit there.
    let p = p.clamp(1e-6, 1.0 - 1e-6);
    (entropy(p * (1.0 - error) + (1.0 - p) * error) - entropy(error)) / entropy(p)
}

fn entropy(p: f64) -> f64 {
    let part = |p: f64| if p > 0.0 { -p * p.log2() } else { 0.0 };
    part(p) + part(1.0 - p)
}

/// Tests not done yet and safe with these two in question.
fn candidates(evidence: &Evidence, first: &Cause, second: &Cause) -> Vec<Test> {
    let skip = first.kind == Kind::Skip || second.kind == Kind::Skip;
    let cranking = evidence.condition == Condition::Cranking;
    let mut tests = vec![Test::TraceLeads];
    tests.extend(evidence.unmeasured().into_iter().map(|cam| reading(evidence, cam)));
    tests.push(Test::KnownGood);
    if [first, second]
        .into_iter()
        .any(|cause| cause.mistake.as_ref().is_some_and(put_right_in_the_file))
    {
        tests.push(Test::CorrectFile);
    }
    if is_delayed(first) || is_delayed(second) {
        tests.push(Test::Unfiltered);
    }
    if !cranking {
        tests.push(Test::Cranking);
    } else if evidence.engine.cams.iter().any(|cam| cam.phaser.is_some()) {
        tests.push(Test::UnplugValves);
    }
    // An engine whose chain may have jumped is not run.
    if cranking && !skip {
        tests.push(Test::Idle);
    }
    if !evidence.has_starter_lead && evidence.engine.banks.len() > 1 {
        tests.push(Test::StarterCurrent);
    }
    // TDC has been seen off: another sight of it does not tell a wheel that moved from a sheet that
    // has TDC and the cams off alike.
    let one_is = |kind: Kind| first.kind == kind || second.kind == kind;
    let seen =
        evidence.tdc.is_some() && one_is(Kind::CrankReferenceMoved) && one_is(Kind::DoesNotFit);
    if !evidence.has_pressure_lead && !seen {
        tests.push(Test::Pressure);
    }
    tests.extend([Test::LookAtWheel, Test::InspectMarks]);
    tests
}

/// Whether leads are on other sensors than said.
fn of_leads(cause: &Cause) -> bool {
    matches!(cause.mistake, Some(Mistake::Leads(_)))
}

/// Whether a lead is delayed.
fn is_delayed(cause: &Cause) -> bool {
    matches!(cause.mistake, Some(Mistake::Delayed(_)))
}

/// Whether a mistake is one that a figure put right in the engine file would show.
fn put_right_in_the_file(mistake: &Mistake) -> bool {
    mistake.leaves_all_in_time() && !matches!(mistake, Mistake::Delayed(_))
}

/// What a test would show under a cause: equal numbers, equal outcomes.
fn outcome(evidence: &Evidence, test: Test, cause: &Cause) -> u64 {
    let engine = evidence.engine;
    let mask = |cams: &[usize]| cams.iter().fold(0, |mask, cam| mask | 1u64 << (cam % 48));
    let real = match cause.kind {
        Kind::Skip | Kind::Wear | Kind::PhaserOffRest => mask(&cause.moves),
        _ => 0,
    };
    let crank = cause.kind == Kind::CrankReferenceMoved;
    match test {
        Test::Unfiltered => u64::from(is_delayed(cause)),
        Test::TraceLeads => u64::from(cause.kind == Kind::LeadsCrossed || of_leads(cause)),
        Test::CorrectFile => u64::from(cause.kind == Kind::DoesNotFit && !of_leads(cause)),
        Test::OtherCam(cam) | Test::MendLead(cam) => {
            u64::from(cause.moves.contains(&cam) && cause.kind != Kind::LeadsCrossed)
        }
        Test::KnownGood => {
            // A known-good settles what the reference leaves open, not what is plainly off.
            let open = engine.cams.iter().any(|cam| match cam.reference {
                Reference::At { sd, .. } => sd.is_none(),
                Reference::SameAs { .. } => false,
                Reference::Unknown => true,
            });
            // A wrong figure is what it shows.
            let wrong = cause.kind == Kind::DoesNotFit && !of_leads(cause);
            if wrong { 2 } else { u64::from(open && cause.kind != Kind::InTime) }
        }
        Test::Cranking | Test::UnplugValves => u64::from(cause.kind == Kind::PhaserOffRest),
        Test::Idle => u64::from(matches!(cause.kind, Kind::PhaserOffRest | Kind::Wear)),
        Test::StarterCurrent => {
            let banks: std::collections::BTreeSet<u32> = cause
                .moves
                .iter()
                .filter(|&&cam| real != 0 && engine.cams[cam].shaft != CamShaft::Exhaust)
                .map(|&cam| engine.cams[cam].bank)
                .collect();
            // All banks alike leave relative compression even.
            if banks.len() == engine.banks.len() {
                0
            } else {
                banks.iter().fold(0, |mask, bank| mask | 1u64 << (bank % 48))
            }
        }
        Test::Pressure => real | u64::from(crank) << 50,
        Test::LookAtWheel => match cause.kind {
            Kind::DamagedTooth | Kind::CamWheelMoved => mask(&cause.moves),
            _ => 0,
        },
        // The marks show every real shift and its teeth; a phaser off rest shows as none.
        Test::InspectMarks => match cause.kind {
            Kind::Skip => mask(&cause.moves) | ((cause.teeth.unwrap_or(9) + 9) as u64) << 50,
            Kind::Wear => mask(&cause.moves),
            _ => 0,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_perfect_test_removes_all_doubt_and_a_coin_none() {
        // Shannon: capacity of the binary symmetric channel is 1 − H(e); H(0.11) ≈ 0.49992 bit
        // (Cover & Thomas, Elements of Information Theory, worked values).
        assert!((removed(0.5, 0.0) - 1.0).abs() < 1e-12);
        assert!(removed(0.5, 0.5).abs() < 1e-12);
        assert!((removed(0.5, 0.11) - 0.50008).abs() < 1e-4);
    }
}
