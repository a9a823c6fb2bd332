//! NumPy arrays (`.npy`, format 1 to 3, as NumPy's documentation of `numpy.lib.format` describes): a
//! row per sample and a column per channel, the first column a time if it grows strictly.

use super::columns::{Columns, refuse_nan, unnamed};
use crate::capture::Capture;
use crate::capture::csv::header::Role;
use crate::capture::error::{Class, Fault};
use crate::capture::options::ReadOptions;
use crate::capture::source::Source;

/// Power of ten far below any printed digit: binary times are not rounded to decimals.
pub(super) const NO_DECIMALS: i32 = -300;

/// What every array begins with.
pub(super) const MARK: &[u8] = b"\x93NUMPY";
const DIMENSIONS: &str = "it has not one or two dimensions";

/// Turns the bytes of one number into a double.
type Decode = fn(&[u8]) -> Option<f64>;

/// What the array's header says.
struct Layout {
    decode: Decode,
    size: usize,
    big: bool,
    column_major: bool,
    rows: usize,
    columns: usize,
    data: usize,
}

/// Reads an array of one or two dimensions.
pub(super) fn read(source: &Source, name: &str, options: &ReadOptions) -> Result<Capture, Fault> {
    let bytes = held(source, options)?;
    let mut columns = parse(&bytes, options)?.ok_or_else(|| unsupported(DIMENSIONS))?;
    drop(bytes);
    let width = columns.len();
    let times = is_time(width, &columns[0]).then(|| columns.remove(0));
    let first_is_time = times.is_some();
    let role = |at: usize| if at == 1 && first_is_time { Role::Time } else { Role::Channel };
    let header = (1..=width).map(|at| unnamed(at, role(at))).collect();
    let channels = singles(&columns);
    drop(columns);
    refuse_nan(&channels)?;
    Columns { header, times, channels, step: None, finest: NO_DECIMALS }.build(name, options)
}

/// The file whole, up to the limit on what is held in memory.
pub(super) fn held(source: &Source, options: &ReadOptions) -> Result<Vec<u8>, Fault> {
    let limit = options.limits.held_bytes;
    if source.length() > limit {
        return Err(Fault::new(
            Class::TooLarge,
            format!("the array has more than {limit} bytes"),
            "Save a shorter capture",
        ));
    }
    let mut bytes = Vec::new();
    source.read_at(0, usize::MAX, &mut bytes).map_err(|error| damaged(&error.to_string()))?;
    Ok(bytes)
}

/// The columns of an array of one or two dimensions, at least one, all of one length; `None` for a single number.
pub(super) fn parse(bytes: &[u8], options: &ReadOptions) -> Result<Option<Vec<Vec<f64>>>, Fault> {
    let Some(layout) = layout(bytes)? else { return Ok(None) };
    if layout.columns > options.limits.columns {
        return Err(too_wide(layout.columns, options));
    }
    let columns: Vec<Vec<f64>> = (0..layout.columns)
        .map(|column| layout.column(bytes, column))
        .collect::<Option<_>>()
        .ok_or_else(|| damaged("fewer numbers than its header says"))?;
    if columns.is_empty() { Err(damaged("it has no columns")) } else { Ok(Some(columns)) }
}

/// Whether the first of so many columns is a time: it grows strictly and others stand beside it.
pub(super) fn is_time(columns: usize, first: &[f64]) -> bool {
    columns > 1
        && first.windows(2).all(|pair| pair[0] < pair[1])
        && first.iter().all(|time| time.is_finite())
}

/// Channels in single precision, as captures keep them.
pub(super) fn singles(columns: &[Vec<f64>]) -> Vec<Vec<f32>> {
    columns.iter().map(|column| column.iter().map(|&value| value as f32).collect()).collect()
}

impl Layout {
    /// One column; `None` when the file ends before it.
    fn column(&self, bytes: &[u8], column: usize) -> Option<Vec<f64>> {
        let number = |row: usize| {
            let index = if self.column_major {
                column.checked_mul(self.rows)?.checked_add(row)?
            } else {
                row.checked_mul(self.columns)?.checked_add(column)?
            };
            let start = self.data.checked_add(index.checked_mul(self.size)?)?;
            let raw = bytes.get(start..start.checked_add(self.size)?)?;
            if self.big {
                let mut turned = raw.to_vec();
                turned.reverse();
                (self.decode)(&turned)
            } else {
                (self.decode)(raw)
            }
        };
        // The last number first: a header that claims too much must not cost memory.
        number(self.rows.checked_sub(1)?)?;
        (0..self.rows).map(number).collect()
    }
}

/// What the header says; `None` for an array without dimensions, which is a single number.
fn layout(bytes: &[u8]) -> Result<Option<Layout>, Fault> {
    if !bytes.starts_with(MARK) {
        return Err(damaged("it does not begin as one"));
    }
    let short = || damaged("it ends in its header");
    let wide = *bytes.get(6).ok_or_else(short)? > 1;
    let (length, start) = if wide {
        let raw = bytes.get(8..).and_then(|rest| rest.first_chunk::<4>()).ok_or_else(short)?;
        (u32::from_le_bytes(*raw) as usize, 12)
    } else {
        let raw = bytes.get(8..).and_then(|rest| rest.first_chunk::<2>()).ok_or_else(short)?;
        (usize::from(u16::from_le_bytes(*raw)), 10)
    };
    let data = start + length;
    let text = String::from_utf8_lossy(bytes.get(start..data).ok_or_else(short)?).into_owned();
    let after =
        |key: &str| text.split_once(key).map(|(_, rest)| rest.trim_start_matches([':', ' ']));
    let shape = after("'shape'").and_then(|rest| rest.strip_prefix('('));
    let shape = shape.and_then(|rest| rest.split(')').next()).unwrap_or("");
    let sides: Option<Vec<usize>> = shape
        .split(',')
        .map(str::trim)
        .filter(|side| !side.is_empty())
        .map(|side| side.parse().ok())
        .collect();
    let (rows, columns) = match sides.as_deref() {
        Some([]) => return Ok(None),
        Some([rows]) => (*rows, 1),
        Some([rows, columns]) => (*rows, *columns),
        _ => return Err(unsupported(DIMENSIONS)),
    };
    let kind = after("'descr'").and_then(|rest| rest.strip_prefix('\''));
    let kind = kind.and_then(|rest| rest.split('\'').next()).unwrap_or("");
    let (decode, size) = decoder(kind.trim_start_matches(['<', '>', '|', '=']))
        .ok_or_else(|| unsupported(&format!("its numbers are of the kind {kind:?}")))?;
    let column_major = after("'fortran_order'").is_some_and(|rest| rest.starts_with("True"));
    let big = kind.starts_with('>');
    Ok(Some(Layout { decode, size, big, column_major, rows, columns, data }))
}

fn decoder(kind: &str) -> Option<(Decode, usize)> {
    /// Decodes little-endian bytes through one of Rust's own types.
    macro_rules! through {
        ($type:ty) => {
            (|raw| Some(<$type>::from_le_bytes(raw.try_into().ok()?) as f64), size_of::<$type>())
        };
    }
    let known: (Decode, usize) = match kind {
        "f8" => through!(f64),
        "f4" => through!(f32),
        "i1" => through!(i8),
        "i2" => through!(i16),
        "i4" => through!(i32),
        "i8" => through!(i64),
        "u1" | "b1" => through!(u8),
        "u2" => through!(u16),
        "u4" => through!(u32),
        "u8" => through!(u64),
        _ => return None,
    };
    Some(known)
}

fn damaged(how: &str) -> Fault {
    Fault::malformed(format!("the NumPy array is damaged: {how}"), "Save it again")
}

/// The message for more columns than the limit.
pub(super) fn too_wide(columns: usize, options: &ReadOptions) -> Fault {
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
