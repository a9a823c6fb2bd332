//! The owner's half page in words: plain, nothing that needs a training.

mod driving;
mod finding;
mod kinds;
mod meaning;
mod measured;
mod stages;
mod whereabouts;

pub use driving::{driving, sensor};
pub use finding::{finding, how_sure};
pub use meaning::{meaning, next, note};
pub use measured::{compression, measured};
pub use stages::stages;
pub use whereabouts::{not_measured, whereabouts};
