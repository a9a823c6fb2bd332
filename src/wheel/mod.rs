//! Tooth patterns: what a trigger wheel is, whichever shaft it sits on.
//!
//! A wheel knows angles of its own shaft and nothing about time, volts or
//! engines. It answers three questions: where are the edges a square-wave sensor
//! shows, where are the zero crossings a reluctance sensor shows, and how many
//! times does the pattern repeat in a turn.

mod count;
mod draw;
mod file;
mod library;
mod notation;

pub use count::ToothCount;
pub use file::{WheelSource, parse_wheel};
pub use library::{LIBRARY, LibraryWheel};

use serde::Deserialize;

use crate::units::{CamDelta, ShaftDeg, TURN_DEG};

/// Two wheel angles closer than this are the same angle, in shaft degrees.
/// Far below what any sensor resolves and far above rounding of 360/n.
const SAME_ANGLE_DEG: f64 = 1e-6;

/// Direction of a level change or of a passage through zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum EdgeKind {
    /// From low to high.
    Rising,
    /// From high to low.
    Falling,
}

impl EdgeKind {
    /// The other kind: what this edge becomes on an inverted signal.
    #[must_use]
    pub fn opposite(self) -> Self {
        match self {
            EdgeKind::Rising => EdgeKind::Falling,
            EdgeKind::Falling => EdgeKind::Rising,
        }
    }
    /// The word a technician reads.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            EdgeKind::Rising => "rising",
            EdgeKind::Falling => "falling",
        }
    }
}

/// A raised part of the wheel, in degrees of its shaft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tooth {
    /// Where it begins to pass the sensor, 0 up to 360.
    pub start: ShaftDeg,
    /// How many shaft degrees it lasts, more than 0 and less than 360.
    pub width: CamDelta,
}

impl Tooth {
    /// Where it has passed the sensor.
    #[must_use]
    pub fn end(&self) -> ShaftDeg {
        self.start + self.width
    }
    /// Its middle, where a reluctance sensor's voltage crosses zero.
    #[must_use]
    pub fn middle(&self) -> ShaftDeg {
        self.start + self.width / 2.0
    }
}

/// An edge of the signal a wheel makes, at a place on its shaft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WheelEdge {
    /// Where, in degrees of the wheel's shaft.
    pub at: ShaftDeg,
    /// Which way the signal goes there.
    pub kind: EdgeKind,
}

/// How the wheel was described.
#[derive(Debug, Clone, PartialEq)]
pub enum Form {
    /// Equal slots, some without a tooth.
    Slots {
        /// Slots per turn.
        slots: u32,
        /// Slots without a tooth, counted from 1, sorted.
        missing: Vec<u32>,
        /// Shaft degrees a tooth is high, where stated.
        width: Option<CamDelta>,
    },
    /// Teeth listed one by one, in the direction of rotation.
    Teeth(Vec<Tooth>),
}

/// A trigger wheel. Only [`parse_wheel`] and [`WheelSource`] make one, so its
/// angles are in range, sorted and free of overlap.
#[derive(Debug, Clone, PartialEq)]
pub struct Wheel {
    name: String,
    form: Form,
    notes: Option<String>,
    source: Option<String>,
}

impl Wheel {
    /// So many even teeth.
    pub(crate) fn even(slots: u32) -> Wheel {
        Wheel {
            name: slots.to_string(),
            form: Form::Slots { slots, missing: Vec::new(), width: None },
            notes: None,
            source: None,
        }
    }

    /// The wheel's name, as its file or notation gives it.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }
    /// How it was described.
    #[must_use]
    pub fn form(&self) -> &Form {
        &self.form
    }
    /// Free text of the file.
    #[must_use]
    pub fn notes(&self) -> Option<&str> {
        self.notes.as_deref()
    }
    /// Where the pattern comes from.
    #[must_use]
    pub fn source(&self) -> Option<&str> {
        self.source.as_deref()
    }

    /// Number of teeth in a turn.
    #[must_use]
    pub fn tooth_count(&self) -> usize {
        match &self.form {
            Form::Slots { slots, missing, .. } => *slots as usize - missing.len(),
            Form::Teeth(teeth) => teeth.len(),
        }
    }

    /// Whether the width of the teeth is known, so that both edges can be placed.
    #[must_use]
    pub fn has_widths(&self) -> bool {
        match &self.form {
            Form::Slots { width, .. } => width.is_some(),
            Form::Teeth(_) => true,
        }
    }

    /// Marks of the slots that carry a tooth: slot k at (k − 1) · 360 / slots.
    /// `None` for a wheel given tooth by tooth.
    #[must_use]
    pub fn slot_marks(&self) -> Option<Vec<ShaftDeg>> {
        let Form::Slots { slots, missing, .. } = &self.form else { return None };
        let pitch = TURN_DEG / f64::from(*slots);
        Some(
            (1..=*slots)
                .filter(|slot| missing.binary_search(slot).is_err())
                .map(|slot| ShaftDeg::new(f64::from(slot - 1) * pitch))
                .collect(),
        )
    }

    /// The raised parts in order of their start. For slots, a tooth ends
    /// (`Falling`) or begins (`Rising`) at its mark and is `width` wide, half a slot
    /// where no width is stated.
    #[must_use]
    pub fn teeth(&self, marked_by: EdgeKind) -> Vec<Tooth> {
        let Form::Slots { slots, width, .. } = &self.form else {
            let Form::Teeth(teeth) = &self.form else { unreachable!("two forms") };
            return teeth.clone();
        };
        let width = width.unwrap_or(CamDelta(TURN_DEG / f64::from(*slots) / 2.0));
        let marks = self.slot_marks().unwrap_or_default();
        let mut teeth: Vec<Tooth> = marks
            .into_iter()
            .map(|mark| match marked_by {
                EdgeKind::Falling => Tooth { start: mark - width, width },
                EdgeKind::Rising => Tooth { start: mark, width },
            })
            .collect();
        teeth.sort_by(|a, b| a.start.get().total_cmp(&b.start.get()));
        teeth
    }

    /// Edges a square-wave sensor shows in one turn, sorted by angle, on a signal
    /// of normal polarity (high over a tooth).
    ///
    /// A slot wheel without a stated width has only its marking edges; every other
    /// wheel has both kinds.
    #[must_use]
    pub fn square_edges(&self, marked_by: EdgeKind) -> Vec<WheelEdge> {
        if !self.has_widths() {
            return self.marks_as_edges(marked_by);
        }
        let mut edges: Vec<WheelEdge> = self
            .teeth(marked_by)
            .iter()
            .flat_map(|tooth| {
                [
                    WheelEdge { at: tooth.start, kind: EdgeKind::Rising },
                    WheelEdge { at: tooth.end(), kind: EdgeKind::Falling },
                ]
            })
            .collect();
        edges.sort_by(|a, b| a.at.get().total_cmp(&b.at.get()));
        edges
    }

    /// Zero crossings of kind `marked_by` that a reluctance sensor shows in one
    /// turn, sorted: the slot marks, or the middle of each listed tooth. The crossings
    /// of the other kind lie somewhere between teeth and mark nothing.
    #[must_use]
    pub fn zero_crossings(&self, marked_by: EdgeKind) -> Vec<WheelEdge> {
        let Form::Teeth(teeth) = &self.form else { return self.marks_as_edges(marked_by) };
        let mut edges: Vec<WheelEdge> =
            teeth.iter().map(|tooth| WheelEdge { at: tooth.middle(), kind: marked_by }).collect();
        edges.sort_by(|a, b| a.at.get().total_cmp(&b.at.get()));
        edges
    }

    /// Where a direction-sensing sensor's output pulse begins, with an edge of kind `leading`, in
    /// one turn, sorted: at the slot marks, or where each listed tooth begins.
    #[must_use]
    pub fn pulses(&self, leading: EdgeKind) -> Vec<WheelEdge> {
        let Form::Teeth(teeth) = &self.form else { return self.marks_as_edges(leading) };
        let mut edges: Vec<WheelEdge> =
            teeth.iter().map(|tooth| WheelEdge { at: tooth.start, kind: leading }).collect();
        edges.sort_by(|a, b| a.at.get().total_cmp(&b.at.get()));
        edges
    }

    fn marks_as_edges(&self, kind: EdgeKind) -> Vec<WheelEdge> {
        self.slot_marks().unwrap_or_default().into_iter().map(|at| WheelEdge { at, kind }).collect()
    }

    /// How many times the whole pattern (both edges, where widths are known)
    /// repeats in a turn. 1 for a wheel that tells every angle apart; 3 when it looks
    /// the same every 120°.
    #[must_use]
    pub fn repeats(&self) -> u32 {
        let edges = self.square_edges(EdgeKind::Falling);
        let most = u32::try_from(self.tooth_count()).unwrap_or(1);
        (2..=most).rev().find(|&k| looks_same_turned(&edges, TURN_DEG / f64::from(k))).unwrap_or(1)
    }
}

/// Whether turning every edge by `by` shaft degrees gives the same set of edges.
fn looks_same_turned(edges: &[WheelEdge], by: f64) -> bool {
    edges.iter().all(|edge| {
        let turned = edge.at + CamDelta(by);
        edges
            .iter()
            .any(|other| other.kind == edge.kind && (other.at - turned).0.abs() < SAME_ANGLE_DEG)
    })
}

#[cfg(test)]
mod tests;
