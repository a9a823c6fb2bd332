//! The parts of the page.

mod form;
mod steps;
mod tools;

pub(super) use form::engine_form;
pub(super) use steps::{capture_step, engine_step, run_step};
pub(super) use tools::{list, report, tools};
