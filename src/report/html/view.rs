//! The interactive view: signals against crank angle or time.

use maud::{Markup, html};

use crate::analysis::Analysis;
use crate::capture::Capture;

pub(super) fn part(_analysis: &Analysis, _captures: &[Capture]) -> Markup {
    html! {}
}
