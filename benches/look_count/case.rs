//! Practice captures with the traps that recordings have, one per seed.

use std::path::Path;

use camwitness::capture::{Capture, CaptureKind, Channel, Clock};
use camwitness::engine::Engine;
use camwitness::practice::{Ending, ExtraLead, Fault, PracticeError, Preset, Scenario, generate};

use super::chance::Chance;

/// What may mislead.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Trap {
    /// A cam of four teeth that are even to 0.3°.
    NearlyEvenCam,
    /// The tooth after a gap is lost in half of the turns.
    LostTeeth,
    /// A column with one pulse of fixed length per spark.
    Igniter,
    /// One cylinder without compression: a rhythm of two turns.
    DeadCylinder,
    /// Columns whose level never changes.
    ConstantColumns,
    /// Columns named Channel 0, 1, ...
    NoHeaders,
    /// The headers of crank and a cam exchanged.
    WrongHeaders,
    /// Times coarsened: edges jitter by a degree.
    Jitter,
}

impl Trap {
    pub const ALL: [Trap; 8] = [
        Trap::NearlyEvenCam,
        Trap::LostTeeth,
        Trap::Igniter,
        Trap::DeadCylinder,
        Trap::ConstantColumns,
        Trap::NoHeaders,
        Trap::WrongHeaders,
        Trap::Jitter,
    ];

    pub fn word(self) -> &'static str {
        match self {
            Trap::NearlyEvenCam => "cam of nearly even teeth",
            Trap::LostTeeth => "teeth lost by the conditioner",
            Trap::Igniter => "igniter beside the sensors",
            Trap::DeadCylinder => "one cylinder without compression",
            Trap::ConstantColumns => "constant columns",
            Trap::NoHeaders => "columns without names",
            Trap::WrongHeaders => "headers exchanged",
            Trap::Jitter => "edges that jitter",
        }
    }
}

/// Crank wheels: name, what an engine file says, how often drawn (ours), whether the pattern tells
/// its turn without a cam.
const CRANKS: [(&str, &str, f64, bool); 15] = [
    ("60-2", "\"60-2\"", 0.18, true),
    ("36-1", "\"36-1\"", 0.12, true),
    ("36-2", "\"36-2\"", 0.13, true),
    ("36-2-2-2-thirds", "\"36-2-2-2-thirds\"", 0.08, false),
    ("36-2-2-2-uneven", "\"36-2-2-2-uneven\"", 0.05, true),
    ("36-2-1", "\"36-2-1\"", 0.04, true),
    (
        "36-2-2",
        "{ name = \"36-2-2\", slots = 36, missing = [11, 12, 35, 36], width = 5.0 }",
        0.06,
        true,
    ),
    ("24-even", "{ name = \"24-even\", slots = 24, width = 7.0 }", 0.06, false),
    ("12-even", "{ name = \"12-even\", slots = 12, width = 12.0 }", 0.03, false),
    ("12-plus-1", "\"12-plus-1\"", 0.04, false),
    (
        "12+1",
        "{ name = \"12+1\", slots = 36, missing = [3, 5, 6, 8, 9, 11, 12, 14, 15, 17, 18, 20, 21, 23, 24, 26, 27, 29, 30, 32, 33, 35, 36], width = 5.0 }",
        0.05,
        false,
    ),
    ("24-wide-narrow", "\"24-wide-narrow\"", 0.05, false),
    (
        "four uneven",
        "{ name = \"four uneven\", teeth = [{ start = 0.0, end = 6.0 }, { start = 70.0, end = 76.0 }, { start = 180.0, end = 186.0 }, { start = 250.0, end = 256.0 }] }",
        0.05,
        false,
    ),
    (
        "six in two groups",
        "{ name = \"six in two groups\", teeth = [{ start = 0.0, end = 8.0 }, { start = 60.0, end = 68.0 }, { start = 150.0, end = 158.0 }, { start = 180.0, end = 188.0 }, { start = 240.0, end = 248.0 }, { start = 330.0, end = 338.0 }] }",
        0.03,
        false,
    ),
    ("24-1", "\"24-1\"", 0.03, true),
];

/// Cam wheels and how often.
const CAMS: [(&str, f64); 6] = [
    ("\"three-uneven\"", 0.3),
    ("\"half-moon\"", 0.15),
    ("\"four-plus-one\"", 0.2),
    ("\"two-narrow-two-wide\"", 0.15),
    ("{ name = \"one tooth\", teeth = [{ start = 0.0, end = 11.0 }] }", 0.1),
    (
        "{ name = \"seven\", teeth = [{ start = 0.0, end = 10.0 }, { start = 83.0, end = 94.0 }, { start = 99.0, end = 105.0 }, { start = 110.0, end = 116.0 }, { start = 180.0, end = 191.0 }, { start = 269.0, end = 280.0 }, { start = 287.0, end = 294.0 }] }",
        0.1,
    ),
];

/// A capture and what is true of it.
pub struct Case {
    pub engine: Engine,
    /// Name of the crank's wheel.
    pub wheel: &'static str,
    pub traps: Vec<Trap>,
    pub capture: Capture,
    /// Column of the crank.
    pub crank: usize,
    /// Whether anything in the capture tells how many teeth make a turn.
    pub decided: bool,
}

/// Makes the capture of a seed.
///
/// # Errors
/// When the drawn capture cannot be made; the seed is then left out and counted.
pub fn draw(seed: u64) -> Result<Case, PracticeError> {
    let mut chance = Chance::new(seed);
    let &(wheel, value, _, alone) = &CRANKS[chance.weighted(&CRANKS.map(|row| row.2))];
    let mut traps: Vec<Trap> = Trap::ALL.into_iter().filter(|_| chance.yes(0.25)).collect();
    let events = chance.yes(0.6);
    let cams = if alone && chance.yes(0.15) { 0 } else { 1 + usize::from(chance.yes(0.4)) };
    // Only a logic capture's edges can be moved and taken away here, and only of a wheel with gaps.
    let gapped = value.contains("-1\"") || value.contains("-2") && wheel != "12+1";
    traps.retain(|trap| match trap {
        Trap::LostTeeth => events && gapped,
        Trap::Jitter => events && gapped,
        Trap::NearlyEvenCam | Trap::WrongHeaders => cams > 0,
        Trap::Igniter => events,
        _ => true,
    });
    // An even wheel with nothing but an even cam beside it, or a cam nobody names, is not decided
    // by anything.
    let engine = engine(&mut chance, value, cams, traps.contains(&Trap::NearlyEvenCam));
    let mut scenario = Scenario::new(engine.clone());
    scenario.seed = seed;
    scenario.preset =
        [Preset::Clean, Preset::Workshop, Preset::Nasty][chance.weighted(&[0.2, 0.6, 0.2])];
    scenario.seconds = chance.between(3.0, 6.0);
    scenario.kind = if events { CaptureKind::Events } else { CaptureKind::Sampled };
    scenario.ending = if chance.yes(0.2) { Ending::Starts } else { Ending::Cranking };
    scenario.leads = Vec::new();
    if traps.contains(&Trap::Igniter) {
        scenario.leads = engine.firing_order.iter().map(|&of| ExtraLead::Ignition(of)).collect();
    }
    if traps.contains(&Trap::DeadCylinder) {
        let cylinder = chance.one(&engine.firing_order);
        scenario.faults.push(Fault::WeakCylinder { cylinder, left: 0.02 });
    }
    let mut capture = generate(&scenario)?.capture;
    if traps.contains(&Trap::Igniter) {
        one_igniter(&mut capture);
    }
    if traps.contains(&Trap::LostTeeth) {
        lose_teeth(&mut capture, &mut chance);
    }
    if traps.contains(&Trap::Jitter) {
        jitter(&mut capture, &mut chance);
    }
    let crank = capture.channels[0].column;
    headers(&mut capture, &traps);
    let nearly_even = traps.contains(&Trap::NearlyEvenCam) && cams == 1;
    Ok(Case { engine, wheel, traps, capture, crank, decided: alone || !nearly_even })
}

fn engine(chance: &mut Chance, crank: &str, cams: usize, nearly_even: bool) -> Engine {
    let as_teeth = crank.contains("teeth") || crank.contains("24-wide-narrow");
    let sensor =
        if as_teeth || crank.contains("even") || chance.yes(0.6) { "hall" } else { "reluctance" };
    let edge = if as_teeth { "" } else { "edge = \"falling\"\n" };
    let order = chance.one(&["[1, 3, 2]", "[1, 3, 4, 2]", "[1, 6, 5, 4, 3, 2]"]);
    let mut text = format!(
        "name = \"drawn\"\nfiring_order = {order}\n[crank]\nwheel = {crank}\nsensor = \"{sensor}\"\n{edge}tdc = {}\n",
        chance.between(0.0, 359.0)
    );
    for cam in 0..cams {
        let wheel = if cam == 0 && nearly_even {
            // Even to 0.3 crank degrees.
            let teeth: Vec<String> = (0..4)
                .map(|tooth| {
                    let start = f64::from(tooth) * 90.0 + chance.between(0.1, 0.3);
                    format!("{{ start = {start:.2}, end = {:.2} }}", start + 79.7)
                })
                .collect();
            format!("{{ name = \"nearly even\", teeth = [{}] }}", teeth.join(", "))
        } else {
            CAMS[chance.weighted(&CAMS.map(|row| row.1))].0.to_owned()
        };
        text += &format!(
            "[[cam]]\nname = \"{}\"\nbank = 1\nshaft = \"{}\"\nwheel = {wheel}\nsensor = \"hall\"\nat = {}\n",
            ["intake cam", "exhaust cam"][cam],
            ["intake", "exhaust"][cam],
            chance.between(0.0, 719.0)
        );
    }
    Engine::parse(&text, Path::new("drawn.toml"))
        .unwrap_or_else(|error| panic!("a drawn engine is sound: {error}\n{text}"))
}

/// All triggers on one line.
fn one_igniter(capture: &mut Capture) {
    let mut line: Option<Channel> = None;
    capture.channels.retain(|channel| {
        if !channel.name.starts_with("ignition") {
            return true;
        }
        match &mut line {
            None => line = Some(channel.clone()),
            Some(line) => {
                for (value, other) in line.values.to_mut().iter_mut().zip(&channel.values) {
                    *value = value.max(*other);
                }
            }
        }
        false
    });
    if let Some(mut line) = line {
        line.name = "igniter".into();
        line.column = capture.channels.len() + 2;
        capture.channels.push(line);
    }
}

/// Rows at which a channel changes.
fn changes(values: &[f32]) -> Vec<usize> {
    (1..values.len()).filter(|&row| values[row] != values[row - 1]).collect()
}

/// The first pulse after a gap is not there in half of the turns.
fn lose_teeth(capture: &mut Capture, chance: &mut Chance) {
    let times: Vec<f64> = (0..capture.rows()).map(|row| capture.clock.at(row).0).collect();
    let values = capture.channels[0].values.to_mut();
    let rows = changes(values);
    // From rise to rise, or fall to fall.
    for i in (0..rows.len().saturating_sub(6)).step_by(2) {
        let step = |k: usize| times[rows[i + k + 2]] - times[rows[i + k]];
        let after_gap = step(0) > 1.6 * step(2);
        if after_gap && chance.yes(0.5) {
            let (from, to) = (rows[i + 2], rows[i + 3]);
            let rest = values[from - 1];
            values[from..to].fill(rest);
        }
    }
}

/// Every change comes a little early or late: 0.6 crank degrees at 200 rpm either way.
fn jitter(capture: &mut Capture, chance: &mut Chance) {
    let Clock::Stamped(times) = &mut capture.clock else { return };
    for row in 1..times.len().saturating_sub(1) {
        let moved = times[row] + 0.5e-3 * (chance.unit() - 0.5) * 2.0;
        let (before, after) = (times[row - 1], times[row + 1]);
        times[row] =
            moved.clamp(before + 0.1 * (times[row] - before), after - 1e-7).max(before + 1e-7);
    }
}

fn headers(capture: &mut Capture, traps: &[Trap]) {
    if traps.contains(&Trap::ConstantColumns) {
        let rows = capture.rows();
        for level in [1.0, 0.0] {
            let mut still = capture.channels[0].clone();
            still.name = format!("spare {level}");
            still.column = capture.channels.len() + 2;
            still.values = vec![level; rows].into();
            still.over_range = Vec::new();
            capture.channels.push(still);
        }
    }
    if traps.contains(&Trap::WrongHeaders) {
        let crank = capture.channels[0].name.clone();
        capture.channels[0].name = std::mem::replace(&mut capture.channels[1].name, crank);
    }
    if traps.contains(&Trap::NoHeaders) {
        for (number, channel) in capture.channels.iter_mut().enumerate() {
            channel.name = format!("Channel {number}");
        }
    }
}
