//! Every sentence of a result, the technician's beside the owner's.
//!
//! The stages and the verdict give structure: which explanation, which test, which caution, with
//! their numbers. Here each becomes words, once, and every output takes them from here. What is
//! new to be said gets its words in one place of this folder.

mod cautions;
mod caveats;
mod codes;
mod comparison;
mod compression;
mod contradiction;
mod controller;
mod explanation;
mod finding;
mod mistakes;
mod next_test;
pub mod owner;
mod phrases;
mod places;
mod provenance;
mod questions;
mod reasons;
mod standing;

pub use cautions::{caution, cautions};
pub use caveats::{caveat, warnings};
pub use codes::{accused, code, code_state};
pub use comparison::differences;
pub use compression::{
    compression_clause, compression_finding, compression_how_sure, compression_next,
    compression_note, compression_owner, compression_owner_title, compression_title,
};
pub use contradiction::contradiction;
pub use controller::controller;
pub use explanation::explanation;
pub(crate) use finding::either_way;
pub use finding::finding;
pub use mistakes::{mistake, puts_in_time};
pub use next_test::{next, test};
pub use provenance::{
    CALIBRATION, VERSION, counted_from, counted_on, datum_mark, first_tooth, leads_asked,
    options_used, prior_odds, prior_of, recording, resolution, teeth_to_edges, without_folder,
};
pub use questions::{Answered, questions, told_once};
// The owner's and the technician's page alone name a chain by itself.
#[cfg(feature = "report")]
pub(crate) use phrases::chain;
pub(crate) use phrases::{
    between, capital, list, percent, skipped_by, small, teeth_count, varying,
};
pub use reasons::why;
pub(crate) use standing::{place_source, repeats, teeth, teeth_alone};

use crate::analysis::Analysis;

/// The finding of an analysis: the timing, and what stands out in the compressions.
#[must_use]
pub fn whole_finding(analysis: &Analysis) -> String {
    let timing = finding(&analysis.engine, &analysis.verdict);
    match clause_of(analysis) {
        Some(clause) => format!("{timing} {clause}"),
        None => timing,
    }
}

/// What stands out in the compressions of an analysis.
#[must_use]
pub fn clause_of(analysis: &Analysis) -> Option<String> {
    let cams: Vec<usize> = analysis.cams.iter().map(|cam| cam.measured.cam).collect();
    let measured = analysis.compression.measured.as_ref();
    compression_clause(&analysis.engine, measured, &analysis.compression_finding, &cams)
}

#[cfg(test)]
mod tests;
