//! The result as JSON: the keys that scripts rely on, which change with the name of the format only. What was not measured is `null`.

use serde::Serialize;

use crate::analysis::{Analysis, CrankingTest};
use crate::angle::AngleFrom;
use crate::cam::{CamResult, ExpectedFrom};
use crate::compression::{BankResult, CompressionOutcome, CylinderResult, NamedBy};
use crate::engine::Engine;
use crate::notice::Notice;
use crate::report::words;
use crate::units::{CrankDeg, CrankDelta};
use crate::verdict::{
    Agreement, Caution, CompressionFinding, Kind, Place, Reason, State, Verdict, Weighed,
};

/// Name and version of the format.
pub const FORMAT: &str = "camwitness-result/1";

#[derive(Serialize)]
struct ResultFile<'a> {
    format: &'static str,
    engine: &'a str,
    capture: &'a [String],
    condition: ConditionPart,
    crank: Option<CrankPart<'a>>,
    cams: Vec<CamPart<'a>>,
    bank_differences: Vec<BankPart<'a>>,
    compression: Option<CompressionPart>,
    verdict: Option<VerdictPart<'a>>,
    does_not_fit: Option<Vec<MistakePart>>,
    provenance: ProvenancePart<'a>,
    codes: Vec<CodePart<'a>>,
    warnings: Vec<Notice>,
    cautions: [&'static str; Caution::ALL.len()],
}

#[derive(Serialize)]
struct ConditionPart {
    state: &'static str,
    rpm_mean: f64,
    rpm_min: f64,
    rpm_max: f64,
    cycles: usize,
    seconds_used: f64,
    seconds_dropped: f64,
}

#[derive(Serialize)]
struct CrankPart<'a> {
    lead: &'a str,
    wheel: &'a str,
    confidence: f64,
    polarity: Option<&'static str>,
    marking_edge: &'static str,
    known_modulo_deg: f64,
    teeth_seen: usize,
    missed: usize,
    extra: usize,
}

#[derive(Serialize)]
struct CamPart<'a> {
    cam: &'a str,
    bank: u32,
    shaft: &'static str,
    lead: &'a str,
    polarity: &'static str,
    cycles: usize,
    position_deg: f64,
    expected_deg: Option<f64>,
    expected_from: Option<&'static str>,
    deviation_deg: Option<f64>,
    ci95_deg: Option<[f64; 2]>,
    cycle_sd_deg: Option<f64>,
    known_modulo_deg: f64,
    step_deg: Option<f64>,
    nearest_teeth: Option<i32>,
    nearest_links: Option<i32>,
    left_over_deg: Option<f64>,
    edges: Vec<EdgePart>,
    missed: usize,
    extra: usize,
}

#[derive(Serialize)]
struct EdgePart {
    kind: &'static str,
    at_deg: f64,
    off_deg: f64,
    sd_deg: Option<f64>,
    n: usize,
}

#[derive(Serialize)]
struct BankPart<'a> {
    cams: [&'a str; 2],
    difference_deg: f64,
    ci95_deg: [f64; 2],
}

#[derive(Serialize)]
struct CompressionPart {
    from: Option<&'static str>,
    angle_from: &'static str,
    finding: FindingPart,
    cylinders: Vec<CylinderPart>,
    banks: Vec<BankCompressionPart>,
    bank_difference: Option<BankDifferencePart>,
    cycles: usize,
    named_by: Option<&'static str>,
    agreement: Option<&'static str>,
    expected_difference: Option<f64>,
    tdc_off_deg: Option<f64>,
}

#[derive(Serialize)]
struct FindingPart {
    state: &'static str,
    cylinders: Vec<u32>,
    peaks: Vec<usize>,
    bank: Option<u32>,
    below: Option<f64>,
    ci95: Option<[f64; 2]>,
    probability: Option<f64>,
    as_if_intake_late_deg: Option<f64>,
    odds: std::collections::BTreeMap<&'static str, f64>,
    why: String,
}

#[derive(Serialize)]
struct CylinderPart {
    cylinder: Option<u32>,
    bank: Option<u32>,
    relative: f64,
    ci95: [f64; 2],
}

#[derive(Serialize)]
struct BankCompressionPart {
    bank: u32,
    relative: f64,
}

#[derive(Serialize)]
struct BankDifferencePart {
    low_bank: Option<u32>,
    relative: f64,
    ci95: [f64; 2],
    cylinders_agreeing: usize,
    of: usize,
}

#[derive(Serialize)]
struct VerdictPart<'a> {
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

/// Where the figures are from that the cams were held against.
#[derive(Serialize)]
struct ProvenancePart<'a> {
    places: Vec<SourcePart<'a>>,
}

#[derive(Serialize)]
struct SourcePart<'a> {
    cam: &'a str,
    source: Option<String>,
    confirmed: bool,
}

/// What may be wrong with the description or the leads, likeliest first.
#[derive(Serialize)]
struct MistakePart {
    what: String,
    line: Option<usize>,
    probability: f64,
    puts_in_time: bool,
}

#[derive(Serialize)]
struct CodePart<'a> {
    code: &'a str,
    explained: Option<bool>,
    why: String,
}

/// Writes the result as indented JSON with a line end.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
/// # use std::path::Path;
/// # use camwitness::{Engine, Options, ReadOptions, analyse, read};
/// # let engine = Engine::read(Path::new("demo-data/engine.toml"))?;
/// # let capture = read(Path::new("demo-data/sound.csv"), &ReadOptions::default())?;
/// let analysis = analyse(&[capture], &engine, &Options::default())?;
/// let json = camwitness::to_json(&analysis);
/// assert!(json.contains("\"state\": \"in_time\""));
/// # Ok(())
/// # }
/// ```
///
/// # Panics
/// Never: every value is a number, text or list. (A number that is not finite would become `null`.)
#[must_use]
pub fn write(analysis: &Analysis) -> String {
    let text = serde_json::to_string_pretty(&result(analysis));
    plain(text.expect("plain values always serialize")) + "\n"
}

/// As [`write()`], on one line.
///
/// # Panics
/// Never, as [`write()`].
#[must_use]
pub fn write_line(analysis: &Analysis) -> String {
    plain(serde_json::to_string(&result(analysis)).expect("plain values always serialize")) + "\n"
}

/// Escapes what JSON allows in a text and a terminal obeys (delete and the C1 controls; the others are escaped
/// already), so that the result can be shown and still says the name as it is.
pub(super) fn plain(json: String) -> String {
    let acts = |letter: char| ('\u{7f}'..='\u{9f}').contains(&letter);
    if !json.contains(acts) {
        return json;
    }
    let escaped = |letter: char| match letter {
        letter if acts(letter) => format!("\\u{:04x}", u32::from(letter)),
        letter => letter.into(),
    };
    json.chars().map(escaped).collect()
}

fn result(analysis: &Analysis) -> ResultFile<'_> {
    let (crank, verdict) = (&analysis.crank, &analysis.verdict);
    ResultFile {
        format: FORMAT,
        engine: &analysis.engine.name,
        capture: &analysis.captures,
        condition: ConditionPart {
            state: crank.condition.word(),
            rpm_mean: round(crank.rpm_mean.0, 1),
            rpm_min: round(crank.rpm_min.0, 1),
            rpm_max: round(crank.rpm_max.0, 1),
            cycles: analysis.cycles,
            seconds_used: round(analysis.seconds_used.0, 3),
            seconds_dropped: round(analysis.seconds_dropped.0, 3),
        },
        crank: Some(CrankPart {
            lead: &analysis.crank_lead,
            wheel: analysis.engine.crank.wheel.name(),
            confidence: round(crank.confidence, 6),
            polarity: crank.polarity.map(crate::crank::Polarity::word),
            marking_edge: crank.marking_edge.word(),
            known_modulo_deg: round(analysis.known_modulo.0, 3),
            teeth_seen: crank.teeth_seen,
            missed: crank.missed,
            extra: crank.extra,
        }),
        cams: analysis.cams.iter().map(|cam| cam_part(analysis, cam)).collect(),
        bank_differences: analysis
            .bank_differences
            .iter()
            .map(|pair| BankPart {
                cams: [name(analysis, pair.cams.0), name(analysis, pair.cams.1)],
                difference_deg: delta(pair.difference),
                ci95_deg: [
                    delta(pair.difference - pair.half_width95),
                    delta(pair.difference + pair.half_width95),
                ],
            })
            .collect(),
        compression: compression_part(analysis),
        verdict: Some(VerdictPart {
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
                    answer: if one.name == "where" {
                        one.answer
                    } else {
                        one.answer.to_lowercase()
                    },
                    probability: round(one.probability, 6),
                    why: one.why,
                })
                .collect(),
            sentence: words::finding(&analysis.engine, verdict),
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
        }),
        provenance: ProvenancePart { places: sources(analysis) },
        does_not_fit: (verdict.state == State::DoesNotFit).then(|| mistakes(analysis)),
        codes: verdict
            .codes
            .iter()
            .map(|answer| CodePart {
                code: &answer.code,
                explained: answer.explained(),
                why: words::code(answer),
            })
            .collect(),
        warnings: words::warnings(analysis),
        cautions: words::cautions(),
    }
}

fn sources(analysis: &Analysis) -> Vec<SourcePart<'_>> {
    let placed = analysis.cams.iter().filter_map(|cam| Some((cam, cam.expected?)));
    placed
        .map(|(cam, expected)| SourcePart {
            cam: name(analysis, cam.measured.cam),
            source: analysis.engine.source_of(cam.measured.cam),
            confirmed: expected.from == ExpectedFrom::KnownGood,
        })
        .collect()
}

fn mistakes(analysis: &Analysis) -> Vec<MistakePart> {
    let engine = &analysis.engine;
    let said = analysis.verdict.explanations.iter().filter_map(|one| {
        let Reason::DoesNotFit { mistake, stand } = &one.reason else { return None };
        Some(MistakePart {
            what: words::mistake(engine, mistake, stand),
            line: mistake.line(engine),
            probability: round(one.probability, 6),
            puts_in_time: mistake.leaves_all_in_time(),
        })
    });
    said.filter(|one| one.probability >= LEAST_MISTAKE).collect()
}

/// Mistakes less likely than this are not listed.
const LEAST_MISTAKE: f64 = 0.001;

fn cam_part<'a>(analysis: &'a Analysis, cam: &'a CamResult) -> CamPart<'a> {
    let described = &analysis.engine.cams[cam.measured.cam];
    CamPart {
        cam: &described.name,
        bank: described.bank,
        shaft: described.shaft.word(),
        lead: &cam.measured.lead,
        polarity: cam.measured.polarity.word(),
        cycles: cam.measured.cycles.len(),
        position_deg: place(cam.measured.position),
        expected_deg: cam.expected.map(|expected| place(expected.at)),
        expected_from: cam.expected.map(|expected| match expected.from {
            ExpectedFrom::EngineFile => "engine-file",
            ExpectedFrom::KnownGood => "known-good",
        }),
        deviation_deg: cam.deviation().map(delta),
        ci95_deg: cam.ci95().map(|(low, high)| [delta(low), delta(high)]),
        cycle_sd_deg: cam.measured.cycle_sd.map(delta),
        known_modulo_deg: round(cam.known_modulo.0, 3),
        step_deg: cam.step.map(delta),
        nearest_teeth: cam.teeth().map(|(teeth, _)| teeth),
        nearest_links: cam.teeth().map(|(teeth, _)| teeth).filter(|_| cam.by_links),
        left_over_deg: cam.teeth().map(|(_, left)| delta(left)),
        edges: cam
            .measured
            .edges
            .iter()
            .map(|edge| EdgePart {
                kind: edge.kind.word(),
                at_deg: place(edge.at),
                off_deg: delta(edge.off),
                sd_deg: edge.sd.map(delta),
                n: edge.n,
            })
            .collect(),
        missed: cam.measured.missed,
        extra: cam.measured.extra,
    }
}

fn compression_part(analysis: &Analysis) -> Option<CompressionPart> {
    analysis.compression.measured.as_ref()?;
    let judgement = analysis.verdict.compression.as_ref();
    let finding = &analysis.compression_finding;
    Some(CompressionPart {
        agreement: judgement.map(|judgement| match judgement.agreement {
            Agreement::Agrees => "agrees",
            Agreement::Silent => "silent",
            Agreement::Contradicts => "contradicts",
            Agreement::OtherCause => "other-cause",
        }),
        expected_difference: judgement
            .and_then(|judgement| judgement.expected)
            .map(|e| round(e, 4)),
        ..outcome_part(&analysis.engine, &analysis.compression, AngleFrom::Crank, finding)
    })
}

/// What was measured and found of an outcome; nothing of the cams.
fn outcome_part(
    engine: &Engine,
    outcome: &CompressionOutcome,
    from: AngleFrom,
    finding: &CompressionFinding,
) -> CompressionPart {
    let measured = outcome.measured.as_ref();
    let pair = |(low, high): (f64, f64)| [round(low, 4), round(high, 4)];
    CompressionPart {
        from: measured.map(|measured| measured.source.word()),
        angle_from: from.word(),
        finding: FindingPart {
            state: finding.state.word(),
            cylinders: finding.cylinders.clone(),
            peaks: finding.peaks.clone(),
            bank: finding.bank,
            below: finding.below.map(|(share, _)| round(share, 4)),
            ci95: finding.below.map(|(_, interval)| pair(interval)),
            probability: (!finding.odds.is_empty()).then(|| round(finding.probability, 6)),
            as_if_intake_late_deg: finding.as_if_late.map(delta),
            odds: finding
                .odds
                .iter()
                .map(|(state, odds)| (state.word(), round(*odds, 6)))
                .collect(),
            why: words::compression_finding(engine, measured, finding),
        },
        cylinders: measured.map_or_else(Vec::new, |measured| {
            let part = |cylinder: &CylinderResult| CylinderPart {
                cylinder: cylinder.cylinder,
                bank: cylinder.bank,
                relative: round(cylinder.relative, 4),
                ci95: pair(cylinder.ci95),
            };
            measured.cylinders.iter().map(part).collect()
        }),
        banks: measured.map_or_else(Vec::new, |measured| {
            let part = |bank: &BankResult| BankCompressionPart {
                bank: bank.bank,
                relative: round(bank.relative, 4),
            };
            measured.banks.iter().map(part).collect()
        }),
        bank_difference: measured.and_then(|measured| measured.bank_difference.as_ref()).map(
            |difference| BankDifferencePart {
                low_bank: difference.low_bank,
                relative: round(difference.relative, 4),
                ci95: pair(difference.ci95),
                cylinders_agreeing: difference.agree,
                of: difference.of,
            },
        ),
        cycles: measured.map_or(0, |measured| measured.cycles_used),
        named_by: measured.map(|measured| match measured.named_by {
            NamedBy::Phase => "phase",
            NamedBy::FiringPattern => "firing-pattern",
            NamedBy::Ignition { .. } => "ignition",
            NamedBy::Injector { .. } => "injector",
            NamedBy::Pressure { .. } => "pressure",
            NamedBy::Nothing => "nothing",
        }),
        agreement: None,
        expected_difference: None,
        tdc_off_deg: outcome.tdc.and_then(|tdc| tdc.off).map(delta),
    }
}

/// Writes the result of captures without a crank as indented JSON with a line end: `crank` and `verdict` are null.
///
/// # Panics
/// Never, as [`write()`].
#[must_use]
pub fn write_cranking(test: &CrankingTest) -> String {
    let main = test.main();
    let all: f64 = test.attempts.iter().map(|attempt| (attempt.span.1 - attempt.span.0).0).sum();
    let used = (main.span.1 - main.span.0).0;
    let result = ResultFile {
        format: FORMAT,
        engine: &test.engine.name,
        capture: &test.captures,
        condition: ConditionPart {
            state: "cranking",
            rpm_mean: round(main.rpm.0.0, 1),
            rpm_min: round(main.rpm.1.0, 1),
            rpm_max: round(main.rpm.2.0, 1),
            cycles: main.cycles,
            seconds_used: round(used, 3),
            seconds_dropped: round(all - used, 3),
        },
        crank: None,
        cams: Vec::new(),
        bank_differences: Vec::new(),
        compression: Some(outcome_part(
            &test.engine,
            &main.compression,
            main.found.from,
            &test.finding,
        )),
        verdict: None,
        does_not_fit: None,
        provenance: ProvenancePart { places: Vec::new() },
        codes: Vec::new(),
        warnings: test.warnings.clone(),
        cautions: words::cautions(),
    };
    let text = serde_json::to_string_pretty(&result);
    plain(text.expect("plain values always serialize")) + "\n"
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

/// Without a recorded cam the questions are not asked of this engine, nor where the odds rest on an assumption.
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

fn name(analysis: &Analysis, cam: usize) -> &str {
    &analysis.engine.cams[cam].name
}

/// A hundredth of a degree is finer than anything measured here.
fn delta(value: CrankDelta) -> f64 {
    round(value.0, 2)
}

fn place(value: CrankDeg) -> f64 {
    round(value.get(), 2).rem_euclid(720.0)
}

/// Rounds for print; minus zero becomes zero.
fn round(value: f64, digits: i32) -> f64 {
    let scale = 10_f64.powi(digits);
    (value * scale).round() / scale + 0.0
}
