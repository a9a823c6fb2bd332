//! Names, units and roles of the columns, from the lines above the data.

use super::interval;
use super::layout::{Layout, Line};
use super::number::{self, Cell};
use crate::capture::error::{Class, Fault};
use crate::capture::options::ReadOptions;
use crate::capture::table::column::{Column, Head, Role};
use crate::capture::table::units::{Measure, UnitOf, split_name, unit, unknown_unit};

/// The columns, and what is left of the lines above the data.
#[derive(Debug, Clone)]
pub(crate) struct Header {
    pub head: Head,
    /// The raw names line and unit line, which may come again between buffers.
    pub repeated: Vec<Vec<u8>>,
    /// Whether the file names its columns.
    pub named: bool,
}

/// Reads the header.
pub(crate) fn read(layout: &Layout, options: &ReadOptions) -> Result<Header, Fault> {
    let fits = |line: &Line| fits(line, layout.width);
    let mut rest: Vec<&Line> = layout.above.iter().filter(|line| !line.is_blank()).collect();
    let mut repeated = Vec::new();
    let mut units: Vec<Option<UnitOf>> = vec![None; layout.width];
    if let Some(line) = rest.last().copied().filter(|line| fits(line) && is_unit_row(line)) {
        let names_above = rest.len() > 1 && fits(rest[rest.len() - 2]);
        if names_above || has_time_or_bracket(line) {
            units = units_of(line, layout.width);
            repeated.push(line.raw.clone());
            rest.pop();
        }
    } else if let [.., names, values] = rest[..]
        && fits(names)
        && fits(values)
        && interval::speaks_of_time(names)
    {
        // Start and interval stand in columns of their own, below their keys, beside the units.
        units = units_of(values, layout.width);
        repeated.push(values.raw.clone());
        rest.pop();
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
    for (index, (name, below)) in names.iter().zip(units).enumerate() {
        let mut column = Column::unnamed(index + 1, Role::Channel);
        let (name, beside) = split_name(name);
        if !name.is_empty() {
            column.name = name;
        }
        if let (Some(one), Some(other)) = (beside, below)
            && one != other
        {
            let what = format!("column {} `{}` has two different units", index + 1, column.name);
            return Err(Fault::ambiguous(what, "Correct the header so that one is left"));
        }
        column.unit = beside.or(below);
        columns.push(column);
    }
    let timing = interval::find(&layout.above, layout.style)?;
    let head = Head { columns, timing };
    let mut header = Header { head, repeated, named };
    header.find_time(layout, options)?;
    Ok(header)
}

/// As many cells as the data rows, give or take an empty one at the end.
fn fits(line: &Line, width: usize) -> bool {
    let cells = line.cells.len();
    cells == width || (cells == width + 1 && line.cells[width].is_empty())
}

fn units_of(line: &Line, width: usize) -> Vec<Option<UnitOf>> {
    let mut units: Vec<_> = line.texts().iter().map(|text| unit(text)).collect();
    units.resize(width, None);
    units
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
    /// The columns that may be the time: by name and unit, else by name, else by unit.
    fn times(&self) -> Vec<usize> {
        let tests: [fn(&Column) -> bool; 3] = [
            |column| column.is_named_time() && column.is_timed(),
            Column::is_named_time,
            Column::is_timed,
        ];
        let columns = &self.head.columns;
        let found = |test: &fn(&Column) -> bool| -> Vec<usize> {
            (0..columns.len()).filter(|&index| test(&columns[index])).collect()
        };
        tests.iter().map(found).find(|found| !found.is_empty()).unwrap_or_default()
    }

    fn find_time(&mut self, layout: &Layout, options: &ReadOptions) -> Result<(), Fault> {
        let found = self.times();
        for column in &mut self.head.columns {
            if column.is_named_counter() {
                column.role = Role::Counter;
            }
        }
        let step_known = options.rate.is_some() || self.head.timing.step.is_some();
        let time = match found[..] {
            [only]
                if step_known
                    && self.head.columns[only].name.eq_ignore_ascii_case("x")
                    && counts(layout, only) =>
            {
                self.head.columns[only].role = Role::Counter;
                return Ok(());
            }
            [only] => only,
            [first, second, ..] => {
                return Err(Fault::new(
                    Class::Unsupported,
                    format!("columns {} and {} are both times", first + 1, second + 1),
                    "Export the capture with one time column for all channels",
                ));
            }
            // Times do not need a header to be recognised; with a known step, a column that counts
            // or grows may as well be a signal, and a file without names leaves that open.
            [] if self.named || layout.width < 2 || !grows(layout, 0) => return Ok(()),
            [] if counts(layout, 0) && step_known => {
                self.head.columns[0].role = Role::Counter;
                return Ok(());
            }
            [] => 0,
        };
        self.head.columns[time].role = Role::Time;
        self.settle_time_unit(time, layout, options)
    }

    /// Whole numbers without a unit are seconds in no real capture: they are ticks of something.
    fn settle_time_unit(
        &mut self,
        time: usize,
        layout: &Layout,
        options: &ReadOptions,
    ) -> Result<(), Fault> {
        let column = &mut self.head.columns[time];
        if let Some(unit) = options.time_unit {
            column.unit = Some((Measure::Time, unit.power()));
        }
        match column.unit {
            Some((Measure::Time, _)) => Ok(()),
            Some(_) => Err(Fault::new(
                Class::Unsupported,
                format!("the unit of the time column `{}` is not s, ms, µs or ns", column.name),
                "Pass `--time-unit` with s, ms, us or ns, or correct the header",
            )),
            None if whole(layout, time) => Err(unknown_unit().at_line(layout.data_line)),
            None => Ok(()),
        }
    }
}

/// The numbers of one column in the beginning of the file.
fn sampled(layout: &Layout, column: usize) -> Vec<f64> {
    let value = |line: &Line| match number::cell(&line.cells[column], layout.style, 0) {
        Cell::Number(value, _) => value,
        _ => f64::NAN,
    };
    layout.sample.iter().map(value).collect()
}

/// Whether a column grows strictly, as a time does.
fn grows(layout: &Layout, column: usize) -> bool {
    sampled(layout, column).windows(2).all(|pair| pair[0] < pair[1])
}

/// Whether a column counts rows: one more in each.
fn counts(layout: &Layout, column: usize) -> bool {
    sampled(layout, column).windows(2).all(|pair| pair[1] - pair[0] == 1.0)
}

/// Whether a column is printed as whole numbers, in more rows than chance explains.
fn whole(layout: &Layout, column: usize) -> bool {
    const ENOUGH: usize = 3;
    let digits = |line: &Line| line.cells[column].iter().all(|byte| b"+-0123456789".contains(byte));
    layout.sample.len() >= ENOUGH && layout.sample.iter().all(digits)
}
