//! Bytes become lines, lines become cells.

use std::borrow::Cow;

/// What ends a line in this file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum LineEnd {
    /// A line feed, with or without a carriage return before it.
    Feed,
    /// A carriage return alone, as old exporters write.
    Return,
}

impl LineEnd {
    /// The line feed wins where both occur.
    pub fn of(head: &[u8]) -> Self {
        let has = |wanted: u8| head.contains(&wanted);
        if !has(b'\n') && has(b'\r') { LineEnd::Return } else { LineEnd::Feed }
    }

    pub fn byte(self) -> u8 {
        match self {
            LineEnd::Feed => b'\n',
            LineEnd::Return => b'\r',
        }
    }
}

/// The line without the carriage return a CRLF leaves behind.
pub(crate) fn without_return(line: &[u8]) -> &[u8] {
    line.strip_suffix(b"\r").unwrap_or(line)
}

/// Splits one line into its cells, quotation marks resolved, blanks around them trimmed.
///
/// `None` when a quotation mark is opened and not closed in the line.
pub(crate) fn cells(line: &[u8], separator: u8) -> Option<Vec<Cow<'_, [u8]>>> {
    if separator == b' ' {
        return Some(aligned(line).into_iter().map(Cow::Borrowed).collect());
    }
    if !line.contains(&b'"') {
        let cells = line.split(|&byte| byte == separator);
        return Some(cells.map(|cell| Cow::Borrowed(cell.trim_ascii())).collect());
    }
    if line.iter().filter(|&&byte| byte == b'"').count() % 2 == 1 {
        return None;
    }
    tidy(line, separator).or_else(|| any(line, separator))
}

/// Cells between runs of blanks. What stands in brackets belongs to the name before it: `Time (s)`.
fn aligned(line: &[u8]) -> Vec<&[u8]> {
    let mut cells: Vec<(usize, usize)> = Vec::new();
    let mut at = 0;
    for word in line.split(u8::is_ascii_whitespace) {
        let end = at + word.len();
        match cells.last_mut() {
            _ if word.is_empty() => {}
            Some(before) if word[0] == b'(' || word[0] == b'[' => before.1 = end,
            _ => cells.push((at, end)),
        }
        at = end + 1;
    }
    cells.into_iter().map(|(from, to)| &line[from..to]).collect()
}

/// A line in which every quotation mark stands at one end of its cell: no cell of it needs memory
/// of its own.
fn tidy(line: &[u8], separator: u8) -> Option<Vec<Cow<'_, [u8]>>> {
    let mut cells = Vec::new();
    let mut rest = line;
    loop {
        // Quotation marks open after blanks as well: `0.1, "2.5"`.
        let begun = rest.trim_ascii_start();
        let (cell, after) = if let Some(inside) = begun.strip_prefix(b"\"") {
            let close = inside.iter().position(|&byte| byte == b'"')?;
            let after = inside[close + 1..].trim_ascii_start();
            // A tab may be the separator and a blank at once.
            let after = if separator == b'\t' { &inside[close + 1..] } else { after };
            (&inside[..close], after)
        } else {
            let end = rest.iter().position(|&byte| byte == separator).unwrap_or(rest.len());
            (&rest[..end], &rest[end..])
        };
        let cell = cell.trim_ascii();
        if cell.contains(&b'"') {
            return None;
        }
        cells.push(Cow::Borrowed(cell));
        match after {
            [] => return Some(cells),
            [first, next @ ..] if *first == separator => rest = next,
            _ => return None,
        }
    }
}

/// Marks within a cell, doubled ones among them.
fn any(line: &[u8], separator: u8) -> Option<Vec<Cow<'static, [u8]>>> {
    let mut tight = Vec::with_capacity(line.len() + 1);
    let (mut cell_open, mut quoted) = (true, false);
    for &byte in line {
        quoted ^= byte == b'"';
        let blank = byte == b' ' && cell_open && !quoted;
        if !blank {
            tight.push(byte);
            cell_open = byte == separator && !quoted;
        }
    }
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .buffer_capacity(tight.len() + 1)
        .from_reader(tight.as_slice());
    let mut record = csv::ByteRecord::new();
    match reader.read_byte_record(&mut record) {
        Ok(true) => {
            Some(record.iter().map(|cell| Cow::Owned(cell.trim_ascii().to_vec())).collect())
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn tidy_lines() {
        let rows: [(&str, u8, Option<&[&str]>); 9] = [
            (r#""1","2""#, b',', Some(&["1", "2"])),
            (r#" "1" , 2 ,"3, and a half""#, b',', Some(&["1", "2", "3, and a half"])),
            (r#""","",x"#, b',', Some(&["", "", "x"])),
            (r#""1","#, b',', Some(&["1", ""])),
            ("\"1\"\t\"2\"\t", b'\t', Some(&["1", "2", ""])),
            (r#""1"x,2"#, b',', None),
            (r#""a ""b"" c",2"#, b',', None),
            (r#"a "b" c,2"#, b',', None),
            (r#""1,2"#, b',', None),
        ];
        for (line, separator, want) in rows {
            let want: Option<Vec<Cow<[u8]>>> =
                want.map(|cells| cells.iter().map(|cell| Cow::Borrowed(cell.as_bytes())).collect());
            assert_eq!(tidy(line.as_bytes(), separator), want, "{line}");
        }
    }

    proptest! {
        // The general reader takes blanks away after a separator within quotation marks, which is
        // no use to anybody.
        #[test]
        fn a_tidy_line_reads_as_any(line in r#"((" ?[0-9a.,;]{0,4} ?"|[0-9a. ]{0,4})[,;]){0,5}"?[0-9]?"?"#) {
            // An empty line has no mark in it and is split by its separators alone.
            prop_assume!(!line.is_empty());
            for separator in [b',', b';'] {
                if let Some(cells) = tidy(line.as_bytes(), separator) {
                    prop_assert_eq!(super::any(line.as_bytes(), separator), Some(cells));
                }
            }
        }
    }
}
