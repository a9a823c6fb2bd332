//! What a class answered: a table with a row for every student.

use csv::{ReaderBuilder, StringRecord};

use super::cause::{Cause, NextTest, plain};
use super::error::{ClassError, Place};
use super::key::Key;

/// The columns, in the order in which they are written; any order is read.
pub const COLUMNS: [&str; 8] =
    ["class", "student", "cam", "bank", "degrees", "teeth", "cause", "next_test"];
const CLASS: usize = 0;
const STUDENT: usize = 1;
/// Says that no cam, or no bank, is meant.
const NONE: &str = "none";
/// Says that every cam, or every bank, is meant.
const ALL: &str = "all";

/// One student's answers; what is empty was not answered.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Given {
    /// Cams, by the names of the engine.
    pub cams: Option<Vec<String>>,
    /// Banks.
    pub banks: Option<Vec<u32>>,
    /// Crank degrees, late positive.
    pub degrees: Option<f64>,
    /// Teeth, late positive.
    pub teeth: Option<i32>,
    /// What is wrong.
    pub cause: Option<Cause>,
    /// What comes next.
    pub next_test: Option<NextTest>,
}

/// One student's row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Number of the student.
    pub student: u32,
    /// What was answered.
    pub given: Given,
}

/// A table to be filled in: a row for every student.
#[must_use]
pub fn blank(class: &str, students: u32) -> String {
    let rows = (1..=students).map(|student| format!("{class},{student},,,,,,\n"));
    format!("{}\n{}", COLUMNS.join(","), rows.collect::<String>())
}

/// Reads the answers of the class of a key. Cells stand between commas or semicolons; with
/// semicolons numbers may have a decimal comma. `file` names the table in messages.
///
/// # Errors
/// The first cell that cannot be read, a column that is not known or not there, answers of another
/// class, a student that is not in the class, is there twice or is missing.
pub fn read(text: &str, key: &Key, file: &str) -> Result<Vec<Row>, ClassError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let header = text.lines().next().unwrap_or_default();
    let semicolons = header.contains(';');
    let delimiter = if semicolons { b';' } else { b',' };
    let mut reader = ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut table = Table { file, key, columns: Vec::new(), decimal_comma: semicolons };
    let mut rows: Vec<Row> = Vec::new();
    let mut lines = 1;
    for record in reader.records() {
        let record = record.map_err(|error| {
            let line = error.position().map_or(lines, csv::Position::line);
            table.refuse(
                line,
                0,
                format!("this line cannot be read: {error}"),
                "Save the table as CSV in UTF-8",
            )
        })?;
        let line = record.position().map_or(lines, csv::Position::line);
        lines = line;
        if table.columns.is_empty() {
            table.columns = table.header(&record, line)?;
            continue;
        }
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        let row = table.row(&record, line)?;
        if rows.iter().any(|other| other.student == row.student) {
            let what = format!("student {} is there twice", row.student);
            return Err(table.at(line, STUDENT, what, "Keep one row for each student"));
        }
        rows.push(row);
    }
    if table.columns.is_empty() {
        let advice = format!("Its first line is {}", COLUMNS.join(","));
        return Err(table.refuse(1, 0, "this table is empty".into(), &advice));
    }
    let missing: Vec<String> = key
        .students
        .iter()
        .filter(|student| rows.iter().all(|row| row.student != student.student))
        .map(|student| student.student.to_string())
        .collect();
    if !missing.is_empty() {
        let what = format!("the table ends without a row for student {}", missing.join(", "));
        let advice = "Add the row; cells of what was not answered stay empty";
        return Err(table.at(lines + 1, STUDENT, what, advice));
    }
    rows.sort_by_key(|row| row.student);
    Ok(rows)
}

/// A table while it is being read.
struct Table<'a> {
    file: &'a str,
    key: &'a Key,
    /// For each of [`COLUMNS`], which cell of a row it is.
    columns: Vec<usize>,
    decimal_comma: bool,
}

impl Table<'_> {
    fn refuse(&self, line: u64, cell: usize, what: String, advice: &str) -> ClassError {
        let place =
            Place { file: self.file.to_owned(), line, column: cell + 1, name: String::new() };
        ClassError::At { place, what, advice: advice.to_owned() }
    }

    /// A refusal of the cell of one of [`COLUMNS`].
    fn at(&self, line: u64, column: usize, what: String, advice: &str) -> ClassError {
        let cell = self.columns.get(column).copied().unwrap_or(column);
        let name = COLUMNS[column].to_owned();
        let place = Place { file: self.file.to_owned(), line, column: cell + 1, name };
        ClassError::At { place, what, advice: advice.to_owned() }
    }

    fn header(&self, record: &StringRecord, line: u64) -> Result<Vec<usize>, ClassError> {
        let all = format!("The columns are {}", COLUMNS.join(", "));
        let named = |cell: &str| plain(cell).replace(' ', "_");
        for (cell, name) in record.iter().enumerate() {
            if !COLUMNS.contains(&named(name).as_str()) {
                let what = format!("no column is called \"{}\"", name.trim());
                return Err(self.refuse(line, cell, what, &all));
            }
            if record.iter().take(cell).any(|other| named(other) == named(name)) {
                let what = format!("the column \"{}\" is there twice", name.trim());
                return Err(self.refuse(line, cell, what, &all));
            }
        }
        COLUMNS
            .iter()
            .map(|column| {
                record.iter().position(|name| named(name) == *column).ok_or_else(|| {
                    let what = format!("the column \"{column}\" is missing");
                    self.refuse(line, record.len(), what, &all)
                })
            })
            .collect()
    }

    fn row(&self, record: &StringRecord, line: u64) -> Result<Row, ClassError> {
        if record.len() > COLUMNS.len() {
            let what = format!(
                "this line has {} cells, and the table {} columns",
                record.len(),
                COLUMNS.len()
            );
            let advice =
                "Put several cams into one cell with + between them; a number has a decimal point";
            return Err(self.refuse(line, COLUMNS.len(), what, advice));
        }
        let cell = |column: usize| record.get(self.columns[column]).unwrap_or_default().trim();
        if !cell(CLASS).eq_ignore_ascii_case(&self.key.class) {
            let what = format!(
                "these are answers of class \"{}\", and the key is of {}",
                cell(CLASS),
                self.key.class
            );
            return Err(self.at(line, CLASS, what, "Give the key of that class"));
        }
        let students = self.key.students.len();
        let student = cell(STUDENT)
            .parse()
            .ok()
            .filter(|number| self.key.students.iter().any(|known| known.student == *number))
            .ok_or_else(|| {
                let what = format!("\"{}\" is no student of this class", cell(STUDENT));
                self.at(line, STUDENT, what, &format!("They are numbered 1 to {students}"))
            })?;
        let words = |list: Vec<&str>| format!("Write one of: {}", list.join(", "));
        let given = Given {
            cams: self.list(line, 2, cell(2), |name| self.cam(name), &self.cams())?,
            banks: self.list(line, 3, cell(3), |name| self.bank(name), &self.key.banks)?,
            degrees: self.one(
                line,
                4,
                cell(4),
                |cell| self.number(cell),
                "Write crank degrees, late positive, such as -18.9",
            )?,
            teeth: self.one(
                line,
                5,
                cell(5),
                |cell| self.whole(cell),
                "Write a whole number of teeth, late positive, such as -1, or 0",
            )?,
            cause: self.one(
                line,
                6,
                cell(6),
                Cause::parse,
                &words(Cause::ALL.map(Cause::word).to_vec()),
            )?,
            next_test: self.one(
                line,
                7,
                cell(7),
                NextTest::parse,
                &words(NextTest::ALL.map(NextTest::word).to_vec()),
            )?,
        };
        Ok(Row { student, given })
    }

    /// A cell that may be empty.
    fn one<T>(
        &self,
        line: u64,
        column: usize,
        cell: &str,
        read: impl Fn(&str) -> Option<T>,
        advice: &str,
    ) -> Result<Option<T>, ClassError> {
        if cell.is_empty() {
            return Ok(None);
        }
        let read = read(cell).map(Some);
        read.ok_or_else(|| self.at(line, column, format!("\"{cell}\" cannot be read"), advice))
    }

    /// A cell with names, or with none or all.
    fn list<T: Clone + PartialEq + ToString>(
        &self,
        line: u64,
        column: usize,
        cell: &str,
        find: impl Fn(&str) -> Option<T>,
        all: &[T],
    ) -> Result<Option<Vec<T>>, ClassError> {
        match plain(cell).as_str() {
            "" => return Ok(None),
            NONE => return Ok(Some(Vec::new())),
            ALL => return Ok(Some(all.to_vec())),
            _ => {}
        }
        let mut found: Vec<T> = Vec::new();
        for name in cell.split(['+', ';', ',', '/']).map(str::trim).filter(|name| !name.is_empty())
        {
            let Some(one) = find(name) else {
                let has: Vec<String> = all.iter().map(ToString::to_string).collect();
                let what = format!("this engine has no {} called \"{name}\"", COLUMNS[column]);
                let advice = format!("Write none, all, or with + between them: {}", has.join(", "));
                return Err(self.at(line, column, what, &advice));
            };
            if !found.contains(&one) {
                found.push(one);
            }
        }
        Ok(Some(found))
    }

    fn cams(&self) -> Vec<String> {
        self.key.cams.iter().map(|(name, _)| name.clone()).collect()
    }

    fn cam(&self, name: &str) -> Option<String> {
        self.cams().into_iter().find(|cam| plain(cam) == plain(name))
    }

    fn bank(&self, name: &str) -> Option<u32> {
        let number = plain(name);
        let number = number.trim_start_matches("bank").trim_start_matches('b').trim();
        number.parse().ok().filter(|bank| self.key.banks.contains(bank))
    }

    fn number(&self, cell: &str) -> Option<f64> {
        // A typographic minus is what spreadsheets and phones write.
        let cell = cell.replace('\u{2212}', "-");
        let cell = cell.trim_end_matches('°').trim();
        let cell = if self.decimal_comma { cell.replace(',', ".") } else { cell.to_owned() };
        cell.parse().ok().filter(|number: &f64| number.is_finite())
    }

    fn whole(&self, cell: &str) -> Option<i32> {
        let number = self.number(cell)?;
        (number.fract() == 0.0 && number.abs() < 1000.0).then_some(number as i32)
    }
}
