//! The mistakes users make, each applied to a right description of the engine and its capture.

use camwitness::capture::Capture;
use camwitness::leads::LeadRequest;
use camwitness::verdict::Mistake;

use super::spec::Spec;

mod descriptions;
mod figures;
mod hand;
mod leads;

/// What a user hands in: a description, captures, which column is which lead, codes.
#[derive(Debug, Clone)]
pub struct HandedIn {
    pub spec: Spec,
    pub captures: Vec<Capture>,
    pub leads: Vec<LeadRequest>,
    pub codes: Vec<String>,
}

/// What is to be known of the engine to make a mistake on it.
pub struct Before<'a> {
    pub right: &'a Spec,
    pub capture: &'a Capture,
    /// A capture of another engine of the type.
    pub other: &'a Capture,
    /// Crank degrees by which a sound phaser was left off rest in `off_rest`, a capture of its own.
    pub off_rest: Option<&'a Capture>,
}

/// One kind of mistake.
#[derive(Clone)]
pub struct Kind {
    pub name: &'static str,
    /// Makes it; `None` where this engine cannot have it.
    pub make: fn(&Before) -> Option<HandedIn>,
    /// Whether a mistake that the program names is this one.
    pub is: fn(&Mistake) -> bool,
    /// Why no measurement could tell it from a fault, where none can.
    pub alike: Option<&'static str>,
}

const NAMES_NOTHING: fn(&Mistake) -> bool = |_| false;
const FIGURE: fn(&Mistake) -> bool =
    |named| matches!(named, Mistake::Place { .. } | Mistake::Later { .. });
const ALIKE: fn(&Mistake) -> bool = |named| {
    matches!(
        named,
        Mistake::Alike
            | Mistake::Slots { .. }
            | Mistake::HalfTurn { .. }
            | Mistake::CrankEdge { .. }
    )
};
const LEADS: fn(&Mistake) -> bool = |named| matches!(named, Mistake::Leads(_));
const ELSEWHERE: fn(&Mistake) -> bool =
    |named| matches!(named, Mistake::OtherEngine | Mistake::Wheel { .. });

const fn kind(
    name: &'static str,
    make: fn(&Before) -> Option<HandedIn>,
    is: fn(&Mistake) -> bool,
) -> Kind {
    Kind { name, make, is, alike: None }
}

/// A slip that touches nothing that is judged: the verdict on the engine is right as it stands.
const fn harmless(name: &'static str, make: fn(&Before) -> Option<HandedIn>) -> Kind {
    Kind { name, make, is: NAMES_NOTHING, alike: None }
}
/// Every kind.
pub fn kinds() -> Vec<Kind> {
    [figures::kinds(), leads::kinds(), descriptions::kinds()].concat()
}
