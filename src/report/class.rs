//! Marks of a class as text, and its numbers in words.

use std::fmt::Write as _;

use crate::class::{Key, Mark, Marks};

/// What is asked, as the table names it.
const TITLES: [&str; 6] = ["cam", "bank", "degrees", "teeth", "cause", "next test"];
/// Stands for what is not asked.
const DASH: &str = "–";

/// Names with + between them, "none", or a dash where nothing is asked.
#[must_use]
pub fn listed<T: ToString>(names: Option<&[T]>) -> String {
    match names {
        None => DASH.into(),
        Some([]) => "none".into(),
        Some(names) => names.iter().map(ToString::to_string).collect::<Vec<_>>().join(" + "),
    }
}

/// Degrees with their sign.
#[must_use]
pub fn degrees(degrees: f64) -> String {
    if degrees == 0.0 { "0°".into() } else { format!("{degrees:+.1}°").replace('-', "−") }
}

/// Teeth with their sign.
#[must_use]
pub fn teeth(teeth: i32) -> String {
    if teeth == 0 { "0".into() } else { format!("{teeth:+}").replace('-', "−") }
}

/// The marks of a class: a line for each student, what would have been right below it, and the sum.
#[must_use]
pub fn marks(key: &Key, marks: &[Marks], within: f64) -> String {
    let mut text = format!(
        "Class {}, {}. Degrees count as right within {within}°.\n\n",
        key.class, key.engine
    );
    for one in marks {
        let (right, asked) = (one.right(), one.asked());
        let _ = writeln!(text, "Student {}: {right} of {asked} right", one.student);
        let (given, wanted) = (cells(one, true), cells(one, false));
        for (at, mark) in one.marks.iter().enumerate() {
            let title = TITLES[at];
            let (given, wanted) = (&given[at], &wanted[at]);
            let _ = match mark {
                Mark::Wrong => writeln!(text, "  {title}: {given}; right is {wanted}"),
                Mark::Missing => writeln!(text, "  {title}: not answered; right is {wanted}"),
                Mark::Right | Mark::NotAsked => Ok(()),
            };
        }
    }
    let right: usize = marks.iter().map(Marks::right).sum();
    let asked: usize = marks.iter().map(Marks::asked).sum();
    let _ = writeln!(text, "\nThe class: {right} of {asked} right");
    for (at, title) in TITLES.iter().enumerate() {
        let of = |mark: Mark| marks.iter().filter(|one| one.marks[at] == mark).count();
        let (right, wrong) = (of(Mark::Right), of(Mark::Wrong) + of(Mark::Missing));
        let _ = writeln!(text, "  {title}: {right} of {} right", right + wrong);
    }
    text
}

/// The cells of a row: what was given, or what is right.
fn cells(marks: &Marks, given: bool) -> [String; 6] {
    let dash = || DASH.to_owned();
    if given {
        let given = &marks.given;
        [
            listed(given.cams.as_deref()),
            listed(given.banks.as_deref()),
            given.degrees.map_or_else(dash, degrees),
            given.teeth.map_or_else(dash, teeth),
            given.cause.map_or_else(dash, |cause| cause.word().into()),
            given.next_test.map_or_else(dash, |test| test.word().into()),
        ]
    } else {
        let answer = &marks.answer;
        [
            listed(answer.cams.as_deref()),
            listed(answer.banks.as_deref()),
            answer.degrees.map_or_else(dash, degrees),
            answer.teeth.map_or_else(dash, teeth),
            answer.cause.word().into(),
            answer.next_test.word().into(),
        ]
    }
}
