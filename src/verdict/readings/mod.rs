//! What was measured, as the judge takes it: one row for each reading with its error, and what
//! the signal itself looks like.

pub mod errors;
mod misregistered;
mod other_rows;
mod outliers;
mod pressure_rows;
mod rows;
mod signal_character;
mod steadiness;
mod wheel_edges;

pub(super) use rows::{Row, RowKind, Rows, wrap};
pub(super) use signal_character::{Character, Delayed, SignalCharacter, Signals};
pub(super) use steadiness::{Steadiness, kind_offs};
pub(super) use wheel_edges::{edges_lost, odd_share, place_drag};
