//! Tests of the verdict: arithmetic, trade cases, honesty of the odds.

mod bench;
mod calibration;
mod closed_forms;
mod decided;
mod doubt;
mod far_out;
mod health;
mod leads;
mod limits;
mod measured;
mod mistakes;
mod one_wrap;
mod pairs;
mod phasers;
mod sweep;
mod trade;
mod unplaced;
mod weighing;
