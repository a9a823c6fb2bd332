//! What a column is: its name, its unit, what it carries.

use super::time_names::is_time_name;
use super::timing::Timing;
use super::units::{Measure, UnitOf};
use crate::capture::{TimeUnit, Unit};

/// What a column carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum ColumnRole {
    /// The time of the row.
    Time,
    /// A signal.
    Channel,
    /// A row counter, read and dropped.
    Counter,
    /// The time of the row once more, for another channel; held against the first.
    TimeAgain,
    /// Words, which are not looked at.
    Words,
}

/// One column of the file.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Column {
    pub name: String,
    /// The unit as the file states it; `None` when it states none.
    pub unit: Option<UnitOf>,
    pub role: ColumnRole,
}

impl Column {
    /// A column without a name of its own, at a position counted from 1: `column 2`.
    pub fn unnamed(position: usize, role: ColumnRole) -> Column {
        Column { name: format!("column {position}"), unit: None, role }
    }

    /// Power of ten that turns printed values into seconds, volts or amperes.
    pub fn shift(&self) -> i32 {
        self.unit.map_or(0, |(_, shift)| shift)
    }

    /// Stated unit of a channel; `None` leaves it to the values.
    pub fn channel_unit(&self) -> Option<Unit> {
        match self.unit {
            Some((Measure::Channel(unit), _)) => Some(unit),
            _ => None,
        }
    }

    /// Stated unit of a time column; `None` where none is stated.
    pub fn time_unit(&self) -> Option<TimeUnit> {
        match self.unit {
            Some((Measure::Time, power)) => TimeUnit::of_power(power),
            _ => None,
        }
    }

    /// Whether the file states a unit of time for it.
    pub fn is_timed(&self) -> bool {
        matches!(self.unit, Some((Measure::Time, _)))
    }

    /// Whether the file calls it a time.
    pub fn is_named_time(&self) -> bool {
        is_time_name(&self.name)
    }

    /// Whether it has the name of a time with a number behind it: the time of one of several
    /// channels, if it grows.
    pub fn is_numbered_time(&self) -> bool {
        let bare = self.name.trim_end_matches(|letter: char| letter.is_ascii_digit());
        bare.len() < self.name.len() && is_time_name(bare.trim_end_matches(['_', ' ']))
    }

    /// Whether the file calls it a count of rows.
    pub fn is_named_counter(&self) -> bool {
        COUNTER_NAMES.contains(&self.name.to_lowercase().as_str())
    }
}

/// Names of a column that only counts rows.
const COUNTER_NAMES: [&str; 11] =
    ["index", "sample", "samples", "row", "n", "no", "no.", "#", "point", "sequence", "number"];

/// What is known of a table before its rows.
#[derive(Debug, Clone, Default)]
pub(crate) struct Head {
    /// Every column, in the file's order.
    pub columns: Vec<Column>,
    /// Start and interval, where the file states them.
    pub timing: Timing,
}

impl Head {
    /// Position of the time column, counted from 0.
    pub fn time(&self) -> Option<usize> {
        self.columns.iter().position(|column| column.role == ColumnRole::Time)
    }

    /// Number of channels.
    pub fn channels(&self) -> usize {
        self.columns.iter().filter(|column| column.role == ColumnRole::Channel).count()
    }
}
