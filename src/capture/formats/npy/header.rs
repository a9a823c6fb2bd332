//! The header of an array: a Python literal of the kind of its numbers, their order and the shape.

use std::io::Read;

use super::{Decode, Field, Layout, MARK, cut_short, damaged, too_wide, unsupported};
use crate::capture::error::Fault;
use crate::capture::options::ReadOptions;

/// Most bytes of a header: NumPy itself refuses one of more than 10,000 characters unless told to
/// trust it.
const HEADER_BYTES: usize = 1 << 16;

impl Layout {
    /// Reads the header off the front; gives how many bytes it was, too. `None` for an array
    /// without dimensions, which is a single number.
    pub fn read(
        bytes: &mut impl Read,
        options: &ReadOptions,
    ) -> Result<Option<(Layout, u64)>, Fault> {
        let short = |_| damaged("it ends in its header");
        let mut fixed = [0; 8];
        bytes.read_exact(&mut fixed).map_err(short)?;
        if !fixed.starts_with(MARK) {
            return Err(damaged("it does not begin as one"));
        }
        let wide = fixed[6] > 1;
        let mut raw = [0; 4];
        let size = if wide { 4 } else { 2 };
        bytes.read_exact(&mut raw[..size]).map_err(short)?;
        let length = u32::from_le_bytes(raw) as usize;
        if length > HEADER_BYTES {
            return Err(damaged("its header is too long"));
        }
        let mut text = vec![0; length];
        bytes.read_exact(&mut text).map_err(short)?;
        let layout = Layout::parse(&String::from_utf8_lossy(&text), options)?;
        Ok(layout.map(|layout| (layout, (fixed.len() + size + length) as u64)))
    }

    fn parse(text: &str, options: &ReadOptions) -> Result<Option<Layout>, Fault> {
        let after =
            |key: &str| text.split_once(key).map(|(_, rest)| rest.trim_start_matches([':', ' ']));
        let shape = after("'shape'").and_then(|rest| rest.strip_prefix('('));
        let shape = shape.and_then(|rest| rest.split(')').next()).unwrap_or("");
        let sides = shape.split(',').map(str::trim).filter(|side| !side.is_empty());
        let sides: Option<Vec<usize>> = sides.map(|side| side.parse().ok()).collect();
        let (rows, columns) = match sides.as_deref() {
            Some([]) => return Ok(None),
            Some([rows]) => (*rows, 1),
            Some([rows, columns]) => (*rows, *columns),
            _ => return Err(unsupported("it has not one or two dimensions")),
        };
        let column_major = after("'fortran_order'").is_some_and(|rest| rest.starts_with("True"));
        let kind = after("'descr'").unwrap_or("");
        if let Some(list) = kind.strip_prefix('[') {
            if columns != 1 {
                return Err(unsupported("it is a table of records"));
            }
            let (fields, record) = records(list)?;
            return Ok(Some(Layout { fields, record, rows, column_major: false }));
        }
        let kind = kind.strip_prefix('\'').and_then(|rest| rest.split('\'').next()).unwrap_or("");
        let field = |offset| field(None, kind, offset);
        let size = field(0)?.size;
        if columns == 0 || size == 0 {
            return Err(damaged("it has no columns"));
        }
        // A header that claims too much must not cost memory.
        if columns > options.limits.columns {
            return Err(too_wide(columns, options));
        }
        let record = size.checked_mul(columns).ok_or_else(cut_short)?;
        let fields: Vec<Field> =
            (0..columns).map(|at| field(at * size)).collect::<Result<_, Fault>>()?;
        if fields.iter().any(|field| field.decode.is_none()) {
            return Err(unsupported(&format!("its numbers are of the kind {kind:?}")));
        }
        let column_major = column_major && columns > 1;
        Ok(Some(Layout { fields, record, rows, column_major }))
    }
}

/// Fields of `('time', '<f8'), ('crank', '<f4')]`, and the bytes of a record. Padding is written as
/// a field without a name.
fn records(list: &str) -> Result<(Vec<Field>, usize), Fault> {
    let mut fields = Vec::new();
    let mut offset = 0;
    let mut rest = list;
    loop {
        rest = rest.trim_start_matches([' ', ',']);
        if rest.starts_with(']') {
            return Ok((fields, offset));
        }
        let odd = || unsupported("its records are not plain fields of one number each");
        let (entry, after) =
            rest.strip_prefix('(').and_then(|rest| rest.split_once(')')).ok_or_else(odd)?;
        let mut quoted = entry.split('\'').skip(1).step_by(2);
        let (name, kind) = quoted.next().zip(quoted.next()).ok_or_else(odd)?;
        // A title beside the name, a shape, or a record within the record.
        let plain = entry.matches('\'').count() == 4 && !entry.contains(['(', '[']);
        if !plain || after.starts_with(')') {
            return Err(odd());
        }
        let field = field(Some(name), kind, offset)?;
        offset = offset.checked_add(field.size).ok_or_else(odd)?;
        if !name.is_empty() {
            fields.push(field);
        }
        rest = after;
    }
}

/// The field of a kind of number.
fn field(name: Option<&str>, kind: &str, offset: usize) -> Result<Field, Fault> {
    let bare = kind.trim_start_matches(['<', '>', '|', '=']);
    let (decode, size) = match decoder(bare) {
        Some((decode, size)) => (Some(decode), size),
        None => (None, text_size(bare).ok_or_else(|| unknown(kind))?),
    };
    let name = name.map(str::to_owned);
    Ok(Field { name, offset, size, big: kind.starts_with('>'), decode })
}

fn unknown(kind: &str) -> Fault {
    unsupported(&format!("its numbers are of the kind {kind:?}"))
}

/// Bytes of a field of text or of raw bytes: `S8`, `U8` of four bytes a character, `V4`.
fn text_size(kind: &str) -> Option<usize> {
    let count: usize = kind.get(1..)?.parse().ok()?;
    match kind.as_bytes().first()? {
        b'S' | b'a' | b'V' => Some(count),
        b'U' => count.checked_mul(4),
        _ => None,
    }
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
