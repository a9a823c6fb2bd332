//! How fast a deep sampled capture is read, and in how much memory.
//!
//! ```text
//! cargo bench --bench read_csv                       # 1, 10 and 100 MB
//! cargo bench --bench read_csv -- 1000               # sizes in MB
//! cargo bench --bench read_csv -- --table FILE 100   # and a Markdown table
//! cargo bench --bench read_csv -- plain quoted 100   # of these kinds of file alone
//!
//! Kinds: `plain`; `quoted`, the same rows with every cell in quotation marks. Sizes are of the plain file: the others
//! hold the same rows.
//! ```
//!
//! One row of output per reader and size: seconds (least of several runs), MB/s, peak memory. Every
//! reader runs in a process of its own, so that each peak is its own, on a file just written and
//! thus in the system's cache. Beside our reader, in the same run: `wc -l` as
//! the floor, and pandas and polars scripts from `benches/peers/`, where they are installed.

use std::error::Error;
use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use camwitness::capture::{self, ReadOptions};

type Outcome<T> = Result<T, Box<dyn Error>>;

/// Runs of each reader; the least time counts, being the least disturbed.
const RUNS: usize = 5;
const MEGABYTE: f64 = 1e6;

/// How the rows are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Plain,
    Quoted,
}

impl Kind {
    const ALL: [Kind; 2] = [Kind::Plain, Kind::Quoted];

    fn name(self) -> &'static str {
        match self {
            Kind::Plain => "plain",
            Kind::Quoted => "quoted",
        }
    }
}

struct Figure {
    reader: &'static str,
    kind: Kind,
    megabytes: f64,
    seconds: f64,
    peak_megabytes: Option<f64>,
}

fn main() -> Outcome<()> {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    if let [flag, path] = &arguments[..]
        && flag == "--read-once"
    {
        return read_once(Path::new(path));
    }
    let table = arguments.iter().position(|a| a == "--table").and_then(|at| arguments.get(at + 1));
    let sizes: Vec<u64> = arguments.iter().filter_map(|a| a.parse().ok()).collect();
    let sizes = if sizes.is_empty() { vec![1, 10, 100] } else { sizes };
    let asked = |kind: &Kind| arguments.iter().any(|argument| argument == kind.name());
    let kinds: Vec<Kind> = Kind::ALL.into_iter().filter(asked).collect();
    let kinds = if kinds.is_empty() { Kind::ALL.to_vec() } else { kinds };
    let folder = tempfile::tempdir()?;
    let mut text = String::from(
        "| reader | kind | file, MB | seconds | MB/s | peak memory, MB | peak / file |\n\
         | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for size in sizes {
        for &kind in &kinds {
            let path = folder.path().join(format!("capture-{size}-mb-{}.csv", kind.name()));
            write_capture(&path, size * 1_000_000, kind)?;
            for figure in measure(&path, kind)? {
                let line = figure.row();
                println!("{line}");
                writeln!(text, "{line}")?;
            }
            std::fs::remove_file(&path)?;
        }
    }
    if let Some(table) = table {
        std::fs::write(table, text)?;
    }
    Ok(())
}

/// Reads a file and prints seconds and peak memory in kB: the measured process.
fn read_once(path: &Path) -> Outcome<()> {
    let started = Instant::now();
    let capture = capture::read(path, &ReadOptions::default())?;
    let seconds = started.elapsed().as_secs_f64();
    assert_eq!(capture.channels.len(), 4);
    println!("{seconds} {}", peak_kilobytes().unwrap_or(0.0));
    Ok(())
}

/// The most memory this process has held, where the system tells.
fn peak_kilobytes() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().trim_end_matches("kB").trim().parse().ok()
}

fn measure(path: &Path, kind: Kind) -> Outcome<Vec<Figure>> {
    let megabytes = std::fs::metadata(path)?.len() as f64 / MEGABYTE;
    let peers = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/peers");
    let ours = std::env::current_exe()?;
    let script = |name: &str| vec![PathBuf::from("python3"), peers.join(name)];
    let readers = [
        ("camwitness", vec![ours, PathBuf::from("--read-once")]),
        ("wc -l", vec![PathBuf::from("wc"), PathBuf::from("-l")]),
        ("pandas", script("read_pandas.py")),
        ("polars", script("read_polars.py")),
    ];
    let mut figures = Vec::new();
    for (reader, command) in readers {
        let mut best: Option<(f64, Option<f64>)> = None;
        for _ in 0..RUNS {
            let Some(run) = run(&command, path) else {
                eprintln!("{reader}: not here, left out");
                break;
            };
            if best.is_none_or(|(seconds, _)| run.0 < seconds) {
                best = Some(run);
            }
        }
        if let Some((seconds, peak_megabytes)) = best {
            figures.push(Figure { reader, kind, megabytes, seconds, peak_megabytes });
        }
    }
    Ok(figures)
}

/// Runs a reader on the file. One that times itself prints seconds and kilobytes.
fn run(command: &[PathBuf], path: &Path) -> Option<(f64, Option<f64>)> {
    let started = Instant::now();
    let output = Command::new(&command[0]).args(&command[1..]).arg(path).output().ok()?;
    let wall = started.elapsed().as_secs_f64();
    if !output.status.success() {
        return None;
    }
    let text = String::from_utf8_lossy(&output.stdout);
    let words: Vec<&str> = text.split_whitespace().collect();
    match words[..] {
        [seconds, kilobytes] if kilobytes.parse::<f64>().is_ok() => {
            let megabytes = kilobytes.parse::<f64>().ok()? * 1024.0 / MEGABYTE;
            Some((seconds.parse().ok()?, Some(megabytes)))
        }
        _ => Some((wall, None)),
    }
}

impl Figure {
    fn row(&self) -> String {
        let speed = self.megabytes / self.seconds;
        let peak = self.peak_megabytes.map_or("".into(), |peak| format!("{peak:.1}"));
        let share =
            self.peak_megabytes.map_or("".into(), |peak| format!("{:.2}", peak / self.megabytes));
        format!(
            "| {} | {} | {:.0} | {:.4} | {speed:.0} | {peak} | {share} |",
            self.reader,
            self.kind.name(),
            self.megabytes,
            self.seconds
        )
    }
}

/// Writes a capture of four channels as an oscilloscope exports it: even times, volts with four
/// decimals, and noise so that no two lines are alike. As many rows as the plain file of that size
/// has.
fn write_capture(path: &Path, bytes: u64, kind: Kind) -> Outcome<()> {
    let mut out = BufWriter::with_capacity(1 << 20, File::create(path)?);
    let mut written = 0;
    let mut noise = 0x2545_f491_4f6c_dd1d_u64;
    let header = "Time (s),crank (V),B1 intake (V),B2 intake (V),starter (A)\n";
    out.write_all(header.as_bytes())?;
    written += header.len() as u64;
    let mut line = String::new();
    for row in 0u64.. {
        if written >= bytes {
            break;
        }
        // xorshift64: the noise is the same in every run.
        noise ^= noise << 13;
        noise ^= noise >> 7;
        noise ^= noise << 17;
        let dirt = |shift: u32| ((noise >> shift) & 0xff) as f64 * 1e-4;
        let phase = row as f64 * 0.02;
        let crank = 2.5 * phase.sin() + dirt(0);
        let cam = |late: u64| if ((row + late) / 900).is_multiple_of(3) { 4.9 } else { 0.1 };
        let (first, second) = (cam(0) + dirt(8), cam(450) + dirt(16));
        let starter = 120.0 + 30.0 * (phase * 0.1).cos() + dirt(24);
        line.clear();
        let time = row as f64 * 5e-6;
        writeln!(line, "{time:.6},{crank:.4},{first:.4},{second:.4},{starter:.3}")?;
        written += line.len() as u64;
        if kind == Kind::Quoted {
            line = format!("\"{}\"\n", line.trim_end().replace(',', "\",\""));
        }
        out.write_all(line.as_bytes())?;
    }
    out.flush()?;
    Ok(())
}
