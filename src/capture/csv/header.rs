//! Names, units and roles of the columns, from the lines above the data.

use super::clock;
use super::interval;
use super::layout::{Layout, Line};
use super::number::{self, Cell};
use crate::capture::error::{Class, Fault, shown};
use crate::capture::options::ReadOptions;
use crate::capture::table::column::{Column, ColumnRole, Head};
use crate::capture::table::units::{Measure, UnitOf, split_name, unit, unknown_unit};
use crate::remedy::{Remedy, Setting};

/// The columns, and what is left of the lines above the data.
#[derive(Debug, Clone)]
pub(crate) struct Header {
    pub head: Head,
    /// The raw names line and unit line, which may come again between buffers.
    pub repeated: Vec<Vec<u8>>,
    /// Whether the file names its columns.
    pub named: bool,
    /// The times are times of day; the day of the first row, where they have dates.
    pub clock: Option<Option<i64>>,
}

/// Reads the header.
pub(crate) fn read(layout: &Layout, options: &ReadOptions) -> Result<Header, Fault> {
    let fits = |line: &Line| fits(line, layout.width);
    let mut rest: Vec<&Line> = layout.above.iter().filter(|line| !line.is_blank()).collect();
    let mut repeated = Vec::new();
    drop_remarks(&mut rest, &mut repeated, layout);
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
        && interval::stands_over_value(names, values, layout.style)
    {
        // Start and interval stand in columns of their own, below their keys, beside the units.
        units = units_of(values, layout.width);
        repeated.push(values.raw.clone());
        rest.pop();
    }
    drop_remarks(&mut rest, &mut repeated, layout);
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
        let mut column = Column::unnamed(index + 1, ColumnRole::Channel);
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
        if layout.words.contains(&index) {
            column.role = ColumnRole::Words;
        }
        columns.push(column);
    }
    let timing = interval::find(&layout.above, layout.style)?;
    let head = Head { columns, timing };
    let mut header = Header { head, repeated, named, clock: None };
    header.find_time(layout, options)?;
    Ok(header)
}

/// Takes off a row of remarks between names and data, such as the probe of each channel: one
/// without a time, where the names above it, or the names above their units, have one.
fn drop_remarks(rest: &mut Vec<&Line>, repeated: &mut Vec<Vec<u8>>, layout: &Layout) {
    let fits = |line: &Line| fits(line, layout.width);
    let names_time = |line: &Line| {
        let texts = line.texts();
        let mut columns = texts.iter().take(layout.width).enumerate();
        columns.any(|(index, text)| {
            let mut column = Column::unnamed(index + 1, ColumnRole::Channel);
            column.name = split_name(text).0;
            column.is_named_time() && grows(layout, index)
        })
    };
    let is_remarks = |lines: &[&Line]| {
        let [.., above, last] = lines else { return false };
        let plain = fits(last) && fits(above) && !is_unit_row(last) && !names_time(last);
        let of_units = || match lines {
            [.., names, units, _] => fits(names) && names_time(names) && is_unit_row(units),
            _ => false,
        };
        let value = || interval::stands_over_value(above, last, layout.style);
        plain && !value() && (names_time(above) || of_units())
    };
    while is_remarks(rest) {
        repeated.extend(rest.pop().map(|line| line.raw.clone()));
    }
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
    fn times(&self, layout: &Layout) -> Vec<usize> {
        let tests: [fn(&Column) -> bool; 3] = [
            |column| column.is_named_time() && column.is_timed(),
            Column::is_named_time,
            Column::is_timed,
        ];
        let columns = &self.head.columns;
        let found = |test: &fn(&Column) -> bool| -> Vec<usize> {
            let numbers = |&index: &usize| columns[index].role != ColumnRole::Words;
            (0..columns.len()).filter(numbers).filter(|&index| test(&columns[index])).collect()
        };
        let mut found = tests.iter().map(found).filter(|found| !found.is_empty());
        found.next().unwrap_or_else(|| {
            // `t1`, `t2` may as well be signals; the times of several channels grow together.
            let numbered =
                |&index: &usize| columns[index].is_numbered_time() && grows(layout, index);
            let numbered: Vec<usize> = (0..columns.len()).filter(numbered).collect();
            // `ms` alone may be a signal's name as well, but signals do not grow throughout.
            let by_unit = |&index: &usize| names_unit(&columns[index]) && grows(layout, index);
            match numbered[..] {
                [] => (0..columns.len()).filter(by_unit).collect(),
                _ => numbered,
            }
        })
    }

    /// What a row counter says against rows that follow one another at the stated step.
    fn check_counters(&self, layout: &Layout, options: &ReadOptions) -> Result<(), Fault> {
        let columns = self.head.columns.iter().enumerate();
        for (at, _) in columns.filter(|(_, column)| column.role == ColumnRole::Counter) {
            let numbers = sampled(layout, at);
            let steps: Vec<f64> = numbers.windows(2).map(|pair| pair[1] - pair[0]).collect();
            let Some(&first) = steps.first() else { continue };
            if steps.iter().any(|&step| step != first) {
                continue;
            }
            let fault = if first < 0.0 {
                Fault::malformed(
                    "the row counter goes down",
                    "Export the rows in the order of time",
                )
            } else if first > 1.0 && options.rate.is_none() {
                Fault::ambiguous(
                    format!(
                        "the row counter goes up by {first}, so the stated rate may be of more samples than these"
                    ),
                    Remedy::set(Setting::SampleRate, "with the samples per second of the rows"),
                )
            } else {
                continue;
            };
            return Err(fault.at_line(layout.data_line).at_column(at + 1));
        }
        Ok(())
    }

    /// The column that counts the rows of a file without times, and by how much: by one, or by
    /// nothing where it is the number of the piece.
    pub fn counter(&self, layout: &Layout) -> Option<(usize, f64)> {
        /// Steps alike that make a counter of a column: at a piece's end it does not go on.
        const ALIKE: f64 = 0.9;
        if self.head.time().is_some() {
            return None;
        }
        let columns = self.head.columns.iter().enumerate();
        let mut counters = columns.filter(|(_, column)| column.role == ColumnRole::Counter);
        counters.find_map(|(at, _)| {
            let numbers = sampled(layout, at);
            let steps: Vec<f64> = numbers.windows(2).map(|pair| pair[1] - pair[0]).collect();
            let alike = |by: f64| steps.iter().filter(|&&step| step == by).count() as f64;
            let enough = ALIKE * steps.len() as f64;
            let by = [1.0, 0.0].into_iter().find(|&by| !steps.is_empty() && alike(by) >= enough);
            Some((at, by?))
        })
    }

    /// Whether the times of day in a column are the times: where no column of numbers is called so,
    /// or the user says it.
    fn takes_clock(&self, numbers: &[usize], at: usize, options: &ReadOptions) -> bool {
        options.time.is_none() && numbers.is_empty() || numbers == [at]
    }

    /// The column the user names: by its header, else by its position from 1.
    fn asked_time(&self, wanted: &str, layout: &Layout) -> Result<usize, Fault> {
        let columns = &self.head.columns;
        let named =
            columns.iter().position(|column| column.name.eq_ignore_ascii_case(wanted.trim()));
        let placed = || wanted.trim().parse().ok().and_then(|at: usize| at.checked_sub(1));
        let found = named.or_else(placed).filter(|&at| at < columns.len());
        let times =
            found.filter(|&at| columns[at].role != ColumnRole::Words || layout.clock == Some(at));
        times.ok_or_else(|| {
            let names: Vec<&str> = columns.iter().map(|column| column.name.as_str()).collect();
            Fault::malformed(
                format!("no column of numbers is called or numbered {}", shown(wanted.as_bytes())),
                format!("Take the times from one of these columns: {}", names.join(", ")),
            )
        })
    }

    fn find_time(&mut self, layout: &Layout, options: &ReadOptions) -> Result<(), Fault> {
        let found = match &options.time {
            Some(wanted) => vec![self.asked_time(wanted, layout)?],
            None => self.times(layout),
        };
        for column in &mut self.head.columns {
            if column.is_named_counter() {
                column.role = ColumnRole::Counter;
            }
        }
        if let Some(at) = layout.clock.filter(|&at| self.takes_clock(&found, at, options)) {
            let first = layout.sample.first().and_then(|line| clock::time_of_day(&line.cells[at]));
            self.clock = Some(first.and_then(|time| time.day));
            let column = &mut self.head.columns[at];
            column.role = ColumnRole::Time;
            column.unit = Some((Measure::Time, 0));
            return Ok(());
        }
        let step_known = options.rate.is_some() || self.head.timing.step.is_some();
        let time = match found[..] {
            [only]
                if options.time.is_none()
                    && step_known
                    && self.head.columns[only].name.eq_ignore_ascii_case("x")
                    && counts(layout, only) =>
            {
                self.head.columns[only].role = ColumnRole::Counter;
                return Ok(());
            }
            [only] => only,
            [first, ref again @ ..] if again.iter().all(|&at| same(layout, first, at)) => {
                for &at in again {
                    let unit = options.time_unit.map(|unit| (Measure::Time, unit.power()));
                    let column = &mut self.head.columns[at];
                    column.role = ColumnRole::TimeAgain;
                    column.unit = unit.or(column.unit);
                }
                first
            }
            [first, second, ..] => {
                return Err(Fault::new(
                    Class::Unsupported,
                    format!("columns {} and {} are both times", first + 1, second + 1),
                    "Export the capture with one time column for all channels",
                ));
            }
            // Times do not need a header to be recognised; with a known step, a column that counts
            // or grows may as well be a signal, and a file without names leaves that open.
            [] if self.named || layout.width < 2 || !grows(layout, 0) => {
                return self.check_counters(layout, options);
            }
            [] if counts(layout, 0) && step_known => {
                self.head.columns[0].role = ColumnRole::Counter;
                return Ok(());
            }
            [] => 0,
        };
        self.head.columns[time].role = ColumnRole::Time;
        if names_unit(&self.head.columns[time]) {
            self.head.columns[time].unit = unit(&self.head.columns[time].name);
        }
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
                Remedy::give(Setting::TimeUnit),
            )
            .or("correct the header")),
            None if whole(layout, time) => Err(unknown_unit().at_line(layout.data_line)),
            None => Ok(()),
        }
    }
}

/// Whether a column without a unit is called by a unit of time alone.
fn names_unit(column: &Column) -> bool {
    column.unit.is_none() && matches!(unit(&column.name), Some((Measure::Time, _)))
}

/// The numbers of one column in the beginning of the file.
fn sampled(layout: &Layout, column: usize) -> Vec<f64> {
    let value = |line: &Line| match number::cell(&line.cells[column], layout.style, 0) {
        Cell::Number(value, _) => value,
        _ => f64::NAN,
    };
    layout.sample.iter().map(value).collect()
}

/// Whether two columns are printed alike.
fn same(layout: &Layout, one: usize, other: usize) -> bool {
    layout.sample.iter().all(|line| line.cells[one] == line.cells[other])
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
