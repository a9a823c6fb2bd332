//! What may be wrong with an exercise, and what is to be measured or done next: the words that
//! stand on a worksheet, in the answers and in the key.

use serde::{Deserialize, Serialize};

/// What is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// Nothing.
    Sound,
    /// The chain skipped teeth.
    Jumped,
    /// The chain has grown longer.
    Worn,
    /// A phaser stands away from its rest.
    Phaser,
    /// The crank's wheel moved on its shaft.
    CrankWheel,
    /// A cam's wheel moved on its shaft.
    CamWheel,
    /// A tooth of a cam's wheel is damaged.
    DamagedTooth,
    /// A tooth of the crank's wheel is gone.
    MissingTooth,
    /// A cylinder compresses nothing.
    DeadCylinder,
    /// A cylinder leaks, or traps too little.
    WeakCylinder,
    /// Two leads are exchanged.
    CrossedLeads,
    /// The two wires of a lead are exchanged.
    ReversedLead,
    /// A lead shows what is not its wheel's, or a coil fires as was not thought.
    StrayPulses,
    /// The battery falls too far.
    Supply,
    /// The clamp is set wrongly.
    Clamp,
    /// The engine file names the wrong edge.
    WrongEdge,
    /// The engine file describes another wheel.
    WrongFile,
    /// Too few samples.
    LowRate,
}

/// What comes next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NextTest {
    /// Nothing.
    None,
    /// Open the cover.
    Cover,
    /// Measure the chain.
    Chain,
    /// Command the phaser.
    Phaser,
    /// True top dead centre.
    Tdc,
    /// Look at the sensor wheel.
    Wheel,
    /// A leak test.
    Leak,
    /// Follow the leads.
    Leads,
    /// Charge and test the battery.
    Battery,
    /// Set the clamp.
    Clamp,
    /// Check the engine file.
    File,
    /// Record faster.
    Rate,
}

impl Cause {
    /// Every one, in the order of the worksheet.
    pub const ALL: [Cause; 18] = [
        Cause::Sound,
        Cause::Jumped,
        Cause::Worn,
        Cause::Phaser,
        Cause::CrankWheel,
        Cause::CamWheel,
        Cause::DamagedTooth,
        Cause::MissingTooth,
        Cause::DeadCylinder,
        Cause::WeakCylinder,
        Cause::CrossedLeads,
        Cause::ReversedLead,
        Cause::StrayPulses,
        Cause::Supply,
        Cause::Clamp,
        Cause::WrongEdge,
        Cause::WrongFile,
        Cause::LowRate,
    ];

    /// The word an answer is given in.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Cause::Sound => "sound",
            Cause::Jumped => "jumped",
            Cause::Worn => "worn",
            Cause::Phaser => "phaser",
            Cause::CrankWheel => "crank wheel",
            Cause::CamWheel => "cam wheel",
            Cause::DamagedTooth => "damaged tooth",
            Cause::MissingTooth => "missing tooth",
            Cause::DeadCylinder => "dead cylinder",
            Cause::WeakCylinder => "weak cylinder",
            Cause::CrossedLeads => "crossed leads",
            Cause::ReversedLead => "reversed lead",
            Cause::StrayPulses => "stray pulses",
            Cause::Supply => "supply",
            Cause::Clamp => "clamp",
            Cause::WrongEdge => "wrong edge",
            Cause::WrongFile => "wrong file",
            Cause::LowRate => "low rate",
        }
    }

    /// What the word means.
    #[must_use]
    pub fn means(self) -> &'static str {
        match self {
            Cause::Sound => "nothing is wrong",
            Cause::Jumped => "the chain or belt has skipped whole teeth",
            Cause::Worn => "the chain or belt has grown longer",
            Cause::Phaser => "a phaser stands away from its rest",
            Cause::CrankWheel => "the crank's sensor wheel has moved on its shaft",
            Cause::CamWheel => "a cam's sensor wheel has moved on its shaft, the valves have not",
            Cause::DamagedTooth => "a tooth of a cam's sensor wheel is bent or broken",
            Cause::MissingTooth => "a tooth of the crank's sensor wheel is gone",
            Cause::DeadCylinder => "one cylinder compresses nothing",
            Cause::WeakCylinder => "one cylinder leaks, or traps too little",
            Cause::CrossedLeads => "two leads are plugged into each other's places",
            Cause::ReversedLead => "the two wires of a lead are exchanged",
            Cause::StrayPulses => "a lead shows pulses or edges that are not its wheel's",
            Cause::Supply => "the battery falls too far while cranking",
            Cause::Clamp => "the current clamp is set wrongly",
            Cause::WrongEdge => "the engine file names the wrong edge of a wheel",
            Cause::WrongFile => "the engine file describes another wheel",
            Cause::LowRate => "too few samples per second to tell",
        }
    }

    /// How it shows, for the instructor.
    #[must_use]
    pub fn shows(self) -> &'static str {
        match self {
            Cause::Sound => {
                "Every cam stands where the engine file puts it, and the banks pull the starter alike."
            }
            Cause::Jumped => {
                "The cam stands off by a whole number of chain teeth. Its bank traps less when it is late, and the starter's current shows it."
            }
            Cause::Worn => {
                "Everything the chain drives is late, less than a tooth, and swings a little from cycle to cycle."
            }
            Cause::Phaser => {
                "The cam stands off within the phaser's travel, and on the side to which the phaser can move it."
            }
            Cause::CrankWheel => {
                "Every cam reads off by the same amount, no whole tooth, and the banks pull the starter alike. True top dead centre tells."
            }
            Cause::CamWheel => {
                "One cam reads off by no whole tooth, and its bank traps as much as the other: the valves have not moved."
            }
            Cause::DamagedTooth => {
                "One edge of one tooth is out of place, and all the other edges of that cam are in place."
            }
            Cause::MissingTooth => {
                "A third gap in every turn, one tooth wide, where the wheel should have a tooth."
            }
            Cause::DeadCylinder => {
                "One peak of the starter's current is gone. Every cam is in place."
            }
            Cause::WeakCylinder => {
                "One peak of the starter's current is lower. Every cam is in place."
            }
            Cause::CrossedLeads => {
                "Each of the two leads carries the other's signal. Of two cams alike it looks as if all were in place; the coil fires a turn of the crank away from its cylinder."
            }
            Cause::ReversedLead => {
                "The signal stands upside down: it is high where it should be low."
            }
            Cause::StrayPulses => {
                "Short pulses, or edges that come and go, where the wheel has none."
            }
            Cause::Supply => {
                "The battery falls far below 9.6 V while cranking (common practice, no source), and the sensors' levels with it."
            }
            Cause::Clamp => {
                "The starter's current has a level or a shape that no starter has. Every cam is in place."
            }
            Cause::WrongEdge => {
                "Every reading is off by the width of a tooth: the even wheel is counted from its other edge. Nothing on the engine moved."
            }
            Cause::WrongFile => {
                "The teeth between two gaps, counted on the trace, are not those of the engine file."
            }
            Cause::LowRate => {
                "Most of the crank sensor's pulses fall between two samples, and those that are seen are one sample wide. The engine itself is sound."
            }
        }
    }

    /// What to do about it next.
    #[must_use]
    pub fn next(self) -> NextTest {
        match self {
            Cause::Sound => NextTest::None,
            Cause::Jumped => NextTest::Cover,
            Cause::Worn => NextTest::Chain,
            Cause::Phaser => NextTest::Phaser,
            Cause::CrankWheel => NextTest::Tdc,
            Cause::CamWheel | Cause::DamagedTooth | Cause::MissingTooth => NextTest::Wheel,
            Cause::DeadCylinder | Cause::WeakCylinder => NextTest::Leak,
            Cause::CrossedLeads | Cause::ReversedLead | Cause::StrayPulses => NextTest::Leads,
            Cause::Supply => NextTest::Battery,
            Cause::Clamp => NextTest::Clamp,
            Cause::WrongEdge | Cause::WrongFile => NextTest::File,
            Cause::LowRate => NextTest::Rate,
        }
    }

    /// The cause of this word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Cause> {
        let word = plain(word);
        Cause::ALL.into_iter().find(|cause| cause.word() == word)
    }
}

impl NextTest {
    /// Every one, in the order of the worksheet.
    pub const ALL: [NextTest; 12] = [
        NextTest::None,
        NextTest::Cover,
        NextTest::Chain,
        NextTest::Phaser,
        NextTest::Tdc,
        NextTest::Wheel,
        NextTest::Leak,
        NextTest::Leads,
        NextTest::Battery,
        NextTest::Clamp,
        NextTest::File,
        NextTest::Rate,
    ];

    /// The word an answer is given in.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            NextTest::None => "none",
            NextTest::Cover => "cover",
            NextTest::Chain => "chain",
            NextTest::Phaser => "phaser",
            NextTest::Tdc => "tdc",
            NextTest::Wheel => "wheel",
            NextTest::Leak => "leak",
            NextTest::Leads => "leads",
            NextTest::Battery => "battery",
            NextTest::Clamp => "clamp",
            NextTest::File => "file",
            NextTest::Rate => "rate",
        }
    }

    /// What the word means.
    #[must_use]
    pub fn means(self) -> &'static str {
        match self {
            NextTest::None => "nothing more is needed",
            NextTest::Cover => "open the timing cover and look at the marks",
            NextTest::Chain => "measure the chain and its tensioner",
            NextTest::Phaser => "command the phaser and watch the cam move",
            NextTest::Tdc => {
                "find true top dead centre of cylinder 1 and hold the crank wheel against it"
            }
            NextTest::Wheel => "look at the sensor wheel itself",
            NextTest::Leak => "a leak test of the cylinder",
            NextTest::Leads => "follow the leads, put them right, record again",
            NextTest::Battery => "charge and test the battery, record again",
            NextTest::Clamp => "set the clamp right, record again",
            NextTest::File => "hold the engine file against the car",
            NextTest::Rate => "record again with more samples per second",
        }
    }

    /// The next test of this word.
    #[must_use]
    pub fn parse(word: &str) -> Option<NextTest> {
        let word = plain(word);
        NextTest::ALL.into_iter().find(|test| test.word() == word)
    }
}

/// A word without regard to case, hyphens and how many blanks there are.
pub(super) fn plain(word: &str) -> String {
    let word = word.to_lowercase().replace(['-', '_'], " ");
    word.split_whitespace().collect::<Vec<_>>().join(" ")
}
