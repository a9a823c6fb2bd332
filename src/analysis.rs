//! Runs the stages in order. The one struct every output reads is [`Analysis`].

use thiserror::Error;

use crate::cam::{
    CamPosition, CamResult, Expected, ExpectedFrom, choose_datum, deviation, measure,
};
use crate::capture::Capture;
use crate::crank::{CrankError, CrankLock, lock};
use crate::edges::{EdgeTrain, SignalFault, find_edges};
use crate::engine::Engine;
use crate::leads::{Lead, LeadError, LeadRequest, Role, assign};
use crate::units::{CYCLE_DEG, CrankDelta, Seconds};

/// Everything measured in one capture.
#[derive(Debug, Clone, PartialEq)]
pub struct Analysis {
    /// File name of the capture.
    pub capture: String,
    /// Length of the part of the capture that was read.
    pub seconds: Seconds,
    /// The leads found.
    pub leads: Vec<LeadReport>,
    /// The crank.
    pub crank: CrankLock,
    /// Angles are known modulo this once the cams have settled the datum pass.
    pub known_modulo: CrankDelta,
    /// To be added to the crank stretch's angles to count from the cycle's datum pass.
    pub datum_shift: CrankDelta,
    /// Cams that were measured, in the order of the engine's cams.
    pub cams: Vec<CamResult>,
    /// Cams without a lead or whose wheel was not found: index into the engine's cams.
    pub unmeasured: Vec<usize>,
    /// Differences between cams of the same kind on different banks.
    pub bank_differences: Vec<BankDifference>,
}

/// A lead with what its signal looked like.
#[derive(Debug, Clone, PartialEq)]
pub struct LeadReport {
    /// What it is.
    pub role: Role,
    /// Name of the lead.
    pub name: String,
    /// Header of the column.
    pub column: String,
    /// What is wrong with the signal, for position sensors.
    pub faults: Vec<SignalFault>,
}

/// How much later one cam stands than another of its kind, each against its expected place.
#[derive(Debug, Clone, PartialEq)]
pub struct BankDifference {
    /// The two cams: indices into the engine's cams.
    pub cams: (usize, usize),
    /// Deviation of the first less that of the second.
    pub difference: CrankDelta,
    /// Half width of its 95 % interval.
    pub half_width95: CrankDelta,
}

/// Why a capture could not be analysed.
#[derive(Debug, Error)]
pub enum AnalysisError {
    /// Leads could not be assigned.
    #[error(transparent)]
    Leads(#[from] LeadError),
    /// No crank angle.
    #[error("{capture}: {error}")]
    Crank {
        /// The capture.
        capture: String,
        /// Why.
        error: CrankError,
    },
}

/// Measures one capture against an engine description.
///
/// # Errors
/// Leads that cannot be assigned, or a crank signal without an angle in it.
pub fn analyse(
    capture: &Capture,
    engine: &Engine,
    requests: &[LeadRequest],
) -> Result<Analysis, AnalysisError> {
    let leads = assign(capture, engine, requests)?;
    let trains: Vec<(Lead, Option<EdgeTrain>)> = leads
        .iter()
        .map(|&lead| {
            let position = matches!(lead.role, Role::Crank | Role::Cam(_));
            (lead, position.then(|| find_edges(capture, &capture.channels[lead.channel])))
        })
        .collect();
    let column = |lead: &Lead| capture.channels[lead.channel].name.clone();
    let (crank_lead, crank_train) = trains
        .iter()
        .find_map(|(lead, train)| {
            Some((lead, train.as_ref()?)).filter(|(l, _)| l.role == Role::Crank)
        })
        .expect("leads::assign requires a crank");
    let crank = lock(crank_train, &engine.crank, &column(crank_lead))
        .map_err(|error| AnalysisError::Crank { capture: capture.source.clone(), error })?;
    let positions: Vec<CamPosition> = trains
        .iter()
        .filter_map(|(lead, train)| {
            let Role::Cam(index) = lead.role else { return None };
            measure(index, &engine.cams[index], &column(lead), train.as_ref()?, &crank.angle)
        })
        .collect();
    let (first, last) = capture.span();
    let cams = judge_positions(engine, positions, &crank);
    Ok(Analysis {
        capture: capture.source.clone(),
        seconds: last - first,
        leads: trains
            .iter()
            .map(|(lead, train)| LeadReport {
                role: lead.role,
                name: lead.role.name(engine),
                column: column(lead),
                faults: train.as_ref().map_or_else(Vec::new, |train| train.faults.clone()),
            })
            .collect(),
        known_modulo: cams.1.known_modulo,
        datum_shift: cams.1.shift,
        unmeasured: (0..engine.cams.len())
            .filter(|&index| !cams.0.iter().any(|cam| cam.measured.cam == index))
            .collect(),
        bank_differences: bank_differences(engine, &cams.0),
        cams: cams.0,
        crank,
    })
}

/// Settles the datum pass and holds every cam against its expected place.
fn judge_positions(
    engine: &Engine,
    positions: Vec<CamPosition>,
    crank: &CrankLock,
) -> (Vec<CamResult>, crate::cam::DatumChoice) {
    let expected: Vec<Option<Expected>> = positions
        .iter()
        .map(|position| {
            let (at, sd) = engine.expected(position.cam)?;
            Some(Expected { at, sd, from: ExpectedFrom::EngineFile })
        })
        .collect();
    let weighed: Vec<_> = positions
        .iter()
        .zip(&expected)
        .map(|(position, expected)| (position, expected.map(|expected| expected.at)))
        .collect();
    let datum = choose_datum(&weighed, crank.angle.known_modulo());
    let results = positions
        .into_iter()
        .zip(expected)
        .map(|(position, expected)| {
            let chain = engine.drive.chain_driving(&engine.cams[position.cam].name);
            let step = chain.map(|chain| engine.drive.chains[chain].step());
            deviation(position, expected, &datum, step)
        })
        .collect();
    (results, datum)
}

/// Every pair of cams of one kind on different banks whose places can be compared.
fn bank_differences(engine: &Engine, cams: &[CamResult]) -> Vec<BankDifference> {
    let mut differences = Vec::new();
    for (i, first) in cams.iter().enumerate() {
        for second in &cams[i + 1..] {
            let (a, b) = (&first.measured, &second.measured);
            let (cam_a, cam_b) = (&engine.cams[a.cam], &engine.cams[b.cam]);
            if cam_a.shaft != cam_b.shaft || cam_a.bank == cam_b.bank {
                continue;
            }
            let (root_a, later_a) = engine.relation_root(a.cam);
            let (root_b, later_b) = engine.relation_root(b.cam);
            let expected = match (engine.expected(a.cam), engine.expected(b.cam)) {
                (Some((at_a, _)), Some((at_b, _))) => at_a.get() - at_b.get(),
                _ if root_a == root_b => later_a.0 - later_b.0,
                _ => continue,
            };
            let period = a.known_modulo.0.min(b.known_modulo.0).min(CYCLE_DEG);
            let moved = a.position.get() - b.position.get() - expected;
            differences.push(BankDifference {
                cams: (a.cam, b.cam),
                difference: CrankDelta(moved).wrap(CrankDelta(period)),
                half_width95: CrankDelta(a.half_width95.0.hypot(b.half_width95.0)),
            });
        }
    }
    differences
}
