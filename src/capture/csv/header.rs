//! Names, units and roles of the columns, from the lines above the data.

use super::layout::{Layout, Line};
use super::number::{self, Cell};
use super::units::{Measure, UnitOf, split_name, unit};
use crate::capture::Unit;
use crate::capture::error::{Class, Fault};
use crate::capture::options::ReadOptions;

/// What a column carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    /// The time of the row.
    Time,
    /// A signal.
    Channel,
    /// A row counter, read and dropped.
    Counter,
}

/// One column of the file.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Column {
    pub name: String,
    /// The unit as the file states it; `None` when it states none.
    pub unit: Option<UnitOf>,
    pub role: Role,
}

impl Column {
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
}

/// The columns, and what is left of the lines above the data.
#[derive(Debug, Clone)]
pub(crate) struct Header {
    pub columns: Vec<Column>,
    /// The raw names line and unit line, which may come again between buffers.
    pub repeated: Vec<Vec<u8>>,
    /// Title lines: everything above the names.
    #[expect(
        dead_code,
        reason = "the start and interval in title lines are read in the next step"
    )]
    pub titles: Vec<Line>,
    /// Whether the file names its columns.
    pub named: bool,
}

/// Names of a time column, in lower case, as export dialogs of several languages write them
/// (common practice, no source).
const TIME_NAMES: [&str; 12] = [
    "time",
    "t",
    "x",
    "x-axis",
    "x axis",
    "zeit",
    "temps",
    "tiempo",
    "tempo",
    "seconds",
    "timestamp",
    "elapsed",
];
/// Names of a column that only counts rows.
const COUNTER_NAMES: [&str; 11] =
    ["index", "sample", "samples", "row", "n", "no", "no.", "#", "point", "sequence", "number"];

/// Reads the header.
pub(crate) fn read(layout: &Layout, options: &ReadOptions) -> Result<Header, Fault> {
    let fits = |line: &Line| fits(line, layout.width);
    let mut rest: Vec<&Line> = layout.above.iter().filter(|line| !line.is_blank()).collect();
    let mut repeated = Vec::new();
    let mut units: Vec<Option<UnitOf>> = vec![None; layout.width];
    if let Some(line) = rest.last().copied().filter(|line| fits(line) && is_unit_row(line)) {
        let names_above = rest.len() > 1 && fits(rest[rest.len() - 2]);
        if names_above || has_time_or_bracket(line) {
            units = line.texts().iter().map(|text| unit(text)).collect();
            units.resize(layout.width, None);
            repeated.push(line.raw.clone());
            rest.pop();
        }
    }
    let mut names = vec![String::new(); layout.width];
    let mut named = false;
    if let Some(line) = rest.last().copied() {
        if fits(line) {
            names = line.texts();
            names.resize(layout.width, String::new());
            named = true;
            repeated.push(line.raw.clone());
            rest.pop();
        } else {
            refuse_misfit(line, layout)?;
        }
    }
    let mut columns = Vec::with_capacity(layout.width);
    for (index, (name, below)) in names.iter().zip(&units).enumerate() {
        let (mut name, beside) = split_name(name);
        if name.is_empty() {
            name = format!("column {}", index + 1);
        }
        if let (Some(one), Some(other)) = (beside, *below)
            && one != other
        {
            let what = format!("column {} `{name}` has two different units", index + 1);
            return Err(Fault::ambiguous(what, "Correct the header so that one is left"));
        }
        columns.push(Column { name, unit: beside.or(*below), role: Role::Channel });
    }
    let titles = rest.into_iter().cloned().collect();
    let mut header = Header { columns, repeated, titles, named };
    header.find_time(layout, options)?;
    Ok(header)
}

/// As many cells as the data rows, give or take an empty one at the end.
fn fits(line: &Line, width: usize) -> bool {
    let cells = line.cells.len();
    cells == width || (cells == width + 1 && line.cells[width].is_empty())
}

fn is_unit_row(line: &Line) -> bool {
    let texts = line.texts();
    texts.iter().any(|text| !text.is_empty())
        && texts.iter().all(|text| text.is_empty() || unit(text).is_some())
}

/// A row `A` or `A, V` alone may as well be names.
fn has_time_or_bracket(line: &Line) -> bool {
    line.texts()
        .iter()
        .any(|text| text.starts_with(['(', '[']) || matches!(unit(text), Some((Measure::Time, _))))
}

/// A line of several names right above the data that does not fit the rows.
fn refuse_misfit(line: &Line, layout: &Layout) -> Result<(), Fault> {
    let next_to_data = layout.data_line == line.number + 1;
    let texts = line.texts();
    let filled = texts.iter().filter(|text| !text.is_empty()).count();
    let any_number = line
        .cells
        .iter()
        .any(|cell| matches!(number::cell(cell, layout.style, 0), Cell::Number(..)));
    if filled < 2 || any_number || !next_to_data {
        return Ok(());
    }
    Err(Fault::malformed(
        format!("{filled} column names stand above rows of {} cells", layout.width),
        "Every column needs a name: correct this line or export again",
    )
    .at_line(line.number))
}

impl Header {
    fn find_time(&mut self, layout: &Layout, options: &ReadOptions) -> Result<(), Fault> {
        let is_time = |column: &Column| {
            let lower = column.name.to_lowercase();
            matches!(column.unit, Some((Measure::Time, _)))
                || TIME_NAMES.contains(&lower.as_str())
                || lower.starts_with("time ")
        };
        let found: Vec<usize> =
            (0..self.columns.len()).filter(|&index| is_time(&self.columns[index])).collect();
        for column in &mut self.columns {
            if COUNTER_NAMES.contains(&column.name.to_lowercase().as_str()) {
                column.role = Role::Counter;
            }
        }
        match found[..] {
            [only] => self.columns[only].role = Role::Time,
            [first, second, ..] => {
                return Err(Fault::new(
                    Class::Unsupported,
                    format!("columns {} and {} are both times", first + 1, second + 1),
                    "Export the capture with one time column for all channels",
                ));
            }
            [] if options.rate.is_none() && !self.named && grows(layout, 0) => {
                self.columns[0].role = Role::Time;
            }
            [] => {}
        }
        Ok(())
    }
}

/// Whether the sampled rows of a column grow strictly, as a time does.
fn grows(layout: &Layout, column: usize) -> bool {
    let value = |line: &Line| match number::cell(&line.cells[column], layout.style, 0) {
        Cell::Number(value, _) => value,
        _ => f64::NAN,
    };
    layout.sample.windows(2).all(|pair| value(&pair[0]) < value(&pair[1]))
}
