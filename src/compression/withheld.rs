//! Why a source of compression evidence was not used.

use std::fmt;

/// Evidence is withheld rather than guessed; each reason in words, with what to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Withheld {
    /// The lead runs into the limit of the scope's range.
    Clipped,
    /// The clamp points the wrong way, or the lead's wires are swapped.
    Reversed,
    /// The lead has swings and no level: its input is AC-coupled.
    AcCoupled,
    /// The clamp reads a current while nothing turns.
    NotZeroed {
        /// Its standing reading, in the lead's unit.
        reading: f64,
    },
    /// The mean cranking current cannot be right.
    WrongScale {
        /// The mean, in amperes.
        mean: f64,
    },
    /// The engine ran instead of being cranked.
    EngineStarted {
        /// Cycles of steady cranking before it ran.
        cycles: usize,
    },
    /// Too little steady cranking.
    FewerThanThreeCycles {
        /// Whole cycles of it.
        whole: usize,
    },
    /// Speed, or the compressions, differ too much from cycle to cycle.
    UnevenCranking,
    /// No compression shows.
    CompressionsNotSeen,
    /// The engine fires unevenly and nothing tells which turn of the crank is which.
    PhaseUnknown,
    /// The lead does not cover the steady cranking, or holds only levels.
    LeadTooShort,
    /// Too few samples to follow a compression.
    SampledTooSlowly,
    /// The crank wheel has too few teeth for crank speed alone.
    WheelTooCoarse,
    /// One cylinder has nothing to be compared with.
    OneCylinder,
}

impl fmt::Display for Withheld {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Withheld::Clipped => out.write_str(
                "the lead runs into the limit of the scope's range. Choose a wider range and capture again",
            ),
            Withheld::Reversed => out.write_str(
                "the lead is the wrong way round: it falls where a compression should make it rise. \
                 Turn the clamp (its arrow points away from battery positive) or swap the wires",
            ),
            Withheld::AcCoupled => out.write_str(
                "the lead swings about zero and shows no steady current, as an AC-coupled input does. Set it to DC and capture again",
            ),
            Withheld::NotZeroed { reading } => write!(
                out,
                "the clamp reads {reading:.0} while nothing turns. Zero the clamp and capture again"
            ),
            Withheld::WrongScale { mean } => write!(
                out,
                "a mean cranking current of {mean:.0} A cannot be right. Check the amps per volt of the lead"
            ),
            Withheld::EngineStarted { cycles } => write!(
                out,
                "the engine ran after {cycles} cycles of steady cranking. Stop it from starting by the maker's \
                 procedure and crank again"
            ),
            Withheld::FewerThanThreeCycles { whole } => write!(
                out,
                "only {whole} whole cycles of steady cranking; three are needed. Crank for five seconds or more"
            ),
            Withheld::UnevenCranking => out.write_str(
                "the engine was cranked unevenly. Charge or support the battery and crank again",
            ),
            Withheld::CompressionsNotSeen => {
                out.write_str("no compressions show. Check that this is the lead it is said to be")
            }
            Withheld::PhaseUnknown => out.write_str(
                "this engine fires unevenly and nothing tells which turn of the crank is which. Add a cam or \
                 an ignition lead",
            ),
            Withheld::LeadTooShort => {
                out.write_str("the lead does not cover the steady cranking. Record all leads together")
            }
            Withheld::SampledTooSlowly => {
                out.write_str("too few samples per turn. Record at 1000 samples per second or more")
            }
            Withheld::WheelTooCoarse => out.write_str(
                "the crank wheel has too few teeth to show compressions by speed. Add a starter current clamp",
            ),
            Withheld::OneCylinder => {
                out.write_str("one cylinder has no other to be compared with")
            }
        }
    }
}
