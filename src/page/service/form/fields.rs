//! What is typed into one field.

use toml::Value;

use crate::page::service::{typed, wheel};

/// A field of the form that cannot be used: which, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::page::service) struct FieldError {
    pub field: String,
    pub message: String,
}

pub(super) type Filled<T> = Result<T, FieldError>;

pub(super) fn wrong<T>(field: &str, message: impl Into<String>) -> Filled<T> {
    Err(FieldError { field: field.to_owned(), message: message.into() })
}

pub(super) fn wheel_of(field: &str, spec: &str) -> Filled<Value> {
    if spec.trim().is_empty() {
        return wrong(field, "Choose a wheel, or write its teeth.");
    }
    wheel::value(spec).or_else(|message| wrong(field, message + "."))
}

pub(super) fn cylinders(field: &str, text: &str) -> Filled<Value> {
    let words = text.split([' ', ',', '-', ';']).filter(|word| !word.is_empty());
    let numbers = words.map(|word| word.parse::<i64>().map(Value::from));
    match numbers.collect::<Result<Vec<Value>, _>>() {
        Ok(list) if !list.is_empty() => Ok(list.into()),
        _ => wrong(field, "List cylinder numbers, for example 1-3-4-2."),
    }
}

/// Degrees; `None` where nothing was typed.
pub(super) fn number(field: &str, text: &str) -> Filled<Option<f64>> {
    typed::number(text.trim().trim_end_matches('°'))
        .or_else(|_| wrong(field, "Give a number of degrees, or leave this empty."))
}

pub(super) fn teeth(field: &str, text: &str) -> Filled<i64> {
    let counted = text.trim().parse().ok().filter(|teeth| *teeth > 0);
    counted.map_or_else(|| wrong(field, "Count the teeth of this sprocket: a whole number."), Ok)
}
