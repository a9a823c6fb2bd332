//! The demonstration: an invented engine, sound, with its chain a tooth late, and repaired. The
//! same bytes as the files of `demo-data/`, whose README tells the story.

use std::path::Path;

use super::{Dialect, ExtraLead, Fault, PracticeError, Scenario, csv_text, generate};
use crate::engine::Engine;
use crate::error::DescriptionError;

/// The engine file of the demonstration.
pub const DEMONSTRATION_ENGINE: &str = include_str!("../../demo-data/engine.toml");

/// Number of the specimen all three captures are takes of.
const SEED: u64 = 7;
/// Samples per second: small enough files, and teeth of four samples at that speed.
const RATE: f64 = 10_000.0;
const SECONDS: f64 = 3.0;
/// Of the scope of an ordinary workshop (common practice, no source).
const BITS: u32 = 8;
const RPM: f64 = 235.0;
/// The cylinder whose coil has a lead.
const COIL: u32 = 3;
/// The fault, in the words of `practice`.
const FAULT: &str = "skip:B2 intake@primary:+1";

/// A capture of the demonstration.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Demonstration {
    /// Nothing wrong.
    Sound,
    /// The chain one tooth late on the intake cam of bank 2.
    Bank2Late,
    /// The same engine after the repair.
    Repaired,
}

impl Demonstration {
    /// All of them.
    pub const ALL: [Demonstration; 3] =
        [Demonstration::Sound, Demonstration::Bank2Late, Demonstration::Repaired];

    /// Name of its file.
    #[must_use]
    pub fn file(self) -> &'static str {
        match self {
            Demonstration::Sound => "sound.csv",
            Demonstration::Bank2Late => "bank2-late.csv",
            Demonstration::Repaired => "repaired.csv",
        }
    }

    fn take(self) -> u64 {
        match self {
            Demonstration::Sound => 1,
            Demonstration::Bank2Late => 2,
            Demonstration::Repaired => 3,
        }
    }

    /// Its file, as text.
    ///
    /// # Errors
    /// None in practice: the engine and what is asked for are ours.
    pub fn csv(self) -> Result<String, DemonstrationError> {
        let engine = Engine::parse(DEMONSTRATION_ENGINE, Path::new("engine.toml"))?;
        let faults = match self {
            Demonstration::Bank2Late => {
                vec![FAULT.parse::<Fault>().map_err(|_| DemonstrationError::Own)?]
            }
            _ => Vec::new(),
        };
        let practice = generate(&Scenario {
            faults,
            seed: SEED,
            take: self.take(),
            rate: RATE,
            seconds: SECONDS,
            bits: Some(BITS),
            rpm: Some(RPM),
            leads: vec![ExtraLead::Starter, ExtraLead::Ignition(COIL)],
            ..Scenario::new(engine)
        })?;
        csv_text(&practice.capture, &practice.steps, Dialect::default())
            .ok_or(DemonstrationError::Own)
    }
}

/// Why there is no demonstration: a fault of the program's own.
#[derive(Debug, thiserror::Error)]
pub enum DemonstrationError {
    /// Its engine cannot be read.
    #[error(transparent)]
    Engine(#[from] DescriptionError),
    /// Its capture cannot be made.
    #[error(transparent)]
    Practice(#[from] PracticeError),
    /// Its fault or the way it is written is not known.
    #[error("the demonstration cannot be made. This is a fault of the program")]
    Own,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_what_stands_in_the_folder() {
        for one in Demonstration::ALL {
            let path = format!("{}/demo-data/{}", env!("CARGO_MANIFEST_DIR"), one.file());
            let there = std::fs::read_to_string(path).expect("a capture");
            assert!(one.csv().expect("made") == there, "{one:?} is not the file's bytes");
        }
    }
}
