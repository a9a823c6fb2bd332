//! Tests of the program and of the page, as their users meet them, in one program.
//!
//! `cargo test --test program cli::` runs one file of them.

mod class_files;
mod cli;
mod commands;
mod controller;
mod door;
mod examples;
mod faults;
mod faults_windows;
mod first_car;
mod house;
mod look;
#[path = "outputs/main.rs"]
mod outputs;
mod overlaid;
mod owner;
#[path = "page/main.rs"]
mod page;
mod readme;
mod report;
mod result_keys;
mod service;
mod sheets;
mod shelf;
mod terminal;
mod undescribed;
mod verify;
