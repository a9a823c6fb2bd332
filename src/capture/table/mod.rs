//! The model every format is read into: columns with units and roles, rows in blocks, and when the
//! rows were taken. [`csv`](super::csv) fills it block by block, the other formats hand over whole
//! columns; both become a [`Capture`](super::Capture) by [`build::build`].

mod blanks;
pub(super) mod block;
pub(super) mod build;
pub(super) mod cells;
pub(super) mod clock;
pub(super) mod column;
pub(super) mod counter;
mod ends;
mod footer;
mod instants;
mod kind;
mod numbering;
mod over_range;
pub(super) mod packer;
mod pieces;
pub(super) mod room;
pub(super) mod rows;
pub(super) mod texts;
mod time_names;
pub(super) mod timing;
pub(super) mod trim;
pub(super) mod units;
pub(super) mod whole;
mod zeros;
