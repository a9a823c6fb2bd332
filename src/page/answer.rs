//! Answers to the browser: JSON, or a plain message with its status.

use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Serialize;

/// A refusal: the status, and one plain sentence or two.
#[derive(Debug)]
pub(super) struct Refusal {
    status: StatusCode,
    message: String,
}

impl Refusal {
    /// What was sent cannot be used.
    pub fn unusable(message: impl ToString) -> Refusal {
        Refusal { status: StatusCode::UNPROCESSABLE_ENTITY, message: full_stop(message) }
    }
    /// There is no such thing in this session.
    pub fn missing(what: &str) -> Refusal {
        let message = format!("This session has no such {what}. Reload the page.");
        Refusal { status: StatusCode::NOT_FOUND, message }
    }
    /// More than is allowed.
    pub fn too_large(message: impl ToString) -> Refusal {
        Refusal { status: StatusCode::PAYLOAD_TOO_LARGE, message: full_stop(message) }
    }
    /// Not from this page.
    pub fn stranger(message: impl ToString) -> Refusal {
        Refusal { status: StatusCode::FORBIDDEN, message: full_stop(message) }
    }
    /// The program itself failed.
    pub fn broken(message: impl ToString) -> Refusal {
        Refusal { status: StatusCode::INTERNAL_SERVER_ERROR, message: full_stop(message) }
    }
}

fn full_stop(message: impl ToString) -> String {
    let text = message.to_string();
    if text.ends_with(['.', '!', '?']) { text } else { text + "." }
}

#[derive(Serialize)]
struct Error {
    error: String,
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        (self.status, Json(Error { error: self.message })).into_response()
    }
}
