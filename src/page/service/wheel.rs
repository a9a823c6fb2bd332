//! The wheel picker: what is typed becomes a wheel, and the wheel a drawing.

use serde::{Deserialize, Serialize};

use super::answer::{Answer, Refusal};
use super::remedies;
use crate::report::pictures::wheel_svg;
use crate::report::words::capital;
use crate::wheel::{Form, Wheel, WheelSource};

/// What was typed.
#[derive(Debug, Deserialize)]
pub(super) struct Typed {
    spec: String,
}

/// The wheel drawn.
#[derive(Serialize)]
struct DrawnWheel {
    name: String,
    teeth: usize,
    repeats: u32,
    svg: String,
}

/// Draws a wheel as it is typed.
pub(super) fn draw(typed: &Typed) -> Result<Answer, Refusal> {
    let wheel = resolve(&typed.spec).map_err(Refusal::unusable)?;
    let svg = wheel_svg(&wheel).map_err(Refusal::broken)?;
    Ok(Answer::json(&DrawnWheel {
        name: wheel.name().to_owned(),
        teeth: wheel.tooth_count(),
        repeats: wheel.repeats(),
        svg,
    }))
}

/// The wheel a text names.
fn resolve(spec: &str) -> Result<Wheel, String> {
    let source = match value(spec)? {
        toml::Value::Table(table) => WheelSource::Inline(table),
        toml::Value::String(name) => WheelSource::Named(name),
        _ => return Err("a wheel is a name or a list of teeth".into()),
    };
    source
        .resolve(None, "the wheel", "")
        .map_err(|error| format!("{}. {}", error.what, capital(&remedies::words(&error.advice))))
}

/// A wheel as an engine file writes it. Names of the library and notations stand as they are; `36
/// without 35 36` lists missing slots, `0..30 90..150` lists teeth in degrees. Paths are refused.
pub(super) fn value(spec: &str) -> Result<toml::Value, String> {
    let spec = spec.trim();
    if names_a_file(spec) {
        return Err("wheel files cannot be opened from the page. Choose a wheel of the list, or write its teeth".into());
    }
    if let Some((slots, missing)) = spec.split_once("without") {
        let slots = whole(slots)?;
        let missing = words(missing).map(|word| whole(word).map(toml::Value::Integer));
        let missing = missing.collect::<Result<Vec<_>, String>>()?;
        let table = toml::Table::from_iter([
            ("name".into(), toml::Value::String(spec.to_owned())),
            ("slots".into(), toml::Value::Integer(slots)),
            ("missing".into(), toml::Value::Array(missing)),
        ]);
        return Ok(toml::Value::Table(table));
    }
    if spec.contains("..") {
        let teeth = words(spec).map(tooth).collect::<Result<Vec<_>, String>>()?;
        let table = toml::Table::from_iter([
            ("name".into(), toml::Value::String(spec.to_owned())),
            ("teeth".into(), toml::Value::Array(teeth)),
        ]);
        return Ok(toml::Value::Table(table));
    }
    Ok(toml::Value::String(spec.to_owned()))
}

/// A wheel as it would be typed: its notation, its missing slots, or its teeth.
pub(super) fn typed(wheel: &Wheel) -> String {
    match wheel.form() {
        Form::Slots { slots, missing, .. } if missing.is_empty() => slots.to_string(),
        Form::Slots { slots, missing, .. } => {
            let first = slots + 1 - missing.len() as u32;
            if missing.iter().copied().eq(first..=*slots) {
                return format!("{slots}-{}", missing.len());
            }
            let missing: Vec<String> = missing.iter().map(u32::to_string).collect();
            format!("{slots} without {}", missing.join(" "))
        }
        Form::Teeth(teeth) => typed_teeth(teeth.iter().map(|t| (t.start.get(), t.end().get()))),
    }
}

/// Teeth as they would be typed.
pub(super) fn typed_teeth(teeth: impl Iterator<Item = (f64, f64)>) -> String {
    let tenth = |degrees: f64| (degrees * 10.0).round() / 10.0;
    let words = teeth.map(|(start, end)| format!("{}..{}", tenth(start), tenth(end)));
    words.collect::<Vec<String>>().join(" ")
}

/// The wheel of an engine file as it would be typed; `None` where the form cannot say it.
pub(super) fn typed_value(value: &toml::Value) -> Option<String> {
    let text = match value {
        toml::Value::String(name) => name.clone(),
        toml::Value::Table(table) => {
            let source = WheelSource::Inline(table.clone());
            typed(&source.resolve(None, "the wheel", "").ok()?)
        }
        _ => return None,
    };
    // Only what comes back the same.
    let same = |other: toml::Value| match (&other, value) {
        (toml::Value::Table(one), toml::Value::Table(two)) => {
            let form = |table: &toml::Table| {
                let source = WheelSource::Inline(table.clone());
                source.resolve(None, "the wheel", "").ok().map(|wheel| wheel.form().clone())
            };
            form(one) == form(two)
        }
        (toml::Value::String(notation), toml::Value::Table(two)) => {
            let form = |source: WheelSource| {
                source.resolve(None, "the wheel", "").ok().map(|wheel| wheel.form().clone())
            };
            form(WheelSource::Named(notation.clone())) == form(WheelSource::Inline(two.clone()))
        }
        _ => other == *value,
    };
    self::value(&text).ok().is_some_and(same).then_some(text)
}

/// Whether a wheel's name would be opened as a file.
pub(super) fn names_a_file(name: &str) -> bool {
    name.contains(['/', '\\']) || name.to_lowercase().ends_with(".toml")
}

fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split([' ', ',', ';']).filter(|word| !word.is_empty())
}

fn whole(text: &str) -> Result<i64, String> {
    text.trim().parse().map_err(|_| {
        format!("“{}” is not a whole number. Write for example 36 without 35 36", text.trim())
    })
}

fn tooth(text: &str) -> Result<toml::Value, String> {
    let degrees = |part: &str| part.parse::<f64>().ok().filter(|value| value.is_finite());
    let ends =
        text.split_once("..").and_then(|(start, end)| Some((degrees(start)?, degrees(end)?)));
    let (start, end) = ends.ok_or_else(|| {
        format!("“{text}” is not a tooth. Write start..end in degrees, for example 0..30 90..150")
    })?;
    Ok(toml::Value::Table(toml::Table::from_iter([
        ("start".into(), toml::Value::Float(start)),
        ("end".into(), toml::Value::Float(end)),
    ])))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typed_wheels_become_wheels_or_a_plain_message() {
        let rows = [
            ("60-2", 58),
            ("three-uneven", 3),
            ("36 without 35, 36", 34),
            ("0..30 90..150 250..265", 3),
        ];
        for (spec, teeth) in rows {
            let wheel = resolve(spec).expect(spec);
            assert_eq!(wheel.tooth_count(), teeth, "{spec}");
            let again = resolve(&typed(&wheel)).expect("as typed");
            assert_eq!(again.form(), wheel.form(), "{spec} typed again as {}", typed(&wheel));
        }
        for (spec, part) in [
            ("../secret.toml", "cannot be opened"),
            ("/etc/passwd", "cannot be opened"),
            ("0..x", "not a tooth"),
            ("36 without x", "whole number"),
            ("0..30 20..40", "overlap"),
            ("nonsense", "no wheel"),
        ] {
            let message = resolve(spec).expect_err(spec);
            assert!(message.contains(part), "{spec}: {message}");
        }
    }
}
