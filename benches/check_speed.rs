//! Reading and judging a large sampled CSV: throughput and peak memory.
//!
//! `cargo bench --bench check_speed [-- MEGABYTES …]` makes captures of those sizes (100 by default) from the
//! practice model in a temporary folder, runs the release program's `check` on each in a process of its own, and
//! prints MB/s and peak memory as a share of the file.

use std::io::Write;
use std::process::Command;
use std::time::Instant;

use camwitness::engine::Engine;
use camwitness::practice::{Dialect, Scenario, csv_text, generate};

fn main() {
    let sizes: Vec<usize> = std::env::args().filter_map(|word| word.parse().ok()).collect();
    let sizes = if sizes.is_empty() { vec![100] } else { sizes };
    let root = env!("CARGO_MANIFEST_DIR");
    let engine_file = format!("{root}/demo-data/engine.toml");
    let engine = Engine::read(engine_file.as_ref()).expect("the demonstration engine");
    let folder = tempfile::tempdir().expect("a folder");
    println!("| MB | s | MB/s | peak memory, share of the file |\n| --- | --- | --- | --- |");
    for megabytes in sizes {
        let path = folder.path().join(format!("{megabytes}.csv"));
        let bytes = write_capture(&engine, &path, megabytes);
        let start = Instant::now();
        let output = Command::new(env!("CARGO_BIN_EXE_camwitness"))
            .args(["check", &path.display().to_string(), "--engine", &engine_file, "--quiet"])
            .output()
            .expect("the program runs");
        let seconds = start.elapsed().as_secs_f64();
        assert!(output.status.code().is_some_and(|code| code == 0 || code == 3), "{output:?}");
        let peak = peak_memory(&path.display().to_string(), &engine_file);
        println!(
            "| {:.0} | {seconds:.2} | {:.0} | {:.2} |",
            bytes as f64 / 1e6,
            bytes as f64 / 1e6 / seconds,
            peak as f64 / bytes as f64
        );
        std::fs::remove_file(&path).expect("the capture goes");
    }
}

/// Writes a capture of about so many megabytes: cranking at a rate high enough to fill them in ten seconds.
fn write_capture(engine: &Engine, path: &std::path::Path, megabytes: usize) -> usize {
    // About 33 bytes a row of five columns.
    let mut scenario = Scenario::new(engine.clone());
    scenario.seconds = 10.0;
    scenario.rate = (megabytes as f64 * 1e6 / 33.0 / scenario.seconds).clamp(10_000.0, 2_000_000.0);
    let practice = generate(&scenario).expect("a capture");
    let text = csv_text(&practice.capture, &practice.steps, Dialect::default()).expect("a dialect");
    let mut file = std::fs::File::create(path).expect("a file");
    file.write_all(text.as_bytes()).expect("room on the disk");
    text.len()
}

/// Peak resident memory of one run in bytes, from the kernel's account of waited-for children.
fn peak_memory(capture: &str, engine: &str) -> u64 {
    let mut child = Command::new(env!("CARGO_BIN_EXE_camwitness"))
        .args(["check", capture, "--engine", engine, "--quiet"])
        .stdout(std::process::Stdio::null())
        .spawn()
        .expect("the program runs");
    let status = format!("/proc/{}/status", child.id());
    let mut peak = 0;
    loop {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let high = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let kilobytes =
            high.and_then(|rest| rest.trim().trim_end_matches(" kB").trim().parse::<u64>().ok());
        peak = peak.max(kilobytes.unwrap_or(0) * 1024);
        if child.try_wait().expect("a child").is_some() {
            return peak;
        }
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
}
