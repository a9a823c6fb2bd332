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

impl Levels {
    /// Levels of a wheel passing a sensor that is high over a tooth, whichever way the shaft turns.
    pub(super) fn of_wheel(wheel: &MadeWheel, shaft: &Shaft, seconds: f64) -> Self {
        let edges = sorted_edges(wheel);
        let first_angle = shaft.at_step(0);
        let mut next = Cursor::at(&edges, first_angle);
        let first = next.level(&edges);
        let mut changes = Vec::new();
        let mut before = first_angle;
        for step in 1..shaft.motion.angle.len() {
            let now = shaft.at_step(step);
            let time =
                |angle: f64| ((step - 1) as f64 + (angle - before) / (now - before)) * Motion::STEP;
            while now >= next.above(&edges) {
                let at = time(next.above(&edges));
                next.forward(&edges);
                changes.push(Change { at, high: next.level(&edges) });
            }
            while now < next.below(&edges) {
                let at = time(next.below(&edges));
                next.backward(&edges);
                changes.push(Change { at, high: next.level(&edges) });
            }
            before = now;
        }
        changes.retain(|change| change.at < seconds);
        Levels { first, changes }
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

    /// Voltage at each sample: every change is followed with the output's time
    /// constants, exactly, wherever it falls between samples. `sag` gives the share by which the high
    /// level is down at a time.
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
