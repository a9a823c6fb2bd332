//! Invented engines of every layout the calibration covers.

use std::path::Path;

use camwitness::engine::Engine;

use super::chance::Chance;

/// What the description knows of where the cams belong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Known {
    /// Every cam has a place.
    Absolute,
    /// Cams are only known against each other.
    Relative,
    /// Nothing.
    Absent,
}

impl Known {
    pub const ALL: [Known; 3] = [Known::Absolute, Known::Relative, Known::Absent];

    pub fn word(self) -> &'static str {
        match self {
            Known::Absolute => "absolute",
            Known::Relative => "relative",
            Known::Absent => "absent",
        }
    }
}

/// Layouts of cams and drive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Layout {
    /// V6, one measured cam per bank, one chain.
    VSingle,
    /// V6, four cams, primary chain to the intakes, secondary chain on each bank.
    VTwin,
    /// V6, four cams, primary chain to an idler, idler to the intakes, secondary chains.
    VIdler,
    /// Inline four, one cam.
    InlineSingle,
    /// Inline four, two cams on one chain.
    InlineTwin,
}

impl Layout {
    pub const ALL: [Layout; 5] =
        [Layout::VSingle, Layout::VTwin, Layout::VIdler, Layout::InlineSingle, Layout::InlineTwin];

    pub fn word(self) -> &'static str {
        match self {
            Layout::VSingle => "V6, one sensor per bank",
            Layout::VTwin => "V6, four cams, secondary chains",
            Layout::VIdler => "V6, four cams, idler and secondary chains",
            Layout::InlineSingle => "inline 4, one cam",
            Layout::InlineTwin => "inline 4, two cams",
        }
    }
}

/// An engine and how it was drawn.
#[derive(Debug, Clone)]
pub struct Drawn {
    /// The engine as it is built.
    pub real: Engine,
    /// As the user describes it: sometimes without its chains.
    pub engine: Engine,
    pub layout: Layout,
    pub known: Known,
    pub crank_wheel: &'static str,
    pub chains: bool,
    /// The description, as a user would write it.
    pub text: String,
}

/// Crank wheels and how often they are drawn. The three-way symmetric one is over-represented.
const CRANK_WHEELS: [(&str, f64); 8] = [
    ("36-2", 0.24),
    ("60-2", 0.24),
    ("36-1", 0.10),
    ("36-2-2-2-thirds", 0.16),
    ("36-2-2-2-uneven", 0.08),
    ("36-2-1", 0.06),
    ("12-plus-1", 0.05),
    ("24-wide-narrow", 0.07),
];
const CAM_WHEELS: [(&str, f64); 5] = [
    ("three-uneven", 0.4),
    ("half-moon", 0.15),
    ("four-plus-one", 0.2),
    ("six-minus-one", 0.1),
    ("two-narrow-two-wide", 0.15),
];

struct Cam {
    name: &'static str,
    bank: u32,
    shaft: &'static str,
    later: f64,
}

/// Draws an engine.
pub fn draw(chance: &mut Chance) -> Drawn {
    let layout = Layout::ALL[chance.weighted(&[0.32, 0.24, 0.16, 0.12, 0.16])];
    let known = Known::ALL[chance.weighted(&[0.62, 0.26, 0.12])];
    let chains = chance.yes(0.9);
    let crank_wheel = CRANK_WHEELS[chance.weighted(&CRANK_WHEELS.map(|row| row.1))].0;
    let mut text = head(layout, crank_wheel, chance);
    text += &cams(layout, known, chance);
    let drive = drive(layout, chance);
    let real = parse(&format!("{text}{drive}"));
    if chains {
        text += &drive;
    }
    Drawn { real, engine: parse(&text), layout, known, crank_wheel, chains, text }
}

fn parse(text: &str) -> Engine {
    Engine::parse(text, Path::new("engine.toml"))
        .unwrap_or_else(|error| panic!("a drawn engine is sound: {error}\n{text}"))
}

fn head(layout: Layout, crank_wheel: &str, chance: &mut Chance) -> String {
    let (order, banks) = match layout {
        Layout::InlineSingle | Layout::InlineTwin => ("[1, 3, 4, 2]", "1 = [1, 2, 3, 4]\n"),
        _ => ("[1, 2, 3, 4, 5, 6]", "1 = [1, 3, 5]\n2 = [2, 4, 6]\n"),
    };
    let teeth = crank_wheel == "24-wide-narrow";
    let sensor = if teeth || chance.yes(0.5) { "hall" } else { "reluctance" };
    let edge = if teeth || chance.yes(0.1) { "" } else { "edge = \"falling\"\n" };
    let tdc = if chance.yes(0.85) {
        format!("tdc = {:.1}\n", chance.between(0.0, 359.0))
    } else {
        String::new()
    };
    let tolerance = chance.one(&[4.0, 5.0, 5.0, 5.0, 6.0]);
    format!(
        "name = \"{}\"\nfiring_order = {order}\ntolerance = {tolerance:.1}\n[banks]\n{banks}[crank]\nwheel = \
         \"{crank_wheel}\"\nsensor = \"{sensor}\"\n{edge}{tdc}",
        layout.word()
    )
}

fn cams(layout: Layout, known: Known, chance: &mut Chance) -> String {
    let bank_apart = chance.one(&[360.0, 240.0, 120.0]);
    let exhaust = chance.one(&[60.0, 250.0, 110.0]);
    let cam = |name, bank, shaft, later| Cam { name, bank, shaft, later };
    let list = match layout {
        Layout::VSingle => {
            vec![cam("B1 intake", 1, "intake", 0.0), cam("B2 intake", 2, "intake", bank_apart)]
        }
        Layout::VTwin | Layout::VIdler => vec![
            cam("B1 intake", 1, "intake", 0.0),
            cam("B1 exhaust", 1, "exhaust", exhaust),
            cam("B2 intake", 2, "intake", bank_apart),
            cam("B2 exhaust", 2, "exhaust", bank_apart + exhaust),
        ],
        Layout::InlineSingle => vec![cam("cam", 1, "single", 0.0)],
        Layout::InlineTwin => {
            vec![cam("intake", 1, "intake", 0.0), cam("exhaust", 1, "exhaust", exhaust)]
        }
    };
    let sensor = if chance.yes(0.7) { "hall" } else { "reluctance" };
    let mut wheel = CAM_WHEELS[chance.weighted(&CAM_WHEELS.map(|row| row.1))].0;
    if sensor == "reluctance" && wheel == "half-moon" {
        wheel = "three-uneven";
    }
    // Every other engine has phasers; a third of their twin-cam banks on the exhaust as well.
    let phasers = chance.yes(0.5);
    let exhaust_phasers = phasers && chance.yes(0.35);
    let travel = chance.between(30.0, 60.0);
    let first = chance.between(0.0, 719.0);
    let root_sd = chance.one(&[None, Some(0.8), Some(1.0), Some(1.5)]);
    let relation_sd = chance.one(&[None, Some(0.5), Some(0.8)]);
    let own_places = chance.yes(0.3);
    let sd_line = |sd: Option<f64>| sd.map_or(String::new(), |sd| format!("at_sd = {sd:.1}\n"));
    let mut text = String::new();
    for (index, cam) in list.iter().enumerate() {
        text += &format!(
            "[[cam]]\nname = \"{}\"\nbank = {}\nshaft = \"{}\"\n",
            cam.name, cam.bank, cam.shaft
        );
        let later = cam.later % 720.0;
        let own_wheel = format!("wheel = \"{wheel}\"\nsensor = \"{sensor}\"\n");
        let own_at = |sd| {
            let at = (first + later) % 720.0;
            format!("{own_wheel}at = {at:.1}\n{}", sd_line(sd))
        };
        let related = || {
            let to = list[0].name;
            format!("same_as = {{ cam = \"{to}\", later = {later:.1} }}\n{}", sd_line(relation_sd))
        };
        text += &match (known, index) {
            (Known::Absent, _) | (Known::Relative, 0) => own_wheel,
            (Known::Absolute, 0) => own_at(root_sd),
            (Known::Absolute, _) if own_places => own_at(root_sd),
            _ => related(),
        };
        match cam.shaft {
            "exhaust" if exhaust_phasers => {
                text += &format!("phaser = {{ rest = \"advanced\", travel = {travel:.1} }}\n");
            }
            "intake" | "single" if phasers => {
                text += &format!("phaser = {{ rest = \"retarded\", travel = {travel:.1} }}\n");
            }
            // A right description says that there is none; left out, one is possible.
            _ => text += "phaser = \"none\"\n",
        }
    }
    text
}

fn drive(layout: Layout, chance: &mut Chance) -> String {
    let crank = chance.one(&[18_u32, 19, 20, 21, 22, 23, 24]);
    let second = chance.one(&[24_u32, 26, 28, 30]);
    let kind = if layout == Layout::InlineSingle && chance.yes(0.5) { "belt" } else { "chain" };
    let chain = |name: &str, driver: (&str, u32), driven: &[(&str, u32)]| {
        let driven: Vec<String> = driven
            .iter()
            .map(|(on, teeth)| format!("{{ on = \"{on}\", teeth = {teeth} }}"))
            .collect();
        format!(
            "[[chain]]\nname = \"{name}\"\nkind = \"{kind}\"\ndriver = {{ on = \"{}\", teeth = {} }}\ndriven = [{}]\n",
            driver.0,
            driver.1,
            driven.join(", ")
        )
    };
    let secondaries = || {
        chain("bank 1 secondary", ("B1 intake", second), &[("B1 exhaust", second)])
            + &chain("bank 2 secondary", ("B2 intake", second), &[("B2 exhaust", second)])
    };
    match layout {
        Layout::VSingle | Layout::VTwin => {
            let to = [("B1 intake", 2 * crank), ("B2 intake", 2 * crank)];
            let primary = chain("primary", ("crank", crank), &to);
            if layout == Layout::VTwin { primary + &secondaries() } else { primary }
        }
        // 24 to 32 is 3/4; 20 to 30 is 2/3: a half in all.
        Layout::VIdler => {
            chain("primary", ("crank", 24), &[("idler", 32)])
                + &chain("cam drive", ("idler", 20), &[("B1 intake", 30), ("B2 intake", 30)])
                + &secondaries()
        }
        Layout::InlineSingle => chain("primary", ("crank", crank), &[("cam", 2 * crank)]),
        Layout::InlineTwin => {
            chain("primary", ("crank", crank), &[("intake", 2 * crank), ("exhaust", 2 * crank)])
        }
    }
}
