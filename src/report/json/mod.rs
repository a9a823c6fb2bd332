//! The result as JSON: the keys that scripts rely on, which change with the name of the format
//! only. What was not measured is `null`.

mod coarse;
mod compression;
mod pressure;
mod provenance;
mod verdict;

use serde::Serialize;

use self::compression::{CompressionPart, compression_part, outcome_part};
use self::pressure::{ControllerPart, PressurePart, controller_part, pressure_part};
use self::provenance::{ProvenancePart, provenance_part};
use self::verdict::{VerdictPart, verdict_part};
use crate::analysis::{Analysis, Checked, CrankingTest};
use crate::cam::{CamResult, ExpectedFrom};
use crate::notice::Notice;
use crate::report::job::Job;
use crate::report::words;
use crate::units::{CrankDeg, CrankDelta};
use crate::verdict::{Caution, Reason, State};
use coarse::{CoarsePart, coarse_part};

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
    /// Only of captures without a crank that carry cams.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    cams_without_crank: Vec<CoarsePart<'a>>,
    bank_differences: Vec<BankPart<'a>>,
    compression: Option<CompressionPart>,
    pressure: Vec<PressurePart>,
    controller: Vec<ControllerPart<'a>>,
    after_repair: bool,
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
    write_for(analysis, &Job::default())
}

/// As [`write()`], with what the workshop says of the job.
///
/// # Panics
/// Never, as [`write()`].
#[must_use]
pub fn write_for(analysis: &Analysis, job: &Job) -> String {
    let text = serde_json::to_string_pretty(&result(analysis, Some(job)));
    plain(text.expect("plain values always serialize")) + "\n"
}

/// As [`write()`], on one line.
///
/// # Panics
/// Never, as [`write()`].
#[must_use]
pub fn write_line(analysis: &Analysis) -> String {
    plain(serde_json::to_string(&result(analysis, None)).expect("plain values always serialize"))
        + "\n"
}

/// Escapes what JSON allows in a text and a terminal obeys (delete and the C1 controls; the others
/// are escaped already), so that the result can be shown and still says the name as it is.
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

fn result<'a>(analysis: &'a Analysis, job: Option<&'a Job>) -> ResultFile<'a> {
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
        cams_without_crank: Vec::new(),
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
        pressure: pressure_part(&analysis.engine, &analysis.compression),
        controller: controller_part(analysis),
        after_repair: analysis.verdict.after_repair,
        verdict: Some(verdict_part(analysis)),
        provenance: provenance_part(&analysis.engine, &analysis.facts, &analysis.asked, job)
            .with_places(analysis),
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

fn mistakes(analysis: &Analysis) -> Vec<MistakePart> {
    let engine = &analysis.engine;
    let said = analysis.verdict.explanations.iter().filter_map(|one| {
        let Reason::DoesNotFit { mistake, stand } = &one.reason else { return None };
        Some(MistakePart {
            what: words::mistake(engine, mistake, stand),
            line: mistake.line(engine),
            probability: round(one.probability, 6),
            puts_in_time: words::puts_in_time(engine, mistake, stand),
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

/// Writes the result of a check, whatever it turned out to be, as indented JSON with a line end.
/// Where there was no crank, `crank` and `verdict` are null.
///
/// # Panics
/// Never, as [`write()`].
#[must_use]
pub fn write_checked(checked: &Checked, job: &Job) -> String {
    match checked {
        Checked::Timing(analysis) => write_for(analysis, job),
        Checked::Compression(test) => write_cranking(test, job),
    }
}

/// The result of captures without a crank.
pub(super) fn write_cranking(test: &CrankingTest, job: &Job) -> String {
    let text = serde_json::to_string_pretty(&cranking_result(test, Some(job)));
    plain(text.expect("plain values always serialize")) + "\n"
}

/// The result of captures, whatever they turned out to be, on one line.
///
/// # Panics
/// Never, as [`write()`].
#[must_use]
pub fn write_checked_line(checked: &Checked) -> String {
    match checked {
        Checked::Timing(analysis) => write_line(analysis),
        Checked::Compression(test) => {
            let text = serde_json::to_string(&cranking_result(test, None));
            plain(text.expect("plain values always serialize")) + "\n"
        }
    }
}

fn cranking_result<'a>(test: &'a CrankingTest, job: Option<&'a Job>) -> ResultFile<'a> {
    let main = test.main();
    let all: f64 = test.attempts.iter().map(|attempt| (attempt.span.1 - attempt.span.0).0).sum();
    let used = (main.span.1 - main.span.0).0;
    ResultFile {
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
        cams_without_crank: coarse_part(test),
        bank_differences: Vec::new(),
        compression: Some(outcome_part(&test.engine, &main.compression, &test.finding)),
        pressure: pressure_part(&test.engine, &main.compression),
        controller: Vec::new(),
        after_repair: false,
        verdict: None,
        does_not_fit: None,
        provenance: provenance_part(&test.engine, &test.facts, &test.asked, job),
        codes: Vec::new(),
        warnings: test.warnings.clone(),
        cautions: words::cautions(),
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
