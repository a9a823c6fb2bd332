//! What one student is given: a fault of the engine, or a mistake of whoever measured it.

use std::fmt;
use std::str::FromStr;

use super::cause::Cause;
use crate::practice::{Fault, FaultWordsError};

/// What one student is given.
#[derive(Debug, Clone, PartialEq)]
pub enum Exercise {
    /// A sound engine, rightly recorded.
    Sound,
    /// A sound engine, recorded with too few samples per second.
    LowRate,
    /// The engine file names the wrong edge of an even wheel: the crank's, or a cam's by its name.
    WrongEdge(String),
    /// The engine file describes another crank wheel.
    WrongFile,
    /// A fault that a practice capture can have.
    Fault(Fault),
}

/// The words beside those of a fault, with what they mean.
pub const EXERCISE_WORDS: &[(&str, &str)] = &[
    ("sound", "nothing is wrong"),
    ("low-rate", "too few samples per second"),
    ("wrong-edge:WHEEL", "the engine file names the wrong edge of an even wheel: crank, or a cam"),
    ("wrong-file", "the engine file describes another crank wheel"),
];

impl Exercise {
    /// What is wrong.
    #[must_use]
    pub fn cause(&self) -> Cause {
        match self {
            Exercise::Sound => Cause::Sound,
            Exercise::LowRate => Cause::LowRate,
            Exercise::WrongEdge(_) => Cause::WrongEdge,
            Exercise::WrongFile => Cause::WrongFile,
            Exercise::Fault(fault) => match fault {
                Fault::Skip { .. } => Cause::Jumped,
                Fault::Wear { .. } | Fault::WornStrand { .. } => Cause::Worn,
                Fault::Phaser { .. } => Cause::Phaser,
                Fault::CrankWheel { .. } => Cause::CrankWheel,
                Fault::CamWheel { .. } => Cause::CamWheel,
                Fault::DamagedTooth { .. } => Cause::DamagedTooth,
                Fault::WeakCylinder { .. } | Fault::StarvedCylinder { .. } => Cause::WeakCylinder,
                Fault::DeadCylinder { .. } => Cause::DeadCylinder,
                Fault::MultiSpark { .. } | Fault::WasteSpark { .. } | Fault::Trap { .. } => {
                    Cause::StrayPulses
                }
                Fault::Clamp(_) => Cause::Clamp,
                Fault::CrossedLeads { .. } => Cause::CrossedLeads,
                Fault::Reversed { .. } => Cause::ReversedLead,
                Fault::WeakBattery { .. } => Cause::Supply,
                Fault::MissingTooth { .. } => Cause::MissingTooth,
            },
        }
    }

    /// The faults the engine is built with.
    #[must_use]
    pub fn faults(&self) -> Vec<Fault> {
        match self {
            Exercise::Fault(fault) => vec![fault.clone()],
            _ => Vec::new(),
        }
    }
}

impl fmt::Display for Exercise {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Exercise::Sound => out.write_str("sound"),
            Exercise::LowRate => out.write_str("low-rate"),
            Exercise::WrongEdge(wheel) => write!(out, "wrong-edge:{wheel}"),
            Exercise::WrongFile => out.write_str("wrong-file"),
            Exercise::Fault(fault) => fault.fmt(out),
        }
    }
}

impl FromStr for Exercise {
    type Err = FaultWordsError;

    fn from_str(words: &str) -> Result<Self, Self::Err> {
        match words.trim() {
            "sound" => Ok(Exercise::Sound),
            "low-rate" => Ok(Exercise::LowRate),
            "wrong-file" => Ok(Exercise::WrongFile),
            other => match other.strip_prefix("wrong-edge:").map(str::trim) {
                Some(wheel) if !wheel.is_empty() => Ok(Exercise::WrongEdge(wheel.to_owned())),
                _ => other.parse().map(Exercise::Fault),
            },
        }
    }
}
