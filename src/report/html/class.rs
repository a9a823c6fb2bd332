//! The sheets of a class: one for each student, without an answer in it, and the key for the
//! instructor.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{head, held_in_corner, lined_heading, sheet};
use crate::analysis::Analysis;
use crate::capture::Capture;
use crate::class::{Cause, Class, Key, NextTest, Student};
use crate::report::class::{degrees, listed, teeth};
use crate::report::pictures::{Picture, PictureError, Sheet, draw_all};

const STYLE: &str = include_str!("class.css");

/// What is asked, and how the answer is written.
const QUESTIONS: [(&str, &str); 6] = [
    (
        "Which cams read away from where the engine file puts them?",
        "Names with + between them, or none, or all.",
    ),
    ("Which bank is concerned?", "Numbers with + between them, or none, or all."),
    (
        "By how many crank degrees does the cam furthest off read off?",
        "Late is +, early is −; 0 when none is off.",
    ),
    ("How many teeth has the chain skipped?", "Late is +, early is −; 0 when it skipped none."),
    ("What is wrong?", "One word of the list below."),
    ("What do you do next?", "One word of the list below."),
];

/// The worksheet of one student. `sheet` is drawn from that student's capture and engine file.
///
/// # Errors
/// When the drawing library refuses a picture.
pub fn write_worksheet(class: &str, number: u32, sheet: &Sheet) -> Result<String, PictureError> {
    let name = sheet.engine.map_or("", |engine| engine.name.as_str());
    let number = number.to_string();
    let lines = [
        ("Class", Some(class)),
        ("Student", Some(number.as_str())),
        ("Name", None),
        ("Date", None),
        ("Marks", None),
    ];
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (head("Class exercise"))
            (styles())
            body { main {
                header { (lined_heading("Class exercise", name, &lines)) }
                (sheet::recorded(sheet))
                (sheet::strips(sheet)?)
                (sheet::wheels(sheet)?)
                (sheet::drive(sheet)?)
                (questions())
                (words())
                (sheet::cautions())
            } }
        }
    };
    Ok(page.into_string())
}

fn styles() -> Markup {
    html! {
        style { (PreEscaped(sheet::STYLE)) }
        style { (PreEscaped(STYLE)) }
    }
}

fn questions() -> Markup {
    html! {
        section.questions {
            h2 { "Questions" }
            @for (at, (question, how)) in QUESTIONS.iter().enumerate() {
                div.question {
                    p { b { (at + 1) ". " (question) } " " (how) }
                    div.room {}
                }
            }
            div.question {
                p { b { "7. What tells you so, and what did you rule out?" } " In your own words." }
                div.room.tall {}
            }
        }
    }
}

/// The words of the last two questions. Everybody has all of them.
fn words() -> Markup {
    html! {
        section.words {
            div {
                h3 { "What may be wrong" }
                dl { @for cause in Cause::ALL { dt { (cause.word()) } dd { (cause.means()) } } }
            }
            div {
                h3 { "What may be next" }
                dl { @for test in NextTest::ALL { dt { (test.word()) } dd { (test.means()) } } }
            }
        }
    }
}

/// The key for the instructor. `analyses` are those of the students' captures with their engine
/// files, in the order of the class, where there is one.
///
/// # Errors
/// When the drawing library refuses a picture.
pub fn write_key(
    class: &Class,
    key: &Key,
    analyses: &[Option<Analysis>],
) -> Result<String, PictureError> {
    let seed = class.seed.to_string();
    let lines =
        [("Class", Some(class.name.as_str())), ("Seed", Some(seed.as_str())), ("Date", None)];
    let students = class
        .students
        .iter()
        .zip(analyses)
        .map(|(student, analysis)| one(student, analysis.as_ref()))
        .collect::<Result<Vec<Markup>, PictureError>>()?;
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (head("Key of a class"))
            (styles())
            body { main {
                header { (lined_heading("Key of a class", &class.engine, &lines)) }
                p { "For the instructor. Degrees count as right within " (key.within_deg) "°. A dash is not asked." }
                (table(key))
                @for student in &students { (student) }
            } }
        }
    };
    Ok(page.into_string())
}

fn table(key: &Key) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label="Answers, as a table" {
            table.key {
                thead {
                    tr {
                        @for title in ["Student", "Cam", "Bank", "Degrees", "Teeth", "Cause", "Next test"] {
                            th { (title) }
                        }
                    }
                }
                tbody {
                    @for student in &key.students {
                        @let answer = &student.answer;
                        tr {
                            th { (student.student) }
                            td { (listed(answer.cams.as_deref())) }
                            td { (listed(answer.banks.as_deref())) }
                            td { (answer.degrees.map_or("–".into(), degrees)) }
                            td { (answer.teeth.map_or("–".into(), teeth)) }
                            td { (answer.cause.word()) }
                            td { (answer.next_test.word()) }
                        }
                    }
                }
            }
        }
    }
}

/// One student: what was done, how it shows, and the signals with the edges where they should be.
fn one(student: &Student, analysis: Option<&Analysis>) -> Result<Markup, PictureError> {
    let cause = student.answer.cause;
    let captures: [Capture; 1] = [student.practice.capture.clone()];
    let picture = analysis
        .and_then(|analysis| {
            let mut drawn = draw_all(analysis, &captures).into_iter();
            drawn.find(|drawn| drawn.picture == Picture::Traces)
        })
        .map(|drawn| drawn.svg())
        .transpose()?;
    Ok(html! {
        section.student {
            h2 { "Student " (student.number) ": " (cause.word()) }
            p { (first_capital(cause.means())) ". " (cause.shows()) }
            p { b { "Made with: " } (student.exercise.to_string()) }
            p {
                @for cam in &student.practice.truth.cams {
                    (cam.cam) " really stands at " (format!("{:.1}°", cam.position_deg)) ". "
                }
            }
            @if let Some(svg) = picture {
                div role="img" aria-label="The signals, measured and as they should be" { (PreEscaped(held_in_corner(&svg))) }
            } @else {
                p { "With this student's engine file the crank cannot be read, so there is no picture against degrees." }
            }
        }
    })
}

fn first_capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
