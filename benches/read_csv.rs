//! How fast a deep sampled capture is read, and in how much memory.
//!
//! ```text
//! cargo bench --bench read_csv                       # 1, 10 and 100 MB
//! cargo bench --bench read_csv -- 1000               # sizes in MB
//! cargo bench --bench read_csv -- --table FILE 100   # and a Markdown table
//! cargo bench --bench read_csv -- plain quoted 100   # of these kinds of file alone
//!
//! Kinds: `plain`; `quoted`, the same rows with every cell in quotation marks; `events`, a row where a level changes;
//! `wav`, the same channels in 16 bits; `npy`, times and channels as doubles. Sizes are of the plain file: `quoted`,
//! `wav` and `npy` hold the same rows. Beside text alone stand the other readers.
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
    Events,
    Wav,
    Npy,
}

impl Kind {
    const ALL: [Kind; 5] = [Kind::Plain, Kind::Quoted, Kind::Events, Kind::Wav, Kind::Npy];

    fn name(self) -> &'static str {
        match self {
            Kind::Plain => "plain",
            Kind::Quoted => "quoted",
            Kind::Events => "events",
            Kind::Wav => "wav",
            Kind::Npy => "npy",
        }
    }

    fn ending(self) -> &'static str {
        match self {
            Kind::Plain | Kind::Quoted | Kind::Events => "csv",
            Kind::Wav => "wav",
            Kind::Npy => "npy",
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
            let path =
                folder.path().join(format!("capture-{size}-mb-{}.{}", kind.name(), kind.ending()));
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
    let text_only = kind.ending() == "csv";
    for (reader, command) in readers.into_iter().take(if text_only { 4 } else { 1 }) {
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
/// has; a list of changes as many bytes.
fn write_capture(path: &Path, bytes: u64, kind: Kind) -> Outcome<()> {
    let mut out = BufWriter::with_capacity(1 << 20, File::create(path)?);
    let header = "Time (s),crank (V),B1 intake (V),B2 intake (V),starter (A)\n";
    if kind == Kind::Events {
        return write_events(&mut out, bytes);
    }
    let rows = rows(bytes - header.len() as u64);
    match kind {
        Kind::Wav => out.write_all(&wav_header(rows))?,
        Kind::Npy => out.write_all(&npy_header(rows))?,
        _ => out.write_all(header.as_bytes())?,
    }
    let mut line = String::new();
    let mut noise = NOISE;
    for row in 0..rows {
        let (time, values) = sample(row, &mut noise);
        match kind {
            Kind::Wav => {
                for value in values {
                    out.write_all(&((value * 200.0) as i16).to_le_bytes())?;
                }
            }
            Kind::Npy => {
                out.write_all(&time.to_le_bytes())?;
                for value in values {
                    out.write_all(&value.to_le_bytes())?;
                }
            }
            _ => {
                line.clear();
                text_row(&mut line, time, values)?;
                if kind == Kind::Quoted {
                    line = format!("\"{}\"\n", line.trim_end().replace(',', "\",\""));
                }
                out.write_all(line.as_bytes())?;
            }
        }
    }
    out.flush()?;
    Ok(())
}

/// Where the noise begins: it is the same in every run.
const NOISE: u64 = 0x2545_f491_4f6c_dd1d;

/// Rows of a text of so many bytes.
fn rows(bytes: u64) -> u64 {
    let (mut written, mut noise, mut line) = (0, NOISE, String::new());
    for row in 0.. {
        if written >= bytes {
            return row;
        }
        line.clear();
        let (time, values) = sample(row, &mut noise);
        if text_row(&mut line, time, values).is_err() {
            return row;
        }
        written += line.len() as u64;
    }
    0
}

fn text_row(line: &mut String, time: f64, values: [f64; 4]) -> std::fmt::Result {
    let [crank, first, second, starter] = values;
    writeln!(line, "{time:.6},{crank:.4},{first:.4},{second:.4},{starter:.3}")
}

/// Time and values of a row.
fn sample(row: u64, noise: &mut u64) -> (f64, [f64; 4]) {
    // xorshift64.
    *noise ^= *noise << 13;
    *noise ^= *noise >> 7;
    *noise ^= *noise << 17;
    let dirt = |shift: u32| ((*noise >> shift) & 0xff) as f64 * 1e-4;
    let phase = row as f64 * 0.02;
    let crank = 2.5 * phase.sin() + dirt(0);
    let cam = |late: u64| if ((row + late) / 900).is_multiple_of(3) { 4.9 } else { 0.1 };
    let (first, second) = (cam(0) + dirt(8), cam(450) + dirt(16));
    let starter = 120.0 + 30.0 * (phase * 0.1).cos() + dirt(24);
    (row as f64 * 5e-6, [crank, first, second, starter])
}

/// Levels of four wires, a row for every change.
fn write_events(out: &mut impl Write, bytes: u64) -> Outcome<()> {
    let header = "Time (s),crank,B1 intake,B2 intake,ignition\n";
    out.write_all(header.as_bytes())?;
    let (mut written, mut noise, mut time) = (header.len() as u64, NOISE, 0_u64);
    let mut levels = [0_u8; 4];
    for row in 0_u64.. {
        if written >= bytes {
            break;
        }
        noise ^= noise << 13;
        noise ^= noise >> 7;
        noise ^= noise << 17;
        time += 400 + (noise & 0x1ff);
        levels[if row.is_multiple_of(9) { 1 + (row / 9 % 3) as usize } else { 0 }] ^= 1;
        let [crank, first, second, ignition] = levels;
        let line = format!("{:.6},{crank},{first},{second},{ignition}\n", time as f64 * 1e-6);
        written += line.len() as u64;
        out.write_all(line.as_bytes())?;
    }
    out.flush()?;
    Ok(())
}

/// Four channels of 16 bits at 200,000 per second.
fn wav_header(rows: u64) -> Vec<u8> {
    let data = (rows * 8) as u32;
    let mut head = Vec::new();
    head.extend(b"RIFF");
    head.extend((36 + data).to_le_bytes());
    head.extend(b"WAVEfmt ");
    head.extend(16_u32.to_le_bytes());
    head.extend(1_u16.to_le_bytes());
    head.extend(4_u16.to_le_bytes());
    head.extend(200_000_u32.to_le_bytes());
    head.extend(1_600_000_u32.to_le_bytes());
    head.extend(8_u16.to_le_bytes());
    head.extend(16_u16.to_le_bytes());
    head.extend(b"data");
    head.extend(data.to_le_bytes());
    head
}

/// Rows of five doubles.
fn npy_header(rows: u64) -> Vec<u8> {
    let text = format!("{{'descr': '<f8', 'fortran_order': False, 'shape': ({rows}, 5), }}");
    let text = format!("{text:<117}\n");
    let mut head = b"\x93NUMPY\x01\x00".to_vec();
    head.extend((text.len() as u16).to_le_bytes());
    head.extend(text.into_bytes());
    head
}
