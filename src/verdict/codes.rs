//! Stored trouble codes: what they mean and which finding explains them.
//!
//! Names after SAE J2012 / ISO 15031-6, *from memory*; sensor A is read as intake, B as
//! exhaust. A code that is not in this table is reported as unknown, never guessed.

use super::{Kind, State, Weighed};
use crate::edges::SignalFault;
use crate::engine::{CamShaft, Engine};

/// What a code complains of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Complaint {
    /// The engine's position system as a whole, one bank.
    Bank(u32),
    /// Crank and one cam do not agree: bank, sensor.
    Correlation(u32, CamShaft),
    /// A cam too early or too late.
    Phase {
        /// Its bank.
        bank: u32,
        /// Which of the bank's cams.
        shaft: CamShaft,
        /// Early, else late.
        early: bool,
    },
    /// The crank sensor's circuit.
    CrankCircuit,
    /// A cam sensor's circuit: bank, sensor.
    CamCircuit(u32, CamShaft),
}

use CamShaft::{Exhaust, Intake};
use Complaint::{Bank, CamCircuit, Correlation, CrankCircuit};

const fn phase(bank: u32, shaft: CamShaft, early: bool) -> Complaint {
    Complaint::Phase { bank, shaft, early }
}

const TABLE: [(&str, Complaint); 19] = [
    ("P0008", Bank(1)),
    ("P0009", Bank(2)),
    ("P0011", phase(1, Intake, true)),
    ("P0012", phase(1, Intake, false)),
    ("P0014", phase(1, Exhaust, true)),
    ("P0015", phase(1, Exhaust, false)),
    ("P0016", Correlation(1, Intake)),
    ("P0017", Correlation(1, Exhaust)),
    ("P0018", Correlation(2, Intake)),
    ("P0019", Correlation(2, Exhaust)),
    ("P0021", phase(2, Intake, true)),
    ("P0022", phase(2, Intake, false)),
    ("P0024", phase(2, Exhaust, true)),
    ("P0025", phase(2, Exhaust, false)),
    ("P0335", CrankCircuit),
    ("P0340", CamCircuit(1, Intake)),
    ("P0345", CamCircuit(2, Intake)),
    ("P0365", CamCircuit(1, Exhaust)),
    ("P0390", CamCircuit(2, Exhaust)),
];

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
            CodeReason::Unknown | CodeReason::NothingFound => None,
            CodeReason::SignalFaulty { .. } | CodeReason::CamOff | CodeReason::DamagedTooth => {
                Some(true)
            }
            CodeReason::SignalSound
            | CodeReason::InTime
            | CodeReason::LeadsCrossed
            | CodeReason::NoSuchCam
            | CodeReason::CamNotOff => Some(false),
        }
    }
}

/// A code as typed, without blanks and in capitals.
#[must_use]
pub fn tidy(typed: &str) -> String {
    typed.chars().filter(|c| !c.is_whitespace() && *c != '-').collect::<String>().to_uppercase()
}

impl Complaint {
    /// What a code as typed complains of; `None` for one this program does not know.
    #[must_use]
    pub fn of(typed: &str) -> Option<Complaint> {
        let code = tidy(typed);
        TABLE.iter().find(|row| row.0 == code).map(|row| row.1)
    }
}

/// Whether a code says that crank and cams disagree.
pub(super) fn is_correlation(typed: &str) -> bool {
    matches!(Complaint::of(typed), Some(Bank(_) | Correlation(..)))
}

/// Whether a code speaks of a phaser.
pub(super) fn is_phaser(typed: &str) -> bool {
    matches!(Complaint::of(typed), Some(Complaint::Phase { .. }))
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
    if let CrankCircuit | CamCircuit(..) = complaint {
        return circuit_fault(complaint, finding)
            .map_or(CodeReason::SignalSound, |lead| CodeReason::SignalFaulty { lead });
    }
    let Some(leading) = finding.leading else { return CodeReason::NothingFound };
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
    if leading.kind == Kind::LeadsCrossed {
        return CodeReason::LeadsCrossed;
    }
    let off = |cam: &usize| finding.off.iter().find(|(other, _)| other == cam);
    let (cams, early) = match complaint {
        Bank(bank) => (concerned(bank, None), None),
        Correlation(bank, shaft) => (concerned(bank, Some(shaft)), None),
        Complaint::Phase { bank, shaft, early } => (concerned(bank, Some(shaft)), Some(early)),
        CrankCircuit | CamCircuit(..) => (vec![], None),
    };
    if cams.is_empty() {
        return CodeReason::NoSuchCam;
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

fn circuit_fault(complaint: Complaint, finding: &Finding) -> Option<String> {
    let serious = |fault: &SignalFault| {
        matches!(fault, SignalFault::Dead | SignalFault::Noisy(_) | SignalFault::Glitches(_))
    };
    let faulty = |lead: &str| {
        finding.faults.iter().any(|(of, fault)| of.eq_ignore_ascii_case(lead) && serious(fault))
    };
    let mut leads: Vec<String> = Vec::new();
    match complaint {
        CrankCircuit => leads.push(finding.crank_lead.to_owned()),
        CamCircuit(bank, shaft) => {
            for (index, cam) in finding.engine.cams.iter().enumerate() {
                let single = cam.shaft == CamShaft::Single && shaft == Intake;
                if cam.bank == bank && (cam.shaft == shaft || single) {
                    leads.push(cam.name.clone());
                    let own = finding.leads.iter().filter(|(of, _)| *of == index);
                    leads.extend(own.map(|(_, lead)| lead.clone()));
                }
            }
        }
        Bank(_) | Correlation(..) | Complaint::Phase { .. } => {}
    }
    leads.into_iter().find(|lead| faulty(lead))
}
