//! When a file was recorded, as far as the file itself says it. Nothing is inferred: what the disk
//! says of a file is when it was copied.

use super::csv::clock::time_of_day;

/// Lines at the beginning of a file that may say it.
const LINES: usize = 200;
/// Longest such text, in characters.
const LONGEST: usize = 60;
/// What a line that says it begins with (common practice of exports, no source).
const KEYS: [&str; 26] = [
    "$date",
    "date",
    "date/time",
    "date time",
    "date and time",
    "datetime",
    "datum",
    "datum/zeit",
    "zeit",
    "time",
    "timestamp",
    "recorded",
    "recorded at",
    "record date",
    "record time",
    "recording date",
    "recording time",
    "start date",
    "start time",
    "acquisition date",
    "acquisition time",
    "trigger date",
    "trigger time",
    "created",
    "created at",
    "creation date",
];
const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

/// By a line above the rows of a text; else by the first row, where rows have a date and a time.
/// `None` where neither gives a date.
pub(super) fn in_text(head: &[u8]) -> Option<String> {
    let plain: Vec<u8> = head.iter().copied().filter(|byte| *byte != 0).collect();
    let text = match std::str::from_utf8(&plain) {
        Ok(text) => text.to_owned(),
        Err(_) => plain.iter().map(|&byte| char::from(byte)).collect(),
    };
    let text = text.trim_start_matches('\u{feff}');
    above_rows(text).or_else(|| of_first_row(text))
}

fn above_rows(text: &str) -> Option<String> {
    let mut said: Vec<String> = Vec::new();
    let mut lines = text.lines().take(LINES);
    while let Some(line) = lines.next() {
        let line =
            line.trim_matches(|letter: char| letter.is_whitespace() || "#%\"';,".contains(letter));
        let split = line.split_once(|letter: char| ",;\t=".contains(letter));
        // A date and time as a key of its own has a colon of its own only behind the key.
        let (key, value) = match split {
            Some((key, value)) if !key.contains(':') => (key, value),
            _ => line.split_once(':').unwrap_or((line, "")),
        };
        let key = key.trim_matches(|letter: char| letter.is_whitespace() || "\":".contains(letter));
        let key = key.to_lowercase();
        let begun = line.strip_prefix("$date").map(str::trim);
        let value = match begun {
            // A value change dump has it on the line or on the next.
            Some("") => lines.next().unwrap_or_default(),
            Some(rest) => rest.trim_end_matches("$end"),
            None if KEYS.contains(&key.as_str()) => value,
            None => continue,
        };
        let value =
            value.trim_matches(|letter: char| letter.is_whitespace() || ",;\"'=".contains(letter));
        let length = value.chars().count();
        if length <= LONGEST && (has_date(value) || has_clock(value)) {
            said.push(value.chars().filter(|letter| !letter.is_control()).collect());
        }
    }
    // A time alone may be one that counts from the start.
    said.iter().any(|part| has_date(part)).then(|| said.join(", "))
}

/// The date and time of the first of two rows that both have one in the same column.
fn of_first_row(text: &str) -> Option<String> {
    let lines: Vec<&str> = text.lines().take(LINES).collect();
    let stamped = |cell: &&str| time_of_day(cell.as_bytes()).is_some_and(|at| at.day.is_some());
    lines.windows(2).find_map(|pair| {
        [';', '\t', ','].into_iter().find_map(|separator| {
            let mut cells = pair[0].split(separator).zip(pair[1].split(separator));
            let (first, _) = cells.find(|(first, second)| stamped(first) && stamped(second))?;
            Some(first.trim_matches([' ', '"']).to_owned())
        })
    })
}

/// Whether a text has a date in it: three numbers in a row, or a month's name and a year.
fn has_date(text: &str) -> bool {
    let words = || text.split(|letter: char| letter.is_whitespace() || ",T".contains(letter));
    let year = |part: &str| part.len() == 4 && part.bytes().all(|byte| byte.is_ascii_digit());
    let short = |part: &str| {
        (1..=2).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit())
    };
    let numbers = |word: &str| {
        ['-', '/', '.'].into_iter().any(|mark| {
            let parts: Vec<&str> = word.trim_end_matches(mark).split(mark).collect();
            match parts[..] {
                [a, b, c] => short(b) && (year(a) && short(c) || short(a) && (year(c) || short(c))),
                _ => false,
            }
        })
    };
    let month = |word: &str| {
        word.split(['-', '.', '/']).any(|part| {
            let start: String = part.to_lowercase().chars().take(3).collect();
            part.chars().all(char::is_alphabetic) && MONTHS.contains(&start.as_str())
        })
    };
    let dated = |word: &str| word.split(['-', '.', '/']).any(year);
    words().any(numbers) || words().any(month) && words().any(dated)
}

/// Whether a text has a time of day in it.
fn has_clock(text: &str) -> bool {
    let mut words = text.split(|letter: char| letter.is_whitespace() || letter == 'T');
    words.any(|word| time_of_day(word.as_bytes()).is_some())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Heads of exports as they are commonly written; no real file.
    #[test]
    fn it_is_read_where_the_text_says_it() {
        let rows: [(&str, Option<&str>); 14] = [
            ("# Date: 2026-03-04 10:11:12\ntime,crank\n0,1\n", Some("2026-03-04 10:11:12")),
            ("Date,2026-03-04\nTime,10:11:12\nt,a\n", Some("2026-03-04, 10:11:12")),
            ("\"Recorded\";\"04.03.2026 10:11\"\nt;a\n", Some("04.03.2026 10:11")),
            ("$date\n   Wed Mar  4 10:11:12 2026\n$end\n", Some("Wed Mar  4 10:11:12 2026")),
            ("$date Wed Mar 4 10:11:12 2026 $end\n", Some("Wed Mar 4 10:11:12 2026")),
            ("Model,x\nTrigger Date\t04-Mar-2026\n", Some("04-Mar-2026")),
            ("Date/Time = 03/04/2026 10:11:12 PM\n", Some("03/04/2026 10:11:12 PM")),
            ("Start time: 4 March 2026, 10:11:12\n", Some("4 March 2026, 10:11:12")),
            ("\u{feff}Datum;4.3.26\nZeit;10:11:12\n", Some("4.3.26, 10:11:12")),
            ("Datum;4.3.26\r\nZeit;10:11:12\r\n", Some("4.3.26, 10:11:12")),
            // UTF-16, its zeros left out.
            ("D\0a\0t\0e\0,\x002\x000\x002\x006\0-\x000\x003\0-\x000\x004\0\n", Some("2026-03-04")),
            (
                "time,a\n2026-03-04T10:11:12.000Z,1\n2026-03-04T10:11:12.001Z,2\n",
                Some("2026-03-04T10:11:12.000Z"),
            ),
            (
                "t;a\n04.03.2026 10:11:12,000;1\n04.03.2026 10:11:12,001;2\n",
                Some("04.03.2026 10:11:12,000"),
            ),
            ("created,2026-03-04 note\n", Some("2026-03-04 note")),
        ];
        for (head, want) in rows {
            assert_eq!(in_text(head.as_bytes()).as_deref(), want, "{head}");
        }
    }

    #[test]
    fn what_only_looks_like_it_is_no_time_of_recording() {
        let rows = [
            "Time,Channel 1000\n0,1\n",
            "0.001,2026\n0.002,2026\n",
            // A clock that counts from the start, and one without a date.
            "Trigger Time,00:00:00.120\n0,1\n",
            "time,a\n10:11:12.000,1\n10:11:12.001,2\n",
            "timestamp,crank 1000\n0,1\n1,2\n",
            "timestamp,1772619072\n0,1\n",
            "Date,unknown\n0,1\n",
            "Version: 2.4.10\n0,1\n",
            "Serial,2026-03-04\n0,1\n",
            "",
        ];
        for head in rows {
            assert_eq!(in_text(head.as_bytes()), None, "{head}");
        }
    }
}
