//! Stored trouble codes: what they mean and which finding explains them.
//!
//! Names after SAE J2012 / ISO 15031-6, *from memory*; sensor A is read as intake, B as
//! exhaust. A code that is not in this table is reported as unknown, never guessed.

use super::{Kind, State, Weighed};
use crate::edges::SignalFault;
use crate::engine::{CamShaft, Engine};

/// What a code complains of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Complaint {
    /// The engine's position system as a whole, one bank.
    Bank(u32),
    /// Crank and one cam do not agree: bank, sensor.
    Correlation(u32, CamShaft),
    /// A cam too early (true) or too late (false).
    Phase(u32, CamShaft, bool),
    /// The crank sensor's circuit.
    CrankCircuit,
    /// A cam sensor's circuit.
    CamCircuit(u32, CamShaft),
}

use CamShaft::{Exhaust, Intake};
use Complaint::{Bank, CamCircuit, Correlation, CrankCircuit, Phase};

const TABLE: [(&str, &str, Complaint); 19] = [
    ("P0008", "engine position system performance, bank 1", Bank(1)),
    ("P0009", "engine position system performance, bank 2", Bank(2)),
    ("P0011", "intake cam over-advanced, bank 1", Phase(1, Intake, true)),
    ("P0012", "intake cam over-retarded, bank 1", Phase(1, Intake, false)),
    ("P0014", "exhaust cam over-advanced, bank 1", Phase(1, Exhaust, true)),
    ("P0015", "exhaust cam over-retarded, bank 1", Phase(1, Exhaust, false)),
    ("P0016", "crank-cam correlation, bank 1 sensor A", Correlation(1, Intake)),
    ("P0017", "crank-cam correlation, bank 1 sensor B", Correlation(1, Exhaust)),
    ("P0018", "crank-cam correlation, bank 2 sensor A", Correlation(2, Intake)),
    ("P0019", "crank-cam correlation, bank 2 sensor B", Correlation(2, Exhaust)),
    ("P0021", "intake cam over-advanced, bank 2", Phase(2, Intake, true)),
    ("P0022", "intake cam over-retarded, bank 2", Phase(2, Intake, false)),
    ("P0024", "exhaust cam over-advanced, bank 2", Phase(2, Exhaust, true)),
    ("P0025", "exhaust cam over-retarded, bank 2", Phase(2, Exhaust, false)),
    ("P0335", "crank sensor circuit", CrankCircuit),
    ("P0340", "cam sensor A circuit, bank 1", CamCircuit(1, Intake)),
    ("P0345", "cam sensor A circuit, bank 2", CamCircuit(2, Intake)),
    ("P0365", "cam sensor B circuit, bank 1", CamCircuit(1, Exhaust)),
    ("P0390", "cam sensor B circuit, bank 2", CamCircuit(2, Exhaust)),
];

/// What the finding says of one stored code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CodeAnswer {
    /// The code, tidied.
    pub code: String,
    /// Whether the finding explains it; absent when the code is unknown or nothing was found.
    pub explained: Option<bool>,
    /// Why, one line.
    pub why: String,
}

/// A code as typed, without blanks and in capitals.
#[must_use]
pub fn tidy(typed: &str) -> String {
    typed.chars().filter(|c| !c.is_whitespace() && *c != '-').collect::<String>().to_uppercase()
}

fn lookup(typed: &str) -> Option<(&'static str, Complaint)> {
    let code = tidy(typed);
    TABLE.iter().find(|row| row.0 == code).map(|row| (row.1, row.2))
}

/// Whether a code says that crank and cams disagree.
pub(super) fn is_correlation(typed: &str) -> bool {
    matches!(lookup(typed), Some((_, Bank(_) | Correlation(..))))
}

/// Whether a code speaks of a phaser.
pub(super) fn is_phaser(typed: &str) -> bool {
    matches!(lookup(typed), Some((_, Phase(..))))
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
        let (explained, why) = match lookup(&code) {
            None => (None, "Not a code this program knows. Look it up in the maker's list.".into()),
            Some((meaning, complaint)) => explain(meaning, complaint, finding),
        };
        answers.push(CodeAnswer { code, explained, why });
    }
    answers
}

fn explain(meaning: &str, complaint: Complaint, finding: &Finding) -> (Option<bool>, String) {
    let told =
        |explained: bool, why: &str| (Some(explained), format!("{}: {why}", sentence(meaning)));
    if let CrankCircuit | CamCircuit(..) = complaint {
        return match circuit_fault(complaint, finding) {
            Some(lead) => {
                told(true, &format!("the signal on \"{lead}\" is faulty in this capture."))
            }
            None => told(
                false,
                "the signal was there in this capture. Look for a fault that comes and goes.",
            ),
        };
    }
    let Some(leading) = finding.leading else {
        return (None, format!("{}: open until the finding is.", sentence(meaning)));
    };
    if finding.state == State::InTime {
        return told(
            false,
            "the cams stand in time. Look at wiring, sensors, oil control and old codes.",
        );
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
        return told(false, "leads exchanged for this test do not set a code.");
    }
    let off = |cam: &usize| finding.off.iter().find(|(other, _)| other == cam);
    let (cams, early) = match complaint {
        Bank(bank) => (concerned(bank, None), None),
        Correlation(bank, shaft) => (concerned(bank, Some(shaft)), None),
        Phase(bank, shaft, early) => (concerned(bank, Some(shaft)), Some(early)),
        CrankCircuit | CamCircuit(..) => (vec![], None),
    };
    if cams.is_empty() {
        return told(false, "the description has no such cam.");
    }
    let damaged = leading.kind == Kind::DamagedTooth
        && cams
            .iter()
            .any(|&cam| leading.on.as_deref() == Some(finding.engine.cams[cam].name.as_str()));
    let hit = cams.iter().filter_map(off).any(|(_, is)| early.is_none_or(|early| early == *is));
    if hit {
        told(true, "the finding puts that cam out of tolerance this way.")
    } else if damaged {
        told(true, "the damaged tooth upsets that cam's signal.")
    } else {
        told(false, "that cam stands in time, or is off the other way, or was not measured.")
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
        Bank(_) | Correlation(..) | Phase(..) => {}
    }
    leads.into_iter().find(|lead| faulty(lead))
}

/// With a capital first letter.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
