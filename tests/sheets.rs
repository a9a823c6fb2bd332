//! Captures drawn for somebody to read: signals, ruler and wheels, and nothing of what was found.

use crate::class_files::read;
use crate::cli::{ENGINE, folder, run, text, write};

/// The page without the drawings of the signals.
fn around_the_signals(page: &str) -> String {
    let start = page.find("<figure class=\"strips\">").expect("the strips");
    let end = start + page[start..].find("</svg>").expect("their end");
    format!("{}{}", &page[..start], &page[end..])
}

#[test]
fn the_sheets_of_a_sound_and_a_faulty_engine_differ_in_their_signals_alone() {
    let folder = folder();
    let mut pages = Vec::new();
    for name in ["sound", "bank2-late"] {
        let page = folder.path().join("sheet.html").display().to_string();
        let capture = format!("demo-data/{name}.csv");
        let plots = folder.path().join("pictures").display().to_string();
        let words = ["check", &capture, "--engine", ENGINE, "--report", &page, "--plots", &plots];
        let output = run(&[&words[..], &["--no-verdict", "--force"]].concat());
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let said = text(&output.stdout);
        assert_eq!(said, format!("Written: {page}, without what was found.\n"));
        let mut drawn: Vec<String> = std::fs::read_dir(&plots)
            .expect("pictures")
            .map(|entry| entry.expect("a picture").file_name().into_string().expect("a name"))
            .collect();
        drawn.sort();
        let both = ["described-wheels", "signals"];
        let want: Vec<String> = both
            .iter()
            .flat_map(|name| ["png", "svg"].map(|end| format!("{name}.{end}")))
            .collect();
        assert_eq!(drawn, want, "no picture that shows what was found");
        pages.push(std::fs::read_to_string(&page).expect("a page"));
    }
    assert_ne!(pages[0], pages[1], "the signals");
    assert_eq!(around_the_signals(&pages[0]), around_the_signals(&pages[1]));
    let page = &pages[1];
    // Nothing is fetched, nothing runs, and neither file nor finding is named.
    for word in ["<script", "http:", "bank2", "Timing has jumped", "deviation", "% "] {
        let found = page.replace("http://www.w3.org/2000/svg", "").contains(word);
        assert!(!found, "{word}");
    }
    for word in [
        "B2 intake",
        "TDC 6",
        "690°",
        "720°",
        "crank degrees",
        "be at 497.0°",
        "figure class=\"drive\"",
        "19 teeth",
    ] {
        assert!(page.contains(word), "{word}");
    }
}

#[test]
fn a_capture_that_the_description_does_not_fit_is_drawn_against_time() {
    let folder = folder();
    let engine = std::fs::read_to_string(ENGINE).expect("an engine");
    let other = engine.replace("\"36-2\"", "\"60-2\"");
    assert_ne!(engine, other);
    let other = write(folder.path(), "other.toml", other);
    let page = folder.path().join("sheet.html").display().to_string();
    let output = run(&[
        "check",
        "demo-data/sound.csv",
        "--engine",
        &other,
        "--report",
        &page,
        "--no-verdict",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let page = std::fs::read_to_string(&page).expect("a page");
    assert!(page.contains("milliseconds") && page.contains("60-2"), "{page}");
    assert!(!page.contains("36-2"), "the wheel that is really there");
}

#[test]
fn look_draws_a_capture_that_nobody_described() {
    let folder = folder();
    let page = folder.path().join("look.html").display().to_string();
    let output = run(&["look", "demo-data/sound.csv", "--report", &page]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(text(&output.stdout).contains("Written: "), "{}", text(&output.stdout));
    let drawn = std::fs::read_to_string(&page).expect("a page");
    for word in ["B2 intake", "starter", "crank degrees", "36-2"] {
        assert!(drawn.contains(word), "{word}");
    }
    let again = run(&["look", "demo-data/sound.csv", "--report", &page]);
    assert_eq!(again.status.code(), Some(1));
    assert!(text(&again.stderr).contains("--force"), "{}", text(&again.stderr));
}

#[test]
fn without_a_verdict_nothing_else_that_shows_it_is_written() {
    let base = ["check", "demo-data/sound.csv", "--engine", ENGINE, "--no-verdict"];
    let rows: [&[&str]; 3] =
        [&[], &["--report", "a.html", "--json", "a.json"], &["--report", "a.html", "--keep"]];
    for more in rows {
        let output = run(&[&base, more].concat());
        assert_eq!(output.status.code(), Some(2), "{more:?}: {}", text(&output.stderr));
    }
}

/// One figure of a page with its drawing.
fn figure<'a>(page: &'a str, class: &str) -> &'a str {
    let start = page.find(&format!("<figure class=\"{class}\">")).expect(class);
    &page[start..start + page[start..].find("</figure>").expect("its end")]
}

/// The drive is on every worksheet, the same for all whatever was done to it, and nothing in it is
/// turned, coloured or said.
#[test]
fn the_drive_on_a_worksheet_has_no_answer() {
    let pages = (1..=4).map(|number| read(&format!("student-{number:02}/worksheet.html")));
    let pages: Vec<String> = pages.collect();
    let drives: Vec<&str> = pages.iter().map(|page| figure(page, "drive")).collect();
    assert!(drives.iter().all(|drive| *drive == drives[0]), "a drive tells by itself");
    let svg = &drives[0][drives[0].find("<svg ").expect("a picture")..];
    for part in ["crank", "19", "38", "B1 intake", "B2 intake"] {
        assert!(svg.contains(part), "{part}: {svg}");
    }
    // What is off is drawn in vermilion and said in these words.
    for part in ["#C84C00", "late", "early", "Odds", "worn", "skipped", "in place", "tooth is"] {
        assert!(!svg.replace("A plan of the drive", "").contains(part), "{part}: {svg}");
    }
}
