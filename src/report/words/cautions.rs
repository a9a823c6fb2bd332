//! The cautions in words (common practice, no source).

use crate::verdict::Caution;

/// A caution in a sentence or two.
#[must_use]
pub fn caution(caution: Caution) -> &'static str {
    match caution {
        Caution::NoMoreCranking => {
            "Do not keep cranking or run an engine whose timing may have jumped: valves can meet pistons."
        }
        Caution::CannotRoll => "Transmission in park or neutral, brake set, wheels chocked.",
        Caution::CannotStart => {
            "Disable fuel or ignition by the maker's procedure before a cranking test, so that the engine cannot start."
        }
        Caution::MovingParts => {
            "Keep clear of belts, fans and pulleys. Secure hair, sleeves and leads."
        }
        Caution::IgnitionVoltage => {
            "Ignition secondary voltage is dangerous. Use insulated probes and stay off the secondary side."
        }
        Caution::HotParts => "Exhaust and cooling parts may be hot.",
        Caution::HighVoltageDrive => {
            "Hybrid and electric drive: high-voltage procedures and trained staff only."
        }
        Caution::StarterDuty => {
            "Respect the starter's duty limits: let it cool between tests, and support the battery with a charger."
        }
        Caution::MakerFirst => {
            "The maker's service information and local law come first. This result supports a qualified technician's judgement and does not replace it."
        }
    }
}

/// All of them, in the order in which they matter at the car.
#[must_use]
pub fn cautions() -> [&'static str; Caution::ALL.len()] {
    Caution::ALL.map(caution)
}
