//! Reading and judging a large sampled CSV of four channels: time and peak memory of the whole
//! `check`.
//!
//! ```text
//! cargo bench --bench check_speed                      # 1, 10 and 100 MB
//! cargo bench --bench check_speed -- 300 1000          # sizes in MB
//! cargo bench --bench check_speed -- --table FILE 100  # and a Markdown table
//! ```
//!
//! Captures come from the practice model, in a temporary folder, and are in the system's cache. In
//! the same run stand `wc -l` on the file as the floor, and `benches/peers/measure.py` with pandas
//! and with polars, which find the same deviations and judge nothing. Each runs in a process of its
//! own; the least time of several runs counts, being the least disturbed, and the processor time of
//! that run beside it tells whether others were using the machine.

use std::error::Error;
use std::fmt::Write as _;
use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use camwitness::engine::Engine;
use camwitness::practice::{Dialect, Scenario, csv_text, generate};

type Outcome<T> = Result<T, Box<dyn Error>>;

/// Runs of each program.
const RUNS: usize = 5;
const MEGABYTE: f64 = 1e6;
/// Bytes of a row of five columns, about.
const ROW_BYTES: f64 = 39.0;
/// Seconds of cranking, and samples per second where that would be too long.
const LONGEST: f64 = 10.0;
const LEAST_RATE: f64 = 8_000.0;

/// The least disturbed run of one program.
#[derive(Debug, Clone, Copy)]
struct Run {
    /// By the clock on the wall.
    seconds: f64,
    /// Of all processors together.
    processor: f64,
    /// Most memory held.
    peak_megabytes: f64,
}

fn main() -> Outcome<()> {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let table = arguments.iter().position(|a| a == "--table").and_then(|at| arguments.get(at + 1));
    let sizes: Vec<u64> = arguments.iter().filter_map(|a| a.parse().ok()).collect();
    let sizes = if sizes.is_empty() { vec![1, 10, 100] } else { sizes };
    let root = env!("CARGO_MANIFEST_DIR");
    let engine_file = format!("{root}/demo-data/engine.toml");
    let engine = Engine::read(engine_file.as_ref())?;
    let folder = tempfile::tempdir()?;
    let mut text = String::from(
        "| program | file, MB | seconds | MB/s | processor s | peak memory, MB | peak / file | times our seconds |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    print!("{text}");
    for size in sizes {
        let path = folder.path().join(format!("capture-{size}-mb.csv"));
        let megabytes = write_capture(&engine, &path, size)? / MEGABYTE;
        let ours = env!("CARGO_BIN_EXE_camwitness");
        let script = format!("{root}/benches/peers/measure.py");
        let file = path.display().to_string();
        let programs: [(&str, &[&str]); 4] = [
            ("camwitness check", &[ours, "check", &file, "--engine", &engine_file, "--quiet"]),
            ("wc -l", &["wc", "-l", &file]),
            ("pandas + numpy", &["python3", &script, "pandas", &file]),
            ("polars + numpy", &["python3", &script, "polars", &file]),
        ];
        let mut check = None;
        for (name, command) in programs {
            let Some(run) = best(command)? else {
                eprintln!("{name}: not here, left out");
                continue;
            };
            let line = row(name, megabytes, run, *check.get_or_insert(run.seconds));
            println!("{line}");
            writeln!(text, "{line}")?;
        }
        std::fs::remove_file(&path)?;
    }
    if let Some(table) = table {
        std::fs::write(table, text)?;
    }
    Ok(())
}

fn row(name: &str, megabytes: f64, run: Run, ours: f64) -> String {
    let Run { seconds, processor, peak_megabytes: peak } = run;
    format!(
        "| {name} | {megabytes:.0} | {seconds:.3} | {:.0} | {processor:.3} | {peak:.0} | {:.2} | {:.2} |",
        megabytes / seconds,
        peak / megabytes,
        seconds / ours
    )
}

/// The best of several runs; `None` when the program is not here or fails.
fn best(command: &[&str]) -> Outcome<Option<Run>> {
    let mut best: Option<Run> = None;
    for _ in 0..RUNS {
        let Some(run) = run(command)? else { return Ok(None) };
        if best.is_none_or(|best| run.seconds < best.seconds) {
            best = Some(run);
        }
    }
    Ok(best)
}

/// Writes a capture of about so many megabytes, as a scope of 16 bits gives it: up to ten seconds
/// of cranking, at the rate that fills them, or fewer at a common rate.
fn write_capture(engine: &Engine, path: &Path, megabytes: u64) -> Outcome<f64> {
    let rows = megabytes as f64 * MEGABYTE / ROW_BYTES;
    let mut scenario = Scenario::new(engine.clone());
    scenario.bits = Some(16);
    scenario.rate = (rows / LONGEST).max(LEAST_RATE).round();
    scenario.seconds = rows / scenario.rate;
    let practice = generate(&scenario)?;
    let text = csv_text(&practice.capture, &practice.steps, Dialect::default());
    let text = text.ok_or("a dialect with two commas")?;
    let mut file = File::create(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    Ok(text.len() as f64)
}

/// One run of a program, with what the kernel says of it as long as it lives.
fn run(command: &[&str]) -> Outcome<Option<Run>> {
    let started = Instant::now();
    let child = Command::new(command[0]).args(&command[1..]).stdout(Stdio::null()).spawn();
    let Ok(mut child) = child else { return Ok(None) };
    let account = format!("/proc/{}", child.id());
    let (mut processor, mut peak) = (0.0_f64, 0.0_f64);
    loop {
        peak = peak.max(peak_megabytes(&account).unwrap_or(0.0));
        processor = processor.max(processor_seconds(&account).unwrap_or(0.0));
        if let Some(status) = child.try_wait()? {
            let seconds = started.elapsed().as_secs_f64();
            let done = status.code().is_some_and(|code| code == 0 || code == 3);
            return Ok(done.then_some(Run { seconds, processor, peak_megabytes: peak }));
        }
        std::thread::sleep(std::time::Duration::from_millis(1));
    }
}

fn peak_megabytes(account: &str) -> Option<f64> {
    let text = std::fs::read_to_string(format!("{account}/status")).ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    let kilobytes: f64 = line.trim().trim_end_matches(" kB").trim().parse().ok()?;
    Some(kilobytes * 1024.0 / MEGABYTE)
}

/// User and system time in clock ticks, the 14th and 15th word (proc(5)); a tick is a hundredth of
/// a second on Linux.
fn processor_seconds(account: &str) -> Option<f64> {
    let text = std::fs::read_to_string(format!("{account}/stat")).ok()?;
    let (_, behind_name) = text.rsplit_once(')')?;
    let words: Vec<&str> = behind_name.split_whitespace().collect();
    let ticks = |at: usize| words.get(at)?.parse::<f64>().ok();
    Some((ticks(11)? + ticks(12)?) / 100.0)
}
