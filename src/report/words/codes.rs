//! Stored codes in words.

use super::phrases::{capital, list};
use crate::codes::{CircuitFault, Complaint};
use crate::engine::CamShaft;
use crate::verdict::{CodeAnswer, CodeReason, Verdict};

/// What the finding says of a stored code, with the code's meaning before it.
#[must_use]
pub fn code(answer: &CodeAnswer) -> String {
    match answer.complaint {
        None => "Not a code this program knows. Look it up in the maker's list.".into(),
        Some(complaint) => format!("{}: {}", capital(&meaning(complaint)), why(&answer.why)),
    }
}

/// What the codes add to the odds, where they name a bank and that was weighed.
#[must_use]
pub fn accused(verdict: &Verdict) -> Option<String> {
    let banks: Vec<String> = verdict.accused.iter().map(|bank| format!("bank {bank}")).collect();
    let towards = match banks.as_slice() {
        [] => return None,
        [one] => format!("what moves {one} alone"),
        _ => "what moves the banks together, as the crank's side does".into(),
    };
    Some(format!("The codes accuse {}: {towards} is held ten times likelier for it.", list(&banks)))
}

/// "explained", "not explained", "open".
#[must_use]
pub fn code_state(answer: &CodeAnswer) -> &'static str {
    match answer.explained() {
        Some(true) => "explained",
        Some(false) => "not explained",
        None => "open",
    }
}

/// What a code complains of, after its name in SAE J2012 / ISO 15031-6 (from memory).
fn meaning(complaint: Complaint) -> String {
    // The standard's letter of a sensor, by the shaft it is read as.
    let sensor = |shaft: CamShaft| if shaft == CamShaft::Exhaust { "B" } else { "A" };
    match complaint {
        Complaint::Bank(bank) => format!("engine position system performance, bank {bank}"),
        Complaint::Correlation(bank, shaft) => {
            format!("crank-cam correlation, bank {bank} sensor {}", sensor(shaft))
        }
        Complaint::Phase { bank, shaft, early } => {
            let way = if early { "advanced" } else { "retarded" };
            format!("{} cam over-{way}, bank {bank}", shaft.word())
        }
        Complaint::SlowPhase(bank, shaft) => {
            format!("{} cam slow to follow its phaser, bank {bank}", shaft.word())
        }
        Complaint::Actuator(bank, shaft) => {
            format!("{} cam phaser valve circuit, bank {bank}", shaft.word())
        }
        Complaint::CrankCircuit(fault) => format!("crank sensor {}", circuit(fault)),
        Complaint::SecondCrankCircuit(fault) => format!("second crank sensor {}", circuit(fault)),
        Complaint::CamCircuit(bank, shaft, fault) => {
            format!("cam sensor {} {}, bank {bank}", sensor(shaft), circuit(fault))
        }
        Complaint::Misfire(None) => "misfire on several cylinders".into(),
        Complaint::Misfire(Some(cylinder)) => format!("misfire on cylinder {cylinder}"),
    }
}

fn circuit(fault: CircuitFault) -> &'static str {
    match fault {
        CircuitFault::Any => "circuit",
        CircuitFault::Range => "signal out of range",
        CircuitFault::Low => "circuit too low",
        CircuitFault::High => "circuit too high",
        CircuitFault::Intermittent => "circuit that comes and goes",
    }
}

fn why(reason: &CodeReason) -> String {
    match reason {
        CodeReason::Unknown => String::new(),
        CodeReason::SignalFaulty { lead } => {
            format!("the signal on \"{lead}\" is faulty in this capture.")
        }
        CodeReason::SignalSound => {
            "the signal was there in this capture. Look for a fault that comes and goes.".into()
        }
        CodeReason::NothingFound => "open until the finding is.".into(),
        CodeReason::InTime => {
            "the cams stand in time. Look at wiring, sensors, oil control and old codes.".into()
        }
        CodeReason::LeadsCrossed => "leads exchanged for this test do not set a code.".into(),
        CodeReason::NoSuchCam => "the description has no such cam.".into(),
        CodeReason::CamOff => "the finding puts that cam out of tolerance this way.".into(),
        CodeReason::DamagedTooth => "the damaged tooth upsets that cam's signal.".into(),
        CodeReason::CamNotOff => {
            "that cam stands in time, or is off the other way, or was not measured.".into()
        }
        CodeReason::NoSlowPhaser => "the finding is no phaser off its rest.".into(),
        CodeReason::NotShown => {
            "an electrical fault of the valve that moves the phaser. The signals recorded here do not show it.".into()
        }
        CodeReason::SensorNotRecorded => "that sensor is on no lead of this capture.".into(),
        CodeReason::NoSuchCylinder => "the description has no such cylinder.".into(),
        CodeReason::CamOffMisfires => {
            "a cam that stands this far off can make the cylinders of its bank misfire.".into()
        }
        CodeReason::NoCamMisfires => {
            "no cam over it was measured out of tolerance. Look at ignition, fuel and compression.".into()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_told_by_its_name_in_the_standard() {
        // SAE J2012 / ISO 15031-6, from memory. (code, how the sentence begins)
        let rows = [
            ("P0008", "Engine position system performance, bank 1: "),
            ("P0012", "Intake cam over-retarded, bank 1: "),
            ("P0014", "Exhaust cam over-advanced, bank 1: "),
            ("P0018", "Crank-cam correlation, bank 2 sensor A: "),
            ("P0335", "Crank sensor circuit: "),
            ("P0365", "Cam sensor B circuit, bank 1: "),
            ("P000C", "Intake cam slow to follow its phaser, bank 2: "),
            ("P0013", "Exhaust cam phaser valve circuit, bank 1: "),
            ("P0336", "Crank sensor signal out of range: "),
            ("P0387", "Second crank sensor circuit too low: "),
            ("P0348", "Cam sensor A circuit too high, bank 2: "),
            ("P0300", "Misfire on several cylinders: "),
            ("P0304", "Misfire on cylinder 4: "),
        ];
        for (code_typed, begins) in rows {
            let answer = CodeAnswer {
                code: code_typed.into(),
                complaint: Complaint::of(code_typed),
                why: CodeReason::NothingFound,
            };
            assert_eq!(code(&answer), format!("{begins}open until the finding is."));
        }
        let stranger = CodeAnswer {
            code: "P9Z99".into(),
            complaint: Complaint::of("P9Z99"),
            why: CodeReason::Unknown,
        };
        assert!(code(&stranger).starts_with("Not a code"), "{}", code(&stranger));
    }
}
