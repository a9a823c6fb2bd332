//! What is written of a check, whatever it turned out to be: report, result and pictures, each made
//! once, when it is first asked for.

use std::cell::OnceCell;

use super::job::Job;
use super::pictures::{Drawn, PictureError, draw_checked};
use super::{html, json};
use crate::analysis::{Checked, Overlay};
use crate::capture::Capture;

/// Report, result and pictures of one check.
pub struct Papers<'a> {
    checked: &'a Checked,
    captures: &'a [Capture],
    job: &'a Job,
    over: Option<&'a Overlay>,
    drawn: OnceCell<Vec<Drawn>>,
    report: OnceCell<String>,
    result: OnceCell<String>,
}

impl<'a> Papers<'a> {
    /// Nothing is made yet. `captures` are those that were checked, in the same order.
    #[must_use]
    pub fn of(checked: &'a Checked, captures: &'a [Capture], job: &'a Job) -> Papers<'a> {
        let (drawn, report, result) = Default::default();
        Papers { checked, captures, job, over: None, drawn, report, result }
    }

    /// With a recording laid over the signals of the close-up.
    #[must_use]
    pub fn with(self, over: Option<&'a Overlay>) -> Papers<'a> {
        Papers { over, ..self }
    }

    /// The pictures.
    #[must_use]
    pub fn pictures(&self) -> &[Drawn] {
        self.drawn.get_or_init(|| draw_checked(self.checked, self.captures, self.over))
    }

    /// The report, one HTML file.
    ///
    /// # Errors
    /// When the drawing library refuses a picture.
    pub fn report(&self) -> Result<&str, PictureError> {
        if let Some(page) = self.report.get() {
            return Ok(page);
        }
        let (drawn, captures) = (self.pictures(), self.captures);
        let page = html::write_drawn(self.checked, drawn, captures, self.job, self.over)?;
        Ok(self.report.get_or_init(|| page))
    }

    /// The result as indented JSON.
    #[must_use]
    pub fn result(&self) -> &str {
        self.result.get_or_init(|| json::write_checked(self.checked, self.job))
    }

    /// All three, for whoever keeps them.
    ///
    /// # Errors
    /// When the drawing library refuses a picture.
    pub fn into_parts(self) -> Result<(String, String, Vec<Drawn>), PictureError> {
        let _ = (self.report()?, self.result());
        let (report, result) = (self.report.into_inner(), self.result.into_inner());
        let drawn = self.drawn.into_inner();
        Ok((report.unwrap_or_default(), result.unwrap_or_default(), drawn.unwrap_or_default()))
    }
}
