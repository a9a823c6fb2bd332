//! Tests of the program and of the page, as their users meet them, in one program.
//!
//! `cargo test --test program cli::` runs one file of them.

mod cli;
mod door;
mod examples;
mod faults;
mod house;
mod look;
mod outputs;
mod page;
mod readme;
mod report;
mod service;
mod terminal;
mod undescribed;
