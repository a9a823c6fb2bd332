//! A class as files: nothing of the answers in what a student is given, and marks for what comes
//! back.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use crate::cli::{ENGINE, folder, run, text, write};

const SEED: &str = "4503599627370517";
/// Exercises of the class, one for each student.
const GIVEN: [&str; 4] =
    ["sound", "skip:B2 intake@primary:+1", "crossed-leads:B1 intake:B2 intake", "wrong-file"];

/// One class, made once.
static CLASS: LazyLock<tempfile::TempDir> = LazyLock::new(|| {
    let folder = folder();
    let out = folder.path().join("class").display().to_string();
    let mut words = vec![
        "practice",
        "--class",
        "4",
        "--engine",
        ENGINE,
        "--seed",
        SEED,
        "--seconds",
        "1.6",
        "--rate",
        "10000",
        "--out",
        &out,
    ];
    words.extend(GIVEN.iter().flat_map(|given| ["--give", given]));
    let output = run(&words);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let said = text(&output.stdout);
    assert!(said.contains("The seed was given"), "{said}");
    // Whoever shows the screen to a class gives nothing away.
    for words in GIVEN {
        assert!(!said.contains(words) && !said.contains(SEED), "{said}");
    }
    folder
});

fn at(name: &str) -> PathBuf {
    CLASS.path().join("class").join(name)
}

pub(crate) fn read(name: &str) -> String {
    fs::read_to_string(at(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn key() -> serde_json::Value {
    serde_json::from_str(&read("instructor/key.json")).expect("JSON")
}

/// Every file of a student, by name.
fn files(number: u32) -> BTreeMap<String, Vec<u8>> {
    fs::read_dir(at(&format!("student-{number:02}")))
        .expect("a folder")
        .map(|entry| {
            let entry = entry.expect("an entry");
            let name = entry.file_name().into_string().expect("a name");
            (name, fs::read(entry.path()).expect("a file"))
        })
        .collect()
}

fn holds(bytes: &[u8], wanted: &[u8]) -> bool {
    bytes.windows(wanted.len()).any(|window| window == wanted)
}

/// The texts drawn in the signals.
fn drawn_texts(page: &str) -> Vec<String> {
    let start = page.find("<figure class=\"strips\">").expect("the strips");
    let end = start + page[start..].find("</svg>").expect("their end");
    let texts = page[start..end].split("<text ").skip(1);
    texts
        .map(|text| {
            let inner = text.split_once('>').expect("an element").1;
            inner.split('<').next().expect("its text").trim().to_owned()
        })
        .collect()
}

#[test]
fn no_answer_can_be_read_out_of_a_students_files() {
    let key = key();
    let mut secrets: Vec<Vec<u8>> = vec![SEED.into()];
    let seed: u64 = SEED.parse().expect("a number");
    secrets.push(format!("{seed:x}").into_bytes());
    secrets.push(seed.to_le_bytes().to_vec());
    secrets.push(seed.to_be_bytes().to_vec());
    for word in ["skip:", "@primary", "wrong-file", "crossed-leads", "truth", "camwitness", "<!--"]
    {
        secrets.push(word.into());
    }
    for student in key["students"].as_array().expect("students") {
        // What a practice capture could be made again with, and where the cams really stand.
        secrets.push(student["truth"]["seed"].to_string().into_bytes());
        for cam in student["truth"]["cams"].as_array().expect("cams") {
            secrets.push(cam["position_deg"].to_string().into_bytes());
            secrets.push(cam["deviation_deg"].to_string().into_bytes());
        }
    }
    for number in 1..=4 {
        let files = files(number);
        let names: Vec<&str> = files.keys().map(String::as_str).collect();
        assert_eq!(names, ["capture.csv", "engine.toml", "worksheet.html"], "of every student");
        for (name, bytes) in &files {
            for secret in &secrets {
                let shown = String::from_utf8_lossy(secret);
                assert!(!holds(bytes, secret), "student {number}, {name}: {shown}");
            }
        }
        let capture = text(&files["capture.csv"]);
        let mut lines = capture.lines();
        let header =
            "time (s),crank (V),B1 intake (V),B2 intake (V),starter (A),battery (V),ignition 4 (V)";
        assert_eq!(lines.next(), Some(header));
        for line in lines {
            assert!(line.split(',').all(|cell| cell.parse::<f64>().is_ok()), "{line}");
        }
        let engine = text(&files["engine.toml"]);
        assert!(!engine.contains('#'), "a comment: {engine}");
        let page = text(&files["worksheet.html"]);
        assert!(!page.contains("/*\n") && !page.contains("<script"), "{page}");
        for drawn in drawn_texts(&page) {
            let numbers = drawn.trim_end_matches(['°', 'V', 'A', ' ']).replace(" to ", "");
            let ruler = numbers.chars().all(|c| c.is_ascii_digit() || ".-".contains(c));
            let names = header.contains(&drawn) || drawn.starts_with("TDC ");
            let rest = drawn.starts_with("crank degrees") || drawn.starts_with("milliseconds");
            assert!(ruler || names || rest, "student {number}: {drawn}");
        }
    }
}

#[test]
fn worksheets_differ_in_signals_and_number_alone() {
    let key = key();
    let mut same: Vec<(String, String)> = Vec::new();
    for student in key["students"].as_array().expect("students") {
        let number = student["student"].as_u64().expect("a number");
        let page = read(&format!("student-{number:02}/worksheet.html"));
        let engine = read(&format!("student-{number:02}/engine.toml"));
        if student["exercise"] == "wrong-file" {
            // The mistake is in the file that the student has, and in nothing else.
            assert!(engine.contains("60-2") && page.contains("milliseconds"), "{engine}");
            assert!(!engine.contains("36-2") && !page.contains("36-2"));
            continue;
        }
        let start = page.find("<figure class=\"strips\">").expect("the strips");
        let end = start + page[start..].find("</svg>").expect("their end");
        let around = format!("{}{}", &page[..start], &page[end..]);
        let own = format!("<dt>Student</dt><dd>{number}</dd>");
        assert!(around.contains(&own), "{around}");
        same.push((around.replace(&own, ""), engine));
    }
    assert_eq!(same.len(), 3);
    assert!(same.iter().all(|one| *one == same[0]), "a page tells by more than its signals");
    for word in ["What is wrong?", "crossed leads", "19 teeth", "In your own words", "low rate"] {
        assert!(same[0].0.contains(word), "{word}");
    }
}

/// The right answers of a class, as a table.
fn right_answers() -> String {
    let key = key();
    let class = key["class"].as_str().expect("a name");
    let mut table = "class,student,cam,bank,degrees,teeth,cause,next_test\n".to_owned();
    for student in key["students"].as_array().expect("students") {
        let answer = &student["answer"];
        let list = |name: &str| match answer[name].as_array() {
            Some(all) if all.is_empty() => "none".to_owned(),
            Some(all) => {
                all.iter().map(|one| one.to_string().replace('"', "")).collect::<Vec<_>>().join("+")
            }
            None => String::new(),
        };
        let number = |name: &str| answer[name].as_f64().map_or(String::new(), |n| n.to_string());
        let word = |name: &str| answer[name].as_str().expect("a word").replace('-', " ");
        table += &format!(
            "{class},{},{},{},{},{},{},{}\n",
            student["student"],
            list("cams"),
            list("banks"),
            number("degrees"),
            number("teeth"),
            word("cause"),
            word("next_test")
        );
    }
    table
}

fn grade(answers: &str, key: &Path, more: &[&str]) -> (Option<i32>, String, String) {
    let key = key.display().to_string();
    let words = ["practice", "--grade", answers, "--key", &key];
    let output = run(&[&words[..], more].concat());
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn right_answers_get_every_mark_and_wrong_ones_say_what_is_right() {
    let folder = folder();
    let key = at("instructor/key.json");
    let table = right_answers();
    let answers = write(folder.path(), "a.csv", &table);
    let (status, said, error) = grade(&answers, &key, &[]);
    assert_eq!(status, Some(0), "{error}");
    // Four students, six questions; four are not asked of the wrong file and of crossed leads.
    assert!(said.contains("The class: 16 of 16 right"), "{said}");
    assert!(!said.contains("right is"), "{said}");
    // As a spreadsheet writes it where numbers have a comma.
    let semicolons = table.replace(',', ";").replace("18.", "18,");
    let answers = write(folder.path(), "b.csv", format!("\u{feff}{semicolons}"));
    let (status, said, error) = grade(&answers, &key, &[]);
    assert!(status == Some(0) && said.contains("16 of 16"), "{error}{said}");
    // The late cam taken for an early one, 10° beside, of the wrong cause.
    let jumped = table.lines().find(|line| line.contains("jumped")).expect("that student");
    let mut cells: Vec<&str> = jumped.split(',').collect();
    (cells[4], cells[5], cells[6], cells[7]) = ("9", "-1", "worn", "");
    let answers = write(folder.path(), "c.csv", table.replace(jumped, &cells.join(",")));
    let (_, said, _) = grade(&answers, &key, &[]);
    for words in [
        "2 of 6 right",
        "degrees: +9.0°; right is +1",
        "teeth: −1; right is +1",
        "cause: worn; right is jumped",
        "next test: not answered; right is cover",
        "The class: 12 of 16 right",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    let (_, said, _) = grade(&answers, &key, &["--tolerance", "12"]);
    assert!(said.contains("13 of 16 right"), "{said}");
    // The blank beside the key is taken as it is: nothing answered, nothing right.
    let blank = at("instructor/answers.csv").display().to_string();
    let (status, said, error) = grade(&blank, &key, &[]);
    assert!(status == Some(0) && said.contains("The class: 0 of 16 right"), "{error}{said}");
}

#[test]
fn what_cannot_be_marked_is_one_message_with_its_place() {
    let folder = folder();
    let key = at("instructor/key.json");
    let table = right_answers();
    let class = self::key()["class"].as_str().expect("a name").to_owned();
    let third = table.lines().nth(3).expect("a row").to_owned();
    let cells: Vec<&str> = third.split(',').collect();
    let with = |cell: usize, new: &str| {
        let mut cells = cells.clone();
        cells[cell] = new;
        table.replace(&third, &cells.join(","))
    };
    let rows = [
        (
            table.replace(&class, "AAAA-AAAA"),
            "line 2, column 1 (class): these are answers of class",
        ),
        (table.replace("next_test", "remark"), "line 1, column 8: no column is called \"remark\""),
        (
            table.replace("teeth,", "").replace("teeth", ""),
            "line 1, column 8: the column \"teeth\" is missing",
        ),
        (table.replace("bank,", "cam,"), "line 1, column 4: the column \"cam\" is there twice"),
        (
            table.replace(&format!("{third}\n"), ""),
            "line 5, column 2 (student): the table ends without a row for student 3",
        ),
        (format!("{table}{third}\n"), "line 6, column 2 (student): student 3 is there twice"),
        (with(1, "9"), "line 4, column 2 (student): \"9\" is no student of this class"),
        (
            with(2, "B3 intake"),
            "line 4, column 3 (cam): this engine has no cam called \"B3 intake\"",
        ),
        (with(3, "4"), "line 4, column 4 (bank): this engine has no bank called \"4\""),
        (with(4, "late"), "line 4, column 5 (degrees): \"late\" cannot be read"),
        (with(5, "1.5"), "line 4, column 6 (teeth): \"1.5\" cannot be read"),
        (with(6, "gremlins"), "line 4, column 7 (cause): \"gremlins\" cannot be read"),
        (with(7, "pray"), "line 4, column 8 (next_test): \"pray\" cannot be read"),
        (
            table.replace(&third, &format!("{third},more")),
            "line 4, column 9: this line has 9 cells",
        ),
        (String::new(), "line 1, column 1: this table is empty"),
    ];
    for (table, said) in rows {
        let answers = write(folder.path(), "bad.csv", &table);
        let (status, out, error) = grade(&answers, &key, &[]);
        assert_eq!((status, out.as_str()), (Some(1), ""), "{said}: {error}");
        assert!(error.contains(&format!("{answers}, {said}")), "{said}: {error}");
        assert_eq!(error.lines().count(), 1, "{error}");
    }
}

#[test]
fn a_key_that_was_edited_marks_nothing() {
    let folder = folder();
    let answers = write(folder.path(), "a.csv", right_answers());
    let text = read("instructor/key.json");
    let seal = text.find("\"seal\": \"").expect("a seal") + 9;
    let line = text[..seal].matches('\n').count() + 1;
    let changed = format!("line {line}, column 12: the key was changed after it was made");
    let rows = [
        (text.replacen("\"teeth\": 1", "\"teeth\": 2", 1), changed.as_str()),
        (text.replacen("jumped", "sound", 1), &changed),
        (text.replacen("\"within_deg\": 3.0", "\"within_deg\": 30.0", 1), &changed),
        (format!("{}{}", &text[..seal], &text[seal + 1..]), &changed),
        (
            text.replacen("camwitness-class-key/1", "another", 1),
            "line 1, column 1: this is \"another\"",
        ),
        ("{}".into(), "line 1, column 2: this is no key of a class"),
        ("keys".into(), "line 1, column 1: this is no key of a class"),
    ];
    for (key, said) in rows {
        assert_ne!(key, text, "{said}");
        let path = PathBuf::from(write(folder.path(), "key.json", &key));
        let (status, out, error) = grade(&answers, &path, &[]);
        assert_eq!((status, out.as_str()), (Some(1), ""), "{said}: {error}");
        assert!(error.contains(said) && error.lines().count() == 1, "{said}: {error}");
    }
    // Line ends that were changed on the way are no edit.
    let path = PathBuf::from(write(folder.path(), "key.json", text.replace('\n', "\r\n")));
    assert_eq!(grade(&answers, &path, &[]).0, Some(0));
}

#[test]
fn options_that_do_not_go_together_are_refused_and_nothing_is_lost() {
    let folder = folder();
    let out = folder.path().join("new").display().to_string();
    let base = ["practice", "--engine", ENGINE, "--out", &out];
    let rows: [(&[&str], i32, &str); 8] = [
        (&["--class", "2", "--fault", "crank-wheel:9"], 1, "--give"),
        (&["--class", "2", "--truth", "t.json"], 1, "its key"),
        (&["--class", "0"], 2, "1..=99"),
        (&["--class", "100"], 2, "1..=99"),
        (&["--give", "sound"], 2, "--class"),
        (&["--class", "2", "--give", "gremlins"], 2, "no fault is called that"),
        (&["--without", "B3 intake"], 1, "It has: crank, B1 intake, B2 intake, starter"),
        (&["--class", "2", "--separator", "comma", "--decimal", "comma"], 1, "--separator"),
    ];
    for (more, status, said) in rows {
        let output = run(&[&base[..], more].concat());
        let error = text(&output.stderr);
        assert_eq!(output.status.code(), Some(status), "{more:?}: {error}");
        assert!(error.contains(said), "{more:?}: {error}");
        assert!(!Path::new(&out).exists(), "{more:?}");
    }
    // A class that is there is kept.
    let there = at("").display().to_string();
    let before = read("instructor/key.json");
    let output = run(&["practice", "--engine", ENGINE, "--class", "4", "--out", &there]);
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stderr).contains("there already"), "{}", text(&output.stderr));
    assert_eq!(read("instructor/key.json"), before);
}

#[test]
fn a_lead_that_is_left_out_is_in_no_column() {
    let folder = folder();
    let out = folder.path().join("p.csv").display().to_string();
    let output = run(&[
        "practice",
        "--engine",
        ENGINE,
        "--seconds",
        "1.5",
        "--rate",
        "8000",
        "--without",
        "B2 intake,starter",
        "--with",
        "battery",
        "--with",
        "starter",
        "--out",
        &out,
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let capture = fs::read_to_string(&out).expect("a capture");
    assert_eq!(capture.lines().next(), Some("time (s),crank (V),B1 intake (V),battery (V)"));
}
