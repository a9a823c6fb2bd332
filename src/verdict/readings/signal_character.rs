//! What the signal of every cam is like apart from the cam's place, worked out once for all
//! hypotheses: scatter and drift from cycle to cycle, and the single edges of the wheel.

use super::rows::{Row, RowKind, Rows};
use super::steadiness::{Motion, Steadiness, log_motion_delayed};
use super::wheel_edges::{EdgeCharacter, edge_character, log_edges_delayed};
use crate::cam::CamPosition;
use crate::verdict::evidence::Evidence;

/// The character of one reading's signal: log densities when it is a reading of its cam and when it
/// is made of noise.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Character {
    pub real: f64,
    pub outlier: f64,
}

/// What an explanation says of the signals, apart from where the cams stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Signals<'a> {
    /// Cams that do not stand steadily, and why.
    pub moving: &'a [(usize, Steadiness)],
    /// Cam with a damaged tooth.
    pub damaged: Option<usize>,
    /// Cams that a lead shows elsewhere that is delayed by a steady time: their own, or the crank's.
    pub delayed: &'a [Delayed],
    /// Cams whose wheels are not those described.
    pub foreign: &'a [usize],
}

/// A cam that a delayed lead shows elsewhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Delayed {
    pub cam: usize,
    /// How late it stands without the delay, crank degrees: what is left of its reading is the delay,
    /// which alone grows with speed.
    pub stands: f64,
}

/// The signal of one cam.
struct CamCharacter {
    cam: usize,
    motion: Motion,
    edges: EdgeCharacter,
    /// Log densities where its lead is delayed, by where it stands without that.
    delayed: Vec<(f64, f64)>,
}

/// The signals of all cams.
pub(crate) struct SignalCharacter {
    cams: Vec<CamCharacter>,
}

impl SignalCharacter {
    /// Of the leads as labelled, or with those of some cams taken from other leads: `instead`. A
    /// cam that only another lead shows has no character, since nothing stands beside it to be held
    /// against. `delayed`: every cam and place that a delay is asked about.
    pub(crate) fn new(
        evidence: &Evidence,
        rows: &Rows,
        instead: &[&CamPosition],
        delayed: &[Delayed],
    ) -> SignalCharacter {
        let engine = evidence.engine;
        let measured = evidence.cams.iter().map(|result| {
            let other = instead.iter().find(|position| position.cam == result.measured.cam);
            other.copied().unwrap_or(&result.measured)
        });
        let cams = measured.filter(|measured| measured.cam < engine.cams.len());
        let one = |measured: &CamPosition| {
            let of = &engine.cams[measured.cam];
            let log_delayed = |stands: f64| {
                let late = rows.later_than(measured.cam, stands);
                log_motion_delayed(measured, late) + log_edges_delayed(of, measured, late)
            };
            let mut delays: Vec<(f64, f64)> = Vec::new();
            for asked in delayed.iter().filter(|asked| asked.cam == measured.cam) {
                if delays.iter().all(|(known, _)| *known != asked.stands) {
                    delays.push((asked.stands, log_delayed(asked.stands)));
                }
            }
            CamCharacter {
                cam: measured.cam,
                motion: Motion::of(measured),
                edges: edge_character(of, measured),
                delayed: delays,
            }
        };
        SignalCharacter { cams: cams.map(one).collect() }
    }

    /// The character of the rows, in their order, where some cams do not stand steadily (a slack
    /// chain swinging or not) and one may have a damaged tooth. A cam that only a crossed lead
    /// shows has none.
    pub(crate) fn of(&self, rows: &Rows, signals: Signals, swings: bool) -> Vec<Character> {
        let one = |row: &Row| {
            let RowKind::Cam(cam) = row.kind else { return Character::default() };
            let Some(character) = self.cams.iter().find(|character| character.cam == cam) else {
                return Character::default();
            };
            let outlier = character.motion.outlier + character.edges.outlier;
            if signals.foreign.contains(&cam) {
                let real = character.motion.foreign + character.edges.foreign;
                return Character { real, outlier };
            }
            if let Some(delayed) = signals.delayed.iter().find(|delayed| delayed.cam == cam) {
                let known = character.delayed.iter().find(|(stands, _)| *stands == delayed.stands);
                let real = known.map_or(0.0, |(_, log)| *log);
                return Character { real, outlier };
            }
            let moving = signals.moving.iter().find(|(moved, _)| *moved == cam);
            let motion = match moving.map_or(Steadiness::Steady, |(_, steadiness)| *steadiness) {
                Steadiness::SlackChain if swings => character.motion.swinging,
                Steadiness::Steady | Steadiness::SlackChain => character.motion.steady,
                Steadiness::UnlockedPhaser => character.motion.unlocked,
            };
            let edges = if signals.damaged == Some(cam) {
                character.edges.damaged
            } else {
                character.edges.sound
            };
            Character { real: motion + edges, outlier }
        };
        rows.list.iter().map(one).collect()
    }
}
