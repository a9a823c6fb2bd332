//! What is found, and of what kind an explanation is.

use serde::Serialize;

/// Odds at which a finding is stated: 99 in 100.
pub const SURE: f64 = 0.99;

/// What is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Every cam that was recorded stands within tolerance.
    InTime,
    /// A chain has skipped; where or how far may be open.
    Jumped,
    /// A chain has skipped or is worn beyond tolerance, which of the two is open.
    DriveDue,
    /// Something is off, and it is not a skipped chain.
    OffNotJumped,
    /// The description or the leads do not describe this engine.
    DoesNotFit,
    /// The odds reach none of the above.
    CannotTell,
}

impl State {
    /// Every state.
    pub const ALL: [State; 6] = [
        State::InTime,
        State::Jumped,
        State::DriveDue,
        State::OffNotJumped,
        State::DoesNotFit,
        State::CannotTell,
    ];

    /// Whether a finding was reached. One of "in time" for some of the cams only counts where the
    /// user asked about these alone (`recorded_only`).
    #[must_use]
    pub fn is_decided(self, covers_every_cam: bool, recorded_only: bool) -> bool {
        match self {
            State::InTime => covers_every_cam || recorded_only,
            State::Jumped | State::DriveDue | State::OffNotJumped => true,
            State::DoesNotFit | State::CannotTell => false,
        }
    }

    /// Whether it says anything of the engine. A description that does not fit says nothing of it,
    /// and neither does "cannot tell".
    #[must_use]
    pub fn answers(self) -> bool {
        match self {
            State::InTime | State::Jumped | State::DriveDue | State::OffNotJumped => true,
            State::DoesNotFit | State::CannotTell => false,
        }
    }

    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            State::InTime => "in_time",
            State::Jumped => "jumped",
            State::DriveDue => "drive_due",
            State::OffNotJumped => "off_not_jumped",
            State::DoesNotFit => "does_not_fit",
            State::CannotTell => "cannot_tell",
        }
    }
}

/// Kind of explanation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// All cams within tolerance.
    InTime,
    /// A chain, belt or gear skipped teeth.
    Skip,
    /// A chain or a strand of it is worn past tolerance.
    Wear,
    /// A phaser stands away from its rest stop.
    PhaserOffRest,
    /// The crank's wheel, key or TDC figure is off.
    CrankReferenceMoved,
    /// A cam's wheel slipped or is the wrong part.
    CamWheelMoved,
    /// One tooth of a cam's wheel is damaged.
    DamagedTooth,
    /// Two leads are exchanged.
    LeadsCrossed,
    /// The description or the leads do not describe this engine.
    DoesNotFit,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Kind; 9] = [
        Kind::InTime,
        Kind::Skip,
        Kind::Wear,
        Kind::PhaserOffRest,
        Kind::CrankReferenceMoved,
        Kind::CamWheelMoved,
        Kind::DamagedTooth,
        Kind::LeadsCrossed,
        Kind::DoesNotFit,
    ];

    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Kind::InTime => "in_time",
            Kind::Skip => "skip",
            Kind::Wear => "wear",
            Kind::PhaserOffRest => "phaser_off_rest",
            Kind::CrankReferenceMoved => "crank_reference_moved",
            Kind::CamWheelMoved => "cam_wheel_moved",
            Kind::DamagedTooth => "damaged_tooth",
            Kind::LeadsCrossed => "leads_crossed",
            Kind::DoesNotFit => "does_not_fit",
        }
    }
}
