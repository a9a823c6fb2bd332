//! Bytes become lines, lines become cells.

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
pub(crate) fn cells(line: &[u8], separator: u8) -> Option<Vec<Vec<u8>>> {
    let trim = |cell: &[u8]| cell.trim_ascii().to_vec();
    if !line.contains(&b'"') {
        return Some(line.split(|&byte| byte == separator).map(trim).collect());
    }
    // Quotation marks open after blanks as well: `0.1, "2.5"`.
    let mut tight = Vec::with_capacity(line.len() + 1);
    let mut cell_open = true;
    for &byte in line {
        let blank = byte == b' ' && cell_open;
        if !blank {
            tight.push(byte);
            cell_open = byte == separator;
        }
    }
    if tight.iter().filter(|&&byte| byte == b'"').count() % 2 == 1 {
        return None;
    }
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .buffer_capacity(tight.len() + 1)
        .from_reader(tight.as_slice());
    let mut record = csv::ByteRecord::new();
    match reader.read_byte_record(&mut record) {
        Ok(true) => Some(record.iter().map(trim).collect()),
        _ => None,
    }
}
