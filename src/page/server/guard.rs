//! Only this page, in a browser on this computer, may ask: other host names and other origins are
//! refused.

use axum::extract::{Request, State};
use axum::http::HeaderMap;
use axum::http::header::{HOST, HeaderName, HeaderValue, ORIGIN};
use axum::middleware::Next;
use axum::response::Response;

use super::written;
use crate::page::service::Refusal;

/// What every answer tells the browser: nothing from elsewhere, no guessing of types, no frames
/// elsewhere.
const HEADERS: [(&str, &str); 4] = [
    (
        "content-security-policy",
        "default-src 'self'; img-src 'self' data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("cache-control", "no-store"),
];

/// Refuses strangers and adds the headers.
pub(super) async fn check(State(port): State<u16>, request: Request, next: Next) -> Response {
    let changes = !request.method().is_safe();
    let mut response = match refusal(request.headers(), port, changes) {
        Some(refusal) => written(refusal.into()),
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
    if changes && !from_us && !headers.contains_key("x-camwitness") {
        return Some(Refusal::stranger("A request without its page was refused"));
    }
    None
}
