//! The page over its own router: who is answered, what is refused, and the whole walk.

mod form;
mod refusals;
mod safety;
mod sessions;
mod shelf;
mod tools;
mod uploads;

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use axum::body::Body;
use axum::http::{Request, Response, StatusCode};
use camwitness::analysis::{AnalysisError, Options, analyse};
use camwitness::capture::{CaptureError, ReadOptions, read_bytes};
use camwitness::engine::Engine;
use camwitness::page::server::{Key, listen, number, router, serve, serve_within};
use camwitness::page::service::{Service, Setup, UploadLimit};
use camwitness::practice::{DecimalMark, Dialect, Scenario, Separator, csv_text, generate};
use camwitness::remedy::{Mend, Remedy, Setting};
use camwitness::watch::Watch;
use http_body_util::BodyExt;
use serde_json::{Value, json};
use tower::ServiceExt;

const PORT: u16 = 4000;
const DEMO: &str = include_str!("../../demo-data/engine.toml");
/// Uploads of the tests stay under this; the refused one passes it.
const MOST: u64 = 4_000_000;

fn service(bytes: u64) -> Service {
    Service::new(UploadLimit { bytes, to_raise: "start the page for larger ones" })
}

struct Page {
    service: Service,
    runtime: tokio::runtime::Runtime,
}

impl Page {
    fn new() -> Page {
        Page::of(service(MOST))
    }

    fn of(service: Service) -> Page {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        Page { service, runtime: runtime.expect("a runtime") }
    }

    fn send(&self, request: Request<Body>) -> Response<Body> {
        self.runtime
            .block_on(router(self.service.clone(), PORT, None).oneshot(request))
            .expect("an answer")
    }

    /// Asks as the page itself does, and takes the answer apart.
    fn ask(&self, method: &str, address: &str, body: impl Into<Body>) -> (StatusCode, Value) {
        let request = Request::builder()
            .method(method)
            .uri(address)
            .header("host", format!("127.0.0.1:{PORT}"))
            .header("origin", format!("http://127.0.0.1:{PORT}"))
            .header("content-type", "application/json")
            .body(body.into())
            .expect("a request");
        let (status, text) = self.text(request);
        (status, serde_json::from_str(&text).unwrap_or(Value::String(text)))
    }

    fn text(&self, request: Request<Body>) -> (StatusCode, String) {
        let answer = self.send(request);
        let status = answer.status();
        let bytes = self.runtime.block_on(answer.into_body().collect()).expect("a body").to_bytes();
        (status, String::from_utf8_lossy(&bytes).into_owned())
    }

    fn with_headers(&self, method: &str, headers: &[(&str, &str)]) -> StatusCode {
        let mut request = Request::builder().method(method).uri("/api/session");
        if method != "GET" {
            request = request.uri("/api/engines?name=e.toml");
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        self.send(request.body(Body::from(DEMO)).expect("a request")).status()
    }

    /// Waits for a run to end.
    fn wait(&self, id: &Value) -> Value {
        for _ in 0..2_000 {
            let (_, run) = self.ask("GET", &format!("/api/runs/{id}"), "");
            if run["state"] != "working" {
                return run;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("the run never ends")
    }
}

fn capture(fault: &str) -> String {
    let engine = Engine::parse(DEMO, std::path::Path::new("engine.toml")).expect("sound");
    let faults = if fault.is_empty() { vec![] } else { vec![fault.parse().expect("a fault")] };
    let made = generate(&Scenario { faults, ..Scenario::new(engine) }).expect("a practice capture");
    let dialect =
        Dialect { separator: Separator::Comma, decimal: DecimalMark::Point, unit_row: false };
    csv_text(&made.capture, &made.steps, dialect).expect("a dialect")
}
