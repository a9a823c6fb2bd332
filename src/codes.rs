//! Stored trouble codes: how they are written, and what they complain of.
//!
//! After SAE J2012 / ISO 15031-6, *from memory*; sensor A is read as intake, B as exhaust. A code
//! that is not known here is never guessed.

use thiserror::Error;

use crate::engine::CamShaft;

/// What is wrong with a sensor's circuit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CircuitFault {
    /// Not said.
    Any,
    /// The signal is out of range, or does not do what it should.
    Range,
    /// Its level is too low.
    Low,
    /// Its level is too high.
    High,
    /// It comes and goes.
    Intermittent,
}

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
    /// A cam that follows its phaser too slowly: bank, shaft.
    SlowPhase(u32, CamShaft),
    /// The circuit of the valve that moves a phaser: bank, shaft.
    Actuator(u32, CamShaft),
    /// The crank sensor's circuit.
    CrankCircuit(CircuitFault),
    /// That of a second crank sensor.
    SecondCrankCircuit(CircuitFault),
    /// A cam sensor's circuit: bank, sensor.
    CamCircuit(u32, CamShaft, CircuitFault),
    /// Misfire, of one cylinder or of several.
    Misfire(Option<u32>),
}

use CamShaft::{Exhaust, Intake};

/// The order in which the standard lists what is wrong with a circuit.
const FAULTS: [CircuitFault; 5] = [
    CircuitFault::Any,
    CircuitFault::Range,
    CircuitFault::Low,
    CircuitFault::High,
    CircuitFault::Intermittent,
];

/// Most cylinders that have a code of their own for misfire.
const MOST_MISFIRE: u32 = 12;

impl Complaint {
    /// The bank it is about, where it is about one.
    #[must_use]
    pub fn bank(self) -> Option<u32> {
        match self {
            Complaint::Bank(bank)
            | Complaint::Correlation(bank, _)
            | Complaint::Phase { bank, .. }
            | Complaint::SlowPhase(bank, _)
            | Complaint::Actuator(bank, _)
            | Complaint::CamCircuit(bank, ..) => Some(bank),
            Complaint::CrankCircuit(_)
            | Complaint::SecondCrankCircuit(_)
            | Complaint::Misfire(_) => None,
        }
    }

    /// What a code as typed complains of; `None` for one this program does not know.
    #[must_use]
    pub fn of(typed: &str) -> Option<Complaint> {
        let code = tidy(typed);
        if !is_code(&code) {
            return None;
        }
        let number = u32::from_str_radix(code.strip_prefix('P')?, 16).ok()?;
        let shaft = |second: bool| if second { Exhaust } else { Intake };
        // The five codes of a circuit stand one after another.
        let circuit = |first: u32| -> Option<CircuitFault> {
            FAULTS.get(number.checked_sub(first)? as usize).copied()
        };
        match number {
            0x0008 | 0x0009 => Some(Complaint::Bank(number - 0x0007)),
            // Intake and exhaust of bank 1, then of bank 2.
            0x000a..=0x000d => {
                let index = number - 0x000a;
                Some(Complaint::SlowPhase(1 + index / 2, shaft(index % 2 == 1)))
            }
            0x0016..=0x0019 => {
                let index = number - 0x0016;
                Some(Complaint::Correlation(1 + index / 2, shaft(index % 2 == 1)))
            }
            // Actuator, early, late: of the intake, then of the exhaust.
            0x0010..=0x0015 | 0x0020..=0x0025 => {
                let (bank, index) =
                    if number < 0x0020 { (1, number - 0x0010) } else { (2, number - 0x0020) };
                let shaft = shaft(index >= 3);
                Some(match index % 3 {
                    0 => Complaint::Actuator(bank, shaft),
                    early => Complaint::Phase { bank, shaft, early: early == 1 },
                })
            }
            0x0300 => Some(Complaint::Misfire(None)),
            0x0301..=0x0312 => {
                let cylinder = code[3..].parse().ok().filter(|cylinder| *cylinder <= MOST_MISFIRE);
                cylinder.map(|cylinder| Complaint::Misfire(Some(cylinder)))
            }
            0x0335..=0x0339 => circuit(0x0335).map(Complaint::CrankCircuit),
            0x0340..=0x0344 => circuit(0x0340).map(|fault| Complaint::CamCircuit(1, Intake, fault)),
            0x0345..=0x0349 => circuit(0x0345).map(|fault| Complaint::CamCircuit(2, Intake, fault)),
            0x0365..=0x0369 => {
                circuit(0x0365).map(|fault| Complaint::CamCircuit(1, Exhaust, fault))
            }
            0x0385..=0x0389 => circuit(0x0385).map(Complaint::SecondCrankCircuit),
            0x0390..=0x0394 => {
                circuit(0x0390).map(|fault| Complaint::CamCircuit(2, Exhaust, fault))
            }
            _ => None,
        }
    }
}

/// Why something typed is no stored code.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CodeError {
    /// Four characters of a code without the letter before them.
    #[error(
        "{typed} lacks the letter of a trouble code. If it is one of the engine, write P{typed}"
    )]
    NoLetter {
        /// As typed.
        typed: String,
    },
    /// In the form of a code, its second character above 3.
    #[error(
        "{typed} is no trouble code: the first character after the letter is 0, 1, 2 or 3, such as P0016"
    )]
    NoSuchDigit {
        /// As typed.
        typed: String,
    },
    /// Nothing like a code.
    #[error(
        "{typed} is no trouble code. A code is a letter and four characters, such as P0016; write commas between several"
    )]
    NoCode {
        /// As typed.
        typed: String,
    },
}

/// Reads stored codes, with commas, semicolons, slashes, plus signs or blanks between them.
///
/// # Errors
/// The first that is none.
pub fn read_codes(typed: &[String]) -> Result<Vec<String>, CodeError> {
    let apart = |letter: char| letter.is_whitespace() || ",;/+".contains(letter);
    let all = typed.iter().flat_map(|typed| typed.split(apart)).filter(|code| !code.is_empty());
    all.map(|code| {
        let typed = code.to_owned();
        match tidy(code) {
            tidied if is_code(&tidied) => Ok(tidied),
            tidied if is_code(&format!("P{tidied}")) => Err(CodeError::NoLetter { typed }),
            tidied if has_another_digit(&tidied) => Err(CodeError::NoSuchDigit { typed }),
            _ => Err(CodeError::NoCode { typed }),
        }
    })
    .collect()
}

/// Whether a text has the form of a trouble code (SAE J2012, from memory): a letter for the system,
/// a digit from 0 to 3, three hexadecimal digits.
#[must_use]
pub fn is_code(text: &str) -> bool {
    match tidy(text).as_bytes() {
        [b'P' | b'B' | b'C' | b'U', b'0'..=b'3', rest @ ..] => {
            rest.len() == 3 && rest.iter().all(u8::is_ascii_hexdigit)
        }
        _ => false,
    }
}

/// Whether a text would be a code with a smaller second character.
fn has_another_digit(tidied: &str) -> bool {
    let mut letters = tidied.chars();
    let (first, second) = (letters.next(), letters.next());
    let rest = letters.as_str();
    second.is_some_and(|digit| digit.is_ascii_digit())
        && first.is_some_and(|first| is_code(&format!("{first}0{rest}")))
}

/// A code as typed, without blanks, in capitals, without the two characters that scan tools put
/// behind it for the kind of failure (`P0016-00`; from memory).
#[must_use]
pub fn tidy(typed: &str) -> String {
    let code: String = typed.chars().filter(|c| !c.is_whitespace()).collect();
    let code = code.to_uppercase();
    match code.split_once('-') {
        Some((code, kind)) if code.len() == 5 && kind.len() == 2 => code.to_owned(),
        _ => code.replace('-', ""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_read_as_people_write_them() {
        let read = |typed: &[&str]| {
            read_codes(&typed.iter().map(|&code| code.to_owned()).collect::<Vec<_>>())
        };
        // (typed, read)
        let rows: [(&[&str], &[&str]); 7] = [
            (&["P0016/P0018+P0340"], &["P0016", "P0018", "P0340"]),
            (&["P0016,P0018"], &["P0016", "P0018"]),
            (&["p0016 P0018"], &["P0016", "P0018"]),
            (&["P0016;p000a", " P0300 "], &["P0016", "P000A", "P0300"]),
            (&["P0016-00"], &["P0016"]),
            (&["P-0016"], &["P0016"]),
            (&["", ","], &[]),
        ];
        for (typed, want) in rows {
            assert_eq!(read(typed).expect("codes"), want, "{typed:?}");
        }
        let said = |typed: &str| read(&[typed]).expect_err(typed).to_string();
        assert!(said("0016").contains("write P0016"), "{}", said("0016"));
        assert!(said("P0018,000a").contains("write P000a"), "{}", said("P0018,000a"));
        for bad in ["hello", "P16", "P00166", "X0016", "P4016", "P001G", "16"] {
            assert!(said(bad).contains("is no trouble code"), "{bad}: {}", said(bad));
        }
        assert!(said("P9999").contains("0, 1, 2 or 3"), "{}", said("P9999"));
    }

    #[test]
    fn every_code_complains_of_what_the_standard_lists() {
        use CircuitFault::{Any, High, Intermittent, Low, Range};
        use Complaint::{
            Actuator, Bank, CamCircuit, Correlation, CrankCircuit, Misfire, Phase,
            SecondCrankCircuit, SlowPhase,
        };
        let phase = |bank, shaft, early| Phase { bank, shaft, early };
        // SAE J2012, from memory.
        let rows = [
            ("P0008", Bank(1)),
            ("P0009", Bank(2)),
            ("P000A", SlowPhase(1, Intake)),
            ("P000B", SlowPhase(1, Exhaust)),
            ("P000C", SlowPhase(2, Intake)),
            ("P000D", SlowPhase(2, Exhaust)),
            ("P0010", Actuator(1, Intake)),
            ("P0011", phase(1, Intake, true)),
            ("P0012", phase(1, Intake, false)),
            ("P0013", Actuator(1, Exhaust)),
            ("P0014", phase(1, Exhaust, true)),
            ("P0015", phase(1, Exhaust, false)),
            ("P0016", Correlation(1, Intake)),
            ("P0017", Correlation(1, Exhaust)),
            ("P0018", Correlation(2, Intake)),
            ("P0019", Correlation(2, Exhaust)),
            ("P0020", Actuator(2, Intake)),
            ("P0021", phase(2, Intake, true)),
            ("P0022", phase(2, Intake, false)),
            ("P0023", Actuator(2, Exhaust)),
            ("P0024", phase(2, Exhaust, true)),
            ("P0025", phase(2, Exhaust, false)),
            ("P0300", Misfire(None)),
            ("P0301", Misfire(Some(1))),
            ("P0309", Misfire(Some(9))),
            ("P0310", Misfire(Some(10))),
            ("P0312", Misfire(Some(12))),
            ("P0335", CrankCircuit(Any)),
            ("P0336", CrankCircuit(Range)),
            ("P0339", CrankCircuit(Intermittent)),
            ("P0340", CamCircuit(1, Intake, Any)),
            ("P0342", CamCircuit(1, Intake, Low)),
            ("P0345", CamCircuit(2, Intake, Any)),
            ("P0348", CamCircuit(2, Intake, High)),
            ("P0365", CamCircuit(1, Exhaust, Any)),
            ("P0369", CamCircuit(1, Exhaust, Intermittent)),
            ("P0385", SecondCrankCircuit(Any)),
            ("P0387", SecondCrankCircuit(Low)),
            ("P0390", CamCircuit(2, Exhaust, Any)),
            ("P0394", CamCircuit(2, Exhaust, Intermittent)),
        ];
        for (code, want) in rows {
            assert_eq!(Complaint::of(code), Some(want), "{code}");
        }
        let strangers = [
            "P0007", "P000E", "P000F", "P001A", "P0026", "P030A", "P0313", "P0334", "P033A",
            "P034A", "P0350", "P0364", "P036A", "P0384", "P038A", "P0395", "P1016", "B0016",
            "U0335", "", "P",
        ];
        for code in strangers {
            assert_eq!(Complaint::of(code), None, "{code}");
        }
        let known = (0..0x4000).filter(|number| Complaint::of(&format!("P{number:04X}")).is_some());
        assert_eq!(known.count(), 2 + 4 + 16 + 13 + 5 + 10 + 5 + 5 + 5, "and no others");
    }
}
