//! Square-wave sensors: when the level changes, and the voltage that comes of it.

use crate::units::TURN_DEG;

use super::made::MadeWheel;
use super::motion::Motion;
use super::shaft::Shaft;

/// A level from a time on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Change {
    pub at: f64,
    pub high: bool,
}

/// The level at time 0 and every change after it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Levels {
    pub first: bool,
    pub changes: Vec<Change>,
}

/// Voltages and speeds of a square-wave sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SquareOutput {
    pub low: f64,
    pub high: f64,
    /// Time constants of going up (pull-up resistor and cable) and down (transistor), seconds.
    pub rise: f64,
    pub fall: f64,
}

/// An edge of a wheel passing its sensor.
struct Passage {
    at: f64,
    /// The level from here on, of a sensor that is high over a tooth.
    high: bool,
    forward: bool,
}

/// The level at the start, and every passage of edges (angle and level from there on, sorted)
/// whichever way the shaft turns.
fn passages(edges: &[(f64, bool)], shaft: &Shaft) -> (bool, Vec<Passage>) {
    let first_angle = shaft.at_step(0);
    let mut next = Cursor::at(edges, first_angle);
    let first = next.level(edges);
    let mut found = Vec::new();
    let mut before = first_angle;
    for step in 1..shaft.motion.angle.len() {
        let now = shaft.at_step(step);
        let time =
            |angle: f64| ((step - 1) as f64 + (angle - before) / (now - before)) * Motion::STEP;
        while now >= next.above(edges) {
            let at = time(next.above(edges));
            next.forward(edges);
            found.push(Passage { at, high: next.level(edges), forward: true });
        }
        while now < next.below(edges) {
            let at = time(next.below(edges));
            next.backward(edges);
            found.push(Passage { at, high: next.level(edges), forward: false });
        }
        before = now;
    }
    (first, found)
}

impl Levels {
    /// Levels of a wheel passing a sensor that is high over a tooth, whichever way the shaft turns.
    pub(super) fn of_wheel(wheel: &MadeWheel, shaft: &Shaft, seconds: f64) -> Self {
        let (first, passages) = passages(&sorted_edges(wheel), shaft);
        let inside = passages.iter().filter(|passage| passage.at < seconds);
        let changes = inside.map(|passage| Change { at: passage.at, high: passage.high }).collect();
        Levels { first, changes }
    }

    /// One pulse per tooth of a wheel passing a direction-sensing sensor, from the tooth's mark on,
    /// as long as `lengths` say (turning forward, turning back); of two that overlap the first is
    /// cut off.
    pub(super) fn of_pulses(
        wheel: &MadeWheel,
        shaft: &Shaft,
        seconds: f64,
        lengths: (f64, f64),
    ) -> Self {
        let (_, passages) = passages(&marks(wheel), shaft);
        let starts = passages.iter().map(|passage| passage.at).skip(1).chain([f64::INFINITY]);
        let pulses = passages.iter().zip(starts).filter(|(pulse, _)| pulse.at < seconds);
        let changes = pulses
            .flat_map(|(pulse, next)| {
                let length = if pulse.forward { lengths.0 } else { lengths.1 };
                // A tenth of the time between stays quiet.
                let end = (pulse.at + length).min(pulse.at + 0.9 * (next - pulse.at));
                [Change { at: pulse.at, high: true }, Change { at: end, high: false }]
            })
            .collect();
        Levels { first: false, changes }
    }

    /// High for `width` seconds from each time, low otherwise.
    pub(super) fn pulses(starts: &[f64], width: f64) -> Self {
        let changes = starts
            .iter()
            .flat_map(|&at| [Change { at, high: true }, Change { at: at + width, high: false }])
            .collect();
        Levels { first: false, changes }
    }

    /// The other way up.
    pub(super) fn inverted(mut self) -> Self {
        self.first = !self.first;
        for change in &mut self.changes {
            change.high = !change.high;
        }
        self
    }

    /// Voltage at each sample: every change is followed with the output's time constants, exactly,
    /// wherever it falls between samples. `sag` gives the share by which the high level is down at
    /// a time.
    pub(super) fn sampled(
        &self,
        output: SquareOutput,
        rate: f64,
        rows: usize,
        sag: impl Fn(f64) -> f64,
    ) -> Vec<f64> {
        let target = |high: bool| if high { output.high } else { output.low };
        let constant = |high: bool| if high { output.rise } else { output.fall };
        let mut level = self.first;
        let mut volts = target(level);
        let mut reached = 0.0;
        let mut changes = self.changes.iter().peekable();
        (0..rows)
            .map(|row| {
                let time = row as f64 / rate;
                while let Some(change) = changes.next_if(|change| change.at <= time) {
                    volts = follow(volts, target(level), change.at - reached, constant(level));
                    (level, reached) = (change.high, change.at);
                }
                volts = follow(volts, target(level), time - reached, constant(level));
                reached = time;
                let high_share = (volts - output.low) / (output.high - output.low);
                volts - sag(time) * high_share * (output.high - output.low)
            })
            .collect()
    }
}

/// First-order approach to a target.
fn follow(from: f64, to: f64, seconds: f64, constant: f64) -> f64 {
    to + (from - to) * (-seconds / constant).exp()
}

/// Edges in one turn as (angle, level from there on), sorted.
fn sorted_edges(wheel: &MadeWheel) -> Vec<(f64, bool)> {
    let mut edges: Vec<(f64, bool)> = wheel
        .teeth
        .iter()
        .flat_map(|tooth| [(tooth.start, true), (tooth.end, false)])
        .map(|(at, high)| (at.rem_euclid(TURN_DEG), high))
        .collect();
    edges.sort_by(|a, b| a.0.total_cmp(&b.0));
    edges
}

/// The marks of the teeth in one turn, sorted: where a slot is marked, or a listed tooth begins.
fn marks(wheel: &MadeWheel) -> Vec<(f64, bool)> {
    let mark = |tooth: &super::made::MadeTooth| match wheel.pitch {
        Some(_) => tooth.middle,
        None => tooth.start,
    };
    let mut marks: Vec<(f64, bool)> =
        wheel.teeth.iter().map(|tooth| (mark(tooth).rem_euclid(TURN_DEG), true)).collect();
    marks.sort_by(|a, b| a.0.total_cmp(&b.0));
    marks
}

/// The gap between two edges the sensor stands in: after edge `passed` of turn `turn`.
struct Cursor {
    turn: f64,
    /// Index of the next edge above; the edge below is the one before it.
    next: usize,
}

impl Cursor {
    fn at(edges: &[(f64, bool)], angle: f64) -> Self {
        let turn = (angle / TURN_DEG).floor();
        let within = angle - turn * TURN_DEG;
        Cursor { turn, next: edges.partition_point(|edge| edge.0 <= within) }
    }
    fn above(&self, edges: &[(f64, bool)]) -> f64 {
        match edges.get(self.next) {
            Some(edge) => self.turn * TURN_DEG + edge.0,
            None => (self.turn + 1.0) * TURN_DEG + edges[0].0,
        }
    }
    fn below(&self, edges: &[(f64, bool)]) -> f64 {
        match self.next.checked_sub(1) {
            Some(index) => self.turn * TURN_DEG + edges[index].0,
            None => (self.turn - 1.0) * TURN_DEG + edges[edges.len() - 1].0,
        }
    }
    fn level(&self, edges: &[(f64, bool)]) -> bool {
        edges[self.next.checked_sub(1).unwrap_or(edges.len() - 1)].1
    }
    fn forward(&mut self, edges: &[(f64, bool)]) {
        self.next += 1;
        if self.next > edges.len() {
            (self.turn, self.next) = (self.turn + 1.0, 1);
        }
    }
    fn backward(&mut self, edges: &[(f64, bool)]) {
        match self.next.checked_sub(1) {
            Some(index) => self.next = index,
            None => (self.turn, self.next) = (self.turn - 1.0, edges.len() - 1),
        }
    }
}
