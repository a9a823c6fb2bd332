//! Value change dumps (IEEE 1364): the wires of one bit, as a list of changes.

use std::collections::HashMap;

use vcd::{Command, IdCode, Parser, Value};

use super::{Format, Forward, Inside, check_values};
use crate::capture::CaptureKind;
use crate::capture::error::Fault;
use crate::capture::options::ReadOptions;
use crate::capture::recorded::in_text;
use crate::capture::source::Source;
use crate::capture::table::column::{Column, ColumnRole};
use crate::capture::table::units::Measure;
use crate::capture::table::whole::Whole;
use crate::error::harmless;

/// Value change dump, IEEE 1364.
pub(super) const FORMAT: Format = Format { begins, read, recorded: |_, head| in_text(head) };

/// Declaration words a dump may begin with.
const FIRST_WORDS: [&[u8]; 6] =
    [b"$date", b"$version", b"$comment", b"$timescale", b"$scope", b"$var"];

fn begins(head: &[u8]) -> bool {
    let text = head.trim_ascii_start();
    FIRST_WORDS.iter().any(|word| text.starts_with(word))
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
    let mut parser = Parser::new(Forward::new(source));
    while let Some(command) = parser.next() {
        let line = usize::try_from(parser.line()).unwrap_or(usize::MAX);
        let command = command.map_err(|error| {
            Fault::malformed(
                format!("the value change dump is damaged ({error})"),
                "Export the capture again",
            )
        })?;
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
    Ok(Inside::Columns(Whole { columns, times, channels, step: None, finest, kind }))
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
