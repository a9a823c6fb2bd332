//! What stands below the rows and looks like some.

use super::rows::{Stamps, Table};
use crate::capture::Remark;

/// Rows of a footer at most: mean, least, greatest, scatter and how many (judgement).
const MOST_ROWS: usize = 5;
/// And at most one in so many of the rows above it; one row alone is never a recording, and is one
/// of several at least.
const SHARE: usize = 100;
const LEAST_ABOVE: usize = 3;

/// A last row in which a cell is no number is a row cut short.
pub(super) fn drop_spoilt_end(table: &mut Table) {
    let last = table.rows.saturating_sub(1);
    let Some(spoilt) = table.spoilt.iter().flatten().find(|spoilt| spoilt.row == last) else {
        return;
    };
    if last < 2 || (spoilt.not_measured && !spoilt.is_lone_minus()) {
        return;
    }
    let (line, found) = (table.line_of(last), spoilt.found.clone());
    table.remarks.push(Remark::Tail { line, lines: 1, found });
    end_at(table, last);
}

/// Takes off rows at the end of a table without times that stand apart, below a line that is none,
/// and are too few for a piece of a recording.
pub(super) fn drop_apart(table: &mut Table) {
    // Where rows have times, one of a footer is not after them.
    if table.stamps != Stamps::Absent {
        return;
    }
    let [first] = table.breaks()[..] else { return };
    let apart = table.rows - first;
    let few = apart <= MOST_ROWS && apart * SHARE <= first;
    if few || (apart == 1 && first >= LEAST_ABOVE) {
        table.remarks.push(Remark::Footer { line: table.line_of(first), lines: apart });
        end_at(table, first);
    }
}

fn end_at(table: &mut Table, last: usize) {
    table.rows = last;
    table.times.truncate(last);
    table.channels.iter_mut().for_each(|channel| channel.truncate(last));
    for spoilt in &mut table.spoilt {
        spoilt.take_if(|spoilt| spoilt.row >= last);
    }
}
