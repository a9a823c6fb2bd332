//! Rows of one time in a list of changes: leads that changed together, written one after another.
//!
//! Two leads may well change within one tick of the recorder. Exporters that write a row for each
//! change then write the same time twice; the last of such rows has the levels of them all. Where one
//! lead changes twice at a time, or a row changes nothing, the times are too coarse or rows come
//! twice, and which it is cannot be told.

use super::clock::Piece;
use super::kind::EVENTS_CHANGE;
use super::rows::Table;
use crate::capture::error::Fault;
use crate::capture::options::ReadOptions;
use crate::capture::{CaptureKind, Remark, Samples, Values};

/// Whether every column has at most two levels as far as it is looked at: rows of one time in
/// anything else are not joined.
pub(super) fn may_be_changes<'a>(channels: impl IntoIterator<Item = Samples<'a>>) -> bool {
    channels.into_iter().all(|values| {
        let numbers = || values.iter().filter(|value| value.is_finite());
        let first = numbers().next();
        let mut others = numbers().filter(|&value| Some(value) != first);
        let second = others.next();
        others.all(|value| Some(value) == second)
    })
}

/// Makes one row of the rows of each time, in a table whose times never go back. A table that is no
/// list of changes, or in which a lead changes twice at one time, is refused with the line.
pub(super) fn join(table: &mut Table, options: &ReadOptions) -> Result<(), Fault> {
    let Some(first) = table.still else { return Ok(()) };
    // A spoilt end that was dropped may have held it.
    if first >= table.rows {
        sum_up(table);
        return Ok(());
    }
    let last = table.rows - 1;
    let mut changed = vec![false; table.channels.len()];
    let mut kept = Vec::with_capacity(table.rows);
    let mut without_change = 0;
    let mut twice = None;
    for row in 0..table.rows {
        let again = row > 0 && table.times[row] == table.times[row - 1];
        if !again {
            changed.fill(false);
        }
        let change = note_changes(&table.channels, row, &mut changed);
        if again && change != Change::Other {
            twice = Some(row);
            break;
        }
        // Neither the first row nor the last has to change anything.
        without_change += usize::from(change == Change::None && row > 0 && row < last);
        if again {
            kept.pop();
        }
        kept.push(row);
    }
    let inner = kept.len().saturating_sub(2).max(1);
    let share = 1.0 - without_change as f64 / inner as f64;
    let changes = match options.force_kind {
        Some(kind) => kind == CaptureKind::Events,
        None => may_be_changes(table.channels.iter().map(Values::all)) && share >= EVENTS_CHANGE,
    };
    // A last row whose time does not go on is no matter, as in any other table.
    let closing = if changes { twice } else { Some(first) };
    match closing {
        Some(row) if row < last => return Err(table.stands_still(row)),
        Some(row) => {
            let (time, before) = (table.times[row], table.times[row - 1]);
            table.remarks.push(Remark::LastRow { time, before });
            if !changes {
                kept = (0..last).collect();
            }
        }
        None => {}
    }
    table.keep_rows(&kept);
    sum_up(table);
    Ok(())
}

/// Sums up stamps that grow now. Their blocks could say of them only that they did not.
fn sum_up(table: &mut Table) {
    table.pieces = Piece::of(&table.times).into_iter().collect();
}

/// What a row changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Change {
    None,
    /// Leads that had not changed at that time.
    Other,
    /// A lead that had.
    Same,
}

/// Marks the leads that a row changes among those that changed at its time.
fn note_changes(channels: &[Values], row: usize, changed: &mut [bool]) -> Change {
    let Some(before) = row.checked_sub(1) else { return Change::None };
    let mut change = Change::None;
    for (values, changed) in channels.iter().zip(changed) {
        if values[row].to_bits() != values[before].to_bits() {
            change = if *changed || change == Change::Same { Change::Same } else { Change::Other };
            *changed = true;
        }
    }
    change
}
