//! Lists in which a row is the change of one channel, which the row names.

use std::collections::BTreeMap;

use super::header::Header;
use super::layout::Layout;
use super::number::{self, Cell};
use crate::capture::error::{Fault, shown};
use crate::capture::table::column::{Column, ColumnRole};

/// What the column that names the channel is called, and the one of its level, in lower case
/// (common practice, no source).
const CHANNEL_NAMES: [&str; 9] =
    ["channel", "ch", "signal", "lead", "pin", "input", "line", "port", "probe"];
const LEVEL_NAMES: [&str; 6] = ["level", "value", "state", "edge", "data", "to"];
/// Rows of a word that show whether they take turns.
const ENOUGH: usize = 2;

/// Refuses such a list: read as a table it would be one channel of everybody's levels.
pub(super) fn refuse(layout: &Layout, header: &Header) -> Result<(), Fault> {
    let columns = &header.head.columns;
    let looked_at =
        |column: &Column| matches!(column.role, ColumnRole::Channel | ColumnRole::Words);
    let open: Vec<usize> = (0..columns.len()).filter(|&at| looked_at(&columns[at])).collect();
    let [one, other] = open[..] else { return Ok(()) };
    let is_list = |(channel, level): (usize, usize)| {
        columns[level].role == ColumnRole::Channel
            && (called(columns, channel, level) || take_turns(layout, columns, channel, level))
            && several(layout, channel)
    };
    let Some((channel, _)) = [(one, other), (other, one)].into_iter().find(|&two| is_list(two))
    else {
        return Ok(());
    };
    let name = shown(columns[channel].name.as_bytes());
    Err(Fault::malformed(
        format!("each row is the change of one channel, which column {} {name} names", channel + 1),
        "export a table with a column for each channel",
    )
    .or("export a value change dump (.vcd)")
    .at_line(layout.data_line))
}

fn called(columns: &[Column], channel: usize, level: usize) -> bool {
    let is = |names: &[&str], at: usize| names.contains(&columns[at].name.to_lowercase().as_str());
    is(&CHANNEL_NAMES, channel) && is(&LEVEL_NAMES, level)
}

fn several(layout: &Layout, channel: usize) -> bool {
    layout.sample.windows(2).any(|two| two[0].cells[channel] != two[1].cells[channel])
}

/// Whether a column holds words, and the level beside each goes up and down in turns.
fn take_turns(layout: &Layout, columns: &[Column], channel: usize, level: usize) -> bool {
    if columns[channel].role != ColumnRole::Words {
        return false;
    }
    let mut of_word: BTreeMap<&[u8], Vec<f64>> = BTreeMap::new();
    for line in &layout.sample {
        let value = match number::cell(&line.cells[level], layout.style, 0) {
            Cell::Number(value, _) => value,
            Cell::Level(level) => level,
            _ => return false,
        };
        of_word.entry(&line.cells[channel]).or_default().push(value);
    }
    // Two levels, the same of all.
    let levels = of_word.values().next().map(|values| values[..values.len().min(ENOUGH)].to_vec());
    let two = levels.unwrap_or_default();
    let turns = |values: &Vec<f64>| {
        values.len() >= ENOUGH
            && values.iter().all(|value| two.contains(value))
            && values.windows(2).all(|pair| pair[0] != pair[1])
    };
    of_word.len() >= ENOUGH && of_word.values().all(turns)
}
