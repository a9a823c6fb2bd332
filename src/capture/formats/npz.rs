//! NumPy archives (`.npz`): a column per array, or an array of several columns. The time is the column named so
//! (`time`, `t`, `time (ms)`), else the first one if it grows strictly, as in a single array.

use super::{Format, Way, npy, zip};
use crate::capture::error::{Class, Fault, shown};
use crate::capture::options::ReadOptions;
use crate::capture::source::Source;
use crate::capture::table::column::{Column, Role};
use crate::capture::table::units::{Measure, split_name};
use crate::capture::table::whole::{Whole, refuse_nan};

/// ZIP archive of NumPy arrays.
pub(super) const FORMAT: Format = Format { begins: zip::begins_like_one, read: Way::Whole(read) };

/// Reads every array of one or two dimensions; single numbers beside them are left alone.
fn read(source: &Source, options: &ReadOptions) -> Result<Whole, Fault> {
    let bytes = npy::held(source, options)?;
    let mut left = options.limits.held_bytes;
    let mut columns: Vec<(Column, Vec<f64>)> = Vec::new();
    for member in zip::members(&bytes)? {
        let Some(key) = member.name.strip_suffix(".npy") else {
            return Err(not_an_array(&member.name));
        };
        let unpacked = member.unpack(left)?;
        left -= unpacked.len() as u64;
        let array = npy::parse(&unpacked, options).map_err(|mut fault| {
            fault.what = format!("{}: {}", shown(key.as_bytes()), fault.what);
            fault
        })?;
        if let Some(array) = array {
            columns.extend(named(key, array));
        }
        if columns.len() > options.limits.columns {
            return Err(npy::too_wide(columns.len(), options));
        }
    }
    build(columns, options)
}

/// An array's columns with their names; one of several columns has its number behind its name.
fn named(key: &str, columns: Vec<Vec<f64>>) -> Vec<(Column, Vec<f64>)> {
    let (name, unit) = split_name(key);
    let several = columns.len() > 1;
    let numbered = |at: usize| if several { format!("{name} {at}") } else { name.clone() };
    let column = |at: usize| Column { name: numbered(at), unit, role: Role::Channel };
    columns.into_iter().enumerate().map(|(at, values)| (column(at + 1), values)).collect()
}

fn build(mut columns: Vec<(Column, Vec<f64>)>, options: &ReadOptions) -> Result<Whole, Fault> {
    let Some(rows) = columns.first().map(|(_, values)| values.len()) else {
        return Err(npy::unsupported("it holds no array of one or two dimensions"));
    };
    if let Some((other, values)) = columns.iter().find(|(_, values)| values.len() != rows) {
        let (first, there) = (shown(columns[0].0.name.as_bytes()), values.len());
        let other = shown(other.name.as_bytes());
        return Err(Fault::malformed(
            format!("{first} has {rows} rows and {other} has {there}"),
            "Save arrays of one length",
        ));
    }
    for (position, (column, _)) in columns.iter_mut().enumerate() {
        // The key NumPy gives an array that was saved without one.
        if column.name.starts_with("arr_") {
            *column = Column::unnamed(position + 1, Role::Channel);
        }
    }
    if let Some(time) = time(&columns)? {
        // A reader expects the time first.
        columns[..=time].rotate_right(1);
        let (column, values) = &mut columns[0];
        column.role = Role::Time;
        if let Some(unit) = options.time_unit {
            column.unit = Some((Measure::Time, unit.power()));
        }
        shift(values, column.shift());
    }
    let timed = columns[0].0.role == Role::Time;
    let (columns, mut values): (Vec<Column>, Vec<Vec<f64>>) = columns.into_iter().unzip();
    let times = timed.then(|| values.remove(0));
    let signals = columns.iter().filter(|column| column.role == Role::Channel);
    for (column, values) in signals.zip(&mut values) {
        shift(values, column.shift());
    }
    // One by one, so that no more than one column is there twice.
    let channels: Vec<Vec<f32>> = values.into_iter().map(|column| npy::single(&column)).collect();
    refuse_nan(&channels)?;
    let finest = npy::NO_DECIMALS;
    Ok(Whole { columns, times, channels, step: None, finest, kind: None })
}

/// Which column is the time.
fn time(columns: &[(Column, Vec<f64>)]) -> Result<Option<usize>, Fault> {
    let named: Vec<usize> =
        (0..columns.len()).filter(|&at| columns[at].0.is_named_time()).collect();
    let quoted = |at: usize| shown(columns[at].0.name.as_bytes());
    match named[..] {
        [] => Ok(npy::is_time(columns.len(), &columns[0].1).then_some(0)),
        [only] => Ok(Some(only)),
        [first, second, ..] => Err(Fault::new(
            Class::Unsupported,
            format!("{} and {} are both times", quoted(first), quoted(second)),
            "Save the capture with one array of times for all channels",
        )),
    }
}

/// Takes a unit's prefix off; dividing by a power of ten is exact to the last digit, multiplying by its inverse is not.
fn shift(values: &mut [f64], power: i32) {
    let factor = 10f64.powi(power.abs());
    match power {
        0 => {}
        1.. => values.iter_mut().for_each(|value| *value *= factor),
        _ => values.iter_mut().for_each(|value| *value /= factor),
    }
}

fn not_an_array(member: &str) -> Fault {
    Fault::new(
        Class::Unsupported,
        format!(
            "this is a zip archive or a spreadsheet: it holds {}, which is no NumPy array",
            shown(member.as_bytes())
        ),
        "Save a spreadsheet as CSV; unpack an archive and name the capture in it",
    )
}
