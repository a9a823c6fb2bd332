//! TOML text into values, and the slips of the pen that are common in it, each said with its mend.

use serde::de::DeserializeOwned;

use crate::error::{DescriptionError, line_of, nearest};

/// What a kind of description is made of, to say where a key belongs: each table as it is written,
/// and its keys. The keys before the first table stand under "".
pub type Tables = &'static [(&'static str, &'static [&'static str])];

/// Reads a description. `file` names it in messages; `tables` are what it may hold; `advice` is
/// given where nothing better is known.
///
/// # Errors
/// Text that is no TOML or not this description, with its line.
pub fn parse<T: DeserializeOwned>(
    text: &str,
    file: &str,
    tables: Tables,
    advice: &str,
) -> Result<T, DescriptionError> {
    toml::from_str(text).map_err(|error| {
        let start = error.span().map(|span| span.start);
        let line = start.map(|start| line_of(text, start));
        let message = error.message().trim().replace('\n', ", ");
        let slip = Slip { text, line, message: &message, tables };
        let (what, mend) = slip.described().unwrap_or_else(|| (message.clone(), String::new()));
        DescriptionError {
            file: file.to_owned(),
            line,
            key: String::new(),
            what,
            advice: if mend.is_empty() { advice.to_owned() } else { mend }.into(),
        }
    })
}

struct Slip<'a> {
    text: &'a str,
    /// Counted from 1.
    line: Option<usize>,
    /// What the parser said.
    message: &'a str,
    tables: Tables,
}

type Said = (String, String);

impl Slip<'_> {
    /// What is wrong and what mends it, where the slip is a known one.
    fn described(&self) -> Option<Said> {
        let (start, rest) = self.message.split_once('`').unwrap_or((self.message, ""));
        let name = rest.split('`').next().unwrap_or_default();
        match start.trim() {
            "unknown field" => Some(self.unknown_key(name)),
            "missing field" => Some(self.missing_key(name)),
            "unknown variant" => Some(self.unknown_word(name)),
            _ => self.misplaced().or_else(|| self.wrong_type()).or_else(|| self.on_the_line()),
        }
    }

    /// The words in back quotes after "expected".
    fn expected(&self) -> Vec<&str> {
        let expected = self.message.split_once("expected").map_or("", |(_, rest)| rest);
        expected.split('`').skip(1).step_by(2).collect()
    }

    fn unknown_key(&self, name: &str) -> Said {
        let table = self.table();
        let known = self.expected();
        let what = format!("`{name}` is no key of {}", self.place(table));
        let elsewhere: Vec<String> = self
            .tables
            .iter()
            .filter(|(other, keys)| *other != table && keys.contains(&name))
            .map(|(other, _)| self.place(other))
            .collect();
        let mend = match nearest(name, known.iter().copied()) {
            Some(key) => format!("Did you mean `{key}`?"),
            None if !elsewhere.is_empty() => format!("It belongs in {}.", elsewhere.join(" or ")),
            None if known.is_empty() => "Remove it.".into(),
            None => format!("Its keys are {}.", known.join(", ")),
        };
        (what, mend)
    }

    fn missing_key(&self, name: &str) -> Said {
        // The parser points at the table; of keys it found nowhere it only knows the name.
        let table = self.table();
        let table = match self.tables.iter().find(|(_, keys)| keys.contains(&name)) {
            Some((first, _)) if !self.has(table, name) => first,
            _ => table,
        };
        let what = format!("the key `{name}` is missing from {}", self.place(table));
        (what, format!("Write `{name} = …` {}.", inside(table)))
    }

    fn has(&self, table: &str, key: &str) -> bool {
        self.tables.iter().any(|(other, keys)| *other == table && keys.contains(&key))
    }

    fn unknown_word(&self, word: &str) -> Said {
        let known = self.expected();
        let key = self.key().map_or_else(String::new, |key| format!(" for `{key}`"));
        let mend = match nearest(word, known.iter().copied()) {
            Some(near) => format!("Write \"{near}\"."),
            None => format!("Write one of \"{}\".", known.join("\", \"")),
        };
        (format!("\"{word}\" is no word{key}"), mend)
    }

    /// A key that stands in a table of free names, such as banks, and belongs elsewhere.
    fn misplaced(&self) -> Option<Said> {
        let (table, key) = (self.table(), self.key()?);
        let free = self.tables.iter().any(|(of, keys)| *of == table && keys.is_empty());
        let (home, _) = self.tables.iter().find(|(_, keys)| free && keys.contains(&key))?;
        Some((
            format!("`{key}` stands in {}", self.place(table)),
            format!("It belongs in {}.", self.place(home)),
        ))
    }

    fn wrong_type(&self) -> Option<Said> {
        let (found, expected) =
            self.message.strip_prefix("invalid type: ")?.split_once(", expected ")?;
        let number = ["f64", "u32", "i64", "usize", "u64"].contains(&expected.trim());
        let written = found.split('"').nth(1);
        let key = self.key().map_or_else(|| "this key".to_owned(), |key| format!("`{key}`"));
        match (number, written) {
            (true, Some(written)) => {
                let unquoted = written.trim();
                let mend = match unquoted.replace(',', ".").parse::<f64>() {
                    Ok(number) => format!("Write {number}."),
                    Err(_) => "Write the number alone, without a unit.".into(),
                };
                Some((format!("{key} takes a number, and \"{unquoted}\" is text"), mend))
            }
            (true, None) => {
                Some((format!("{key} takes a number, not {found}"), "Write one number.".into()))
            }
            (false, _) if expected.starts_with("a sequence") => Some((
                format!("{key} takes a list, not {found}"),
                format!(
                    "Write it in brackets, with commas: {} = [1, 2, 3].",
                    self.key().unwrap_or("key")
                ),
            )),
            (false, _) if expected.starts_with("a string") => Some((
                format!("{key} takes text, not {found}"),
                "Put it in straight quotes: \"…\".".into(),
            )),
            (false, _) if expected.trim() == "a boolean" => Some((
                format!("{key} takes true or false, not {found}"),
                written
                    .and_then(|word| self.truth(word))
                    .unwrap_or_else(|| "Write true or false, without quotes.".into()),
            )),
            _ => None,
        }
    }

    /// The mend where a word of people's own stands for true or false.
    fn truth(&self, word: &str) -> Option<String> {
        let value = match word.trim().to_lowercase().as_str() {
            "true" | "yes" | "on" => true,
            "false" | "no" | "off" => false,
            _ => return None,
        };
        Some(format!("Write {} = {value}, without quotes.", self.key()?))
    }

    /// Slips that make the line no TOML.
    fn on_the_line(&self) -> Option<Said> {
        let line = self.text.lines().nth(self.line?.checked_sub(1)?)?;
        if let Some(quote) = line.chars().find(|letter| "“”„‟‘’«»".contains(*letter))
        {
            let what = format!("{quote} is a quotation mark of a word processor");
            return Some((what, "Use straight quotes: \".".into()));
        }
        let (key, value) = line.split_once('=')?;
        let (key, value) = (key.trim(), value.split('#').next().unwrap_or_default().trim());
        if let Some(number) = decimal_comma(value) {
            let what = format!("{value} has a decimal comma");
            return Some((what, format!("Write a decimal point: {key} = {number}.")));
        }
        let bare = |letter: char| letter.is_alphanumeric() || "-_+./ °".contains(letter);
        if value.is_empty() {
            return Some((
                format!("`{key}` has no value"),
                "Write one, or remove the line.".into(),
            ));
        }
        // What is a number or a word of TOML's own is wrong for another reason.
        let sound = value.parse::<f64>().is_ok() || ["true", "false"].contains(&value);
        if let Some(mend) = self.truth(value).filter(|_| !["true", "false"].contains(&value)) {
            return Some((format!("{value} is no word of this kind of file"), mend));
        }
        let quoted = format!("Put it in quotes: {key} = \"{value}\".");
        if sound && self.message.contains("in quotes") {
            return Some((self.message.to_owned(), quoted));
        }
        if sound || !value.chars().all(bare) {
            return None;
        }
        let number: String =
            value.chars().take_while(|&c| c.is_ascii_digit() || "+-.".contains(c)).collect();
        let unit = value[number.len()..].trim();
        if number.parse::<f64>().is_ok() && ["°", "deg", "degrees", "rpm", "mm"].contains(&unit) {
            let what = format!("{value} has a unit");
            return Some((what, format!("Write the number alone: {key} = {number}.")));
        }
        let what = format!("{value} is neither a number nor text in quotes");
        Some((what, quoted))
    }

    /// A table in a sentence.
    fn place(&self, table: &str) -> String {
        match (table, self.tables.len()) {
            ("", 0 | 1) => "this file".into(),
            ("", _) => "the part before the first [table]".into(),
            _ => table.to_owned(),
        }
    }

    /// The table in which the line stands, as its header is written; "" before the first.
    fn table(&self) -> &str {
        let until = self.line.unwrap_or(1);
        let headers = self.text.lines().take(until).map(str::trim);
        let written = headers.filter(|line| line.starts_with('[')).last().unwrap_or_default();
        let end = written.rfind(']').map_or(0, |at| at + 1);
        &written[..end]
    }

    /// The key on the line.
    fn key(&self) -> Option<&str> {
        let line = self.text.lines().nth(self.line?.checked_sub(1)?)?;
        let (key, rest) = line.split_once('=')?;
        let key = key.trim();
        // In an inline table it may be any of several.
        (!rest.trim_start().starts_with('{')).then_some(key)
    }
}

fn inside(table: &str) -> String {
    if table.is_empty() {
        "at the top of the file, before the first [table]".into()
    } else {
        format!("below {table}")
    }
}

/// A number with a decimal comma, with a point instead.
fn decimal_comma(value: &str) -> Option<String> {
    let (whole, part) = value.split_once(',')?;
    let digits = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
    let unsigned = whole.strip_prefix(['-', '+']).unwrap_or(whole);
    (digits(unsigned) && digits(part)).then(|| format!("{whole}.{part}"))
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct File {
        name: String,
        tolerance: Option<f64>,
        order: Option<Vec<u32>>,
        free: Option<bool>,
        crank: Part,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct Part {
        wheel: Option<String>,
        sensor: Sensor,
        at: Option<f64>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(rename_all = "lowercase")]
    enum Sensor {
        Hall,
        Reluctance,
    }

    const TABLES: Tables =
        &[("", &["name", "tolerance", "order", "free"]), ("[crank]", &["wheel", "sensor", "at"])];

    #[test]
    fn slips_are_said_with_their_mend() {
        let good = "name = \"x\"\ntolerance = 5.0\norder = [1]\n[crank]\nwheel = \"36-2\"\nsensor = \"hall\"\nat = 3.0\n";
        assert!(parse::<File>(good, "f", TABLES, "?").is_ok());
        // (what is written instead of what, line, parts of the message)
        let rows: [(&str, &str, usize, [&str; 2]); 21] = [
            ("tolerance = 5.0", "tolerance = 5,0", 2, ["decimal comma", "tolerance = 5.0"]),
            ("at = 3.0", "at = -3,25 # mine", 7, ["-3,25 has a decimal comma", "at = -3.25"]),
            ("\"36-2\"", "36-2", 5, ["in quotes", "wheel = \"36-2\""]),
            ("\"36-2\"", "half-moon", 5, ["in quotes", "wheel = \"half-moon\""]),
            ("sensor = \"hall\"", "sensor = hall", 6, ["in quotes", "sensor = \"hall\""]),
            ("\"hall\"", "\"Hall\"", 6, ["\"Hall\" is no word for `sensor`", "Write \"hall\""]),
            ("\"hall\"", "\"optical\"", 6, ["\"optical\"", "\"hall\", \"reluctance\""]),
            ("sensor =", "sensr =", 6, ["`sensr` is no key of [crank]", "Did you mean `sensor`?"]),
            ("at = 3.0", "tolerance = 3.0", 7, ["no key of [crank]", "belongs in the part before"]),
            ("at = 3.0", "zzz = 3.0", 7, ["no key of [crank]", "wheel, sensor, at"]),
            ("tolerance =", "wheel =", 2, ["no key of the part before", "belongs in [crank]"]),
            ("at = 3.0", "at = \"3,5\"", 7, ["`at` takes a number", "Write 3.5."]),
            ("at = 3.0", "at = 3.0°", 7, ["has a unit", "at = 3.0."]),
            ("at = 3.0", "at =", 7, ["`at` has no value", "remove the line"]),
            ("order = [1]", "order = \"1-2\"", 3, ["`order` takes a list", "order = [1, 2, 3]"]),
            ("name = \"x\"", "name = “x”", 1, ["word processor", "straight quotes"]),
            ("order = [1]", "free = \"yes\"", 3, ["`free` takes true or false", "free = true"]),
            (
                "order = [1]",
                "free = \"?\"",
                3,
                ["`free` takes true or false", "Write true or false"],
            ),
            ("order = [1]", "free = 1", 3, ["`free` takes true or false", "Write true or false"]),
            ("order = [1]", "free = No", 3, ["No is no word", "free = false"]),
            ("name = \"x\"", "name = 7", 1, ["`name` takes text", "straight quotes"]),
        ];
        for (from, to, line, parts) in rows {
            let text = good.replacen(from, to, 1);
            let error = parse::<File>(&text, "f.toml", TABLES, "?").expect_err(to);
            let message = error.to_string();
            assert_eq!(error.line, Some(line), "{to}: {message}");
            for part in parts {
                assert!(message.contains(part), "{to}: no \"{part}\" in {message}");
            }
            assert_eq!(message.lines().count(), 1, "{message}");
        }
        for (key, table) in
            [("sensor = \"hall\"\n", "[crank]"), ("name = \"x\"\n", "the part before")]
        {
            let text = good.replacen(key, "", 1);
            let message = parse::<File>(&text, "f", TABLES, "?").expect_err(key).to_string();
            assert!(message.contains(&format!("is missing from {table}")), "{message}");
        }
    }
}
