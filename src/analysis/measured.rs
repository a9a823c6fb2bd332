//! One capture through every measuring stage.

use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use super::compress::{Heard, compress};
use super::other_edge::{OtherEdge, other_edge};
use super::other_wheel::other_wheels;
use super::pulses;
use super::reference::Reference;
use super::refusal;
use super::same_sensor::same_sensor;
use super::{AnalysisError, LeadReport, Options};
use crate::angle::AngleFrom;
use crate::cam::{CamPosition, CamResult, DatumChoice, LeadOrder, Movement, SwappedFit};
use crate::cam::{choose_datum, crossed, measure};
use crate::capture::{Capture, Channel};
use crate::compression::CompressionOutcome;
use crate::crank::{CrankLock, lock};
use crate::edges::{EdgeTrain, find_edges, find_edges_of};
use crate::engine::Engine;
use crate::leads::{Lead, Role, assign};
use crate::notice::Notice;
use crate::units::{CYCLE_DEG, Seconds};
use crate::watch::{Stopped, Watch};

/// Everything measured in one capture; nothing judged.
#[derive(Debug, Clone)]
pub struct MeasuredCapture {
    /// File name.
    pub capture: String,
    /// Length of the part that was read.
    pub seconds: Seconds,
    /// The leads.
    pub leads: Vec<LeadReport>,
    /// Header of the column that carried the crank.
    pub crank_lead: String,
    /// The crank.
    pub crank: CrankLock,
    /// The reading by the other kind of crank edge, where that may be the marking one.
    pub other_edge: Option<OtherEdge>,
    /// Which datum pass is 0.
    pub datum: DatumChoice,
    /// Cams that were measured, in the order of the engine's cams.
    pub cams: Vec<CamResult>,
    /// Pairs of cams whose wheels also fit each other's lead.
    pub swapped: Vec<SwappedFit>,
    /// The same of more than two leads.
    pub reordered: Vec<LeadOrder>,
    /// Pairs of cams whose leads show the same edges: indices into the engine's cams.
    pub same_sensor: Vec<(usize, usize)>,
    /// Cams whose lead shows another wheel than described, with its name in the library.
    pub other_wheels: Vec<(usize, String)>,
    /// Relative compression.
    pub compression: CompressionOutcome,
    /// Things to be said of the leads.
    pub notices: Vec<Notice>,
}

impl MeasuredCapture {
    /// Measures a capture against an engine description.
    ///
    /// # Errors
    /// Leads that cannot be assigned, or a crank signal without an angle in it.
    pub fn measure(
        capture: &Capture,
        engine: &Engine,
        options: &Options,
    ) -> Result<MeasuredCapture, AnalysisError> {
        let reference = Reference { engine, known: options.known.as_ref() };
        let leads = assign(capture, engine, &options.leads)?;
        if !engine.crank.described {
            let (capture, lead) = (capture.source.clone(), Role::Crank.name(engine));
            return Err(AnalysisError::CrankNotDescribed { capture, lead });
        }
        // A step for the edges of each sensor, one for the crank, one for each cam, one for what
        // follows.
        let sensors = leads.iter().filter(|lead| is_sensor(lead)).count();
        let steps = Steps::new(&options.watch, 2 * sensors + 1);
        let sensors = Sensors::find(capture, engine, &leads, &steps)?;
        let (crank_lead, crank_train) = sensors.crank();
        let crank = lock(crank_train, &engine.crank, crank_lead).map_err(|error| {
            let (lead, train) = (crank_lead, crank_train);
            let crank = refusal::CrankLead { capture, engine, leads: &leads, lead, train };
            pulses::refusal(&crank, error)
        })?;
        steps.done()?;
        let mut notices = reader_notices(capture);
        notices.extend(pulses::notices(capture, engine, crank_train));
        notices.extend(refusal::odd_speed(&crank));
        let mut positions: Vec<CamPosition> = Vec::new();
        for (cam, lead, train) in sensors.cams() {
            match measure(cam, &engine.cams[cam], lead, train, &crank.angle) {
                Some(position) if position.is_glimpsed() => {
                    notices.push(withheld(&engine.cams[cam].name, &position));
                }
                position => positions.extend(position),
            }
            steps.done()?;
        }
        notices.extend(positions.iter().filter_map(|position| moving(engine, position)));
        let datum = settle_datum(reference, &positions, &crank);
        let other_edge = other_edge(engine, &crank, sensors.cams(), &positions, datum.shift);
        let (swapped, reordered) =
            crossed(engine, &sensors.cams().collect::<Vec<_>>(), &crank.angle, &datum);
        let same_sensor = same_sensor(sensors.cams());
        let other_wheels = other_wheels(engine, sensors.cams(), &positions, &crank.angle);
        let (reports, crank_lead) =
            (sensors.reports(capture, engine, &leads), crank_lead.to_owned());
        // Millions in a long capture, and no later stage asks for an edge.
        drop(sensors);
        steps.done()?;
        let cams: Vec<CamResult> = positions
            .into_iter()
            .map(|position| {
                let chain = engine.drive.chain_driving(&engine.cams[position.cam].name);
                let step = chain.map(|chain| engine.drive.chains[chain].step());
                let expected = reference.expected(position.cam);
                let cam = &engine.cams[position.cam];
                CamResult::against(cam, position, expected, &datum, step)
            })
            .collect();
        let (first, last) = capture.span();
        let cycle_start =
            (reference.pass_known() && datum.known_modulo.0 >= CYCLE_DEG).then_some(datum.shift);
        let heard = Heard { capture, engine, leads: &leads };
        let compression =
            compress(&heard, (&crank.angle, AngleFrom::Crank), cycle_start, &cams, &mut notices);
        Ok(MeasuredCapture {
            capture: capture.source.clone(),
            seconds: last - first,
            leads: reports,
            crank_lead,
            compression,
            swapped,
            reordered,
            same_sensor,
            other_wheels,
            datum,
            cams,
            crank,
            other_edge,
            notices,
        })
    }
}

/// What the reader left out that may be missed, and what it did with rows and cells that are not as
/// they should be.
pub(super) fn reader_notices(capture: &Capture) -> Vec<Notice> {
    let lost = capture.notes.lost().map(|column| Notice {
        about: format!("{}, column {}", capture.source, column.column),
        text: format!("\"{}\" was left out: {}.", column.name, column.why),
    });
    let remarks = capture
        .notes
        .remarks
        .iter()
        .map(|remark| Notice { about: capture.source.clone(), text: remark.to_string() });
    lost.chain(remarks).collect()
}

/// Tells whoever waits how far it is, and stops between two steps when they ask. Steps may be done
/// side by side; what is told only grows.
struct Steps<'a> {
    watch: &'a Watch,
    taken: Mutex<usize>,
    of: usize,
}

impl Steps<'_> {
    fn new(watch: &Watch, of: usize) -> Steps<'_> {
        Steps { watch, taken: Mutex::new(0), of }
    }

    fn done(&self) -> Result<(), Stopped> {
        // A count that a panicking thread held is a count still.
        let mut taken = self.taken.lock().unwrap_or_else(PoisonError::into_inner);
        *taken += 1;
        self.watch.tell(*taken as f64 / self.of as f64);
        self.watch.go_on()
    }
}

/// The edges of a lead, by what the description says of its sensor and wheel.
fn described_edges(capture: &Capture, channel: &Channel, engine: &Engine, role: Role) -> EdgeTrain {
    let (sensor, wheel) = match role {
        Role::Crank => (engine.crank.sensor, &engine.crank.wheel),
        Role::Cam(cam) => (engine.cams[cam].sensor, &engine.cams[cam].wheel),
        _ => return find_edges(capture, channel, None),
    };
    find_edges_of(capture, channel, sensor, wheel)
}

fn withheld(cam: &str, position: &CamPosition) -> Notice {
    let seen: usize = position.edges.iter().map(|edge| edge.n).sum();
    Notice {
        about: cam.to_owned(),
        text: format!(
            "Its wheel may have been seen in {} of the turns only, {seen} edges where {} were due: too little to say where \
             the cam stands. Check the lead and the air gap, and crank longer.",
            position.cycles.len(),
            seen + position.missed
        ),
    }
}

/// What is to be said of a cam that moved while it was recorded.
fn moving(engine: &Engine, position: &CamPosition) -> Option<Notice> {
    let Movement { range, earliest_at, latest_at, .. } = Movement::of(&position.cycles)?;
    let cam = &engine.cams[position.cam];
    let cause = match cam.phaser {
        Some(_) => "Its phaser was moving, under control once the engine runs, or not locked.",
        None => {
            "A phaser under control moves a cam so, a slipping sprocket does, and a chain with slack."
        }
    };
    Some(Notice {
        about: cam.name.clone(),
        text: format!(
            "It moved during the capture: at {:.1} s it stood {:.1}° later than at {:.1} s. {cause} One place does not describe it; \
             capture steady cranking alone.",
            latest_at.0, range.0, earliest_at.0
        ),
    })
}

/// Whether a lead is of a position sensor.
fn is_sensor(lead: &Lead) -> bool {
    matches!(lead.role, Role::Crank | Role::Cam(_))
}

/// The position-sensor leads with their edges.
struct Sensors {
    found: Vec<(Role, String, EdgeTrain)>,
}

impl Sensors {
    fn find(
        capture: &Capture,
        engine: &Engine,
        leads: &[Lead],
        steps: &Steps,
    ) -> Result<Sensors, Stopped> {
        let sensors = leads.par_iter().filter(|lead| is_sensor(lead));
        let found = sensors.map(|lead| {
            let channel = &capture.channels[lead.channel];
            let train = described_edges(capture, channel, engine, lead.role);
            steps.done()?;
            Ok((lead.role, channel.name.clone(), train))
        });
        Ok(Sensors { found: found.collect::<Result<_, Stopped>>()? })
    }

    fn crank(&self) -> (&str, &EdgeTrain) {
        let crank = self.found.iter().find(|(role, _, _)| *role == Role::Crank);
        let (_, name, train) = crank.expect("leads::assign requires a crank");
        (name, train)
    }

    /// Cam, column and edges of each cam lead.
    fn cams(&self) -> impl Iterator<Item = (usize, &str, &EdgeTrain)> {
        self.found.iter().filter_map(|(role, name, train)| match role {
            Role::Cam(cam) => Some((*cam, name.as_str(), train)),
            _ => None,
        })
    }

    fn reports(&self, capture: &Capture, engine: &Engine, leads: &[Lead]) -> Vec<LeadReport> {
        leads
            .iter()
            .map(|lead| {
                let own = self.found.iter().find(|(role, _, _)| *role == lead.role);
                let faults = own.map_or_else(Vec::new, |(_, _, train)| train.faults.clone());
                LeadReport::new(lead, capture, engine, faults)
            })
            .collect()
    }
}

fn settle_datum(reference: Reference, positions: &[CamPosition], crank: &CrankLock) -> DatumChoice {
    let weighed: Vec<_> = positions
        .iter()
        .map(|position| (position, reference.expected(position.cam).map(|expected| expected.at)))
        .collect();
    choose_datum(&weighed, crank.angle.known_modulo())
}
