//! Only this page, in a browser on this computer, may ask: other host names and other origins are
//! refused.

use axum::extract::{Request, State};
use axum::http::HeaderMap;
use axum::http::StatusCode;
use axum::http::header::{HOST, HeaderName, HeaderValue, LOCATION, ORIGIN, SET_COOKIE};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::key::Key;
use super::written;
use crate::page::service::Refusal;

/// What every answer tells the browser: nothing from elsewhere, no guessing of types, no frames
/// elsewhere.
const HEADERS: [(&str, &str); 5] = [
    (
        "content-security-policy",
        "default-src 'self'; img-src 'self' data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'",
    ),
    ("x-content-type-options", "nosniff"),
    ("cross-origin-resource-policy", "same-origin"),
    ("referrer-policy", "no-referrer"),
    ("cache-control", "no-store"),
];

/// Who is let in.
#[derive(Debug, Clone)]
pub(super) struct Door {
    pub port: u16,
    /// The session's key; without one everybody on this computer is.
    pub key: Option<Key>,
}

/// Refuses strangers and adds the headers.
pub(super) async fn check(State(door): State<Door>, request: Request, next: Next) -> Response {
    let changes = !request.method().is_safe();
    let answered = match refusal(request.headers(), door.port, changes) {
        Some(refusal) => Some(written(refusal.into())),
        None => door.key.as_ref().and_then(|key| without_key(&request, key, door.port)),
    };
    let mut response = match answered {
        Some(response) => response,
        None => next.run(request).await,
    };
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        let name = HeaderName::from_static(name);
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(value));
        }
    }
    response
}

/// What a request is told that comes without the key, or brings it in the address; `None` for one
/// that has it.
fn without_key(request: &Request, key: &Key, port: u16) -> Option<Response> {
    if request.uri().path() == "/" && key.opens(request.uri().query()) {
        return Some(let_in(key, port));
    }
    let text =
        "This page belongs to whoever started it. Open the whole address that the program printed";
    (!key.held(request.headers(), port)).then(|| written(Refusal::stranger(text).into()))
}

/// Hands the key over and takes it out of the address, where a picture of the screen would show it.
fn let_in(key: &Key, port: u16) -> Response {
    let mut response = (StatusCode::SEE_OTHER, [(LOCATION, "/")]).into_response();
    if let Ok(cookie) = HeaderValue::try_from(key.cookie(port)) {
        response.headers_mut().insert(SET_COOKIE, cookie);
    }
    response
}

/// Why a request is not answered.
///
/// The host name is checked because a name of someone else's can be pointed at this computer; the
/// origin because any page open in the browser can send requests here. A request that changes
/// something must name its origin or carry the page's own header, which no other page can add
/// unasked.
fn refusal(headers: &HeaderMap, port: u16, changes: bool) -> Option<Refusal> {
    let text = |name: &HeaderName| headers.get(name).and_then(|value| value.to_str().ok());
    let ours =
        |host: &str| ["127.0.0.1", "localhost"].iter().any(|name| host == format!("{name}:{port}"));
    if !text(&HOST).is_some_and(ours) {
        return Some(Refusal::stranger(format!(
            "This page answers only as http://127.0.0.1:{port}. Open that address"
        )));
    }
    let origin = headers.get(ORIGIN);
    let from_us = text(&ORIGIN).and_then(|origin| origin.strip_prefix("http://")).is_some_and(ours);
    if origin.is_some() && !from_us {
        return Some(Refusal::stranger("A request from another page was refused"));
    }
    // A browser says itself where a request comes from; "none" is a person who typed or opened the
    // address.
    let from = headers.get("sec-fetch-site").and_then(|value| value.to_str().ok());
    if from.is_some_and(|from| !["same-origin", "none"].contains(&from)) {
        return Some(Refusal::stranger("A request from another page was refused"));
    }
    if changes && !from_us && !headers.contains_key("x-camwitness") {
        return Some(Refusal::stranger("A request without its page was refused"));
    }
    None
}
