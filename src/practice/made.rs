//! A wheel as it was made: the pattern with the small errors of this specimen.

use crate::units::TURN_DEG;
use crate::wheel::{EdgeKind, Form, Wheel};

use super::random::Random;

/// Share of a damaged tooth's width that is gone from its trailing end.
const DAMAGE_SHARE: f64 = 0.3;
/// Most shaft degrees of damage, so that a wide tooth is chipped and not halved.
const DAMAGE_MOST_DEG: f64 = 4.0;

/// Rounding of angles in shaft degrees.
const ROUNDING_DEG: f64 = 1e-9;

/// How well wheels are made. Standard deviation and amplitudes in shaft degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Workmanship {
    /// Standard deviation of a single edge.
    pub pitch: f64,
    /// Amplitude of the once-a-turn error of a wheel set off centre.
    pub run_out: f64,
    /// Once-a-turn share by which the signal grows and shrinks with the air gap.
    pub gap: f64,
}

/// A tooth as made, in shaft degrees; `end` is not wrapped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct MadeTooth {
    pub start: f64,
    pub end: f64,
    /// What a reluctance sensor sees as its middle.
    pub middle: f64,
    /// How strongly the sensor sees it, about 1.
    pub strength: f64,
}

/// A wheel as made.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct MadeWheel {
    pub teeth: Vec<MadeTooth>,
    /// Pitch of an equal-slot wheel in shaft degrees.
    pub pitch: Option<f64>,
    /// Shaft degrees by which the trailing edge of a damaged tooth is early.
    pub damage: Vec<(usize, f64)>,
}

impl MadeWheel {
    /// Makes a wheel. The errors of a `centred` one sum to zero over its marks: the crank's wheel
    /// is what all angles are counted from, so as a whole it stands where it is said to. A cam's
    /// does not: that its edges are off, all together too, is an error of whoever tells the
    /// camshaft's place by them. Teeth come in the order of their marks.
    pub(super) fn new(
        wheel: &Wheel,
        marked_by: EdgeKind,
        centred: bool,
        work: Workmanship,
        random: &mut Random,
    ) -> Self {
        let slots = match wheel.form() {
            Form::Slots { slots, .. } => Some(f64::from(*slots)),
            Form::Teeth(_) => None,
        };
        let errors = Errors::draw(work, random);
        let mut sum = 0.0;
        let mut teeth: Vec<MadeTooth> = wheel
            .teeth(marked_by)
            .iter()
            .map(|tooth| {
                let mut start = tooth.start.get();
                // The mark of slot 1 is at 0; a tooth that ends there starts before it.
                if slots.is_some() && start + tooth.width.0 >= TURN_DEG - ROUNDING_DEG {
                    start -= TURN_DEG;
                }
                let end = start + tooth.width.0;
                let (start_error, end_error) =
                    (errors.edge(start, work, random), errors.edge(end, work, random));
                // Equal slots are marked by an edge on a square wave and by the middle of
                // the same place on a reluctance signal; listed teeth by their middle.
                let (middle, middle_error) = match (slots, marked_by) {
                    (Some(_), EdgeKind::Falling) => (end, end_error),
                    (Some(_), EdgeKind::Rising) => (start, start_error),
                    (None, _) => ((start + end) / 2.0, (start_error + end_error) / 2.0),
                };
                sum += middle_error;
                MadeTooth {
                    start: start + start_error,
                    end: end + end_error,
                    middle: middle + middle_error,
                    strength: 1.0 + errors.gap * wave(middle, errors.gap_at),
                }
            })
            .collect();
        teeth.sort_by(|a, b| a.middle.total_cmp(&b.middle));
        let mean = if centred { sum / teeth.len() as f64 } else { 0.0 };
        for made in &mut teeth {
            made.start -= mean;
            made.end -= mean;
            made.middle -= mean;
        }
        Self { teeth, pitch: slots.map(|slots| TURN_DEG / slots), damage: Vec::new() }
    }

    /// Takes whole teeth away, given by their index; the last one stays.
    pub(super) fn break_off(&mut self, teeth: &[usize]) {
        let mut index = 0;
        let mut left = self.teeth.len();
        self.teeth.retain(|_| {
            let goes = teeth.contains(&index) && left > 1;
            index += 1;
            left -= usize::from(goes);
            !goes
        });
    }

    /// Breaks a piece off the trailing end of a tooth.
    pub(super) fn damage(&mut self, tooth: usize) {
        let Some(made) = self.teeth.get_mut(tooth) else { return };
        let gone = (DAMAGE_SHARE * (made.end - made.start)).min(DAMAGE_MOST_DEG);
        made.end -= gone;
        made.middle -= gone / 2.0;
        self.damage.push((tooth, gone));
    }
}

/// The drawn errors of one wheel.
struct Errors {
    off_centre: f64,
    run_out: f64,
    gap: f64,
    gap_at: f64,
}

impl Errors {
    fn draw(work: Workmanship, random: &mut Random) -> Self {
        Errors {
            off_centre: random.between(0.0, TURN_DEG),
            run_out: work.run_out * random.between(0.5, 1.0),
            gap: work.gap * random.between(0.5, 1.0),
            gap_at: random.between(0.0, TURN_DEG),
        }
    }

    /// Error of one edge at a place, in shaft degrees.
    fn edge(&self, at: f64, work: Workmanship, random: &mut Random) -> f64 {
        self.run_out * wave(at, self.off_centre) + work.pitch * random.normal()
    }
}

/// Once a turn, 1 at `from`.
fn wave(at: f64, from: f64) -> f64 {
    (at - from).to_radians().cos()
}
