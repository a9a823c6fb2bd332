//! NumPy arrays (`.npy`, format 1 to 3, as NumPy's documentation of `numpy.lib.format` describes): a
//! row per sample and a column per channel, the first column a time if it grows strictly.

use super::{Format, Way};
use crate::capture::error::{Class, Fault};
use crate::capture::options::ReadOptions;
use crate::capture::source::Source;
use crate::capture::table::column::{Column, Role};
use crate::capture::table::rows::no_memory;
use crate::capture::table::whole::{Whole, refuse_nan};
use crate::watch::Watch;

/// Power of ten far below any printed digit: binary times are not rounded to decimals.
pub(super) const NO_DECIMALS: i32 = -300;

/// A single array.
pub(super) const FORMAT: Format =
    Format { begins: |head| head.starts_with(MARK), read: Way::Whole(read) };

/// What every array begins with.
const MARK: &[u8] = b"\x93NUMPY";
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

/// Reads an array of one or two dimensions. The file is read piece by piece: what is held is the capture itself, and
/// the first column once more in double precision.
fn read(source: &Source, options: &ReadOptions) -> Result<Whole, Fault> {
    check_size(source, options)?;
    let layout = layout(source)?.ok_or_else(|| unsupported(DIMENSIONS))?;
    let width = layout.width(options)?;
    // Only a column of times needs the digits.
    let mut first: Vec<f64> = layout.empty_column()?;
    let mut others: Vec<Vec<f32>> =
        (1..width).map(|_| layout.empty_column()).collect::<Result<_, Fault>>()?;
    layout.numbers(source, |column, value| match column.checked_sub(1) {
        None => first.push(value),
        Some(other) => others[other].push(value as f32),
    })?;
    let first_is_time = is_time(width, &first);
    let role = |at: usize| if at == 1 && first_is_time { Role::Time } else { Role::Channel };
    let columns = (1..=width).map(|at| Column::unnamed(at, role(at))).collect();
    let times = if first_is_time {
        Some(first)
    } else {
        others.insert(0, single(&first));
        None
    };
    refuse_nan(&others)?;
    let finest = NO_DECIMALS;
    Ok(Whole { columns, times, channels: others, step: None, finest, kind: None })
}

/// The file whole, up to the limit on what is held in memory.
pub(super) fn held(source: &Source, options: &ReadOptions) -> Result<Vec<u8>, Fault> {
    check_size(source, options)?;
    let mut bytes = Vec::new();
    source.read_at(0, usize::MAX, &mut bytes).map_err(|error| damaged(&error.to_string()))?;
    Ok(bytes)
}

fn check_size(source: &Source, options: &ReadOptions) -> Result<(), Fault> {
    let limit = options.limits.held_bytes;
    if source.length() <= limit {
        return Ok(());
    }
    Err(Fault::new(
        Class::TooLarge,
        format!("the array has more than {limit} bytes"),
        "Save a shorter capture",
    ))
}

/// The columns of an array of one or two dimensions, at least one, all of one length; `None` for a single number.
pub(super) fn parse(bytes: &[u8], options: &ReadOptions) -> Result<Option<Vec<Vec<f64>>>, Fault> {
    let source = Source::memory(bytes, &Watch::default());
    let Some(layout) = layout(&source)? else { return Ok(None) };
    let mut columns: Vec<Vec<f64>> =
        (0..layout.width(options)?).map(|_| layout.empty_column()).collect::<Result<_, Fault>>()?;
    layout.numbers(&source, |column, value| columns[column].push(value))?;
    Ok(Some(columns))
}

/// Whether the first of so many columns is a time: it grows strictly and others stand beside it.
pub(super) fn is_time(columns: usize, first: &[f64]) -> bool {
    columns > 1
        && first.windows(2).all(|pair| pair[0] < pair[1])
        && first.iter().all(|time| time.is_finite())
}

/// A channel in single precision, as captures keep them.
pub(super) fn single(column: &[f64]) -> Vec<f32> {
    column.iter().map(|&value| value as f32).collect()
}

impl Layout {
    /// That every number the header speaks of is there, and at least one: a header that claims too much must not
    /// cost memory.
    fn checked(self, source: &Source) -> Result<Layout, Fault> {
        let count = self.rows.checked_mul(self.columns).filter(|&count| count > 0);
        let bytes = count.and_then(|count| count.checked_mul(self.size)?.checked_add(self.data));
        let there = bytes.is_some_and(|bytes| bytes as u64 <= source.length());
        if there { Ok(self) } else { Err(cut_short()) }
    }

    /// How many columns, if not too many.
    fn width(&self, options: &ReadOptions) -> Result<usize, Fault> {
        let most = options.limits.columns;
        if self.columns > most { Err(too_wide(self.columns, options)) } else { Ok(self.columns) }
    }

    /// A column with room for every row.
    fn empty_column<T>(&self) -> Result<Vec<T>, Fault> {
        let mut column = Vec::new();
        column.try_reserve_exact(self.rows).map_err(|_| no_memory())?;
        Ok(column)
    }

    /// Hands over every number with its column, in the order of the file: rows of a column always in order.
    fn numbers(&self, source: &Source, mut take: impl FnMut(usize, f64)) -> Result<(), Fault> {
        let count = self.rows * self.columns;
        let mut piece = Vec::new();
        let mut done = 0;
        while done < count {
            piece.clear();
            let offset = (self.data + done * self.size) as u64;
            let wanted = PIECE_NUMBERS.min(count - done);
            let read = source.read_at(offset, wanted * self.size, &mut piece);
            read.map_err(|error| damaged(&error.to_string()))?;
            for (index, raw) in (done..).zip(piece.chunks_exact_mut(self.size)) {
                if self.big {
                    raw.reverse();
                }
                let column =
                    if self.column_major { index / self.rows } else { index % self.columns };
                take(column, (self.decode)(raw).ok_or_else(cut_short)?);
            }
            done += wanted;
        }
        Ok(())
    }
}

/// Numbers read at a time: a piece of them stays in a core's cache.
const PIECE_NUMBERS: usize = 1 << 15;
/// Most bytes of a header that are looked at: NumPy itself refuses one of more than 10,000 characters unless told
/// to trust it.
const HEADER_BYTES: usize = 1 << 16;

/// What the header says; `None` for an array without dimensions, which is a single number.
fn layout(source: &Source) -> Result<Option<Layout>, Fault> {
    let mut bytes = Vec::new();
    let read = source.read_at(0, HEADER_BYTES, &mut bytes);
    read.map_err(|error| damaged(&error.to_string()))?;
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
    let layout = Layout { decode, size, big, column_major, rows, columns, data };
    if columns == 0 { Err(damaged("it has no columns")) } else { layout.checked(source).map(Some) }
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

fn cut_short() -> Fault {
    damaged("fewer numbers than its header says")
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
