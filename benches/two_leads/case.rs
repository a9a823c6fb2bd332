//! What is drawn: an engine, what is wrong with it, the leads, the dirt. Practice draws the rest of
//! the specimen.

use std::path::Path;

use camwitness::Engine;
use camwitness::practice::{ExtraLead, Fault, Practice, PracticeError, Preset, Scenario, generate};

/// An invented engine: firing order, firing angles where uneven, banks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layout {
    pub name: &'static str,
    pub order: &'static [u32],
    pub angles: &'static [f64],
    pub banks: &'static [&'static [u32]],
}

pub const ENGINES: [Layout; 8] = [
    Layout { name: "three in line", order: &[1, 3, 2], angles: &[], banks: &[&[1, 2, 3]] },
    Layout { name: "four in line", order: &[1, 3, 4, 2], angles: &[], banks: &[&[1, 2, 3, 4]] },
    Layout { name: "flat four", order: &[1, 3, 2, 4], angles: &[], banks: &[&[1, 2], &[3, 4]] },
    Layout {
        name: "V4, uneven",
        order: &[1, 3, 2, 4],
        angles: &[0.0, 180.0, 250.0, 430.0],
        banks: &[&[1, 2], &[3, 4]],
    },
    Layout {
        name: "five in line",
        order: &[1, 2, 4, 5, 3],
        angles: &[],
        banks: &[&[1, 2, 3, 4, 5]],
    },
    Layout {
        name: "V6",
        order: &[1, 6, 5, 4, 3, 2],
        angles: &[],
        banks: &[&[1, 2, 3], &[4, 5, 6]],
    },
    Layout {
        name: "V6, uneven",
        order: &[1, 6, 5, 4, 3, 2],
        angles: &[0.0, 90.0, 240.0, 330.0, 480.0, 570.0],
        banks: &[&[1, 3, 5], &[2, 4, 6]],
    },
    Layout {
        name: "V8",
        order: &[1, 5, 4, 8, 6, 3, 7, 2],
        angles: &[],
        banks: &[&[1, 2, 3, 4], &[5, 6, 7, 8]],
    },
];

/// What is true.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Sound,
    OneLow,
    NeighboursLow,
    BankLow,
}

impl Kind {
    pub const ALL: [Kind; 4] = [Kind::Sound, Kind::OneLow, Kind::NeighboursLow, Kind::BankLow];

    pub fn word(self) -> &'static str {
        match self {
            Kind::Sound => "sound",
            Kind::OneLow => "one cylinder low",
            Kind::NeighboursLow => "neighbours low",
            Kind::BankLow => "a bank low",
        }
    }
}

/// A drawn case with its capture.
pub struct Case {
    pub seed: u64,
    pub engine: Layout,
    pub kind: Kind,
    pub low: Vec<u32>,
    pub nasty: bool,
    pub leads: Vec<ExtraLead>,
    pub practice: Practice,
    pub with_crank: Scenario,
}

impl Layout {
    fn list(numbers: &[impl ToString]) -> String {
        let words: Vec<String> = numbers.iter().map(ToString::to_string).collect();
        words.join(", ")
    }

    /// Firing order and banks, and nothing else.
    pub fn text(&self) -> String {
        let mut text =
            format!("name = \"{}\"\nfiring_order = [{}]\n", self.name, Self::list(self.order));
        if !self.angles.is_empty() {
            text += &format!("firing_angles = [{}]\n", Self::list(self.angles));
        }
        text += "[banks]\n";
        for (index, bank) in self.banks.iter().enumerate() {
            text += &format!("{} = [{}]\n", index + 1, Self::list(bank));
        }
        text
    }

    /// With a crank, and an intake cam a bank.
    pub fn whole(&self, tdc: f64) -> String {
        let mut text = self.text();
        text += &format!(
            "[crank]\nwheel = \"60-2\"\nsensor = \"hall\"\nedge = \"falling\"\ntdc = {tdc:.0}\n"
        );
        for bank in 1..=self.banks.len() {
            text += &format!(
                "[[cam]]\nname = \"B{bank} intake\"\nbank = {bank}\nshaft = \"intake\"\nwheel = \"three-uneven\"\n\
                 sensor = \"hall\"\nat = {}.0\nphaser = {{ rest = \"advanced\", travel = 50.0 }}\n",
                100 + 90 * bank
            );
        }
        text
    }
}

pub fn parse(text: &str) -> Engine {
    Engine::parse(text, Path::new("engine.toml")).expect("the engine of the bench")
}

/// SplitMix64.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Draws a case and makes its capture.
pub fn draw(seed: u64) -> Result<Case, PracticeError> {
    let mut random = Random(seed ^ 0x7477_6f5f_6c65_6164);
    let engine = ENGINES[seed as usize % ENGINES.len()];
    let kinds: &[Kind] = if engine.banks.len() > 1 {
        &[Kind::Sound, Kind::OneLow, Kind::BankLow, Kind::NeighboursLow]
    } else {
        &[Kind::Sound, Kind::OneLow, Kind::OneLow, Kind::NeighboursLow]
    };
    let kind = kinds[(seed as usize / ENGINES.len()) % kinds.len()];
    let nasty = random.below(3) == 0;
    let order = engine.order;
    let (mut low, mut faults) = (Vec::new(), Vec::new());
    let leak = |cylinder: u32, left: f64| Fault::WeakCylinder { cylinder, left };
    match kind {
        Kind::Sound => {}
        Kind::OneLow => {
            low.push(order[random.below(order.len())]);
            faults.push(leak(low[0], random.between(0.35, 0.83)));
        }
        Kind::NeighboursLow => {
            let bank = engine.banks[random.below(engine.banks.len())];
            let at = random.below(bank.len() - 1);
            low.extend(&bank[at..at + 2]);
            for &cylinder in &low {
                faults.push(leak(cylinder, random.between(0.4, 0.8)));
            }
        }
        Kind::BankLow => {
            let bank = random.below(engine.banks.len());
            low.extend(engine.banks[bank]);
            // Crank degrees late; the valves of the practice engine move with it.
            faults.push(Fault::Phaser {
                cam: format!("B{} intake", bank + 1),
                degrees: random.between(9.0, 26.0),
                wander: 0.0,
            });
        }
    }
    let cylinder = order[random.below(order.len())];
    let rhythm = if random.below(6) == 0 { ExtraLead::Battery } else { ExtraLead::Starter };
    let mark = match random.below(6) {
        0 => ExtraLead::Injector(cylinder),
        _ => ExtraLead::Ignition(cylinder),
    };
    let leads = vec![rhythm, mark];
    let tdc = random.between(20.0, 300.0);
    let with_crank = Scenario {
        faults,
        seed,
        seconds: random.between(4.0, 6.0),
        rate: [2000.0, 5000.0, 10_000.0][random.below(3)],
        preset: if nasty { Preset::Nasty } else { Preset::Workshop },
        leads: leads.clone(),
        ..Scenario::new(parse(&engine.whole(tdc)))
    };
    let practice = generate(&Scenario { sensors: Some(Vec::new()), ..with_crank.clone() })?;
    Ok(Case { seed, engine, kind, low, nasty, leads, practice, with_crank })
}
