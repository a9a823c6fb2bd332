//! Which of `.` and `,` is the decimal mark, from how the cells use them.

use crate::capture::csv::number::NumberStyle;
use crate::capture::error::{Fault, shown};
use crate::remedy::{Remedy, Setting};

/// What the cells seen so far say for and against each mark: for each, the first such cell, as a
/// message shows it.
#[derive(Debug, Clone, Default)]
pub(crate) struct MarkEvidence {
    /// Cells in which this mark can only be decimal: `0,5`, `12.25`.
    decimal: [Option<String>; 2],
    /// Cells in which this mark can only group thousands: `1,234.5`, `1.234.567`.
    thousands: [Option<String>; 2],
    /// Cells that read both ways: `1,234`.
    either: [Option<String>; 2],
}

const MARKS: [u8; 2] = [b'.', b','];

impl MarkEvidence {
    /// Takes one cell into account.
    pub fn note(&mut self, cell: &[u8]) {
        let count = MARKS.map(|mark| cell.iter().filter(|&&byte| byte == mark).count());
        match count {
            [0, 0] => {}
            [0, n] | [n, 0] => {
                let which = usize::from(count[0] == 0);
                let slot = if n > 1 {
                    &mut self.thousands
                } else if could_group(cell, MARKS[which]) {
                    &mut self.either
                } else {
                    &mut self.decimal
                };
                slot[which].get_or_insert_with(|| shown(cell));
            }
            _ => {
                // Both marks: the last one is the decimal mark.
                let last = cell.iter().rposition(|byte| MARKS.contains(byte)).unwrap_or(0);
                let which = usize::from(cell[last] == b',');
                self.decimal[which].get_or_insert_with(|| shown(cell));
                self.thousands[1 - which].get_or_insert_with(|| shown(cell));
            }
        }
    }

    /// The style all the cells agree on.
    pub fn decide(&self, chosen: Option<u8>) -> Result<NumberStyle, Fault> {
        let grouped = |decimal: u8| {
            let other = usize::from(decimal == b'.');
            self.thousands[other].as_ref().map(|_| MARKS[other])
        };
        if let Some(decimal) = chosen {
            // The user's word on the decimal mark makes the other one a thousands mark.
            let other = if decimal == b'.' { b',' } else { b'.' };
            return Ok(NumberStyle { decimal, thousands: Some(other) });
        }
        let remedy = Remedy::give(Setting::DecimalMark);
        match (&self.decimal, &self.either) {
            ([Some(point), Some(comma)], _) => Err(Fault::ambiguous(
                format!("{point} has a decimal point and {comma} a decimal comma"),
                "Export the capture again with one number format",
            )),
            ([None, None], [_, Some(cell)]) if self.thousands[0].is_none() => {
                Err(Fault::ambiguous(
                    format!("{cell} can mean a number with a decimal comma or one in thousands"),
                    remedy,
                ))
            }
            ([None, Some(comma)], [Some(cell), _]) if self.thousands[0].is_none() => {
                Err(Fault::ambiguous(
                    format!("{comma} has a decimal comma, so {cell} can be either"),
                    remedy,
                ))
            }
            ([None, Some(_)], _) | ([None, None], [_, Some(_)]) => {
                Ok(NumberStyle { decimal: b',', thousands: grouped(b',') })
            }
            _ => Ok(NumberStyle { decimal: b'.', thousands: grouped(b'.') }),
        }
    }
}

/// Whether the mark can be a thousands mark here: one to three digits, no leading zero, before
/// it and exactly three after.
fn could_group(cell: &[u8], mark: u8) -> bool {
    let unsigned = cell.strip_prefix(b"-").or_else(|| cell.strip_prefix(b"+")).unwrap_or(cell);
    let Some(at) = unsigned.iter().position(|&byte| byte == mark) else { return false };
    let (before, after) = (&unsigned[..at], &unsigned[at + 1..]);
    let digits = |text: &[u8]| text.iter().all(u8::is_ascii_digit);
    (1..=3).contains(&before.len())
        && before[0] != b'0'
        && after.len() == 3
        && digits(before)
        && digits(after)
}
