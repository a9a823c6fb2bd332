//! Relative compression against simulated engines, references from outside, and a real recording.

#![allow(clippy::unwrap_used)] // a test stops at the first surprise

mod accuracy;
mod banks;
mod bench;
mod census;
mod closed_form;
mod counts;
mod engines;
mod ignition;
mod practice;
mod recording;
mod reference;
mod refusals;
mod whole_check;
