//! What everyone at the car is cautioned about.

use super::State;

/// A danger of the work, or a limit of what a result is for (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Caution {
    /// Valves may meet pistons.
    NoMoreCranking,
    /// The vehicle must not roll.
    CannotRoll,
    /// The engine must not start in a cranking test.
    CannotStart,
    /// Belts, fans and pulleys turn.
    MovingParts,
    /// The secondary side of the ignition.
    IgnitionVoltage,
    /// Exhaust and cooling.
    HotParts,
    /// Hybrid and electric drives.
    HighVoltageDrive,
    /// The starter overheats.
    StarterDuty,
    /// The maker's procedures, the law and a qualified technician stand above any result.
    MakerFirst,
}

impl Caution {
    /// Every caution, in the order in which they matter at the car. They go with every result and
    /// every hook-up sheet, whole.
    pub const ALL: [Caution; 9] = [
        Caution::NoMoreCranking,
        Caution::CannotRoll,
        Caution::CannotStart,
        Caution::MovingParts,
        Caution::IgnitionVoltage,
        Caution::HotParts,
        Caution::HighVoltageDrive,
        Caution::StarterDuty,
        Caution::MakerFirst,
    ];

    /// Those for whoever reads a finding and does none of the work: the vehicle's owner.
    #[must_use]
    pub fn of_finding(state: State) -> &'static [Caution] {
        match state {
            State::InTime => &[Caution::MakerFirst],
            _ => &[Caution::NoMoreCranking, Caution::MakerFirst],
        }
    }
}
