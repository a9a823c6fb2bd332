//! NumPy arrays (`.npy`, format 1 to 3, as NumPy's documentation of `numpy.lib.format` describes):
//! a row per sample and a column per channel, or a record per sample and a field per channel. The
//! first column is a time if it grows strictly; a field may be called one.

use super::{Format, Forward, Inside, never_says};
use crate::capture::error::{Class, Fault};
use crate::capture::options::ReadOptions;
use crate::capture::source::Source;
use crate::capture::table::room::no_memory;

mod header;
mod numbers;

pub(super) use numbers::{Gathered, build};

/// A single array.
pub(super) const FORMAT: Format =
    Format { begins: |head| head.starts_with(MARK), read, recorded: never_says };

/// Power of ten far below any printed digit: binary times are not rounded to decimals.
pub(super) const NO_DECIMALS: i32 = -300;

/// What every array begins with.
const MARK: &[u8] = b"\x93NUMPY";

/// Turns the bytes of one number, low one first, into a double.
type Decode = fn(&[u8]) -> Option<f64>;

/// A column of the array: a field of its records, or one of its columns.
#[derive(Clone)]
struct Field {
    /// The name, where it has one of its own.
    name: Option<String>,
    /// Where it stands in a record.
    offset: usize,
    size: usize,
    /// High byte first.
    big: bool,
    /// `None` for a field of text.
    decode: Option<Decode>,
}

/// What the array's header says.
struct Layout {
    fields: Vec<Field>,
    /// Bytes of a row.
    record: usize,
    rows: usize,
    column_major: bool,
}

/// Reads an array of one or two dimensions. The file is read piece by piece: what is held is the
/// capture itself, and the times, or what may be the times, in double precision.
fn read(source: &Source, options: &ReadOptions) -> Result<Inside, Fault> {
    let mut gathered = Gathered::default();
    if !gathered.take("", Forward::new(source), source.length(), options)? {
        return Err(unsupported("it has not one or two dimensions"));
    }
    build(gathered, options).map(Inside::Columns)
}

fn cut_short() -> Fault {
    damaged("fewer numbers than its header says")
}

fn damaged(how: &str) -> Fault {
    Fault::malformed(format!("the NumPy array is damaged: {how}"), "Save it again")
}

/// The message for more columns than the limit.
fn too_wide(columns: usize, options: &ReadOptions) -> Fault {
    Fault::new(
        Class::TooLarge,
        format!("the array has {columns} columns, more than {}", options.limits.columns),
        "Save a row per sample and a column per channel",
    )
}

/// The message for arrays of a kind that carries no capture.
pub(super) fn unsupported(how: &str) -> Fault {
    Fault::new(
        Class::Unsupported,
        format!("this NumPy array is not read: {how}"),
        "Save a plain array of numbers with a row per sample and a column per channel",
    )
}
