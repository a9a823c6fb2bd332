//! A sign of life on standard error while long work goes on, at a terminal only.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

use crate::error::harmless;

/// Work shorter than this shows nothing.
const PATIENCE: Duration = Duration::from_millis(120);

/// Shows what is being done until the returned bar is dropped. Draws nothing when standard error is
/// no terminal, or with `quiet`.
#[must_use]
pub(super) fn working_on(what: String, quiet: bool) -> Working {
    let bar = if quiet { ProgressBar::hidden() } else { ProgressBar::new_spinner() };
    if let Ok(style) = ProgressStyle::with_template("{spinner} {msg} ({elapsed})") {
        bar.set_style(style);
    }
    bar.set_message(what);
    bar.enable_steady_tick(PATIENCE);
    Working(bar)
}

/// Takes its line off the terminal when it is dropped.
pub(super) struct Working(ProgressBar);

impl Working {
    /// Says what is being done now.
    pub fn now(&self, what: String) {
        // A file's name may hold anything.
        self.0.set_message(harmless(&what, &[]).into_owned());
    }
}

impl Drop for Working {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
