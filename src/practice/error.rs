//! Why a practice capture cannot be made.

use thiserror::Error;

/// What a user asked for that cannot be done, with what would do.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PracticeError {
    /// A fault names something the engine has not got.
    #[error("{fault}: this engine has no {what} called \"{name}\". It has: {has}")]
    Unknown {
        /// The fault or option, as given.
        fault: String,
        /// "shaft", "chain", "cam", "lead", "cylinder".
        what: &'static str,
        /// What was asked for.
        name: String,
        /// Those there are, separated by commas.
        has: String,
    },
    /// A fault's number is out of range.
    #[error("{fault}: {why}. {advice}")]
    OutOfRange {
        /// The fault or option, as given.
        fault: String,
        /// What is wrong with it.
        why: String,
        /// What would do. A whole sentence.
        advice: String,
    },
    /// Fewer than two samples per tooth.
    #[error(
        "--rate {rate}: at the highest speed of this capture ({rpm:.0} rpm) that is {per_tooth:.2} samples \
         per tooth, fewer than 2. Use --rate {enough} or more"
    )]
    RateTooLow {
        /// Samples per second asked for.
        rate: f64,
        /// Highest speed in the capture.
        rpm: f64,
        /// Samples per tooth at that speed.
        per_tooth: f64,
        /// Samples per second that would do.
        enough: u64,
    },
    /// Fewer than two turns.
    #[error(
        "--seconds {seconds}: the crank turns only {turns:.1} times in that, fewer than 2. Use --seconds \
         {enough:.1} or more"
    )]
    TooShort {
        /// Seconds asked for.
        seconds: f64,
        /// Turns in them.
        turns: f64,
        /// Seconds that would do.
        enough: f64,
    },
}
