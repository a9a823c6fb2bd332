//! An engine file as it was written, so that a report can carry it.

/// The text of an engine file and of the wheel files it names. How a description was written makes
/// no difference to what it describes, so any two are equal.
#[derive(Debug, Clone, Default)]
pub struct Written {
    /// Name of the file, no folder.
    pub file: String,
    /// Its text.
    pub text: String,
    /// The wheel files it names.
    pub wheels: Vec<WrittenWheel>,
}

/// A wheel file that an engine file names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrittenWheel {
    /// As the engine file names it.
    pub named: String,
    /// Its text.
    pub text: String,
}

impl PartialEq for Written {
    fn eq(&self, _: &Written) -> bool {
        true
    }
}

impl Written {
    /// The same without a folder in any name: each wheel file is named by itself, two that are
    /// called alike by a number as well.
    #[must_use]
    pub fn without_folders(&self) -> Written {
        let mut text = self.text.clone();
        let mut wheels: Vec<WrittenWheel> = Vec::new();
        for wheel in &self.wheels {
            let last = wheel.named.rsplit(['/', '\\']).next().unwrap_or_default();
            let taken = |name: &str| wheels.iter().any(|other| other.named == name);
            let named = match taken(last) {
                false => last.to_owned(),
                true => format!("{}-{last}", wheels.len() + 1),
            };
            // As TOML writes a text: in single quotes as it is, in double ones with marks doubled.
            let escaped = wheel.named.replace('\\', "\\\\");
            for (old, quote) in [(&wheel.named, '\''), (&escaped, '"'), (&wheel.named, '"')] {
                text = text.replace(&format!("{quote}{old}{quote}"), &format!("\"{named}\""));
            }
            wheels.push(WrittenWheel { named, text: wheel.text.clone() });
        }
        Written { file: self.file.clone(), text, wheels }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_stay_out_and_wheels_stay_apart() {
        let wheel = |named: &str| WrittenWheel { named: named.into(), text: "slots = 4".into() };
        let written = Written {
            file: "engine.toml".into(),
            text: "a = \"../one/w.toml\"\nb = 'C:\\two\\w.toml'\nc = \"C:\\\\three\\\\x.toml\"\n"
                .into(),
            wheels: vec![
                wheel("../one/w.toml"),
                wheel("C:\\two\\w.toml"),
                wheel("C:\\three\\x.toml"),
            ],
        };
        let portable = written.without_folders();
        assert_eq!(portable.text, "a = \"w.toml\"\nb = \"2-w.toml\"\nc = \"x.toml\"\n");
        let names: Vec<&str> = portable.wheels.iter().map(|one| one.named.as_str()).collect();
        assert_eq!(names, ["w.toml", "2-w.toml", "x.toml"]);
    }
}
