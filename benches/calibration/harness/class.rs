//! Classes of faults, and which of them an engine can have.

use camwitness::verdict::Kind;

use super::engines::Drawn;

/// What was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    Sound,
    WornWithinTolerance,
    Skip,
    SkipAndWear,
    SkipAndPhaser,
    Wear,
    Phaser,
    PhaserWanders,
    SeveralPhasers,
    CrankWheel,
    CamWheel,
    DamagedTooth,
    CrossedLeads,
}

impl Class {
    pub const ALL: [Class; 13] = [
        Class::Sound,
        Class::WornWithinTolerance,
        Class::Skip,
        Class::SkipAndWear,
        Class::SkipAndPhaser,
        Class::Wear,
        Class::Phaser,
        Class::PhaserWanders,
        Class::SeveralPhasers,
        Class::CrankWheel,
        Class::CamWheel,
        Class::DamagedTooth,
        Class::CrossedLeads,
    ];

    pub fn word(self) -> &'static str {
        match self {
            Class::Sound => "sound",
            Class::WornWithinTolerance => "worn within tolerance",
            Class::Skip => "skip",
            Class::SkipAndWear => "skip and wear",
            Class::SkipAndPhaser => "skip and phaser",
            Class::Wear => "wear beyond tolerance",
            Class::Phaser => "phaser away, holding still",
            Class::PhaserWanders => "phaser away, wandering",
            Class::SeveralPhasers => "several phasers away",
            Class::CrankWheel => "crank wheel moved",
            Class::CamWheel => "cam wheel moved",
            Class::DamagedTooth => "damaged cam tooth",
            Class::CrossedLeads => "leads crossed",
        }
    }

    /// The kind of explanation that is true.
    pub fn kind(self) -> Kind {
        match self {
            Class::Sound | Class::WornWithinTolerance => Kind::InTime,
            Class::Skip | Class::SkipAndWear | Class::SkipAndPhaser => Kind::Skip,
            Class::Wear => Kind::Wear,
            Class::Phaser | Class::PhaserWanders | Class::SeveralPhasers => Kind::PhaserOffRest,
            Class::CrankWheel => Kind::CrankReferenceMoved,
            Class::CamWheel => Kind::CamWheelMoved,
            Class::DamagedTooth => Kind::DamagedTooth,
            Class::CrossedLeads => Kind::LeadsCrossed,
        }
    }
}

/// Cams with a phaser.
pub(super) fn phasers(drawn: &Drawn) -> Vec<usize> {
    let cams = &drawn.real.cams;
    (0..cams.len()).filter(|&cam| cams[cam].phaser.is_some()).collect()
}

/// Every class this engine can have, in the stock of faults alike.
pub(super) fn possible(drawn: &Drawn) -> Vec<Class> {
    Class::ALL
        .into_iter()
        .filter(|class| match class {
            Class::Phaser | Class::PhaserWanders => !phasers(drawn).is_empty(),
            // A phaser can only be told beside a skip on a cam that did not skip.
            Class::SkipAndPhaser => !phasers(drawn).is_empty() && drawn.real.cams.len() > 1,
            Class::SeveralPhasers => phasers(drawn).len() > 1,
            Class::CrossedLeads => drawn.real.cams.len() > 1,
            _ => true,
        })
        .collect()
}
