//! What can be said of the crank wheel, and what cannot.

use std::fmt;

use crate::engine::{Crank, Lines, Sensor};
use crate::units::{CrankDelta, Rpm, TURN_DEG};
use crate::wheel::{EdgeKind, Wheel};

/// A wheel that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct WheelGuess {
    /// Library name, notation or description.
    pub name: String,
    /// The wheel.
    pub wheel: Wheel,
    /// What to write after `wheel = ` in an engine file.
    pub value: String,
    /// Probability that lead, pattern and teeth per turn are right, 0..1.
    pub confidence: f64,
    /// The next likely wheel.
    pub runner_up: Option<String>,
    /// The kind of sensor.
    pub sensor: Sensor,
    /// What the answer hangs on.
    pub rests_on: RestsOn,
    /// Teeth of a turn that the signal does not always show: in how many turns, of how many.
    pub lost: Vec<(usize, usize)>,
    /// Mean, least and greatest speed, over a period of the pattern.
    pub rpm: (Rpm, Rpm, Rpm),
    /// How often the pattern comes in a turn.
    pub repeats: usize,
}

impl WheelGuess {
    /// The crank with that wheel and nothing else that is known.
    pub(super) fn crank(&self) -> Crank {
        Crank {
            wheel: self.wheel.clone(),
            sensor: self.sensor,
            edge: None,
            over_tooth: None,
            tdc: None,
            lines: Lines::default(),
            described: true,
        }
    }
}

/// What an answer would not be without.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RestsOn {
    /// A cam tells how many teeth make a turn.
    pub cam: bool,
    /// A column's header tells a cam from another sensor.
    pub headers: bool,
    /// Nothing but the usual speeds and wheels tell how many teeth make a turn.
    pub speed: bool,
}

/// Where an edge of a second wheel stands between two edges of the first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairPlace {
    /// Which edge of the second wheel.
    pub kind: EdgeKind,
    /// After which edge of the first.
    pub after: EdgeKind,
    /// In steps of the first wheel.
    pub steps: f64,
    /// Scatter of that.
    pub sd: f64,
    /// How often it was seen.
    pub n: usize,
}

impl PairPlace {
    /// The place in crank degrees after that edge, with so many steps in a turn of the crank.
    #[must_use]
    pub fn degrees(&self, steps_per_turn: usize) -> CrankDelta {
        CrankDelta(self.steps * TURN_DEG / steps_per_turn as f64)
    }
}

/// One way to read two wheels.
#[derive(Debug, Clone, PartialEq)]
pub struct PairReading {
    /// Teeth in a turn of the crank.
    pub teeth: usize,
    /// Mean, least and greatest speed.
    pub rpm: (Rpm, Rpm, Rpm),
    /// The second wheel turns with the cam.
    pub with_cam: bool,
    /// How likely.
    pub odds: f64,
}

/// Two wheels of which it is clear how they turn together, but not which shaft they turn with.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Index of the second wheel's channel.
    pub lead: usize,
    /// Teeth of the first in one period of the second.
    pub teeth: usize,
    /// The teeth are even.
    pub even: bool,
    /// Ways to read it.
    pub readings: Vec<PairReading>,
    /// Where the second wheel's edges stand, if it has few.
    pub places: Vec<PairPlace>,
    /// How sure this much is.
    pub odds: f64,
}

/// Why no wheel is named.
#[derive(Debug, Clone, PartialEq)]
pub enum Doubt {
    /// No channel looks like a position sensor.
    NoSignal,
    /// Too few teeth, or a pattern that never repeats.
    NoPattern,
    /// The pattern is clear, but not how many of it make a turn, and no other lead tells.
    TeethPerTurn {
        /// Teeth after which the signal repeats.
        repeats_after: usize,
    },
    /// The pattern is clear, and how a second wheel turns with it, but not which of them is on the
    /// crank.
    Pair(Box<Pair>),
    /// A wheel fits, but not well enough, or another about as well.
    NotSure {
        /// The likeliest.
        best: Box<WheelGuess>,
        /// How likely, 0..1.
        odds: f64,
    },
}

impl Doubt {
    /// With leads counted among a capture's channels.
    pub(super) fn on_channels(mut self, channels: &[usize]) -> Doubt {
        if let Doubt::Pair(pair) = &mut self {
            pair.lead = channels[pair.lead];
        }
        self
    }
}

impl fmt::Display for Doubt {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Doubt::NoSignal => out.write_str("no channel shows a position sensor's signal"),
            Doubt::NoPattern => out.write_str(
                "no pattern repeats often enough; capture more turns of steady cranking",
            ),
            Doubt::TeethPerTurn { repeats_after: 1 } => out.write_str(
                "the teeth are even, and how many make a turn cannot be seen without a cam's signal in the capture",
            ),
            Doubt::TeethPerTurn { repeats_after } => write!(
                out,
                "the signal repeats after {repeats_after} teeth, and how many of that make a turn cannot be seen without a cam's \
                 signal in the capture"
            ),
            Doubt::Pair(pair) => {
                let even = if pair.even { " even" } else { "" };
                write!(
                    out,
                    "{}{even} teeth come in each period of a second wheel, and whether that turns with the cam or with the \
                     crank cannot be seen",
                    pair.teeth
                )
            }
            Doubt::NotSure { best, .. } => match &best.runner_up {
                Some(other) => {
                    write!(out, "{} is likeliest, but {other} is not ruled out", best.name)
                }
                None => write!(out, "{} is likeliest, but it does not fit well", best.name),
            },
        }
    }
}
