//! The owner's questions with their answers: yes, no or open, how likely, and why.

use super::phrases::{capital, list, percent};
use super::places::place_words;
use super::reasons::why;
use super::standing::furthest;
use crate::engine::Engine;
use crate::verdict::{Kind, Place, SURE, Verdict, Weighed};

/// One question, answered.
#[derive(Debug, Clone, PartialEq)]
pub struct Answered {
    /// Its name in results.
    pub name: &'static str,
    /// The question.
    pub question: &'static str,
    /// "Yes", "No", "Open"; of "where", the places.
    pub answer: String,
    /// Probability of a yes; of "where", of the likeliest place.
    pub probability: f64,
    /// The number that speaks for it.
    pub why: String,
}

/// The questions of a verdict in which some cam was measured; none otherwise, nor where the odds
/// rest on an assumption.
#[must_use]
pub fn questions(engine: &Engine, verdict: &Verdict) -> Vec<Answered> {
    if verdict.deviations.is_empty() || verdict.rests_on_assumption() {
        return vec![];
    }
    let asked = &verdict.questions;
    let best = |kinds: &[Kind]| verdict.explanations.iter().find(|one| kinds.contains(&one.kind));
    // What speaks for a yes; where the answer is no, what leads speaks against it.
    let reason = |odds: f64, kinds: &[Kind]| {
        let told = if odds > 1.0 - SURE { best(kinds) } else { verdict.explanations.first() };
        told.map_or_else(String::new, |one: &Weighed| why(engine, one))
    };
    let due = [Kind::Skip, Kind::Wear];
    let mut answered = vec![Answered {
        name: "skipped",
        question: "Has a chain skipped?",
        answer: answer(asked.skipped).into(),
        probability: asked.skipped,
        why: reason(asked.skipped, &due[..1]),
    }];
    if let Some(first) = verdict.places.first() {
        let told = |place: &Place| {
            format!("{} ({})", place_words(engine, place), percent(place.probability))
        };
        let places: Vec<String> = verdict.places.iter().map(told).collect();
        answered.push(Answered {
            name: "where",
            question: "Where?",
            answer: capital(&places.join("; ")),
            probability: first.probability,
            why: reason(1.0, &due[..1]),
        });
    }
    answered.push(Answered {
        name: "drive_due",
        question: "Is the timing drive due?",
        answer: answer(asked.drive_due).into(),
        probability: asked.drive_due,
        why: reason(asked.drive_due, &due),
    });
    let names: Vec<&str> =
        verdict.covers.iter().map(|&cam| engine.cams[cam].name.as_str()).collect();
    let about = if verdict.covers_every_cam || names.is_empty() {
        String::new()
    } else {
        format!(" This is of {} alone.", list(&names))
    };
    answered.push(Answered {
        name: "recorded_cams_in_place",
        question: "Is every cam that was recorded in its place?",
        answer: answer(asked.recorded_in_place).into(),
        probability: asked.recorded_in_place,
        why: furthest(engine, verdict.furthest()) + &about,
    });
    answered
}

/// The questions with each reason told once: where it is that of the question before, it is left
/// out.
#[must_use]
pub fn told_once(answered: Vec<Answered>) -> Vec<Answered> {
    let mut said: Vec<String> = Vec::new();
    let mut told = answered;
    for one in &mut told {
        if said.contains(&one.why) {
            one.why.clear();
        } else {
            said.push(one.why.clone());
        }
    }
    told
}

/// Nothing is answered below the odds of a finding.
fn answer(odds: f64) -> &'static str {
    if odds >= SURE {
        "Yes"
    } else if odds <= 1.0 - SURE {
        "No"
    } else {
        "Open"
    }
}
