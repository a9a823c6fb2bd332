//! What may be wrong with a description, or with the leads, when nothing that can happen to an
//! engine fits what was measured.

use crate::engine::Engine;
use crate::units::CrankDelta;

/// One way in which the description or the leads are not this engine's.
#[derive(Debug, Clone, PartialEq)]
pub enum Mistake {
    /// Every `at` was counted from TDC of cylinder 1 instead of the datum: so much is missing.
    /// Negative where it was added once too often.
    FromTdc {
        /// What is to be added to every `at`.
        missing: CrankDelta,
    },
    /// Every `at` is to be multiplied by this: 2 where it was typed in cam degrees, ½ where it was
    /// doubled.
    Scaled {
        /// The factor.
        factor: f64,
        /// Whether every `later` is to be multiplied as well.
        later_too: bool,
    },
    /// Every `at` is so far off: half a turn of the crank.
    HalfTurn {
        /// What is to be added to every `at`.
        missing: CrankDelta,
    },
    /// The crank wheel's gap stands so many slots later than described, so every angle is off by
    /// those.
    Slots {
        /// Slots, positive late.
        slots: i32,
        /// What they are in crank degrees.
        missing: CrankDelta,
    },
    /// The other electrical edge of the crank signal marks the slots.
    CrankEdge {
        /// What is to be added to every `at`.
        missing: CrankDelta,
    },
    /// The other electrical edge of these cams' signals marks their slots.
    CamEdge {
        /// Indices into the engine's cams.
        cams: Vec<usize>,
    },
    /// Every typed place is off alike: another variant, another edge, another datum.
    Alike,
    /// The `at` of one cam, with all that is counted from it.
    Place {
        /// Index into the engine's cams.
        cam: usize,
        /// What is to be added to it, where that is one of the usual slips; absent where it may be
        /// anything.
        missing: Option<CrankDelta>,
    },
    /// The `later` of one cam.
    Later {
        /// Index into the engine's cams.
        cam: usize,
        /// What is to be added to it, where that is one of the usual slips; absent where it may be
        /// anything.
        missing: Option<CrankDelta>,
    },
    /// The leads are on other sensors than said: what a lead is called, and the cam whose sensor it
    /// is on. Indices into the engine's cams.
    Leads(Vec<(usize, usize)>),
    /// The wheel of a cam is another than described.
    Wheel {
        /// Index into the engine's cams.
        cam: usize,
        /// The other cams that have it by the same line: indices into the engine's cams.
        with: Vec<usize>,
        /// The wheel of the library that fits its signal.
        fits: Option<String>,
    },
    /// A lead shows everything later than it is by a steady time: that of a cam, an index into the
    /// engine's cams, as a filter does; or without one the crank's, so that every cam looks early, as a
    /// slow probe does (a filter that a crank wheel comes through delays it by a quarter of a tooth at
    /// most).
    Delayed(Option<usize>),
    /// Nothing of it fits: another engine's file, or leads that are somewhere else altogether.
    OtherEngine,
}

impl Mistake {
    /// Whether the engine is in time where this is what is wrong: put right, every cam stands in
    /// its place.
    #[must_use]
    pub fn leaves_all_in_time(&self) -> bool {
        match self {
            Mistake::FromTdc { .. }
            | Mistake::Scaled { .. }
            | Mistake::HalfTurn { .. }
            | Mistake::Slots { .. }
            | Mistake::CrankEdge { .. }
            | Mistake::CamEdge { .. }
            | Mistake::Place { missing: Some(_), .. }
            | Mistake::Later { missing: Some(_), .. }
            | Mistake::Leads(_)
            | Mistake::Delayed(_) => true,
            Mistake::Alike
            | Mistake::Place { missing: None, .. }
            | Mistake::Later { missing: None, .. }
            | Mistake::Wheel { .. }
            | Mistake::OtherEngine => false,
        }
    }

    /// Whether it is of what was typed about where the cams should stand: what was read is of the right
    /// wheels and leads.
    pub(super) fn is_a_figure(&self) -> bool {
        !self.is_of_leads() && !matches!(self, Mistake::Wheel { .. } | Mistake::OtherEngine)
    }

    /// Whether it is of the leads, not of the engine file.
    #[must_use]
    pub fn is_of_leads(&self) -> bool {
        matches!(self, Mistake::Leads(_) | Mistake::Delayed(_))
    }

    /// The line of the engine file to look at; absent where no one line is to blame.
    #[must_use]
    pub fn line(&self, engine: &Engine) -> Option<usize> {
        let first_place = || engine.cams.iter().find_map(|cam| cam.lines.at);
        match self {
            Mistake::FromTdc { .. }
            | Mistake::Scaled { .. }
            | Mistake::HalfTurn { .. }
            | Mistake::Alike => first_place(),
            Mistake::Slots { .. } => engine.crank.lines.wheel,
            Mistake::CrankEdge { .. } => engine.crank.lines.edge.or(engine.crank.lines.wheel),
            Mistake::CamEdge { cams } => {
                let lines = engine.cams.get(*cams.first()?)?.lines;
                lines.edge.or(lines.wheel)
            }
            Mistake::Place { cam, .. } => engine.cams.get(*cam)?.lines.at,
            Mistake::Later { cam, .. } => engine.cams.get(*cam)?.lines.same_as,
            Mistake::Wheel { cam, .. } => {
                let lines = engine.cams.get(*cam)?.lines;
                lines.wheel.or(lines.same_as)
            }
            Mistake::Leads(_) | Mistake::Delayed(_) | Mistake::OtherEngine => None,
        }
    }
}
