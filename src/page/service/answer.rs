//! Answers: JSON, text, a file to save, or a refusal in one plain message.

use std::borrow::Cow;

use serde::Serialize;

use super::remedies;
use crate::remedy::Mend;

/// How a request ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// As asked.
    Done,
    /// What was sent cannot be used.
    Unusable,
    /// There is no such thing in this session.
    Missing,
    /// More than is allowed.
    TooLarge,
    /// Not asked by this page.
    Stranger,
    /// The program itself failed.
    Broken,
}

/// What a request becomes.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// How it ended.
    pub status: Status,
    /// Media type of the body.
    pub kind: &'static str,
    /// Name under which the body is to be saved; absent where it is to be shown.
    pub save_as: Option<String>,
    /// The body is a document with scripts of its own: to be shown where they reach nothing.
    pub sealed: bool,
    /// What is answered.
    pub body: Cow<'static, [u8]>,
}

pub(super) const HTML: &str = "text/html; charset=utf-8";
pub(super) const JSON: &str = "application/json";

impl Answer {
    fn done(kind: &'static str, body: impl Into<Cow<'static, [u8]>>) -> Answer {
        Answer { status: Status::Done, kind, save_as: None, sealed: false, body: body.into() }
    }

    /// A value for the page's scripts.
    pub(super) fn json(value: &impl Serialize) -> Answer {
        let body = serde_json::to_vec(value).unwrap_or_else(|_| b"null".to_vec());
        Answer::done(JSON, body)
    }

    /// A text to be shown.
    pub(super) fn text(kind: &'static str, text: impl Into<Cow<'static, str>>) -> Answer {
        Answer::done(
            kind,
            match text.into() {
                Cow::Borrowed(text) => Cow::Borrowed(text.as_bytes()),
                Cow::Owned(text) => Cow::Owned(text.into_bytes()),
            },
        )
    }

    /// A report, which runs its own scripts.
    pub(super) fn report(html: String) -> Answer {
        Answer { sealed: true, ..Answer::text(HTML, html) }
    }

    /// A file to be saved under a name of this program's own.
    pub(super) fn file(kind: &'static str, name: &str, bytes: Vec<u8>) -> Answer {
        Answer { save_as: Some(name.to_owned()), ..Answer::done(kind, bytes) }
    }
}

/// Why a request is not done: one plain sentence or two.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    status: Status,
    message: String,
    fields: Vec<&'static str>,
}

impl Refusal {
    fn new(status: Status, message: impl ToString) -> Refusal {
        let mut message = message.to_string();
        if !message.ends_with(['.', '!', '?']) {
            message.push('.');
        }
        Refusal { status, message, fields: Vec::new() }
    }
    /// What was sent cannot be used, and something on the page may mend it.
    pub fn mendable(error: impl Mend) -> Refusal {
        let fields = remedies::fields(&error);
        Refusal { fields, ..Refusal::unusable(remedies::told(&error)) }
    }
    /// The same, with the field of the page that is to be shown.
    #[must_use]
    pub fn at(mut self, field: &'static str) -> Refusal {
        self.fields.push(field);
        self
    }
    /// What was sent cannot be used.
    pub fn unusable(message: impl ToString) -> Refusal {
        Refusal::new(Status::Unusable, message)
    }
    /// There is no such thing in this session.
    #[must_use]
    pub fn missing(what: &str) -> Refusal {
        Refusal::new(Status::Missing, format!("This session has no such {what}. Reload the page."))
    }
    /// What is said.
    #[must_use]
    pub fn message(&self) -> &str {
        &self.message
    }
    /// More than is allowed.
    pub fn too_large(message: impl ToString) -> Refusal {
        Refusal::new(Status::TooLarge, message)
    }
    /// Not from this page.
    pub fn stranger(message: impl ToString) -> Refusal {
        Refusal::new(Status::Stranger, message)
    }
    /// The program itself failed.
    pub fn broken(message: impl ToString) -> Refusal {
        Refusal::new(Status::Broken, message)
    }
}

#[derive(Serialize)]
struct Error<'a> {
    error: &'a str,
    /// Fields of the page that would mend it.
    fields: &'a [&'static str],
}

impl From<Refusal> for Answer {
    fn from(refusal: Refusal) -> Answer {
        Answer {
            status: refusal.status,
            ..Answer::json(&Error { error: &refusal.message, fields: &refusal.fields })
        }
    }
}
