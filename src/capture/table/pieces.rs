//! Pieces of a recording that follow one another in a table without times.

use super::rows::Table;
use crate::capture::error::Fault;
use crate::capture::{Capture, Channel, Samples};
use crate::remedy::{Remedy, Setting};

/// What a column that numbers the pieces is called, in lower case and without its "no." (common
/// practice, no source).
const PIECE_NAMES: [&str; 10] = [
    "segment",
    "buffer",
    "waveform",
    "frame",
    "sweep",
    "acquisition",
    "record",
    "block",
    "burst",
    "shot",
];

/// Refuses rows counted on across a blank line, a header that comes again, a row counter that does
/// not go on, or a column that numbers the pieces, without a time that says how long that was.
pub(super) fn refuse_break(first: usize, capture: &Capture, table: &Table) -> Result<(), Fault> {
    let mut breaks = table.breaks();
    // A blank line after every row is only a way of writing.
    if 2 * breaks.len() > table.rows {
        breaks.clear();
    }
    breaks.extend_from_slice(table.counter_breaks());
    let numbered = capture.channels.iter().filter(|channel| numbers_pieces(channel));
    breaks
        .extend(numbered.flat_map(|channel| changes(channel.values.all()).map(|row| first + row)));
    breaks.retain(|&row| first < row && row < first + capture.rows());
    breaks.sort_unstable();
    breaks.dedup();
    let Some(&row) = breaks.first() else { return Ok(()) };
    let pieces = breaks.len() + 1;
    Err(Fault::malformed(
        format!("{pieces} pieces follow one another here, and no time column says how far apart they are"),
        "export one of them alone",
    )
    .or("export the capture with its times")
    .or(Remedy::set(Setting::Stretch, "counted on through the pieces before it"))
    .at_line(table.line_of(row)))
}

/// Rows at which a column changes.
fn changes(values: Samples<'_>) -> impl Iterator<Item = usize> + '_ {
    values.pairs().enumerate().filter(|(_, two)| two[0] != two[1]).map(|(row, _)| row + 1)
}

/// Whether a column is called a number of pieces and goes up by ones.
fn numbers_pieces(channel: &Channel) -> bool {
    let name = channel.name.to_lowercase().replace('_', " ");
    let behind = [" no.", " no", " number", " index", " id", " #", "#"];
    let bare = behind.iter().find_map(|end| name.strip_suffix(end)).unwrap_or(&name);
    PIECE_NAMES.contains(&bare.trim())
        && channel.values.all().pairs().all(|two| [0.0, 1.0].contains(&(two[1] - two[0])))
}
