//! Everything that could have happened to this engine, each with what it would show.
//!
//! From the bottom up: what a hypothesis is (`hypothesis.rs`), what it does to the rows
//! (`model.rs`, `effects.rs`), what the engine's description allows (`description.rs`,
//! `context.rs`), pairs of faults (`pairs.rs`), the builders of skips, phasers, crossed leads and
//! all other faults, what may be wrong with the description (`mistakes/`), and the catalogue of
//! them all.

mod accused;
mod catalogue;
mod context;
mod description;
mod effects;
mod faults;
mod hypothesis;
mod leads_crossed;
pub mod mistakes;
mod model;
mod pairs;
mod phasers;
pub mod priors;
mod skips;

pub(super) use accused::accused;
pub(super) use catalogue::{Catalogue, enumerate};
pub(super) use effects::EffectPrior;
pub use hypothesis::SecondFault;
pub(super) use hypothesis::{Cause, EQUAL_FIT_DEG, Variant};
pub(super) use model::Model;
