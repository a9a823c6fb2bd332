//! Numbers of one or several arrays, gathered into the columns of a capture.

use std::io::Read;

use super::super::check_values;
use super::{Field, Layout, NO_DECIMALS, cut_short, damaged, no_memory, too_wide, unsupported};
use crate::capture::error::{Class, Fault, shown};
use crate::capture::options::ReadOptions;
use crate::capture::table::column::{Column, ColumnRole};
use crate::capture::table::units::{Measure, split_name};
use crate::capture::table::whole::{Whole, refuse_nan};

/// Bytes read at a time: a piece stays in a core's cache.
const PIECE_BYTES: usize = 1 << 18;

/// Columns so far, all of one length.
#[derive(Default)]
pub(in super::super) struct Gathered {
    columns: Vec<(Column, Values)>,
    /// Numbers in all columns.
    values: u64,
}

/// Numbers of a column: those that may be times need every digit.
enum Values {
    Double(Vec<f64>),
    Single(Vec<f32>),
    /// Text, of which nothing is kept.
    None,
}

impl Values {
    fn with_room(double: bool, rows: usize) -> Result<Values, Fault> {
        fn room<T>(rows: usize) -> Result<Vec<T>, Fault> {
            let mut column = Vec::new();
            column.try_reserve_exact(rows).map_err(|_| no_memory())?;
            Ok(column)
        }
        if double { room(rows).map(Values::Double) } else { room(rows).map(Values::Single) }
    }

    fn push(&mut self, value: f64) {
        match self {
            Values::Double(column) => column.push(value),
            Values::Single(column) => column.push(value as f32),
            Values::None => {}
        }
    }

    fn len(&self) -> Option<usize> {
        match self {
            Values::Double(column) => Some(column.len()),
            Values::Single(column) => Some(column.len()),
            Values::None => None,
        }
    }

    /// As captures keep channels.
    fn single(self) -> Vec<f32> {
        match self {
            Values::Double(column) => column.into_iter().map(|value| value as f32).collect(),
            Values::Single(column) => column,
            Values::None => Vec::new(),
        }
    }
}

impl Gathered {
    /// Takes an array of `length` bytes; false for a single number, of which nothing is read but
    /// the header.
    pub fn take(
        &mut self,
        key: &str,
        mut bytes: impl Read,
        length: u64,
        options: &ReadOptions,
    ) -> Result<bool, Fault> {
        let read = Layout::read(&mut bytes, options)?;
        let Some((layout, header)) = read else { return Ok(false) };
        let total = (layout.rows as u64).checked_mul(layout.record as u64);
        let there = total.and_then(|total| total.checked_add(header));
        if layout.rows == 0 || there.is_none_or(|there| there > length) {
            return Err(cut_short());
        }
        let width = layout.fields.len() + self.columns.len();
        if width > options.limits.columns {
            return Err(too_wide(width, options));
        }
        self.values += layout.rows as u64 * layout.fields.len() as u64;
        check_values(self.values, &options.limits)?;
        let first = self.columns.len();
        for at in 0..layout.fields.len() {
            let column = layout.column(key, at, first + at);
            let asked = is_asked(&column, first + at, options);
            let double = first + at == 0 || column.is_named_time() || asked;
            let values = match layout.fields[at].decode {
                Some(_) => Values::with_room(double, layout.rows)?,
                None => Values::None,
            };
            self.columns.push((column, values));
        }
        layout.numbers(&mut bytes, &mut self.columns[first..])?;
        Ok(true)
    }
}

impl Layout {
    /// The column of a field: under its own name, else under the array's, with a number if there
    /// are several; else by its place in the file.
    fn column(&self, key: &str, at: usize, place: usize) -> Column {
        let mut column = Column::unnamed(place + 1, ColumnRole::Channel);
        let field = &self.fields[at];
        if field.decode.is_none() {
            column.role = ColumnRole::Words;
        }
        // `arr_0` is the key NumPy gives an array that was saved without one.
        let named = !key.is_empty() && !key.starts_with("arr_");
        let (name, unit) = match &field.name {
            Some(name) => split_name(name),
            None if named => split_name(key),
            None => return column,
        };
        column.unit = unit;
        column.name = match field.name {
            None if self.fields.len() > 1 => format!("{name} {}", at + 1),
            _ => name,
        };
        column
    }

    /// Reads every number into its column.
    fn numbers(
        &self,
        bytes: &mut impl Read,
        columns: &mut [(Column, Values)],
    ) -> Result<(), Fault> {
        if !self.column_major {
            return records(bytes, self.rows, self.record, &self.fields, columns);
        }
        // Column by column: each is an array of records of one field.
        for (field, column) in self.fields.iter().zip(columns) {
            let alone = [Field { offset: 0, ..field.clone() }];
            records(bytes, self.rows, field.size, &alone, std::slice::from_mut(column))?;
        }
        Ok(())
    }
}

fn records(
    bytes: &mut impl Read,
    rows: usize,
    record: usize,
    fields: &[Field],
    columns: &mut [(Column, Values)],
) -> Result<(), Fault> {
    let piece_rows = (PIECE_BYTES / record.max(1)).max(1);
    let mut piece = vec![0; piece_rows.min(rows) * record];
    let mut left = rows;
    while left > 0 {
        let rows = left.min(piece_rows);
        let piece = &mut piece[..rows * record];
        bytes.read_exact(piece).map_err(|error| damaged(&error.to_string()))?;
        for (field, (_, column)) in fields.iter().zip(&mut *columns) {
            let Some(decode) = field.decode else { continue };
            for record in piece.chunks_exact_mut(record) {
                let raw = record.get_mut(field.offset..field.offset + field.size);
                let raw = raw.ok_or_else(cut_short)?;
                if field.big {
                    raw.reverse();
                }
                column.push(decode(raw).ok_or_else(cut_short)?);
            }
        }
        left -= rows;
    }
    Ok(())
}

/// Puts the columns together: the time is the one called so, else the first one if it grows
/// strictly.
pub(in super::super) fn build(gathered: Gathered, options: &ReadOptions) -> Result<Whole, Fault> {
    let mut columns = gathered.columns;
    let lengths = columns.iter().filter_map(|(column, values)| Some((column, values.len()?)));
    let lengths: Vec<(&Column, usize)> = lengths.collect();
    let Some(&(first, rows)) = lengths.first() else {
        return Err(unsupported("it holds no array of one or two dimensions"));
    };
    if let Some((other, there)) = lengths.iter().find(|(_, length)| *length != rows) {
        let (first, other) = (shown(first.name.as_bytes()), shown(other.name.as_bytes()));
        return Err(Fault::malformed(
            format!("{first} has {rows} rows and {other} has {there}"),
            "Save arrays of one length",
        ));
    }
    let time = time(&columns, options)?;
    if let Some(time) = time {
        let column = &mut columns[time].0;
        column.role = ColumnRole::Time;
        if let Some(unit) = options.time_unit {
            column.unit = Some((Measure::Time, unit.power()));
        }
    }
    let (mut times, mut channels, mut header) = (None, Vec::new(), Vec::new());
    for (column, mut values) in columns {
        values.shift(column.shift());
        match (column.role, values) {
            (ColumnRole::Time, Values::Double(values)) => times = Some(values),
            (ColumnRole::Channel, values) => channels.push(values.single()),
            _ => {}
        }
        header.push(column);
    }
    refuse_nan(&channels)?;
    let finest = NO_DECIMALS;
    Ok(Whole { columns: header, times, channels, finest, ..Whole::default() })
}

/// Which column is the time.
fn time(columns: &[(Column, Values)], options: &ReadOptions) -> Result<Option<usize>, Fault> {
    if let Some(wanted) = &options.time {
        let asked = (0..columns.len()).find(|&at| is_asked(&columns[at].0, at, options));
        return match asked.filter(|&at| matches!(columns[at].1, Values::Double(_))) {
            Some(at) => Ok(Some(at)),
            None => Err(Fault::malformed(
                format!("no column of numbers is called or numbered {}", shown(wanted.as_bytes())),
                "Take the times from another one, or leave them to be found",
            )),
        };
    }
    let named =
        |&at: &usize| columns[at].0.is_named_time() && matches!(columns[at].1, Values::Double(_));
    let named: Vec<usize> = (0..columns.len()).filter(named).collect();
    let quoted = |at: usize| shown(columns[at].0.name.as_bytes());
    match named[..] {
        [] => Ok(match &columns[0].1 {
            Values::Double(first) if columns.len() > 1 && grows(first) => Some(0),
            _ => None,
        }),
        [only] => Ok(Some(only)),
        [first, second, ..] => Err(Fault::new(
            Class::Unsupported,
            format!("{} and {} are both times", quoted(first), quoted(second)),
            "Save the capture with one array of times for all channels",
        )),
    }
}

/// Whether the user names a column, counted from 0, for the time.
fn is_asked(column: &Column, at: usize, options: &ReadOptions) -> bool {
    options.time.as_ref().is_some_and(|wanted| {
        let wanted = wanted.trim();
        column.name.eq_ignore_ascii_case(wanted) || wanted.parse() == Ok(at + 1)
    })
}

/// Whether numbers grow strictly, as times do.
fn grows(numbers: &[f64]) -> bool {
    numbers.windows(2).all(|pair| pair[0] < pair[1]) && numbers.iter().all(|one| one.is_finite())
}

impl Values {
    /// Takes a unit's prefix off; dividing by a power of ten is exact to the last digit,
    /// multiplying by its inverse is not.
    fn shift(&mut self, power: i32) {
        let factor = 10f64.powi(power.abs());
        let scaled = |value: f64| if power < 0 { value / factor } else { value * factor };
        match self {
            _ if power == 0 => {}
            Values::Double(column) => column.iter_mut().for_each(|value| *value = scaled(*value)),
            Values::Single(column) => {
                column.iter_mut().for_each(|value| *value = scaled(f64::from(*value)) as f32);
            }
            Values::None => {}
        }
    }
}
