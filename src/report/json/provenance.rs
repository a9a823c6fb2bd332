//! What a result rests on: the recordings, what was said beside them, and what it was held against.

use serde::Serialize;

use super::{name, round};
use crate::analysis::{Analysis, Options};
use crate::cam::ExpectedFrom;
use crate::capture::{CaptureFacts, Unit};
use crate::engine::Engine;
use crate::report::job::Job;
use crate::report::words;
use crate::verdict::{Kind, priors};

/// Where the figures are from, and what they are of.
#[derive(Serialize)]
pub(super) struct ProvenancePart<'a> {
    version: &'static str,
    calibration: &'static str,
    captures: Vec<CapturePart<'a>>,
    engine_file: Option<&'a str>,
    options: OptionsPart<'a>,
    prior_odds: Vec<PriorPart>,
    places: Vec<SourcePart<'a>>,
    job: Option<JobPart<'a>>,
}

#[derive(Serialize)]
struct CapturePart<'a> {
    name: &'a str,
    sha256: Option<&'a str>,
    bytes: Option<u64>,
    recorded: Option<&'a str>,
    kind: &'static str,
    rows: usize,
    seconds: f64,
    rate: Option<f64>,
    columns: Vec<ColumnPart<'a>>,
}

#[derive(Serialize)]
struct ColumnPart<'a> {
    name: &'a str,
    unit: &'static str,
    /// The smallest step between two values that was seen.
    resolution: Option<f64>,
}

#[derive(Serialize)]
struct OptionsPart<'a> {
    leads: Vec<String>,
    codes: &'a [String],
    code_evidence: bool,
    after_repair: bool,
    known_good: bool,
}

#[derive(Serialize)]
struct PriorPart {
    kind: Kind,
    probability: f64,
}

#[derive(Serialize)]
struct SourcePart<'a> {
    cam: &'a str,
    source: Option<String>,
    confirmed: bool,
}

#[derive(Serialize)]
struct JobPart<'a> {
    number: Option<&'a str>,
    vehicle: Option<&'a str>,
    mileage: Option<&'a str>,
    technician: Option<&'a str>,
    date: Option<&'a str>,
    identification: Option<&'a str>,
    scope: Option<&'a str>,
    clamp: Option<&'a str>,
    leads: Option<&'a str>,
    battery_cranking: Option<&'a str>,
    coolant: Option<&'a str>,
    oil: Option<&'a str>,
    phaser_command: Option<&'a str>,
    freeze_frame: Option<&'a str>,
}

/// Of a result: its parts, and the job it belongs to where that was said.
pub(super) fn provenance_part<'a>(
    engine: &'a Engine,
    facts: &'a [CaptureFacts],
    asked: &'a Options,
    job: Option<&'a Job>,
) -> ProvenancePart<'a> {
    let file = engine.written.file.as_str();
    let prior = |(kind, odds): (Kind, f64)| PriorPart { kind, probability: round(odds, 4) };
    ProvenancePart {
        version: words::VERSION,
        calibration: words::CALIBRATION,
        captures: facts.iter().map(capture_part).collect(),
        engine_file: (!file.is_empty()).then_some(file),
        options: OptionsPart {
            leads: words::leads_asked(asked),
            codes: &asked.codes,
            code_evidence: !asked.no_code_evidence,
            after_repair: asked.after_repair,
            known_good: asked.known.is_some(),
        },
        prior_odds: priors::stated(&asked.codes, asked.after_repair)
            .into_iter()
            .map(prior)
            .collect(),
        places: Vec::new(),
        job: job.filter(|job| **job != Job::default()).map(job_part),
    }
}

impl<'a> ProvenancePart<'a> {
    /// With the source of every expected place.
    pub(super) fn with_places(self, analysis: &'a Analysis) -> ProvenancePart<'a> {
        ProvenancePart { places: sources(analysis), ..self }
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

fn capture_part(facts: &CaptureFacts) -> CapturePart<'_> {
    let file = facts.file.as_ref();
    CapturePart {
        name: &facts.name,
        sha256: file.and_then(|file| file.sha256.as_deref()),
        bytes: file.map(|file| file.bytes),
        recorded: file.and_then(|file| file.recorded.as_deref()),
        kind: facts.kind.word(),
        rows: facts.rows,
        seconds: round(facts.seconds.0, 6),
        rate: facts.rate.map(|rate| round(rate, 3)),
        columns: facts
            .channels
            .iter()
            .map(|channel| ColumnPart {
                name: &channel.name,
                unit: match channel.unit {
                    Unit::Volts => "V",
                    Unit::Amperes => "A",
                    Unit::Level => "level",
                },
                resolution: channel.step.map(|step| round(step, 6)),
            })
            .collect(),
    }
}

fn job_part(job: &Job) -> JobPart<'_> {
    JobPart {
        number: job.number.as_deref(),
        vehicle: job.vehicle.as_deref(),
        mileage: job.mileage.as_deref(),
        technician: job.technician.as_deref(),
        date: job.date.as_deref(),
        identification: job.identification.as_deref(),
        scope: job.scope.as_deref(),
        clamp: job.clamp.as_deref(),
        leads: job.leads.as_deref(),
        battery_cranking: job.battery_cranking.as_deref(),
        coolant: job.coolant.as_deref(),
        oil: job.oil.as_deref(),
        phaser_command: job.phaser_command.as_deref(),
        freeze_frame: job.freeze_frame.as_deref(),
    }
}
