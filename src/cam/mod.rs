//! Cam edges become one position per cycle, then a deviation and an interval.

mod crossed;
mod cycles;
pub mod deviation;
mod measure;
mod movement;
mod pattern;
mod phase;
mod position;
mod result;
mod rotation;
mod symmetry;

pub use crossed::{LeadOrder, SwappedFit, crossed};
pub use measure::measure;
pub use movement::Movement;
pub use pattern::own_period;
pub use phase::{DatumChoice, choose_datum};
pub use position::{CamPosition, CyclePosition, EdgeResult};
pub use result::{CamResult, Expected, ExpectedFrom};
