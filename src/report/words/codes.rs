//! Stored codes in words.

use super::phrases::capital;
use crate::engine::CamShaft;
use crate::verdict::{CodeAnswer, CodeReason, Complaint};

/// What the finding says of a stored code, with the code's meaning before it.
#[must_use]
pub fn code(answer: &CodeAnswer) -> String {
    match answer.complaint {
        None => "Not a code this program knows. Look it up in the maker's list.".into(),
        Some(complaint) => format!("{}: {}", capital(&meaning(complaint)), why(&answer.why)),
    }
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
        Complaint::CrankCircuit => "crank sensor circuit".into(),
        Complaint::CamCircuit(bank, shaft) => {
            format!("cam sensor {} circuit, bank {bank}", sensor(shaft))
        }
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
