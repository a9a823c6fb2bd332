//! Tests of the verdict: arithmetic, trade cases, honesty of the odds.

mod bench;
mod calibration;
mod closed_forms;
mod health;
mod sweep;
mod trade;
