//! The one list of what a lead may be called, and what else a header says of it.
//!
//! Two uses, kept apart: the *name* of a lead, by which it is taken without asking ([`Extra`], and
//! a cam's name in its engine file), and *words* in a header that only suggest what a column may
//! carry ([`Words`]).

use std::fmt;
use std::str::FromStr;

use crate::capture::split_name;
use crate::engine::CamShaft;

/// The crank's name as a lead.
pub const CRANK: &str = "crank";

/// A lead beside the position sensors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extra {
    /// Starter current, by a clamp.
    Starter,
    /// Battery voltage.
    Battery,
    /// Ignition primary or trigger of a cylinder.
    Ignition(u32),
    /// Control of a cylinder's injector.
    Injector(u32),
    /// Pressure in a cylinder.
    Pressure(u32),
}

impl Extra {
    /// Every kind, with a cylinder in the place of one: for lists that a user picks from.
    pub const FORMS: [&str; 5] = ["starter", "battery", "ignition N", "injector N", "pressure N"];
}

impl fmt::Display for Extra {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Extra::Starter => out.write_str("starter"),
            Extra::Battery => out.write_str("battery"),
            Extra::Ignition(cylinder) => write!(out, "ignition {cylinder}"),
            Extra::Injector(cylinder) => write!(out, "injector {cylinder}"),
            Extra::Pressure(cylinder) => write!(out, "pressure {cylinder}"),
        }
    }
}

impl FromStr for Extra {
    type Err = String;

    /// Reads `starter`, `ignition 1`, `Ignition_1`, `pressure1`.
    fn from_str(text: &str) -> Result<Extra, String> {
        let plain = plain(text);
        let cylinder = |word: &str| plain.strip_prefix(word)?.trim_start().parse::<u32>().ok();
        match plain.as_str() {
            "starter" => Ok(Extra::Starter),
            "battery" => Ok(Extra::Battery),
            _ => cylinder("ignition")
                .map(Extra::Ignition)
                .or_else(|| cylinder("injector").map(Extra::Injector))
                .or_else(|| cylinder("pressure").map(Extra::Pressure))
                .ok_or_else(|| {
                    format!(
                        "no lead is called \"{text}\". Use starter, battery, \"ignition 1\", \"injector 1\" or \"pressure 1\""
                    )
                }),
        }
    }
}

/// A name as it is compared: in small letters, without its unit, with one blank where something
/// else stood between words. `B1_Intake (V)` and `b1 intake` are alike.
#[must_use]
pub fn plain(name: &str) -> String {
    let (name, _) = split_name(name);
    let blank = |letter: char| if letter == '_' || letter.is_whitespace() { ' ' } else { letter };
    let lower: String = name.chars().map(blank).collect::<String>().to_lowercase();
    lower.split(' ').filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

/// What a channel probably carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RoleGuess {
    /// Crank position sensor.
    Crank,
    /// Cam position sensor.
    Cam,
    /// Starter current.
    Starter,
    /// Battery voltage.
    Battery,
    /// Ignition trigger.
    Ignition,
    /// Control of an injector.
    Injector,
    /// In-cylinder pressure.
    Pressure,
    /// Nothing that can be said.
    Unknown,
}

/// Words that suggest a kind of lead; the first kind that has one wins. Common practice, no source.
const KINDS: [(RoleGuess, &[&str]); 7] = [
    (RoleGuess::Crank, &["crank", "ckp", "crankshaft"]),
    (RoleGuess::Cam, &["cam", "cmp", "camshaft", "intake", "inlet", "exhaust"]),
    (RoleGuess::Starter, &["starter"]),
    (RoleGuess::Battery, &["battery"]),
    (RoleGuess::Ignition, &["ignition", "coil"]),
    (RoleGuess::Injector, &["injector"]),
    (RoleGuess::Pressure, &["pressure"]),
];

impl RoleGuess {
    /// The word for it; empty for none.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            RoleGuess::Crank => CRANK,
            RoleGuess::Cam => "cam",
            RoleGuess::Starter => "starter",
            RoleGuess::Battery => "battery",
            RoleGuess::Ignition => "ignition",
            RoleGuess::Injector => "injector",
            RoleGuess::Pressure => "pressure",
            RoleGuess::Unknown => "",
        }
    }
}

/// What the words of a header suggest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Words {
    /// What kind of lead.
    pub kind: Option<RoleGuess>,
    /// On which bank.
    pub bank: Option<u32>,
    /// Of which cam.
    pub shaft: Option<CamShaft>,
    /// A number that stands after the kind or "cylinder": of a cylinder, for a lead that has one.
    pub cylinder: Option<u32>,
}

impl Words {
    /// Reads a header: `CMP bank 2 exhaust`, `B1 intake`, `coil 3`.
    #[must_use]
    pub fn of(header: &str) -> Words {
        let pieces = pieces(header);
        let has = |keys: &[&str]| pieces.iter().any(|word| keys.contains(&word.as_str()));
        let number_after = |keys: &[&str]| {
            let named = pieces.windows(2).filter(|pair| keys.contains(&pair[0].as_str()));
            named.filter_map(|pair| pair[1].parse::<u32>().ok()).next()
        };
        let kind = KINDS.into_iter().find(|(_, keys)| has(keys)).map(|(kind, _)| kind);
        let of_kind = |kind: RoleGuess| KINDS.into_iter().find(|(of, _)| *of == kind);
        let cylinder = match kind {
            Some(kind @ (RoleGuess::Ignition | RoleGuess::Injector | RoleGuess::Pressure)) => {
                number_after(&["cylinder", "cyl"])
                    .or_else(|| of_kind(kind).and_then(|(_, keys)| number_after(keys)))
            }
            _ => None,
        };
        let shaft = match (has(&["intake", "inlet"]), has(&["exhaust"])) {
            (true, false) => Some(CamShaft::Intake),
            (false, true) => Some(CamShaft::Exhaust),
            _ => None,
        };
        Words { kind, bank: number_after(&["bank", "b"]), shaft, cylinder }
    }
}

/// The words of a header in small letters, numbers by themselves: `B1-Intake` is b, 1, intake.
fn pieces(header: &str) -> Vec<String> {
    let mut pieces: Vec<String> = Vec::new();
    let mut last = None;
    for letter in header.chars().flat_map(char::to_lowercase) {
        let kind = match letter {
            _ if letter.is_ascii_digit() => Some(true),
            _ if letter.is_alphanumeric() => Some(false),
            _ => None,
        };
        match (kind, pieces.last_mut()) {
            (None, _) => {}
            (Some(_), Some(piece)) if last == kind => piece.push(letter),
            (Some(_), _) => pieces.push(letter.to_string()),
        }
        last = kind;
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_header_with_its_unit_is_the_lead_itself() {
        let rows = [
            ("crank (V)", "crank"),
            ("Crank [mV]", "crank"),
            ("CRANK", "crank"),
            ("B1_Intake", "b1 intake"),
            ("  B1   intake (volts)", "b1 intake"),
            // What is no unit stays.
            ("crank (old)", "crank (old)"),
            ("Channel 1", "channel 1"),
        ];
        for (header, want) in rows {
            assert_eq!(plain(header), want, "{header}");
        }
    }

    #[test]
    fn extra_leads_are_read_as_people_write_them() {
        let rows = [
            ("starter", Some(Extra::Starter)),
            ("Battery (V)", Some(Extra::Battery)),
            ("ignition 3", Some(Extra::Ignition(3))),
            ("ignition_3", Some(Extra::Ignition(3))),
            ("Injector 2 (A)", Some(Extra::Injector(2))),
            ("Pressure1", Some(Extra::Pressure(1))),
            ("pressure", None),
            ("ignition x", None),
            ("starters", None),
            ("", None),
        ];
        for (text, want) in rows {
            assert_eq!(text.parse().ok(), want, "{text}");
            if let Some(extra) = want {
                assert_eq!(extra.to_string().parse(), Ok(extra));
            }
        }
    }

    #[test]
    fn words_of_a_header_suggest() {
        use CamShaft::{Exhaust, Intake};
        use RoleGuess::{Battery, Cam, Crank, Ignition, Pressure, Starter};
        // (header, kind, bank, shaft, cylinder)
        let rows = [
            ("CKP sensor", Some(Crank), None, None, None),
            ("B1 intake", Some(Cam), Some(1), Some(Intake), None),
            ("Bank2-Exhaust CMP", Some(Cam), Some(2), Some(Exhaust), None),
            ("cam b2", Some(Cam), Some(2), None, None),
            ("inlet cam", Some(Cam), None, Some(Intake), None),
            ("intake and exhaust", Some(Cam), None, None, None),
            ("crank and cam", Some(Crank), None, None, None),
            ("starter current", Some(Starter), None, None, None),
            ("battery", Some(Battery), None, None, None),
            ("coil 3", Some(Ignition), None, None, Some(3)),
            ("ignition cyl 4", Some(Ignition), None, None, Some(4)),
            ("pressure", Some(Pressure), None, None, None),
            ("Channel 1", None, None, None, None),
            ("abcam2", None, None, None, None),
            ("Kanal 2 µV", None, None, None, None),
        ];
        for (header, kind, bank, shaft, cylinder) in rows {
            assert_eq!(Words::of(header), Words { kind, bank, shaft, cylinder }, "{header}");
        }
    }
}
