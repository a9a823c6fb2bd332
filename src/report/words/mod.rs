//! Every sentence of a result, the technician's beside the owner's.
//!
//! The stages and the verdict give structure: which explanation, which test, which caution, with
//! their numbers. Here each becomes words, once, and every output takes them from here. What is
//! new to be said gets its words in one place of this folder.

mod cautions;
mod caveats;
mod codes;
mod compression;
mod contradiction;
mod explanation;
mod finding;
mod mistakes;
mod next_test;
pub mod owner;
mod phrases;
mod places;
mod questions;
mod reasons;
mod standing;

pub use cautions::{caution, cautions};
pub use caveats::{caveat, warnings};
pub use codes::{accused, code, code_state};
pub use compression::{
    compression_finding, compression_how_sure, compression_next, compression_note,
    compression_owner, compression_owner_title, compression_title,
};
pub use contradiction::contradiction;
pub use explanation::explanation;
pub(crate) use finding::either_way;
pub use finding::finding;
pub use mistakes::mistake;
pub use next_test::{next, test};
pub use questions::{Answered, questions, told_once};
// The owner's and the technician's page alone name a chain by itself.
#[cfg(feature = "report")]
pub(crate) use phrases::chain;
pub(crate) use phrases::{
    between, capital, list, percent, skipped_by, small, teeth_count, varying,
};
pub use reasons::why;
pub(crate) use standing::{place_source, repeats, teeth, teeth_alone};

#[cfg(test)]
mod tests;
