//! Value change dumps (IEEE 1364): the wires of one bit, as a list of changes.

use std::collections::HashMap;
use std::io;

use vcd::{Command, IdCode, Parser, Value};

use super::{Format, Forward, Inside, check_values, never_says};
use crate::capture::csv::encoding::{self, Encoding, UTF8_MARK};
use crate::capture::error::{Fault, shown};
use crate::capture::failure::Failure;
use crate::capture::options::ReadOptions;
use crate::capture::recorded::in_text;
use crate::capture::source::Source;
use crate::capture::table::column::{Column, ColumnRole};
use crate::capture::table::units::Measure;
use crate::capture::table::whole::Whole;
use crate::capture::{CaptureKind, Remark};
use crate::error::harmless;

/// Value change dump, IEEE 1364.
pub(super) const FORMAT: Format = Format { begins, read, recorded: |_, head| in_text(head) };
/// The same in UTF-16, as some command lines write what a program prints.
pub(super) const WIDE: Format = Format { begins: is_wide, read: narrowed, recorded: never_says };

/// Declaration words a dump may begin with.
const FIRST_WORDS: [&[u8]; 6] =
    [b"$date", b"$version", b"$comment", b"$timescale", b"$scope", b"$var"];
/// In UTF-16 one is looked for within so many bytes.
const FIRST_BYTES: usize = 256;
/// As much of the end is looked at for a last line to quote.
const LAST_BYTES: u64 = 128;

fn begins(head: &[u8]) -> bool {
    let text = head[mark(head)..].trim_ascii_start();
    FIRST_WORDS.iter().any(|word| text.starts_with(word))
}

/// Bytes of the byte order mark of UTF-8 that a file begins with.
fn mark(head: &[u8]) -> usize {
    encoding::detect(&head[..head.len().min(UTF8_MARK)]).map_or(0, Encoding::utf8_mark)
}

fn is_wide(head: &[u8]) -> bool {
    let head = &head[..head.len().min(FIRST_BYTES)];
    let Ok(encoding @ (Encoding::Utf16Le | Encoding::Utf16Be)) = encoding::detect(head) else {
        return false;
    };
    encoding::from_utf16(head, encoding).is_ok_and(|text| begins(&text))
}

/// Makes UTF-8 of a dump in UTF-16.
fn narrowed(source: &Source, options: &ReadOptions) -> Result<Inside, Fault> {
    let mut head = Vec::new();
    source.read_at(0, FIRST_BYTES, &mut head).map_err(|error| damaged(&error))?;
    let encoding = encoding::detect(&head)?;
    match encoding::narrowed(source, encoding, &options.limits) {
        Ok(text) => Ok(Inside::Packed(text)),
        Err(Failure::Fault(fault)) => Err(fault),
        Err(Failure::Read(error)) => Err(damaged(&error)),
    }
}

/// The dump so far: a level per wire, and the rows.
struct Dump {
    wires: HashMap<IdCode, usize>,
    levels: Vec<Option<f32>>,
    /// Seconds per tick as ticks · multiple / divisor, both exact.
    scale: Option<(f64, f64)>,
    tick: u64,
    changed: bool,
    times: Vec<f64>,
    channels: Vec<Vec<f32>>,
}

/// Reads the wires of one bit. Rows begin where every wire has a level.
fn read(source: &Source, options: &ReadOptions) -> Result<Inside, Fault> {
    let mut names = Vec::new();
    let mut dump = Dump {
        wires: HashMap::new(),
        levels: Vec::new(),
        scale: None,
        tick: 0,
        changed: false,
        times: Vec::new(),
        channels: Vec::new(),
    };
    let mut head = Vec::new();
    source.read_at(0, UTF8_MARK, &mut head).map_err(|error| damaged(&error))?;
    let begin = mark(&head) as u64;
    let mut parser = Parser::new(Forward::part(source, begin, source.length() - begin));
    let mut remarks = Vec::new();
    while let Some(command) = parser.next() {
        let line = usize::try_from(parser.line()).unwrap_or(usize::MAX);
        let command = match command {
            Ok(command) => command,
            // A last line without its end may lack more than that, as a row cut short may.
            Err(error) if is_cut(&error) && dump.times.len() > 1 => {
                let found = last_line(source).map_err(|error| damaged(&error))?;
                remarks.push(Remark::Tail { line, lines: 1, found });
                break;
            }
            Err(error) => return Err(damaged(&error)),
        };
        match command {
            Command::Timescale(multiple, unit) => {
                dump.scale = Some((f64::from(multiple), unit.divisor() as f64));
            }
            Command::VarDef(_, 1, code, wire, _) if names.len() < options.limits.columns => {
                dump.wires.insert(code, names.len());
                names.push(harmless(&wire, &[]).into_owned());
                dump.levels.push(None);
                dump.channels.push(Vec::new());
            }
            Command::Timestamp(tick) => {
                dump.go_to(tick).map_err(|fault| fault.at_line(line))?;
                // A row of every wire stands for one change, so a short file can make a large
                // table.
                check_values((dump.times.len() * names.len()) as u64, &options.limits)?;
            }
            Command::ChangeScalar(code, value) => {
                dump.set(code, value).map_err(|fault| fault.at_line(line))?;
            }
            _ => {}
        }
    }
    dump.changed = true;
    dump.end_row();
    if names.is_empty() {
        return Err(Fault::malformed(
            "the value change dump has no wire of one bit",
            "Export the sensor lines as single wires",
        ));
    }
    let unit = Some((Measure::Time, 0));
    let mut columns = vec![Column { name: "time".into(), unit, role: ColumnRole::Time }];
    columns.extend(names.into_iter().map(|name| Column {
        name,
        unit: None,
        role: ColumnRole::Channel,
    }));
    let (times, channels) = (Some(dump.times), dump.channels);
    // A dump is changes by definition; ticks are exact, so no rounding is allowed for.
    let kind = Some(CaptureKind::Events);
    let finest = i32::MIN;
    Ok(Inside::Columns(Whole {
        columns,
        times,
        channels,
        finest,
        kind,
        remarks,
        ..Whole::default()
    }))
}

fn is_cut(error: &io::Error) -> bool {
    error.kind() == io::ErrorKind::UnexpectedEof
}

fn damaged(error: &io::Error) -> Fault {
    Fault::malformed(
        format!("the value change dump is damaged ({error})"),
        "Export the capture again",
    )
}

/// The last line of a file, quoted.
fn last_line(source: &Source) -> io::Result<String> {
    let mut end = Vec::new();
    source.read_at(source.length().saturating_sub(LAST_BYTES), LAST_BYTES as usize, &mut end)?;
    let end = end.trim_ascii_end();
    Ok(shown(end.rsplit(|&byte| byte == b'\n').next().unwrap_or_default()))
}

impl Dump {
    fn go_to(&mut self, tick: u64) -> Result<(), Fault> {
        if self.scale.is_none() {
            return Err(Fault::malformed(
                "the value change dump has no `$timescale`",
                "Export the capture again",
            ));
        }
        if tick < self.tick {
            return Err(Fault::malformed(
                format!("the time goes backwards: #{tick} after #{}", self.tick),
                "Export the capture again",
            ));
        }
        if tick > self.tick {
            self.end_row();
            self.tick = tick;
        }
        Ok(())
    }

    fn set(&mut self, code: IdCode, value: Value) -> Result<(), Fault> {
        let Some(&wire) = self.wires.get(&code) else { return Ok(()) };
        let level = match value {
            Value::V0 => Some(0.0),
            Value::V1 => Some(1.0),
            Value::X | Value::Z => None,
        };
        // Wires begin unknown; one that becomes unknown was not measured.
        if level.is_none() && !self.times.is_empty() {
            return Err(Fault::malformed(
                format!("wire {} becomes unknown (x or z)", wire + 1),
                "Export the stretch in which every wire has a level",
            ));
        }
        self.changed |= self.levels[wire] != level;
        self.levels[wire] = level;
        Ok(())
    }

    /// Writes the levels at the present tick, if they changed and all are known.
    fn end_row(&mut self) {
        let known: Option<Vec<f32>> = self.levels.iter().copied().collect();
        let (Some(levels), Some((multiple, divisor))) = (known, self.scale) else { return };
        if !self.changed || levels.is_empty() {
            return;
        }
        self.changed = false;
        self.times.push(self.tick as f64 * multiple / divisor);
        self.channels.iter_mut().zip(levels).for_each(|(channel, level)| channel.push(level));
    }
}
