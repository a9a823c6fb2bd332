//! Stored trouble codes: which of them the finding explains.

use super::{Kind, State, Weighed};
use crate::codes::{Complaint, tidy};
use crate::edges::SignalFault;
use crate::engine::{CamShaft, Engine};

use CamShaft::Intake;
use Complaint::{Bank, CamCircuit, Correlation, CrankCircuit};

/// Why the finding explains a code, or does not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CodeReason {
    /// The code is not in the table.
    Unknown,
    /// The signal it complains of is faulty in this capture too.
    SignalFaulty {
        /// On this lead.
        lead: String,
    },
    /// The signal it complains of was there.
    SignalSound,
    /// Nothing was found that could explain it.
    NothingFound,
    /// Every cam stands in time.
    InTime,
    /// Leads exchanged for a test set no code.
    LeadsCrossed,
    /// The engine has no cam that it could be about.
    NoSuchCam,
    /// A cam it is about is out of tolerance, the way it says.
    CamOff,
    /// A damaged tooth is on the wheel of a cam it is about.
    DamagedTooth,
    /// No cam it is about is off the way it says, as far as was measured.
    CamNotOff,
    /// It is about a phaser that moves slowly, and no phaser is off its rest.
    NoSlowPhaser,
    /// It is about an electrical fault that the signals of this capture cannot show.
    NotShown,
    /// It is about a sensor that is on no lead of this capture.
    SensorNotRecorded,
    /// The engine has no cylinder that it could be about.
    NoSuchCylinder,
    /// A cam over the cylinders it is about is out of tolerance.
    CamOffMisfires,
    /// No cam over the cylinders it is about is out of tolerance, as far as was measured.
    NoCamMisfires,
}

/// What the finding says of one stored code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CodeAnswer {
    /// The code, tidied.
    pub code: String,
    /// What it complains of; absent when the code is unknown.
    pub complaint: Option<Complaint>,
    /// Why it is explained, or not.
    pub why: CodeReason,
}

impl CodeAnswer {
    /// Whether the finding explains it; absent when the code is unknown or nothing was found.
    #[must_use]
    pub fn explained(&self) -> Option<bool> {
        match self.why {
            CodeReason::Unknown | CodeReason::NothingFound | CodeReason::SensorNotRecorded => None,
            CodeReason::SignalFaulty { .. }
            | CodeReason::CamOff
            | CodeReason::CamOffMisfires
            | CodeReason::DamagedTooth => Some(true),
            CodeReason::NoSlowPhaser
            | CodeReason::NotShown
            | CodeReason::NoSuchCylinder
            | CodeReason::NoCamMisfires
            | CodeReason::SignalSound
            | CodeReason::InTime
            | CodeReason::LeadsCrossed
            | CodeReason::NoSuchCam
            | CodeReason::CamNotOff => Some(false),
        }
    }
}

/// What the finding was, as far as codes ask.
pub(super) struct Finding<'a> {
    pub engine: &'a Engine,
    pub state: State,
    /// The explanation that was found, unless `cannot_tell`.
    pub leading: Option<&'a Weighed>,
    /// Cams out of tolerance, and whether early.
    pub off: &'a [(usize, bool)],
    pub faults: &'a [(String, SignalFault)],
    pub crank_lead: &'a str,
    /// Name of the lead of each measured cam.
    pub leads: &'a [(usize, String)],
}

/// Answers every stored code once, in the order given.
pub(super) fn answer(codes: &[String], finding: &Finding) -> Vec<CodeAnswer> {
    let mut answers: Vec<CodeAnswer> = Vec::new();
    for typed in codes {
        let code = tidy(typed);
        if code.is_empty() || answers.iter().any(|answer| answer.code == code) {
            continue;
        }
        let complaint = Complaint::of(&code);
        let why = complaint.map_or(CodeReason::Unknown, |complaint| explain(complaint, finding));
        answers.push(CodeAnswer { code, complaint, why });
    }
    answers
}

fn explain(complaint: Complaint, finding: &Finding) -> CodeReason {
    match complaint {
        CrankCircuit(_) | CamCircuit(..) => {
            return circuit_fault(complaint, finding)
                .map_or(CodeReason::SignalSound, |lead| CodeReason::SignalFaulty { lead });
        }
        Complaint::Actuator(..) => return CodeReason::NotShown,
        Complaint::SecondCrankCircuit(_) => return CodeReason::SensorNotRecorded,
        _ => {}
    }
    let Some(leading) = finding.leading else { return CodeReason::NothingFound };
    if let Complaint::Misfire(cylinder) = complaint {
        return misfire(cylinder, finding);
    }
    if finding.state == State::InTime {
        return CodeReason::InTime;
    }
    let concerned = |bank: u32, shaft: Option<CamShaft>| -> Vec<usize> {
        let cams = finding.engine.cams.iter().enumerate();
        cams.filter(|(_, cam)| {
            // One cam per bank that works all valves carries sensor A.
            let matches = shaft.is_none_or(|shaft| {
                cam.shaft == shaft || (cam.shaft == CamShaft::Single && shaft == Intake)
            });
            cam.bank == bank && matches
        })
        .map(|(index, _)| index)
        .collect()
    };
    if leading.kind == Kind::DoesNotFit {
        return CodeReason::NothingFound;
    }
    if leading.kind == Kind::LeadsCrossed {
        return CodeReason::LeadsCrossed;
    }
    let off = |cam: &usize| finding.off.iter().find(|(other, _)| other == cam);
    let (cams, early) = match complaint {
        Bank(bank) => (concerned(bank, None), None),
        Correlation(bank, shaft) => (concerned(bank, Some(shaft)), None),
        Complaint::Phase { bank, shaft, early } => (concerned(bank, Some(shaft)), Some(early)),
        Complaint::SlowPhase(bank, shaft) => (concerned(bank, Some(shaft)), None),
        _ => (vec![], None),
    };
    if cams.is_empty() {
        return CodeReason::NoSuchCam;
    }
    if matches!(complaint, Complaint::SlowPhase(..)) && leading.kind != Kind::PhaserOffRest {
        return CodeReason::NoSlowPhaser;
    }
    let damaged = leading.kind == Kind::DamagedTooth
        && cams
            .iter()
            .any(|&cam| leading.on.as_deref() == Some(finding.engine.cams[cam].name.as_str()));
    let hit = cams.iter().filter_map(off).any(|(_, is)| early.is_none_or(|early| early == *is));
    if hit {
        CodeReason::CamOff
    } else if damaged {
        CodeReason::DamagedTooth
    } else {
        CodeReason::CamNotOff
    }
}

/// A cam that stands off takes compression from the cylinders of its bank.
fn misfire(cylinder: Option<u32>, finding: &Finding) -> CodeReason {
    let cams = &finding.engine.cams;
    let bank = match cylinder {
        None => None,
        Some(cylinder) => match finding.engine.bank_of(cylinder) {
            None => return CodeReason::NoSuchCylinder,
            bank => bank,
        },
    };
    let off = |&(cam, _): &(usize, bool)| bank.is_none_or(|bank| cams[cam].banks.contains(&bank));
    if finding.off.iter().any(off) { CodeReason::CamOffMisfires } else { CodeReason::NoCamMisfires }
}

fn circuit_fault(complaint: Complaint, finding: &Finding) -> Option<String> {
    let serious = |fault: &SignalFault| {
        matches!(fault, SignalFault::Dead | SignalFault::Noisy(_) | SignalFault::Glitches(_))
    };
    let faulty = |lead: &str| {
        finding.faults.iter().any(|(of, fault)| of.eq_ignore_ascii_case(lead) && serious(fault))
    };
    let mut leads: Vec<String> = Vec::new();
    match complaint {
        CrankCircuit(_) => leads.push(finding.crank_lead.to_owned()),
        CamCircuit(bank, shaft, _) => {
            for (index, cam) in finding.engine.cams.iter().enumerate() {
                let single = cam.shaft == CamShaft::Single && shaft == Intake;
                if cam.bank == bank && (cam.shaft == shaft || single) {
                    leads.push(cam.name.clone());
                    let own = finding.leads.iter().filter(|(of, _)| *of == index);
                    leads.extend(own.map(|(_, lead)| lead.clone()));
                }
            }
        }
        _ => {}
    }
    leads.into_iter().find(|lead| faulty(lead))
}
