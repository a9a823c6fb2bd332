//! The verdict in the result.

use serde::Serialize;

use super::{name, round};
use crate::analysis::Analysis;
use crate::report::words;
use crate::verdict::{Kind, Place, State, Verdict, Weighed};

#[derive(Serialize)]
pub(super) struct VerdictPart<'a> {
    state: State,
    probability: f64,
    teeth: Option<i32>,
    links: Option<i32>,
    on: Option<&'a str>,
    chain: Option<&'a str>,
    moves: &'a [String],
    places: Vec<PlacePart<'a>>,
    covers: Vec<&'a str>,
    covers_every_cam: bool,
    questions: QuestionsPart,
    answers: Vec<AnswerPart>,
    sentence: String,
    explanations: Vec<ExplanationPart<'a>>,
    next_test: Option<String>,
    code_evidence: Option<String>,
    contradictions: Vec<ContradictionPart>,
}

/// Two things that cannot both be right.
#[derive(Serialize)]
struct ContradictionPart {
    text: String,
}

#[derive(Serialize)]
struct PlacePart<'a> {
    on: Option<&'a str>,
    chain: Option<&'a str>,
    teeth: Option<i32>,
    links: Option<i32>,
    moves: &'a [String],
    probability: f64,
}

#[derive(Serialize)]
struct QuestionsPart {
    skipped: Option<f64>,
    drive_due: Option<f64>,
    recorded_cams_in_place: Option<f64>,
    describes_this_engine: Option<f64>,
}

#[derive(Serialize)]
struct AnswerPart {
    question: &'static str,
    answer: String,
    probability: f64,
    why: String,
}

#[derive(Serialize)]
struct ExplanationPart<'a> {
    kind: Kind,
    on: Option<&'a str>,
    chain: Option<&'a str>,
    teeth: Option<i32>,
    links: Option<i32>,
    moves: &'a [String],
    probability: f64,
    why: String,
}

pub(super) fn verdict_part(analysis: &Analysis) -> VerdictPart<'_> {
    let verdict = &analysis.verdict;
    VerdictPart {
        state: verdict.state,
        probability: round(verdict.probability, 6),
        teeth: verdict.teeth,
        links: verdict.links,
        on: verdict.on.as_deref(),
        chain: verdict.chain.as_deref(),
        moves: &verdict.moves,
        places: verdict.places.iter().map(place_part).collect(),
        covers: verdict.covers.iter().map(|&cam| name(analysis, cam)).collect(),
        covers_every_cam: verdict.covers_every_cam,
        questions: questions_part(verdict),
        answers: words::questions(&analysis.engine, verdict)
            .into_iter()
            .map(|one| AnswerPart {
                question: one.name,
                answer: if one.name == "where" { one.answer } else { one.answer.to_lowercase() },
                probability: round(one.probability, 6),
                why: one.why,
            })
            .collect(),
        sentence: words::whole_finding(analysis),
        explanations: verdict
            .explanations
            .iter()
            .map(|one| explanation_part(analysis, one))
            .collect(),
        next_test: words::next(&analysis.engine, verdict),
        code_evidence: words::accused(verdict),
        contradictions: verdict
            .contradictions
            .iter()
            .map(|one| ContradictionPart {
                text: words::contradiction(&analysis.engine, verdict, one),
            })
            .collect(),
    }
}

fn place_part(place: &Place) -> PlacePart<'_> {
    PlacePart {
        on: place.on.as_deref(),
        chain: place.chain.as_deref(),
        teeth: place.teeth,
        links: place.links,
        moves: &place.moves,
        probability: round(place.probability, 6),
    }
}

/// Without a recorded cam the questions are not asked of this engine, nor where the odds rest on an
/// assumption.
fn questions_part(verdict: &Verdict) -> QuestionsPart {
    let asks = !verdict.deviations.is_empty() && !verdict.rests_on_assumption();
    let asked = |odds: f64| asks.then(|| round(odds, 6));
    QuestionsPart {
        skipped: asked(verdict.questions.skipped),
        drive_due: asked(verdict.questions.drive_due),
        recorded_cams_in_place: asked(verdict.questions.recorded_in_place),
        describes_this_engine: asked(verdict.describes_this_engine()),
    }
}

fn explanation_part<'a>(analysis: &Analysis, weighed: &'a Weighed) -> ExplanationPart<'a> {
    ExplanationPart {
        kind: weighed.kind,
        on: weighed.on.as_deref(),
        chain: weighed.chain.as_deref(),
        teeth: weighed.teeth,
        links: weighed.links,
        moves: &weighed.moves,
        probability: round(weighed.probability, 9),
        why: words::why(&analysis.engine, weighed),
    }
}
