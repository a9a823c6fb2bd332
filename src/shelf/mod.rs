//! The shop's shelf: one folder with its engine files, known-goods and jobs, and what was found
//! when an engine was opened.
//!
//! Plain files that can be read, copied and moved without this program:
//!
//! ```text
//! shelf.toml                  that this is a shelf, and its version
//! engines/NAME.toml           engine files, as they were given
//! known-goods/NAME.known.toml grows with every engine that was found sound
//! jobs/0012/job.toml          what was measured and found
//! jobs/0012/result.json       the whole result
//! jobs/0012/report.html       the report
//! jobs/0012/outcome.toml      what was found when it was opened
//! jobs/0012/NAME.csv          the captures
//! ```
//!
//! A job appears whole: it is written beside its place and renamed. Whoever writes holds a lock.
//! Nothing is sent anywhere. To be carried, all of it is one file ([`Packed`]): what a page without
//! a computer around it has for a shelf.

#[cfg(feature = "output")]
mod carry;
#[cfg(feature = "output")]
mod engines;
mod entry;
mod error;
#[cfg(feature = "output")]
mod folder;
mod job;
#[cfg(feature = "output")]
mod jobs;
mod likely;
mod merge;
mod outcome;
mod packed;
mod record;

#[cfg(feature = "output")]
pub use engines::Kept;
pub use entry::EngineEntry;
pub(crate) use entry::proper_name;
pub use error::ShelfError;
#[cfg(feature = "output")]
pub use folder::Shelf;
pub use job::{CamRecord, Job, Jobs, NewJob, job_number};
pub use likely::{Likely, likely};
pub use outcome::{FindingWas, Outcome};
pub use packed::{JobFiles, MOST_PACKED, Packed};
pub use record::{Record, STATED_SURE, Tally, record};

/// The files of a job, for whoever holds them without a folder.
#[cfg(feature = "page-service")]
pub(crate) mod files {
    pub(crate) use super::job::{FILE as RECORD, REPORT, RESULT};
    pub(crate) use super::outcome::{FILE as OUTCOMES, read as outcomes, written as outcomes_text};
    /// Names that no capture may have.
    pub(crate) const OURS: [&str; 4] = [RECORD, RESULT, REPORT, OUTCOMES];
}

use serde::{Deserialize, Serialize};

/// Version of the folder's form that this program writes.
const VERSION: u32 = 1;
/// Says that a folder is a shelf.
const MARK: &str = "shelf.toml";
const ENGINES: &str = "engines";
const KNOWN_GOODS: &str = "known-goods";
const JOBS: &str = "jobs";
#[derive(Serialize, Deserialize)]
struct Mark {
    camwitness_shelf: u32,
}

#[cfg(all(test, feature = "output"))]
mod tests;
