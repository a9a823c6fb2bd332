//! What looks odd in a description that can be used all the same: said, never refused.

use std::fmt;

use super::{Engine, Reference};
use crate::units::{CYCLE_DEG, CrankDelta};

/// Cylinders of one bank that fire in a row without its being odd. A cross-plane V8 has two; three
/// or more in an engine of two banks usually mean that a bank or the firing order is mistyped
/// (common practice, no source). Whoever writes the firing angles out has thought about them, and
/// is not asked.
const IN_A_ROW: usize = 2;
/// Places nearer than this are one: typed twice, or never told apart.
const SAME_PLACE: CrankDelta = CrankDelta(0.5);

/// Something odd in a description.
#[derive(Debug, Clone, PartialEq)]
pub enum EngineNote {
    /// `at` is outside 0 to 720 and was wrapped.
    Wrapped {
        /// The cam.
        cam: String,
        /// As written, crank degrees.
        given: f64,
        /// As taken, crank degrees.
        taken: f64,
    },
    /// More cylinders of one bank than usual fire one after another.
    InARow {
        /// The bank.
        bank: u32,
        /// The cylinders, in firing order.
        cylinders: Vec<u32>,
    },
    /// Two cams of one kind on different banks should stand at the same place.
    SamePlace {
        /// One.
        first: String,
        /// The other.
        second: String,
    },
    /// A `source` stands beside no figure.
    SourceOfNothing {
        /// The cam.
        cam: String,
    },
    /// A cam that serves several banks is counted to the first of them.
    ServesSeveralBanks {
        /// The cam.
        cam: String,
        /// The bank it is counted to.
        bank: u32,
    },
}

impl fmt::Display for EngineNote {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            EngineNote::Wrapped { cam, given, taken } => write!(
                out,
                "\"{cam}\" is written `at = {given}` and taken as {taken}: places count from 0 to 720 crank degrees. Check where the \
                 figure is from."
            ),
            EngineNote::InARow { bank, cylinders } => {
                let list: Vec<String> = cylinders.iter().map(u32::to_string).collect();
                write!(
                    out,
                    "Cylinders {} fire one after another and are all on bank {bank}. An engine with two banks usually fires them \
                     in turn, or nearly so: check [banks] and firing_order. If they are right, write `firing_angles` as well.",
                    list.join(", ")
                )
            }
            EngineNote::SamePlace { first, second } => write!(
                out,
                "\"{first}\" and \"{second}\" are expected at the same place, on banks that fire at different times. Check `at`, or `later` \
                 (often half a cycle or a firing interval)."
            ),
            EngineNote::SourceOfNothing { cam } => write!(
                out,
                "\"{cam}\" has a `source` and no `at`, so nothing says where it should stand. Write the figure beside it."
            ),
            EngineNote::ServesSeveralBanks { cam, bank } => write!(
                out,
                "\"{cam}\" serves more than one bank. Where something is said by bank, it is counted to bank {bank}."
            ),
        }
    }
}

/// What was written, where the engine does not show it any more.
pub(super) struct AsWritten {
    /// The place of each cam.
    pub ats: Vec<Option<f64>>,
    /// Whether the firing angles were written out.
    pub angles: bool,
}

/// Everything odd in an engine.
pub(super) fn of(engine: &Engine, written: &AsWritten) -> Vec<EngineNote> {
    let mut notes = Vec::new();
    for (cam, at) in engine.cams.iter().zip(&written.ats) {
        let outside = at.filter(|at| !(0.0..CYCLE_DEG).contains(at));
        notes.extend(outside.map(|given| EngineNote::Wrapped {
            cam: cam.name.clone(),
            given,
            taken: given.rem_euclid(CYCLE_DEG),
        }));
        if cam.source.is_some() && cam.reference == Reference::Unknown {
            notes.push(EngineNote::SourceOfNothing { cam: cam.name.clone() });
        }
        if cam.banks.len() > 1 {
            notes.push(EngineNote::ServesSeveralBanks { cam: cam.name.clone(), bank: cam.bank });
        }
    }
    if !written.angles {
        notes.extend(in_a_row(engine));
    }
    notes.extend(same_places(engine));
    notes
}

/// The longest run of one bank in the firing order, which goes round, where it is too long.
fn in_a_row(engine: &Engine) -> Option<EngineNote> {
    let order = &engine.firing_order;
    let enough = engine.banks.values().all(|members| members.len() > IN_A_ROW);
    if engine.banks.len() != 2 || !enough {
        return None;
    }
    let run_from = |start: usize| -> Vec<u32> {
        let bank = engine.bank_of(order[start]);
        let round = (0..order.len()).map(|step| order[(start + step) % order.len()]);
        round.take_while(|&cylinder| engine.bank_of(cylinder) == bank).collect()
    };
    let longest = (0..order.len()).map(run_from).max_by_key(Vec::len)?;
    let bank = engine.bank_of(longest[0])?;
    (longest.len() > IN_A_ROW).then_some(EngineNote::InARow { bank, cylinders: longest })
}

fn same_places(engine: &Engine) -> Vec<EngineNote> {
    let cams = &engine.cams;
    let pairs = (0..cams.len()).flat_map(|at| (0..at).map(move |before| (before, at)));
    pairs
        .filter(|&(a, b)| {
            let shared = cams[a].banks.iter().any(|bank| cams[b].banks.contains(bank));
            cams[a].shaft == cams[b].shaft && !shared && apart(engine, a, b).is_some_and(near)
        })
        .map(|(a, b)| EngineNote::SamePlace {
            first: cams[a].name.clone(),
            second: cams[b].name.clone(),
        })
        .collect()
}

fn near(apart: CrankDelta) -> bool {
    apart.0.abs() < SAME_PLACE.0
}

/// How far apart two cams should stand, where the description says so.
fn apart(engine: &Engine, a: usize, b: usize) -> Option<CrankDelta> {
    if let (Some((a, _)), Some((b, _))) = (engine.expected(a), engine.expected(b)) {
        return Some(b - a);
    }
    let ((root_a, later_a), (root_b, later_b)) = (engine.relation_root(a), engine.relation_root(b));
    let half = CYCLE_DEG / 2.0;
    let wrapped = |delta: f64| (delta + half).rem_euclid(CYCLE_DEG) - half;
    (root_a == root_b).then(|| CrankDelta(wrapped(later_b.0 - later_a.0)))
}
