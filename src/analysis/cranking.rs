//! Captures without a crank lead: compression by the leads a technician clamps first.

use super::compress::{Heard, compress};
use super::measured::reader_notices;
use super::{AnalysisError, CoarseCam, LeadReport, Options, coarse, files};
use crate::angle::{self, AngleFrom, AngleInput, FoundAngle, MarkLead, Series};
use crate::capture::{Capture, CaptureFacts, CaptureKind, Channel, Samples};
use crate::compression::{CompressionOutcome, CylinderResult, Trigger, pressure_peaks};
use crate::engine::Engine;
use crate::leads::{Lead, LeadError, LeadRequest, Role, assign_any, may_be_crank};
use crate::notice::Notice;
use crate::units::{CYCLE_DEG, Rpm, Seconds};
use crate::verdict::{CompressionFinding, judge_cylinders};
use crate::watch::Watch;

/// Compression of an engine whose crank was not recorded.
#[derive(Debug, Clone)]
pub struct CrankingTest {
    /// The description it was held against.
    pub engine: Engine,
    /// File names of the captures, in the order given.
    pub captures: Vec<String>,
    /// What tells these captures from others, in the same order.
    pub facts: Vec<CaptureFacts>,
    /// What was said beside the captures.
    pub asked: Options,
    /// The leads, of all captures.
    pub leads: Vec<LeadReport>,
    /// Every attempt at cranking, in the order of captures and time. At least one.
    pub attempts: Vec<Attempt>,
    /// Which of them the finding is from: the steadiest.
    pub chosen: usize,
    /// What it means.
    pub finding: CompressionFinding,
    /// Everything the user should hear.
    pub warnings: Vec<Notice>,
}

/// One attempt at cranking.
#[derive(Debug, Clone)]
pub struct Attempt {
    /// Which capture it is in: index into the captures.
    pub capture: usize,
    /// Its angle.
    pub found: FoundAngle,
    /// When it begins and ends.
    pub span: (Seconds, Seconds),
    /// Whole cycles of it.
    pub cycles: usize,
    /// Mean speed of its cycles, and of the slowest and the fastest.
    pub rpm: (Rpm, Rpm, Rpm),
    /// Its compression.
    pub compression: CompressionOutcome,
    /// Cam leads, as well as they can be placed without the crank.
    pub cams: Vec<CoarseCam>,
}

impl CrankingTest {
    /// How far the named cylinders of other attempts are from those of the one taken, at most;
    /// `None` where there is nothing to compare.
    #[must_use]
    pub fn agreement(&self) -> Option<f64> {
        let main = self.main().compression.measured.as_ref()?;
        let others = self.attempts.iter().enumerate().filter(|(index, _)| *index != self.chosen);
        let measured = others.filter_map(|(_, attempt)| attempt.compression.measured.as_ref());
        let apart = measured.flat_map(|other| {
            main.cylinders.iter().filter_map(move |one| {
                let same = |theirs: &&CylinderResult| theirs.cylinder == one.cylinder;
                one.cylinder?;
                Some((other.cylinders.iter().find(same)?.relative - one.relative).abs())
            })
        });
        apart.max_by(f64::total_cmp)
    }

    /// The attempt the finding is from.
    #[must_use]
    pub fn main(&self) -> &Attempt {
        &self.attempts[self.chosen]
    }
}

/// Whether no capture carries the crank and one at least carries what shows compressions. A header
/// that speaks of the crank asks for its name first.
pub(super) fn is_one(
    captures: &[Capture],
    engine: &Engine,
    options: &Options,
) -> Result<bool, AnalysisError> {
    let mut compressions = false;
    for (capture, requests) in
        captures.iter().zip(files::requests_of_each(captures, engine, &options.leads)?)
    {
        let leads = assign_any(capture, engine, &requests)?;
        if has_crank(&leads, capture, engine) {
            return Ok(false);
        }
        compressions |= show_compressions(&leads);
    }
    Ok(compressions)
}

/// Whether a capture carries no crank and what shows compressions.
pub(super) fn shows_compressions_alone(
    capture: &Capture,
    engine: &Engine,
    requests: &[LeadRequest],
) -> Result<bool, AnalysisError> {
    let leads = assign_any(capture, engine, requests)?;
    Ok(!has_crank(&leads, capture, engine) && show_compressions(&leads))
}

fn has_crank(leads: &[Lead], capture: &Capture, engine: &Engine) -> bool {
    let named = leads.iter().any(|lead| lead.role == Role::Crank);
    engine.crank.described && (named || may_be_crank(capture).is_some())
}

fn show_compressions(leads: &[Lead]) -> bool {
    leads.iter().any(|lead| matches!(lead.role, Role::Starter | Role::Battery | Role::Pressure(_)))
}

/// Measures captures without a crank.
pub(super) fn measure(
    captures: &[&Capture],
    requests: &[Vec<LeadRequest>],
    engine: &Engine,
    options: &Options,
) -> Result<CrankingTest, AnalysisError> {
    let (mut leads_found, mut found, mut warnings) = (Vec::new(), Vec::new(), Vec::new());
    let mut failed = None;
    for (index, (capture, requests)) in captures.iter().zip(requests).enumerate() {
        let leads = assign_any(capture, engine, requests)?;
        check_cylinders(&leads, capture, engine)?;
        warnings.extend(reader_notices(capture));
        let report = |lead: &Lead| LeadReport::new(lead, capture, engine, Vec::new());
        leads_found.extend(leads.iter().map(report));
        let heard = Heard { capture, engine, leads: &leads };
        match attempts(&heard, index, &mut warnings) {
            Ok(some) => found.extend(some),
            Err(error) => {
                failed = Some(AnalysisError::NoAngle { capture: capture.source.clone(), error })
            }
        }
        options.watch.tell((index + 1) as f64 / captures.len() as f64);
        options.watch.go_on()?;
    }
    if found.is_empty()
        && let Some(error) = failed
    {
        return Err(error);
    }
    warnings.dedup();
    let chosen = steadiest(&found);
    Ok(CrankingTest {
        engine: engine.clone(),
        captures: captures.iter().map(|capture| capture.source.clone()).collect(),
        facts: captures.iter().map(|capture| CaptureFacts::of(capture)).collect(),
        asked: Options {
            leads: files::by_header(&options.leads, captures),
            watch: Watch::default(),
            ..options.clone()
        },
        leads: leads_found,
        finding: judge_cylinders(engine, &found[chosen].compression),
        attempts: found,
        chosen,
        warnings,
    })
}

/// A coil of a cylinder that the engine has not got names nothing.
fn check_cylinders(
    leads: &[Lead],
    capture: &Capture,
    engine: &Engine,
) -> Result<(), AnalysisError> {
    for lead in leads {
        if let Role::Ignition(cylinder) | Role::Injector(cylinder) | Role::Pressure(cylinder) =
            lead.role
            && !engine.firing_order.contains(&cylinder)
        {
            return Err(AnalysisError::Leads(LeadError::NoSuchCylinder {
                source_name: capture.source.clone(),
                lead: lead.role.name(engine),
                cylinder,
                order: engine
                    .firing_order
                    .iter()
                    .map(ToString::to_string)
                    .collect::<Vec<_>>()
                    .join("-"),
            }));
        }
    }
    Ok(())
}

fn attempts(
    heard: &Heard,
    capture: usize,
    notices: &mut Vec<Notice>,
) -> Result<Vec<Attempt>, angle::AngleError> {
    let series = |role: Role, rises: f64| {
        let (_, channel) = heard.channel(role)?;
        Series::of(channel.values.all(), &heard.capture.clock, rises)
    };
    // A clamp that points the wrong way falls with a compression; that it does is said by whoever
    // measures it.
    let turned = heard.channel(Role::Starter).is_some_and(|(_, channel)| below_zero(channel));
    let rises = if turned { -1.0 } else { 1.0 };
    let current = series(Role::Starter, rises).map(|series| (AngleFrom::Current, series));
    let rhythm = current.or_else(|| Some((AngleFrom::Battery, series(Role::Battery, -1.0)?)));
    let triggers = heard.triggers();
    let mut marks: Vec<MarkLead> = triggers
        .iter()
        .map(|lead| MarkLead {
            from: match lead.of {
                Trigger::Coil => AngleFrom::Ignition(lead.cylinder),
                Trigger::Injector => AngleFrom::Injector(lead.cylinder),
            },
            at: lead.pulses.clone(),
        })
        .collect();
    marks.extend(heard.pressure().iter().map(|(cylinder, lead)| MarkLead {
        from: AngleFrom::Pressure(*cylinder),
        at: pressure_peaks(lead),
    }));
    let input = AngleInput {
        engine: heard.engine,
        rhythm: rhythm.as_ref().map(|(from, series)| (*from, series)),
        marks: &marks,
    };
    if let Some(error) = mostly_cut(heard) {
        return Err(error);
    }
    let found = angle::find(&input).map_err(|error| {
        let lead = [(Role::Starter, "starter"), (Role::Battery, "battery")];
        let off_range = |(role, lead): (Role, &'static str)| {
            let percent = 100.0 * at_limit(heard.channel(role)?.1.values.all());
            (percent > 100.0 * OFF_RANGE).then_some(angle::AngleError::OffRange { lead, percent })
        };
        lead.into_iter().find_map(off_range).unwrap_or(error)
    })?;
    notices.extend(marks_lost(heard, &marks, &found));
    if heard.channel(Role::Crank).is_some() {
        notices.push(Notice {
            about: "crank".into(),
            text: "The crank lead is not used: the engine file has no [crank].".into(),
        });
    }
    Ok(found
        .into_iter()
        .map(|found| {
            let compression = compress(heard, (&found.angle, found.from), None, &[], notices);
            let cams = coarse::cams(heard, &found, &compression);
            let (from, to) = found.angle.turned_span();
            let cycles = (to.since(from).0 / CYCLE_DEG) as usize;
            Attempt {
                capture,
                span: found.angle.span(),
                cycles,
                rpm: speeds(&found),
                compression,
                cams,
                found,
            }
        })
        .collect())
}

/// A lead that stands at one limit for more than this share of a capture is off the scope's range;
/// an inrush that is cut takes a few tenths of a second of five.
const OFF_RANGE: f64 = 0.2;

/// A clamp that stands at its greatest value for more than half of a capture shows no compressions,
/// whatever rhythm is left: a current is at its peak for a moment only.
const MOSTLY_CUT: f64 = 0.5;

/// That the clamp's range was too narrow for anything to be read off it.
fn mostly_cut(heard: &Heard) -> Option<angle::AngleError> {
    let values = &heard.channel(Role::Starter)?.1.values;
    let greatest = values.iter().fold(0.0f32, |most, value| most.max(value.abs()));
    let share = share_of(values.all(), |value| value.abs() == greatest);
    let error = angle::AngleError::OffRange { lead: "starter", percent: 100.0 * share };
    (greatest > 0.0 && share > MOSTLY_CUT).then_some(error)
}

/// Share of the rows at the highest or the lowest value, whichever is more; none of a lead that
/// never changes.
fn at_limit(values: Samples<'_>) -> f64 {
    let (low, high) = values.limits();
    if low >= high {
        return 0.0;
    }
    let at = |limit: f32| share_of(values, |value| value == limit);
    at(low).max(at(high))
}

/// Share of the rows of which something holds.
fn share_of(values: Samples<'_>, holds: impl Fn(f32) -> bool) -> f64 {
    values.iter().filter(|&&value| holds(value)).count() as f64 / values.len() as f64
}

/// Whether a clamp reads below zero most of the time.
fn below_zero(channel: &Channel) -> bool {
    let below = channel.values.iter().filter(|value| **value < 0.0).count();
    let most = channel.values.iter().map(|value| value.abs()).fold(0.0, f32::max);
    let far = channel.values.iter().filter(|value| **value < -0.05 * most).count();
    2 * below > channel.values.len() && 2 * far > channel.values.len()
}

/// More marks missed than this share of the cycles, and the lead is said to lose them.
const MANY_MISSED: f64 = 0.25;
/// Least rate at which a coil's pulse of a millisecond is not lost between two samples.
const RATE_FOR_A_COIL: f64 = 2500.0;

/// What is to be said of a lead that should mark the cycles and does so badly.
fn marks_lost(heard: &Heard, marks: &[MarkLead], found: &[FoundAngle]) -> Option<Notice> {
    let lead = marks.first()?;
    let name = match lead.from {
        AngleFrom::Ignition(cylinder) => format!("ignition {cylinder}"),
        AngleFrom::Injector(cylinder) => format!("injector {cylinder}"),
        _ => return None,
    };
    let none = found.iter().all(|one| one.strikes.is_none());
    let lost = found.iter().any(|one| {
        let strikes = one.strikes.as_ref();
        strikes.is_some_and(|s| s.missed as f64 > MANY_MISSED * (s.at.len() + s.missed) as f64)
    });
    if !none && !lost {
        return None;
    }
    let (first, last) = heard.capture.span();
    let rows = heard.capture.channels.first().map_or(0, |channel| channel.values.len());
    let rate = rows as f64 / (last - first).0.max(1e-9);
    let said = if none {
        "Its pulses mark no place of the cycle, so no cylinder is named by it."
    } else {
        "Many of its pulses are missing; the cycles between are told by the compressions."
    };
    let why = if heard.capture.kind == CaptureKind::Sampled && rate < RATE_FOR_A_COIL {
        format!(
            " At {rate:.0} samples per second a pulse of a millisecond falls between two of them: record at \
             {RATE_FOR_A_COIL:.0} per second or more."
        )
    } else {
        " Check where the lead is connected, and its ground.".to_owned()
    };
    Some(Notice { about: name, text: format!("{said}{why}") })
}

/// Mean speed of an attempt's cycles, and of the slowest and the fastest.
fn speeds(found: &FoundAngle) -> (Rpm, Rpm, Rpm) {
    let rpm = |turned: f64, took: f64| turned / took / Rpm(1.0).degrees_per_second();
    let marks = found.angle.marks();
    let (first, last) = (marks[0], marks[marks.len() - 1]);
    let mean = rpm(last.turned.since(first.turned).0, (last.at - first.at).0);
    let (mut slowest, mut fastest) = (mean, mean);
    let mut from = first;
    for &mark in marks {
        if mark.turned.since(from.turned).0 >= CYCLE_DEG {
            let speed = rpm(mark.turned.since(from.turned).0, (mark.at - from.at).0);
            (slowest, fastest) = (slowest.min(speed), fastest.max(speed));
            from = mark;
        }
    }
    (Rpm(mean), Rpm(slowest), Rpm(fastest))
}

/// The attempt with the most cycles that could be used; of those that could not, the longest.
fn steadiest(attempts: &[Attempt]) -> usize {
    let worth = |attempt: &Attempt| {
        let used = attempt.compression.measured.as_ref().map_or(0, |measured| measured.cycles_used);
        (used, attempt.cycles)
    };
    (0..attempts.len())
        .max_by_key(|&index| (worth(&attempts[index]), usize::MAX - index))
        .unwrap_or(0)
}
