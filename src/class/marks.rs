//! Marks: what a class answered, held against its key.

use super::answer::Answer;
use super::answers::{Given, read};
use super::error::ClassError;
use super::key::Key;

/// One answer of one student.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// Right.
    Right,
    /// Wrong.
    Wrong,
    /// Not answered.
    Missing,
    /// Not asked: the signals of this student do not show it.
    NotAsked,
}

/// One student's marks.
#[derive(Debug, Clone, PartialEq)]
pub struct Marks {
    /// Number of the student.
    pub student: u32,
    /// What was answered.
    pub given: Given,
    /// What is right.
    pub answer: Answer,
    /// In the order cam, bank, degrees, teeth, cause, next test.
    pub marks: [Mark; 6],
}

impl Marks {
    /// Answers that are right.
    #[must_use]
    pub fn right(&self) -> usize {
        self.marks.iter().filter(|mark| **mark == Mark::Right).count()
    }

    /// Answers that were asked for.
    #[must_use]
    pub fn asked(&self) -> usize {
        self.marks.iter().filter(|mark| **mark != Mark::NotAsked).count()
    }
}

/// Marks the answers in the text of a table. Degrees may lie `within` beside; as far as the key
/// says, where nothing is given.
///
/// # Errors
/// Whatever is wrong with the table: see [`ClassError::At`].
pub fn mark(
    text: &str,
    file: &str,
    key: &Key,
    within: Option<f64>,
) -> Result<Vec<Marks>, ClassError> {
    let within = within.unwrap_or(key.within_deg);
    let rows = read(text, key, file)?;
    let marks = rows.into_iter().filter_map(|row| {
        let student = key.students.iter().find(|student| student.student == row.student)?;
        let (given, answer) = (row.given, student.answer.clone());
        let near = |given: &f64, right: &f64| (given - right).abs() <= within;
        let marks = [
            one(given.cams.as_ref(), answer.cams.as_ref(), |a, b| same(a, b)),
            one(given.banks.as_ref(), answer.banks.as_ref(), |a, b| same(a, b)),
            one(given.degrees.as_ref(), answer.degrees.as_ref(), near),
            one(given.teeth.as_ref(), answer.teeth.as_ref(), |a, b| a == b),
            one(given.cause.as_ref(), Some(&answer.cause), |a, b| a == b),
            one(given.next_test.as_ref(), Some(&answer.next_test), |a, b| a == b),
        ];
        Some(Marks { student: row.student, given, answer, marks })
    });
    Ok(marks.collect())
}

fn one<T>(given: Option<&T>, right: Option<&T>, same: impl Fn(&T, &T) -> bool) -> Mark {
    match (given, right) {
        (_, None) => Mark::NotAsked,
        (None, Some(_)) => Mark::Missing,
        (Some(given), Some(right)) if same(given, right) => Mark::Right,
        _ => Mark::Wrong,
    }
}

/// The same names, in any order.
fn same<T: PartialEq>(a: &[T], b: &[T]) -> bool {
    a.len() == b.len() && a.iter().all(|one| b.contains(one))
}
